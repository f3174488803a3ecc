"""How often a 95 % interval of an effect across people holds the truth.

Use: ``python tests/bench/cohort_coverage.py [draws]``.

Walk means are drawn with a known effect: people's levels and effects normal, sessions with levels of their own, walks
scattering about them. Printed per number of people, design and spread of the effect between people is the share of
intervals that hold the truth: of statsmodels' model with the normal distribution, of the same standard error with
Student's t at people - 1, of Student's t of people's own effects, and of the kept one (the model's estimate with CR2
and Satterthwaite's degrees of freedom), and the width of the kept one against the third. Simulated walk means of one
kind of scatter: what real people do beyond that is not in it.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

import numpy as np
from scipy.special import stdtrit

from firstrocker.study.mixed import WalkMeans, effect_across_people

EFFECT, WALK_SD, SESSION_SD, PERSON_SD = 1.0, 0.5, 0.4, 2.0
PEOPLE = (3, 6, 12, 30)
SPREADS = (0.0, 0.4, 1.2)
"""Standard deviation of the effect between people; of a walk mean it is 0.5."""

DESIGNS: dict[str, tuple[Sequence[Sequence[float]], ...]] = {
    "one walk each way": (((0, 1),),),
    "1 unbraced, 3 braced": (((0, 1, 1, 1),),),
    "2 and 2": (((0, 0, 1, 1),),),
    "2 sessions of 1 and 2": (((0, 1, 1), (0, 1, 1)),),
    "people differ in walks": (((0, 1),), ((0, 1, 1, 1), (0, 1)), ((0, 0, 1),)),
    "one person has most walks": (((0, 1),), ((0, 1),), ((0, 0, 0, 1, 1, 1), (0, 0, 1, 1), (0, 0, 1, 1))),
    "dose of 3 levels": (((50, 60, 70),),),
    "doses differ between people": (((50, 60),), ((50, 60, 70, 80),), ((40, 70), (40, 50, 60))),
}
"""Per design the kinds of people, each the cause in every walk of every session."""


def draw(rng: np.random.Generator, kinds: Sequence[Sequence[Sequence[float]]], people: int, spread: float) -> WalkMeans:
    """Walk means of so many people, taken from the kinds in turn. Doses have an effect per ten."""
    rows: list[tuple[float, float, int, int]] = []
    session = 0
    for person in range(people):
        level, effect = PERSON_SD * rng.standard_normal(), EFFECT + spread * rng.standard_normal()
        for causes in kinds[person % len(kinds)]:
            here = level + SESSION_SD * rng.standard_normal()
            unit = 10.0 if max(causes) > 1 else 1.0
            for cause in causes:
                value = here + effect * cause / unit + WALK_SD * rng.standard_normal()
                rows.append((value, cause / unit, person, session))
            session += 1
    values, causes, persons, sessions = zip(*rows, strict=True)
    return WalkMeans(np.array(values), np.array(causes, dtype=np.float64), np.array(persons), np.array(sessions))


def covered(
    seed: int, design: str, people: int, spread: float, draws: int
) -> tuple[list[float], float, dict[str, int]]:
    """Shares of intervals that hold the truth, the kept one's median width against Student's, and the models used."""
    rng = np.random.default_rng(seed)
    held = np.zeros((draws, 4))
    widths, models = np.empty(draws), dict[str, int]()
    for at in range(draws):
        found = effect_across_people(draw(rng, DESIGNS[design], people, spread), confidence=0.95)
        own, of_t = found.own, float(stdtrit(people - 1, 0.975))
        mean, se = float(own.mean()), float(own.std(ddof=1) / np.sqrt(people))
        away = abs(found.value - EFFECT)
        held[at] = [
            away <= 1.959964 * found.model_se,
            away <= of_t * found.model_se,
            abs(mean - EFFECT) <= of_t * se,
            found.ci_low <= EFFECT <= found.ci_high,
        ]
        widths[at] = (found.ci_high - found.ci_low) / (2 * of_t * se)
        models[found.model] = models.get(found.model, 0) + 1
    return held.mean(axis=0).tolist(), float(np.median(widths)), models


def main(draws: int) -> None:
    """Print the table and each method's range."""
    names = ("normal", "t", "own effects", "kept")
    head = f"{'people':>6}  {'design':28}{'spread':>7}" + "".join(f"{name:>13}" for name in names)
    print(head + f"{'width':>8}  models")
    everything: list[list[float]] = []
    for people in PEOPLE:
        for number, design in enumerate(DESIGNS):
            for spread in SPREADS:
                shares, width, models = covered(1000 * people + number, design, people, spread, draws)
                everything.append(shares)
                line = f"{people:6}  {design:28}{spread:7.1f}" + "".join(f"{100 * share:13.1f}" for share in shares)
                print(line + f"{width:8.2f}  {models}", flush=True)
    for name, shares in zip(names, np.array(everything).T, strict=True):
        print(f"{name}: {100 * shares.min():.1f} to {100 * shares.max():.1f} %, mean {100 * shares.mean():.1f} %")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
