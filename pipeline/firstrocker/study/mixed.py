"""One effect across people, from the means of their walks: a mixed-effects model whose intervals hold for few people.

Walks are nested in sessions, sessions in people. The unit of the model is the mean of a walk, for the walk is what was
braced or not: its strides say how sure that mean is, and are in no way further trials of the brace. The means are not
weighted with their standard errors. With two to four walks a person what differs from walk to walk outweighs what the
strides leave unknown, and a standard error from a dozen strides is too rough a weight, the more as it goes with the
value itself (strides of high rates scatter more).

The model: a walk's mean is its session's level, plus the person's effect times the cause, plus scatter. Levels of
sessions are free, so that people are compared with themselves on the same day and with nobody else; people's effects
are drawn from those of all people. Then each person's least-squares effect and the scatter about it are all that the
walks say of the effect, and restricted maximum likelihood has one number to search for. A general mixed-model library
comes to the same (statsmodels, in the tests) and takes a hundred times as long.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import stdtr, stdtrit

from firstrocker.model import BoolArray, FloatArray, IntArray

Model = Literal["effects differ", "one effect", "not told apart", "too few people"]
"""Whether people's effects were found to differ by more than their walks' scatter explains; ``not told apart`` where
too few walks are left over to tell."""

MIN_PEOPLE = 3
"""Fewer people than this give no interval; common practice, no source."""

_SAME = 1e-12  # of the values themselves: effects that differ by less differ by rounding
_NONE = 1e-3  # a variance of effects under this share of what walks scatter is called none
_RATIOS = np.concatenate([[0.0], np.geomspace(1e-3, 1e4, 57)])  # of those two variances, looked at first
_CLOSER = np.linspace(-1.0, 1.0, 17)  # and then ever closer, as powers of the step between them


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

    own: (people,) each person's own effect, in the order of ``people``. share: (people,) its weight in the effect, all
    together 1; NaN without an interval. without: (people,) the effect without that
    person. residuals: (n,) of the walks about each person's own line, where the person has more walks than the line
    needs, else NaN. slope_sd: what the model says people's true effects differ by, NaN where too few walks are left
    over to tell it from the walks' scatter. model_se: the standard error where the model and its variances are taken
    for true; not what the interval is made of.
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
    share: FloatArray
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

    The cause is centred within each session (within-cluster centring; Raudenbush & Bryk 2002, from memory). The
    variance of people's effects is that of restricted maximum likelihood where walks beyond the person's line are left
    over (in more than half as many as people), else taken for none: with one walk each way, for example, nothing tells
    it from the walks' scatter, and people with the same walks weigh the same either way.

    Intervals of the normal distribution, which take the variances for known, cover far less than they say with three
    to twelve people. Here the standard error takes each person's distance from the effect as it is, adjusted so that
    it is unbiased where the model holds; it stays near right where the model does not (cluster-robust by person with
    the small-sample correction CR2), and the degrees of freedom are Satterthwaite's (Bell & McCaffrey 2002;
    Pustejovsky & Tipton 2018, both from memory). For people with the same walks each it is Student's paired t.
    ``tests/bench/cohort_coverage.py`` prints how often the intervals hold the truth.

    Args:
        walks: walk means; those of sessions with one level of the cause are passed over.
        confidence: of the interval, in (0, 1).

    Returns:
        the effect; below :data:`MIN_PEOPLE` people, or where nothing varies, without an interval (NaN). Time and memory
        are linear in the walks.
    """
    walks = contributing(walks)
    people, person = np.unique(walks.person, return_inverse=True)
    lines = _lines(walks, person, len(people))
    own = lines.effect
    if len(people) < MIN_PEOPLE or np.ptp(own) <= _SAME * _size(walks):
        return _without_interval(people, lines)
    ratio, told_apart = _ratio_of_variances(lines)
    weight = 1.0 / (ratio + 1.0 / lines.reach)
    share = weight / weight.sum()
    value = float(share @ own)
    if share.max() > 1.0 - 1e-9:
        return _without_interval(people, lines)
    pull = share**2 / (1.0 - share)
    se = float(np.sqrt(pull @ (own - value) ** 2))
    freedom = float(1.0 / (np.sum(share**2) + pull.sum() ** 2 - np.sum(pull**2)))
    scatter = float(weight @ (own - value) ** 2 + lines.rest.sum()) / (len(own) - 1 + lines.spare.sum())
    half = float(stdtrit(freedom, 0.5 + confidence / 2.0)) * se
    return Effect(
        model=_model(ratio * float(np.median(lines.reach)), told_apart),
        value=value,
        se=se,
        freedom=freedom,
        ci_low=value - half,
        ci_high=value + half,
        p_value=float(2.0 * stdtr(freedom, -abs(value) / se)),
        slope_sd=float(np.sqrt(ratio * scatter)) if told_apart else float("nan"),
        model_se=float(np.sqrt(scatter / weight.sum())),
        people=people,
        own=own,
        share=share,
        without=value - share / (1.0 - share) * (own - value),
        residuals=lines.residuals,
    )


def _size(walks: WalkMeans) -> float:
    """What an effect is that is as large as the values themselves."""
    return float(np.abs(walks.value).max() / np.ptp(walks.cause))


def _model(ratio: float, told_apart: bool) -> Model:
    if not told_apart:
        return "not told apart"
    return "effects differ" if ratio > _NONE else "one effect"


def _without_interval(people: IntArray, lines: _Lines) -> Effect:
    nan = float("nan")
    own = lines.effect
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
        share=np.full(len(own), nan),
        without=without,
        residuals=lines.residuals,
    )


@dataclass(frozen=True)
class _Lines:
    """What each person's walks say of the effect; arrays (people,).

    effect: by least squares, sessions having levels of their own. reach: the summed square of the centred cause, so
    that the effect varies by the walks' variance over it. rest: summed square of the walks about the line. spare: the
    walks more than levels and line take up. residuals: (n,) of the walks, as in :class:`Effect`.
    """

    effect: FloatArray
    reach: FloatArray
    rest: FloatArray
    spare: IntArray
    residuals: FloatArray


def _lines(walks: WalkMeans, person: IntArray, people: int) -> _Lines:
    """Each person's own line through their walks."""
    cause, value = _centred(walks.cause, walks.session), _centred(walks.value, walks.session)
    reach = np.asarray(np.bincount(person, weights=cause**2, minlength=people), dtype=np.float64)
    effect = np.bincount(person, weights=cause * value, minlength=people) / reach
    residuals = value - effect[person] * cause
    walked = np.bincount(person, minlength=people)
    sessions = np.bincount(person[np.unique(walks.session, return_index=True)[1]], minlength=people)
    spare = (walked - sessions - 1).astype(np.int64)
    rest = np.where(spare > 0, np.bincount(person, weights=residuals**2, minlength=people), 0.0)
    scale = np.sqrt(walked / np.maximum(spare, 1))
    return _Lines(effect, reach, rest, spare, np.where(spare[person] > 0, residuals * scale[person], np.nan))


def _centred(values: FloatArray, session: IntArray) -> FloatArray:
    """Values less their session's mean."""
    _, place, count = np.unique(session, return_inverse=True, return_counts=True)
    return np.asarray(values - (np.bincount(place, weights=values) / count)[place])


def _ratio_of_variances(lines: _Lines) -> tuple[float, bool]:
    """Variance of people's effects over that of walks, by restricted maximum likelihood; and whether it can be told.

    The ratio is sought over its whole range and then ever closer, so that no search can end elsewhere. It may be 0,
    where the model without it and the model with it are one: the effect does not jump with the last digit of the data.
    """
    if lines.spare.sum() <= len(lines.effect) // 2:
        return 0.0, False
    unit = 1.0 / float(np.median(lines.reach))  # the ratio is looked for in multiples of it, whatever the units
    best = _RATIOS[np.argmax(_likelihood(lines, unit * _RATIOS))]
    step = float(_RATIOS[2] / _RATIOS[1])
    for _ in range(4):
        if best == 0.0:
            break
        near = best * step**_CLOSER
        best = near[np.argmax(_likelihood(lines, unit * near))]
        step **= 2.0 / (len(_CLOSER) - 1)
    return float(unit * best), True


def _likelihood(lines: _Lines, ratios: FloatArray) -> FloatArray:
    """Twice the restricted log-likelihood at each ratio of variances, but for a constant; (ratios,)."""
    variance = ratios[:, None] + 1.0 / lines.reach
    weight = 1.0 / variance
    total = weight.sum(axis=1)
    value = weight @ lines.effect / total
    squares = np.sum(weight * (lines.effect - value[:, None]) ** 2, axis=1) + lines.rest.sum()
    freedom = len(lines.effect) - 1 + lines.spare.sum()
    return np.asarray(-(np.log(variance).sum(axis=1) + np.log(total) + freedom * np.log(squares)))
