"""Many random simulated walks of every kind: does any come out with a wrong number of strides and no finding?

Use: ``python tests/bench/many_walks.py WALKS [FIRST_SEED]``. Each walk draws its kind, side, strides, bouts, standing,
sensors, clock offset and which way it turns. Prints every walk with a wrong count, and whether a finding says so. Not
part of the tests: a thousand walks take a quarter of an hour.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np

from firstrocker.settings import Settings
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.sensors import CHEAP, ORDINARY
from firstrocker.synth.trial import Trial, trial
from firstrocker.synth.validate import judge
from firstrocker.synth.walker import U_TURN, U_TURN_AWAY


def draw(seed: int) -> Trial:
    """A walk with everything about it drawn from the seed."""
    rng = np.random.default_rng(seed)
    quality = replace(
        ORDINARY if rng.random() < 0.8 else CHEAP,
        rate_hz=float(rng.choice([50.0, 100.0, 200.0], p=[0.15, 0.7, 0.15])),
        lost=float(rng.choice([0.0, 0.01], p=[0.8, 0.2])),
    )
    return trial(
        str(rng.choice(sorted(GAITS))),
        seed=seed,
        quality=quality,
        side="left" if rng.random() < 0.5 else "right",
        strides=int(rng.integers(5, 16)),
        bouts=int(rng.integers(1, 4)),
        standing_s=float(rng.uniform(1.0, 5.0)),
        shank_offset_s=float(rng.uniform(-3.0, 3.0)),
        shank_drift_ppm=float(rng.uniform(-60.0, 60.0)),
        turns=(U_TURN if rng.random() < 0.5 else U_TURN_AWAY,),
    )


def main(walks: int, first: int) -> int:
    """Run the walks and print what went wrong; the number of silent errors is returned."""
    settings, wrong, silent, strides = Settings(), 0, 0, 0
    for seed in range(first, first + walks):
        walk = draw(seed)
        outcome = judge(walk, settings)
        strides += len(walk.truth.strides)
        if outcome.missed or outcome.extra:
            wrong += 1
            said = outcome.findings > 0
            silent += not said
            print(
                f"seed {seed} {walk.kind}: {outcome.missed} missed, {outcome.extra} invented of "
                f"{len(walk.truth.strides)}; {'with' if said else 'WITHOUT'} a finding",
                flush=True,
            )
    print(f"{walks} walks, {strides} strides: {wrong} walks with a wrong count, {silent} of them without a finding")
    return silent


if __name__ == "__main__":
    sys.exit(min(main(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 10_000), 1))
