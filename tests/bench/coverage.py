"""How often a 95 % interval holds the truth: ``python tests/bench/coverage.py [walks per case]``.

Strides with a known mean are drawn from an autoregression of order 1 with what each bout has in common, in sessions of
two to four walks of few bouts. Each method gives an interval for the first walk's mean; printed is the share that holds
it, and for the kept method also that of the difference of two walks. Simulated strides of one kind of dependence: what
real gait does beyond that is not in it.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

import numpy as np
from scipy.special import stdtrit

from firstrocker.model import FloatArray, IntArray
from firstrocker.study.dependence import fit_walk, weigh
from firstrocker.study.intervals import Centre, draw_centres, half_widths

DESIGNS: dict[str, list[list[int]]] = {
    "2 walks, 1 bout of 8": [[8]] * 2,
    "2 walks, 1 bout of 40": [[40]] * 2,
    "2 walks, 2 bouts of 6": [[6] * 2] * 2,
    "4 walks, 2 bouts of 8": [[8] * 2] * 4,
    "4 walks, 3 bouts of 5": [[5] * 3] * 4,
    "3 walks, bouts of 7, 5, 9": [[7, 5, 9]] * 3,
    "2 walks, 4 bouts of 5": [[5] * 4] * 2,
    "4 walks, 4 bouts of 10": [[10] * 4] * 4,
    "4 walks, 5 bouts of 12": [[12] * 5] * 4,
}
TRUTHS: tuple[tuple[float, float], ...] = (
    (0.0, 0.0),
    (0.3, 0.0),
    (0.6, 0.0),
    (0.2, 0.1),
    (0.3, 0.2),
    (0.5, 0.3),
    (0.0, 0.3),
)
"""Correlation of neighbouring strides, and the share of the variance between bouts."""

SPREADS = (1.0, 2.0, 0.6, 1.4)
"""Each walk's standard deviation: settings need not scatter alike."""


def draw(
    rng: np.random.Generator, bouts: Sequence[int], *, rho: float, share: float, repeats: int, skewed: bool = False
) -> tuple[FloatArray, IntArray, IntArray]:
    """(n, repeats) strides of mean 0 and their bout and stride."""
    parts = []
    for size in bouts:
        own = np.empty((size, repeats))
        own[0] = rng.standard_normal(repeats)
        for place in range(1, size):
            own[place] = rho * own[place - 1] + np.sqrt(1 - rho**2) * rng.standard_normal(repeats)
        parts.append(np.sqrt(share) * rng.standard_normal(repeats) + np.sqrt(1 - share) * own)
    values = np.concatenate(parts)
    if skewed:  # lognormal, skewness 1.75; its mean taken off
        values = np.exp(0.5 * values) - np.exp(0.125)
    bout = np.repeat(np.arange(len(bouts)), bouts)
    return values, bout, np.arange(len(values)) + 2 * bout


def kept(walks: list[tuple[FloatArray, IntArray, IntArray]], *, resamples: int = 1500) -> tuple[float, float, float]:
    """Coverage of the first walk's mean, of the difference of the first two, and the mean half-width of the first."""
    fits = [fit_walk(*walk) for walk in walks]
    m = walks[0][0].shape[1]
    centres = [Centre((place,), np.ones((1, m)), np.zeros(m)) for place in range(2)]
    one, other = draw_centres(fits, weigh(fits), centres, resamples=resamples, seed=7)
    alone = half_widths([one], confidence=0.95)[0]
    between = half_widths([other - one], confidence=0.95)[0]
    return (
        float(np.mean(np.abs(fits[0].mean) <= alone)),
        float(np.mean(np.abs(fits[1].mean - fits[0].mean) <= between)),
        float(np.mean(alone)),
    )


def rejected(rng: np.random.Generator, values: FloatArray, bout: IntArray) -> dict[str, tuple[float, float] | None]:
    """Coverage and mean half-width of the methods not kept."""
    n = len(values)
    mean = values.mean(axis=0)
    naive = stdtrit(n - 1, 0.975) * values.std(axis=0, ddof=1) / np.sqrt(n)
    found: dict[str, tuple[float, float] | None] = {"independent t": _symmetric(mean, naive)}
    labels = np.unique(bout)
    centres = np.stack([values[bout == label].mean(axis=0) for label in labels])
    k = len(labels)
    if k > 1:
        half = stdtrit(k - 1, 0.975) * centres.std(axis=0, ddof=1) / np.sqrt(k)
        found["t of bouts"] = _symmetric(centres.mean(axis=0), half)
        found["bootstrap of bouts"] = _percentile(centres[rng.integers(0, k, (500, k))].mean(axis=1))
    else:
        found["t of bouts"] = found["bootstrap of bouts"] = None
    length = 3
    starts = np.array([i for i in range(n - length + 1) if bout[i] == bout[i + length - 1]])
    picks = starts[rng.integers(0, len(starts), (300, -(-n // length)))]
    rows = (picks[:, :, None] + np.arange(length)).reshape(300, -1)[:, :n]
    found["moving blocks"] = _percentile(np.stack([values[row].mean(axis=0) for row in rows]))
    return found


def _symmetric(centre: FloatArray, half: FloatArray) -> tuple[float, float]:
    return float(np.mean(np.abs(centre) <= half)), float(np.mean(half))


def _percentile(resampled: FloatArray) -> tuple[float, float]:
    low, high = np.quantile(resampled, [0.025, 0.975], axis=0)
    return float(np.mean((low <= 0) & (high >= 0))), float(np.mean(high - low) / 2)


def main(repeats: int) -> None:
    names = ["independent t", "bootstrap of bouts", "moving blocks", "t of bouts"]
    head = f"{'case':28}{'rho':>5}{'bout':>6}" + "".join(f"{name:>20}" for name in names)
    print(head + f"{'kept: mean':>14}{'difference':>12}{'t of bouts / kept, width':>26}")
    everything: dict[str, list[float]] = {}
    for skewed in (False, True):
        print("skewed strides" if skewed else "normal strides")
        for title, design in DESIGNS.items():
            for rho, share in TRUTHS:
                if share and len(design[0]) == 1:
                    continue
                rng = np.random.default_rng(3)
                walks = []
                for place, bouts in enumerate(design):
                    values, bout, stride = draw(rng, bouts, rho=rho, share=share, repeats=repeats, skewed=skewed)
                    walks.append((SPREADS[place] * values, bout, stride))
                others = rejected(rng, walks[0][0], walks[0][1])
                mean, difference, width = kept(walks)
                line = f"{title:28}{rho:5.1f}{share:6.1f}"
                for name in names:
                    cell = others[name]
                    line += f"{'' if cell is None else f'{100 * cell[0]:.1f}':>20}"
                    if cell is not None:
                        everything.setdefault(name, []).append(cell[0])
                bouts_t = others["t of bouts"]
                ratio = "" if bouts_t is None else f"{bouts_t[1] / width:.1f}"
                print(line + f"{100 * mean:14.1f}{100 * difference:12.1f}{ratio:>26}", flush=True)
                everything.setdefault("kept", []).extend([mean, difference])
    for name, shares in everything.items():
        print(f"{name}: {100 * min(shares):.1f} to {100 * max(shares):.1f} %, mean {100 * np.mean(shares):.1f} %")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
