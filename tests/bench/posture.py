"""How far off is the zero of the shank where a walk does not begin with plain standing?

    python tests/bench/posture.py [WALKS_OF_EACH_KIND] [FIRST_SEED] [ONLY]

Invented people of every kind of gait sit before, between or after their bouts, or have sensors that lie on a table
first. Printed for each way: found minus true of two angles (mean and standard deviation over walks, worst), the share
of walks whose mean lies within 1.96 standard errors, and how many were told of.
"""

import sys
from collections import Counter
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from firstrocker.chain import analyse
from firstrocker.settings import Settings
from firstrocker.synth.chair import Sit, Table
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.trial import trial
from firstrocker.synth.validate import MATCH_S

ANGLES = ("ankle_heel_strike_deg", "shank_mid_stance_deg")
TOLD = ("no-standing-shank", "standing-doubtful", "standing-differs", "no-rest", "standing-not-flat")
Rng = np.random.Generator


def chair(rng: Rng, pause: int, *, stands: float | None = None, tilt: float | None = None, **more: Any) -> Sit:
    """Some time in a chair, of any height and depth."""
    slope = float(rng.uniform(-15.0, 25.0)) if tilt is None else tilt
    still = float(rng.uniform(0.7, 3.0)) if stands is None else stands
    return Sit(
        pause,
        seconds=float(rng.uniform(5.0, 60.0)),
        tilt_deg=slope,
        roll_deg=float(rng.uniform(-8.0, 8.0)),
        peak_deg=max(slope, 0.0) + float(rng.uniform(8.0, 18.0)),
        rise_s=float(rng.uniform(1.3, 2.8)),
        before_s=still,
        after_s=still,
        **more,
    )


def relaxed(rng: Rng) -> Sit:
    """Stands with a bent knee for a while, then straight, then walks."""
    tilt = float(rng.uniform(8.0, 14.0))
    return Sit(0, seconds=float(rng.uniform(5.0, 12.0)), tilt_deg=tilt, peak_deg=tilt, rise_s=0.8, after_s=1.2)


WAYS: Mapping[str, Callable[[Rng], dict[str, Any]]] = {
    "stands at both ends": lambda rng: {},
    "begins seated, stands 0.7 to 3 s, walks": lambda rng: {"sits": (chair(rng, 0),)},
    "the same, chair tilts shank by 4 deg at most": lambda rng: {
        "sits": (chair(rng, 0, tilt=float(rng.uniform(-4.0, 4.0))),)
    },
    "begins seated, rises and walks at once": lambda rng: {"sits": (chair(rng, 0, stands=0.0),)},
    "begins and ends seated, stands 0.7 to 3 s": lambda rng: {"sits": (chair(rng, 0), chair(rng, 1))},
    "begins and ends seated, never stands still": lambda rng: {
        "sits": (chair(rng, 0, stands=0.0), chair(rng, 1, stands=0.0))
    },
    "sits between two bouts": lambda rng: {"sits": (chair(rng, 1),), "bouts": 2},
    "seated before, between and after two bouts": lambda rng: {
        "sits": tuple(chair(rng, pause) for pause in range(3)),
        "bouts": 2,
    },
    "seated with the foot on its heel": lambda rng: {"sits": (chair(rng, 0, foot_pitch_deg=20.0),)},
    "draws the foot back by 15 cm, then rises": lambda rng: {
        "sits": (chair(rng, 0, stands=0.8, ahead_m=0.15), chair(rng, 1, stands=0.8, ahead_m=0.15))
    },
    "pushes up with the arms": lambda rng: {
        "sits": tuple(
            Sit(
                pause,
                20.0,
                tilt := float(rng.uniform(-15.0, 12.0)),
                peak_deg=tilt + max(-tilt, 0.0) * float(rng.uniform(0.3, 1.0)),
                rise_s=float(rng.uniform(1.3, 2.5)),
                before_s=0.8,
                after_s=0.8,
            )
            for pause in (0, 1)
        )
    },
    "sensors on a table, then seated": lambda rng: {
        "sits": (Sit(0, 30.0 + float(rng.uniform(5.0, 20.0)), float(rng.uniform(-15.0, 25.0)), peak_deg=25.0),),
        "table": Table(float(rng.uniform(8.0, 25.0))),
    },
    "stands with a bent knee, then straight": lambda rng: {"sits": (relaxed(rng),)},
}


def judge(kind: str, seed: int, how: dict[str, Any]) -> tuple[dict[str, tuple[float, float]], list[str], int]:
    """Mean error and mean standard error of a walk's steady strides by angle; codes of findings; strides amiss."""
    walk = trial(kind, seed=seed, **({"bouts": 1} | how))
    result = analyse(walk.person, (walk.logs,), settings=Settings())
    found = [row for row in result.strides.to_pylist() if row["heel_strike_s"] is not None]
    pairs = []
    for true in walk.truth.strides:
        near = min(found, key=lambda row: abs(row["heel_strike_s"] - float(true["heel_strike_s"])), default=None)
        if near is not None and abs(near["heel_strike_s"] - float(true["heel_strike_s"])) < MATCH_S:
            pairs.append((true, near))
    out = {}
    for column in ANGLES:
        both = [
            (f[column] - float(t[column]), f[f"{column}_se"])
            for t, f in pairs
            if t["steady"] and f["steady"] and f[column] is not None
        ]
        out[column] = (
            (float(np.mean([e for e, _ in both])), float(np.mean([s for _, s in both]))) if both else (np.nan,) * 2
        )
    amiss = len(walk.truth.strides) - len(pairs) + len(found) - len(pairs)
    return out, sorted({f.code for f in result.findings}), amiss


def main(walks: int, first: int, only: str) -> None:
    """Print the table."""
    print("| walk | angle | error, deg | worst | se, deg | covered | told | strides amiss |")
    print("|---|---|---|---|---|---|---|---|")
    for number, (name, make) in enumerate(WAYS.items()):
        if only not in name:
            continue
        found, codes, amiss = [], Counter[str](), 0
        for k, kind in enumerate(GAITS):
            for seed in range(first + 100 * k, first + 100 * k + walks):
                one, said, wrong = judge(kind, seed, make(np.random.default_rng([seed, number])))
                found.append(one)
                codes.update(code for code in said if code in TOLD)
                amiss += wrong
        told = ", ".join(f"{code} {count}" for code, count in codes.items()) or "-"
        for column in ANGLES:
            error, se = np.array([one[column] for one in found]).T
            known = np.isfinite(error)
            error, se = error[known], se[known]
            if not known.any():
                print(f"| {name} | {column} | none measured | - | - | - | {told} | {amiss} |", flush=True)
                continue
            covered = 100.0 * np.mean(np.abs(error) <= 1.96 * se)
            print(
                f"| {name} | {column} | {error.mean():+.2f} +- {error.std():.2f} | {np.abs(error).max():.1f} | "
                f"{se.mean():.2f} | {covered:.0f} % of {len(found)} | {told} | {amiss} |",
                flush=True,
            )


if __name__ == "__main__":
    given = sys.argv[1:]
    main(int(given[0]) if given else 3, int(given[1]) if len(given) > 1 else 1, given[2] if len(given) > 2 else "")
