"""How often a 95 % interval of an effect across people holds the truth.

Use: ``python tests/bench/cohort_coverage.py [draws]``; 2,000 draws of each case take two minutes of one core.

Walk means are drawn with a known effect: sessions with levels of their own, people's effects about the truth, walks
scattering about both. Printed per number of people, design and spread of the effect between people is the share of
intervals that hold the truth: of the model with the normal distribution, of the same standard error with Student's t
at people - 1, of Student's t of people's own effects, and of the kept one (the model's estimate with CR2 and
Satterthwaite's degrees of freedom), and the median width of the kept one against the third. A second table leaves the
model: effects that are skewed, have heavy tails or come in two kinds, and braced walks that scatter twice as much.
Simulated walk means: what real people do beyond that is not in it.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.special import stdtrit

from firstrocker.model import FloatArray
from firstrocker.study.mixed import WalkMeans, contributing, effect_across_people

EFFECT, WALK_SD, SESSION_SD, PERSON_SD = 1.0, 0.5, 0.4, 2.0
PEOPLE = (3, 5, 8, 12, 30)
SPREADS = (0.0, 0.4, 1.2)
"""Standard deviation of the effect between people; of a walk mean it is 0.5."""

DESIGNS: dict[str, tuple[Sequence[Sequence[float]], ...]] = {
    "one walk each way": (((0, 1),),),
    "1 unbraced, 3 braced": (((0, 1, 1, 1),),),
    "2 and 2": (((0, 0, 1, 1),),),
    "2 sessions of 1 and 2": (((0, 1, 1), (0, 1, 1)),),
    "people differ in walks": (((0, 1),), ((0, 1, 1, 1), (0, 1)), ((0, 0, 1),)),
    "one person has most walks": (((0, 1),), ((0, 1),), ((0, 0, 0, 1, 1, 1), (0, 0, 1, 1), (0, 0, 1, 1))),
    "one in four one way only": (((0, 1, 1),), ((0, 1),), ((0, 1, 0),), ((1, 1), (1,))),
    "dose of 3 levels": (((50, 60, 70),),),
    "doses differ between people": (((50, 60),), ((50, 60, 70, 80),), ((40, 70), (40, 50, 60))),
}
"""Per design the kinds of people, each the cause in every walk of every session; people take the kinds in turn."""

Draw = Callable[[np.random.Generator, int], FloatArray]
"""So many numbers of mean 0 and variance 1."""

SHAPES: dict[str, Draw] = {
    "normal": lambda rng, n: rng.standard_normal(n),
    "skewed": lambda rng, n: rng.exponential(size=n) - 1.0,
    "heavy tails": lambda rng, n: rng.standard_t(5, n) / np.sqrt(5 / 3),
    "one in four responds": lambda rng, n: (rng.random(n) < 0.25) * np.sqrt(16 / 3) - np.sqrt(1 / 3),
}


@dataclass(frozen=True)
class Layout:
    """Who walks what; a row per walk. unit: what the cause is divided by."""

    cause: FloatArray
    person: np.ndarray
    session: np.ndarray
    unit: float


@cache
def layout(design: str, people: int) -> Layout:
    """The walks of so many people. Doses have an effect per ten."""
    kinds = DESIGNS[design]
    rows = [
        (cause, person, (person, number))
        for person in range(people)
        for number, causes in enumerate(kinds[person % len(kinds)])
        for cause in causes
    ]
    sessions = {key: place for place, key in enumerate(dict.fromkeys(key for _, _, key in rows))}
    cause = np.array([row[0] for row in rows], dtype=np.float64)
    unit = 10.0 if cause.max() > 1 else 1.0
    who = np.array([row[1] for row in rows])
    return Layout(cause / unit, who, np.array([sessions[key] for _, _, key in rows]), unit)


def draw(
    rng: np.random.Generator,
    design: str,
    people: int,
    spread: float,
    *,
    shape: str = "normal",
    braced: float = 1.0,
    effect: float = EFFECT,
) -> WalkMeans:
    """Walk means with the given effect; ``braced`` is what walks with the brace scatter by, against those without."""
    laid = layout(design, people)
    level = PERSON_SD * rng.standard_normal(people)[laid.person]
    level += SESSION_SD * rng.standard_normal(laid.session[-1] + 1)[laid.session]
    effects = effect + spread * SHAPES[shape](rng, people)
    scatter = WALK_SD * np.where(laid.cause > 0, braced, 1.0) * rng.standard_normal(len(laid.cause))
    return WalkMeans(level + effects[laid.person] * laid.cause + scatter, laid.cause, laid.person, laid.session)


def comparable(design: str, people: int) -> int:
    """How many of the people walked the cause at two levels in one session."""
    laid = layout(design, people)
    return len(np.unique(contributing(WalkMeans(laid.cause, laid.cause, laid.person, laid.session)).person))


def covered(
    seed: int,
    design: str,
    people: int,
    spread: float,
    draws: int,
    *,
    shape: str = "normal",
    braced: float = 1.0,
) -> tuple[list[float], float]:
    """Shares of intervals that hold the truth, and the kept one's median width against Student's."""
    rng = np.random.default_rng(seed)
    held = np.zeros((draws, 4))
    widths = np.empty(draws)
    for at in range(draws):
        walks = draw(rng, design, people, spread, shape=shape, braced=braced)
        found = effect_across_people(walks, confidence=0.95)
        own = found.own
        of_t = float(stdtrit(len(own) - 1, 0.975))
        se = float(own.std(ddof=1) / np.sqrt(len(own)))
        away = abs(found.value - EFFECT)
        held[at] = [
            away <= 1.959964 * found.model_se,
            away <= of_t * found.model_se,
            abs(float(own.mean()) - EFFECT) <= of_t * se,
            found.ci_low <= EFFECT <= found.ci_high,
        ]
        widths[at] = (found.ci_high - found.ci_low) / (2 * of_t * se)
    return held.mean(axis=0).tolist(), float(np.median(widths))


NAMES = ("normal", "t", "own effects", "kept")


def main(draws: int) -> None:
    """Print both tables and each method's range."""
    print(f"{'people':>6}  {'design':28}{'spread':>7}" + "".join(f"{name:>13}" for name in NAMES) + f"{'width':>8}")
    found: list[tuple[list[float], str]] = []
    for people in PEOPLE:
        for number, design in enumerate(DESIGNS):
            if comparable(design, people) < 3:
                continue
            for spread in SPREADS:
                shares, width = covered(1000 * people + number, design, people, spread, draws)
                line = f"{people:6}  {design:28}{spread:7.1f}"
                found.append((shares, line))
                print(line + "".join(f"{100 * share:13.1f}" for share in shares) + f"{width:8.2f}", flush=True)
    _range(found)
    print("\nOutside the model, spread 1.2:")
    beyond: list[tuple[list[float], str]] = []
    cases = [(shape, 1.0) for shape in SHAPES if shape != "normal"] + [("normal", 2.0)]
    for people in PEOPLE:
        for number, design in enumerate(("one walk each way", "2 and 2", "people differ in walks", "dose of 3 levels")):
            for shape, braced in cases:
                seed = 1000 * people + 100 + number
                shares, _ = covered(seed, design, people, 1.2, draws, shape=shape, braced=braced)
                words = f"{shape}{', braced walks scatter twice' if braced > 1 else ''}"
                line = f"{people:6}  {design:28}{words:38}"
                beyond.append((shares, line))
                print(line + "".join(f"{100 * share:13.1f}" for share in shares), flush=True)
    _range(beyond)


def _range(found: Sequence[tuple[list[float], str]]) -> None:
    for name, shares in zip(NAMES, np.array([shares for shares, _ in found]).T, strict=True):
        worst = found[int(np.argmin(shares))][1].split("  ", 1)
        print(
            f"{name}: {100 * shares.min():.1f} to {100 * shares.max():.1f} %, mean {100 * shares.mean():.1f} %;"
            f" least: {' '.join(' '.join(worst).split())}"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
