"""What an effect across people takes for granted, looked at and said in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstrocker.study.mixed import Effect, WalkMeans

FEWEST = 6
"""People under which the shape of a distribution is not judged; from memory, no source."""

_LEVEL = 0.01  # of each test: a handful of them on each of many measures
_FAR = (
    3.5  # robust standard deviations from the median beyond which a value stands out (Iglewicz & Hoaglin 1993, memory)
)

_TOLD = 5  # people named, the farthest first


@dataclass(frozen=True)
class Checks:
    """What was found.

    words: one sentence each. doubtful: whether any speaks against the interval. leaning: the person whose leaving
    out moves the effect most, as a place in ``Effect.people``; None under two people.
    """

    words: tuple[str, ...]
    doubtful: bool
    leaning: int | None


def check(effect: Effect, walks: WalkMeans, names: Sequence[str]) -> Checks:
    """Look at the assumptions of :func:`firstrocker.study.mixed.effect_across_people`.

    Normality and outliers are judged of people's own effects, which the interval is made of; even scatter between the
    levels of the cause of the walks' residuals (Brown & Forsythe 1974), where people walked more than once; and whether
    the effect goes with the person's level (Spearman). A check that passes does not prove the assumption.

    Args:
        effect: as fitted to ``walks``.
        walks: those that contributed (:func:`firstrocker.study.mixed.contributing`).
        names: of the people, in the order of ``effect.people``.
    """
    leaning = _leaning(effect)
    if len(names) < FEWEST or np.ptp(effect.own) == 0:
        said = [f"Normality, outliers and even scatter cannot be judged with fewer than {FEWEST} people."]
        if np.isfinite(effect.ci_low) and np.isfinite(effect.freedom):
            said.append(f"The interval rests on {len(names)} people's effects being roughly normal.")
        doubtful = False
    else:
        said, doubtful = _shape(effect, names)
        for words, speaks_against in (_scatter(effect, walks), _level(effect, walks)):
            said.append(words)
            doubtful |= speaks_against
    if np.isinf(effect.freedom):
        said.append("The interval is as wide as the errors of people's own changes leave it; these differ by less.")
    if leaning is not None and np.isfinite(effect.ci_low):
        words, leans = _influence(effect, names, leaning)
        said.append(words)
        doubtful |= leans
    return Checks(tuple(said), doubtful, leaning)


def _leaning(effect: Effect) -> int | None:
    moved = np.abs(effect.without - effect.value)
    return int(np.nanargmax(moved)) if np.isfinite(moved).any() else None


def _shape(effect: Effect, names: Sequence[str]) -> tuple[list[str], bool]:
    from scipy.stats import shapiro  # a second at start-up

    own = effect.own
    away = np.abs(own - np.median(own))
    spread = 1.4826 * float(np.median(away))
    out = [names[at] for at in np.argsort(-away, kind="stable").tolist() if spread > 0 and away[at] > _FAR * spread]
    odd = float(shapiro(own).pvalue) < _LEVEL
    said = ["People's effects are not normal (Shapiro-Wilk)." if odd else "Nothing speaks against normal effects."]
    if out:
        more = f" and {len(out) - _TOLD} more" if len(out) > _TOLD else ""
        said.append(f"Far from the others: {', '.join(out[:_TOLD])}{more}.")
    return said, odd or bool(out)


def _scatter(effect: Effect, walks: WalkMeans) -> tuple[str, bool]:
    from scipy.stats import levene

    known = np.isfinite(effect.residuals)
    middle = (walks.cause.min() + walks.cause.max()) / 2.0
    low, high = (effect.residuals[known & side] for side in (walks.cause <= middle, walks.cause > middle))
    if min(len(low), len(high)) < FEWEST or min(np.ptp(low), np.ptp(high)) == 0:
        return "Too few repeated walks to judge whether they scatter alike.", False
    if float(levene(low, high, center="median").pvalue) >= _LEVEL:
        return "Walks scatter alike at the low and the high end.", False
    ratio = float(high.std() / low.std())
    return f"Walks at the high end scatter {ratio:.1f} times as much as at the low end (Brown-Forsythe).", True


def _level(effect: Effect, walks: WalkMeans) -> tuple[str, bool]:
    from scipy.stats import spearmanr

    _, person = np.unique(walks.person, return_inverse=True)
    level = np.bincount(person, weights=walks.value) / np.bincount(person)
    if np.ptp(level) == 0:
        return "People's levels do not vary.", False
    found = spearmanr(level, effect.own)
    if float(found.pvalue) >= _LEVEL:
        return "The effect does not go with the person's level.", False
    more = "greater" if float(found.statistic) > 0 else "less"
    return f"The effect is {more} in people with higher values (Spearman {float(found.statistic):.2f}).", True


def _influence(effect: Effect, names: Sequence[str], leaning: int) -> tuple[str, bool]:
    without = effect.without[np.isfinite(effect.without)]
    if float(without.min()) * float(without.max()) <= 0 or without.min() * effect.value < 0:
        return f"The direction rests on one person: {names[leaning]}.", True
    moved = abs(effect.without[leaning] - effect.value) / effect.se
    if moved > 1.0:
        return f"One person, {names[leaning]}, moves the effect by {moved:.1f} standard errors.", True
    return "No single person changes the direction.", False
