"""One effect across people, from the means of their walks: a mixed-effects model whose intervals hold for few people.

Walks are nested in sessions, sessions in people. The unit of the model is the mean of a walk, for the walk is what was
braced or not: its strides say how sure that mean is, and are in no way further trials of the brace. The means are not
weighted with their standard errors. With two to four walks a person what differs from walk to walk outweighs what the
strides leave unknown, and a standard error from a dozen strides is too rough a weight, the more as it goes with the
value itself (strides of high rates scatter more).
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from scipy.special import stdtr, stdtrit

from firstrocker.model import BoolArray, FloatArray, IntArray
from firstrocker.study.clustered import Cluster, clustered

Model = Literal["intercept and slope", "intercept", "own differences", "too few people"]
"""How the walks of one person were taken to belong together, in the order in which they are tried."""

MIN_PEOPLE = 3
"""Fewer people than this give no interval; common practice, no source."""

_SEARCHES = ["bfgs", "lbfgs", "cg"]
_MANY = 50  # people from which nearly the best variances weigh as well as the best: one search, which is linear
_NONE = 1e-4  # a variance of effects under this share of the residual one is called none


@dataclass(frozen=True)
class WalkMeans:
    """One measure's walk means; arrays (n,).

    value: the means. cause: what the effect is asked of, 0 and 1 for unbraced and braced, or the resistance. person,
    session: numbers that tell people and sessions apart, a session's number belonging to one person only.
    """

    value: FloatArray
    cause: FloatArray
    person: IntArray
    session: IntArray

    def chosen(self, keep: BoolArray) -> WalkMeans:
        """Those walks alone."""
        return WalkMeans(self.value[keep], self.cause[keep], self.person[keep], self.session[keep])


@dataclass(frozen=True)
class Effect:
    """The change of the measure for one unit of the cause, on average over people.

    own: (people,) each person's own effect, in the order of ``people``. without: (people,) the effect without that
    person. residuals: (n,) of the walks about each person's own line, where the person has more walks than the line
    needs, else NaN. slope_sd: what the model says people's true effects differ by, NaN where it cannot. model_se: the
    standard error where the model and its variances are taken for true; not what the interval is made of.
    """

    model: Model
    value: float
    se: float
    freedom: float
    ci_low: float
    ci_high: float
    p_value: float
    slope_sd: float
    model_se: float
    people: IntArray
    own: FloatArray
    without: FloatArray
    residuals: FloatArray


def contributing(walks: WalkMeans) -> WalkMeans:
    """The walks of sessions in which the cause was walked at more than one level: only those compare like with like."""
    walks = walks.chosen(np.isfinite(walks.value) & np.isfinite(walks.cause))
    low = np.full(walks.session.max(initial=-1) + 1, np.inf)
    high = -low
    np.minimum.at(low, walks.session, walks.cause)
    np.maximum.at(high, walks.session, walks.cause)
    return walks.chosen((high > low)[walks.session])


def effect_across_people(walks: WalkMeans, *, confidence: float) -> Effect:
    """Fit the effect of the cause across people.

    The cause is centred within each session, so that people are compared with themselves on the same day and with
    nobody else (within-cluster centring; Raudenbush & Bryk 2002, from memory). Models, tried in this order:

    - ``intercept and slope``: each person has a level and an effect of their own, drawn from those of all people and
      independent of each other (restricted maximum likelihood by statsmodels), and each session a level where people
      have several;
    - ``intercept``: a level only, where the variance of people's effects comes out as 0, or too few walks are left
      over to tell it from that of walks (one walk each way, for example);
    - ``own differences``: the mean of each person's own least-squares effect, where no model could be fitted.

    statsmodels' own intervals are those of the normal distribution and take the variances for known; with three to
    twelve people they cover far less than they say. Here the standard error is the cluster-robust one by person with
    the small-sample correction CR2 and Satterthwaite's degrees of freedom (Bell & McCaffrey 2002; Pustejovsky &
    Tipton 2018): it holds also where the model of the walks is not quite right, and for people with the same walks
    each it is Student's paired t. ``tests/bench/cohort_coverage.py`` prints how often the intervals hold the truth.

    Args:
        walks: walk means; those of sessions with one level of the cause are passed over.
        confidence: of the interval, in (0, 1).

    Returns:
        the effect; below :data:`MIN_PEOPLE` people, or where nothing varies, without an interval (NaN).
    """
    walks = contributing(walks)
    people, person = np.unique(walks.person, return_inverse=True)
    own, residuals = _own_effects(walks, person, len(people))
    if len(people) < MIN_PEOPLE or np.ptp(own) == 0:
        return _without_interval(people, own, residuals)
    grouped = _grouped(walks, person, len(people), own)
    found = clustered(grouped.clusters)
    value, se = grouped.unit * found.value, grouped.unit * found.se
    if not np.isfinite(found.freedom) or se <= 0:
        return _without_interval(people, own, residuals)
    half = float(stdtrit(found.freedom, 0.5 + confidence / 2.0)) * se
    return Effect(
        model=grouped.model,
        value=value,
        se=se,
        freedom=found.freedom,
        ci_low=value - half,
        ci_high=value + half,
        p_value=float(2.0 * stdtr(found.freedom, -abs(value) / se)),
        slope_sd=grouped.slope_sd,
        model_se=grouped.unit * found.model_se,
        people=people,
        own=own,
        without=grouped.unit * found.without,
        residuals=residuals,
    )


def _without_interval(people: IntArray, own: FloatArray, residuals: FloatArray) -> Effect:
    nan = float("nan")
    value = float(own.mean()) if len(own) else nan
    without = np.array([np.delete(own, k).mean() if len(own) > 1 else nan for k in range(len(own))])
    return Effect(
        model="too few people",
        value=value,
        se=nan,
        freedom=nan,
        ci_low=nan,
        ci_high=nan,
        p_value=nan,
        slope_sd=nan,
        model_se=nan,
        people=people,
        own=own,
        without=without,
        residuals=residuals,
    )


def _centred(values: FloatArray, session: IntArray) -> FloatArray:
    """Values less their session's mean."""
    _, place, count = np.unique(session, return_inverse=True, return_counts=True)
    return np.asarray(values - (np.bincount(place, weights=values) / count)[place])


def _own_effects(walks: WalkMeans, person: IntArray, people: int) -> tuple[FloatArray, FloatArray]:
    """Each person's least-squares effect, sessions having levels of their own; and the walks' residuals about it."""
    if people == 0:
        return np.empty(0), np.empty(0)
    cause, value = _centred(walks.cause, walks.session), _centred(walks.value, walks.session)
    own = np.bincount(person, weights=cause * value) / np.bincount(person, weights=cause**2)
    residuals = value - own[person] * cause
    sessions = np.bincount(person[np.unique(walks.session, return_index=True)[1]], minlength=people)
    spare = np.bincount(person) - sessions - 1  # walks more than the person's levels and line take up
    scale = np.sqrt(np.bincount(person) / np.maximum(spare, 1))
    return own, np.where(spare[person] > 0, residuals * scale[person], np.nan)


@dataclass(frozen=True)
class _Grouped:
    """The model that the data carry, person by person; an effect of it times ``unit`` is one in the walks' units."""

    model: Model
    clusters: list[Cluster]
    unit: float
    slope_sd: float


def _grouped(walks: WalkMeans, person: IntArray, people: int, own: FloatArray) -> _Grouped:
    """The first model of ``_MODELS`` that can be fitted, else each person's own effect."""
    cause = _centred(walks.cause, walks.session)
    spare = len(walks.value) - len(np.unique(walks.session)) - people
    scatter = _centred(walks.value, walks.session) - own[person] * cause
    # Scaled by the walks' own scatter where there is any, for the search from the moments to end in a few steps.
    if spare <= 0:
        scatter, spare = _centred(walks.value, walks.session) - own.mean() * cause, len(walks.value)
    spread = max(float(np.sqrt(np.sum(scatter**2) / spare)), 1e-3 * float(np.std(walks.value)))
    reach = float(np.sqrt(np.mean(cause**2)))
    order = np.lexsort((walks.session, person))
    value, x = (walks.value[order] - walks.value.mean()) / spread, cause[order] / reach
    session, starts = walks.session[order], np.searchsorted(person[order], np.arange(people + 1))
    mine = [slice(starts[k], starts[k + 1]) for k in range(people)]
    design = np.column_stack([np.ones_like(x), x])
    same_session = [(session[rows][:, None] == session[rows]).astype(float) for rows in mine]
    fit = _fit(value, design, person[order], session)
    if fit is not None:
        clusters = [
            Cluster(
                design[rows],
                value[rows],
                fit.level
                + fit.slope * np.outer(x[rows], x[rows])
                + fit.session * same
                + fit.residual * np.eye(len(same)),
            )
            for rows, same in zip(mine, same_session, strict=True)
        ]
        model: Model = "intercept and slope" if fit.slope > _NONE * fit.residual else "intercept"
        slope_sd = float(np.sqrt(fit.slope)) * spread / reach if fit.told_apart else float("nan")
        return _Grouped(model, clusters, spread / reach, slope_sd)
    alone = [Cluster(np.ones((1, 1)), own[[k]], np.eye(1)) for k in range(people)]
    return _Grouped("own differences", alone, 1.0, float("nan"))


@dataclass(frozen=True)
class _Variances:
    """Of people's levels and effects, of sessions and of what is left; told_apart: whether the effects' can be told."""

    level: float
    slope: float
    session: float
    residual: float
    told_apart: bool


def _fit(value: FloatArray, design: FloatArray, person: IntArray, session: IntArray) -> _Variances | None:
    """The variances by restricted maximum likelihood; None where the search fails.

    Each is a component of its own that may end at 0, where the model without it and the model with it are one: the
    effect then does not jump with the last digit of the data.
    """
    from statsmodels.regression.mixed_linear_model import MixedLM, MixedLMParams, VCSpec  # a second, with pandas

    people, sessions = person[-1] + 1, len(np.unique(session))
    told_apart = len(value) - sessions - people > people // 2  # else nothing tells effects from the walks' own scatter
    rows = _runs(person)
    parts: dict[str, list[FloatArray]] = {"level": [np.ones((len(one), 1)) for one in rows]}
    if told_apart:
        parts["slope"] = [design[one, 1:] for one in rows]
    if sessions > people:
        parts["session"] = [(session[one][:, None] == np.unique(session[one])).astype(np.float64) for one in rows]
    names = [[[f"{name}{k}" for k in range(one.shape[1])] for one in parts[name]] for name in parts]
    start = _moments(value, design, person)
    first = {"level": start[0], "slope": start[1], "session": 0.5}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # said by the checks below instead
        try:
            fit = MixedLM(value, design, groups=person, exog_vc=VCSpec(list(parts), names, list(parts.values()))).fit(
                reml=True,
                method=_SEARCHES if people < _MANY else ["lbfgs"],
                start_params=MixedLMParams.from_components(
                    fe_params=np.array(start[2:]), vcomp=np.array([first[name] for name in parts])
                ),
            )
        except (np.linalg.LinAlgError, ValueError):
            return None
    found = dict(zip(parts, np.asarray(fit.vcomp, dtype=np.float64).tolist(), strict=True))
    residual = float(fit.scale)
    if not np.all(np.isfinite([*found.values(), residual])) or residual <= 0 or min(found.values()) < 0:
        return None
    return _Variances(found["level"], found.get("slope", 0.0), found.get("session", 0.0), residual, told_apart)


def _runs(person: IntArray) -> list[IntArray]:
    """Where each person's rows are; people in order."""
    starts = np.searchsorted(person, np.arange(person[-1] + 2))
    return [np.arange(low, high) for low, high in pairwise(starts)]


def _moments(value: FloatArray, design: FloatArray, person: IntArray) -> tuple[float, float, float, float]:
    """Where to start: variances of people's levels and slopes less what a residual variance of 1 brings, and means."""
    count = np.bincount(person)
    reach = np.maximum(np.bincount(person, weights=design[:, 1] ** 2), 1e-12)
    slope = np.bincount(person, weights=design[:, 1] * value) / reach
    level = np.bincount(person, weights=value) / count
    of_level = max(float(level.var(ddof=1) - np.mean(1.0 / count)), 0.05)
    of_slope = max(float(slope.var(ddof=1) - np.mean(1.0 / reach)), 0.05)
    return of_level, of_slope, float(level.mean()), float(slope.mean())
