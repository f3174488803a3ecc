"""How often the cohort claims a change that is not there, and how often it finds one that is.

Use: ``python tests/bench/cohort_verdicts.py [draws]``; 2,000 draws of each case take five minutes of one core.

A family of measures is drawn together, people's effects and walks' scatter going together by 0.5 from measure to
measure, as measures of one stride do; Holm's correction is over the family, as in ``effects.parquet``. First the
share of studies with any verdict of higher or lower where the brace does nothing: 4 leading and 40 further measures.
Then the share of studies that find a change of one leading measure in which the other three do not change. Its size is
told in standard deviations of what people's own changes differ by, their walks' scatter included (the column ``sd``):
where people's slap rates change by 30 deg/s more or less than the mean, 1.0 is a mean change of 30 deg/s. Simulated;
what sizes real braces have is not in it.
"""

from __future__ import annotations

import sys

import numpy as np

from bench.cohort_coverage import PEOPLE, layout
from firstrocker.model import FloatArray
from firstrocker.study.mixed import WalkMeans, effect_across_people
from firstrocker.study.multiple import holm

TOGETHER = 0.5
SIZES = (0.5, 1.0, 1.5, 2.0)
DESIGNS = ("one walk each way", "2 and 2", "people differ in walks")
FAMILIES = {"leading": 4, "further": 40}


def alike(rng: np.random.Generator, rows: int, measures: int) -> FloatArray:
    """(rows, measures) normal numbers of variance 1 that go together from measure to measure."""
    common = rng.standard_normal((rows, 1))
    own = rng.standard_normal((rows, measures))
    return np.asarray(np.sqrt(TOGETHER) * common + np.sqrt(1.0 - TOGETHER) * own)


def adjusted(rng: np.random.Generator, design: str, people: int, sizes: FloatArray) -> FloatArray:
    """Holm's p values of one study, a measure per size. In the first design people's own changes have an SD of 1."""
    laid = layout(design, people)
    effects = sizes + np.sqrt(0.5) * alike(rng, people, len(sizes))
    values = effects[laid.person] * laid.cause[:, None] + 0.5 * alike(rng, len(laid.cause), len(sizes))
    walks = (WalkMeans(column, laid.cause, laid.person, laid.session) for column in values.T)
    return holm(np.array([effect_across_people(one, confidence=0.95).p_value for one in walks]))


def false_verdicts(seed: int, design: str, people: int, measures: int, draws: int) -> float:
    """Share of studies with any verdict, where nothing changes."""
    rng = np.random.default_rng(seed)
    return float(np.mean([adjusted(rng, design, people, np.zeros(measures)).min() < 0.05 for _ in range(draws)]))


def found(seed: int, design: str, people: int, size: float, draws: int) -> float:
    """Share of studies that find the change of the first of four measures."""
    rng = np.random.default_rng(seed)
    sizes = np.array([size, 0.0, 0.0, 0.0])
    return float(np.mean([adjusted(rng, design, people, sizes)[0] < 0.05 for _ in range(draws)]))


def main(draws: int) -> None:
    """Print both tables."""
    print("studies in 100 with any verdict where nothing changes, and that find one measure's change of so many SD")
    head = f"{'people':>6}  {'design':24}" + "".join(f"{name:>9}" for name in FAMILIES)
    print(head + "".join(f"{size:9.1f}" for size in SIZES))
    for people in PEOPLE:
        for number, design in enumerate(DESIGNS):
            seed = 1000 * people + number
            false = [false_verdicts(seed, design, people, measures, draws) for measures in FAMILIES.values()]
            power = [found(seed + 500, design, people, size, draws) for size in SIZES]
            print(f"{people:6}  {design:24}" + "".join(f"{100 * share:9.1f}" for share in false + power), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
