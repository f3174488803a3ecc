"""How often the faults that the motion tells of are found, and how often where there are none.

Use: ``PYTHONPATH=tests python tests/bench/faults.py [SEEDS]``. Simulated walks of every kind of gait with each fault
put into the foot's log, and without any; and the open recordings of ``../shared/data`` as they are, and with left and
right exchanged. Prints one line per fault. Not part of the tests: one seed takes two minutes.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.spatial.transform import Rotation

from firstrocker.chain import analyse
from firstrocker.model import SIDES, FootGeometry, Log, Person, WalkInfo, WalkLogs
from firstrocker.settings import Settings
from firstrocker.signals.read import read_session
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.trial import trial
from shared_data import DATA, ROOT

Fault = Callable[[Log, np.random.Generator], Log]
CODES = ("sensor-slipped", "sensor-fell-off", "gyroscope-gain", "gyroscope-gain-unusable", "side-doubtful")


def turned(log: Log, degrees: float, rng: np.random.Generator, *, at: float = 0.5) -> Log:
    """The sensor turned about some axis from a share of the log on."""
    axis = rng.standard_normal(3)
    turn = Rotation.from_rotvec(np.radians(degrees) * axis / np.linalg.norm(axis))
    first = int(at * len(log.time))
    both = [log.acceleration.copy(), log.angular_velocity.copy()]
    for values in both:
        values[first:] = turn.apply(values[first:])
    return replace(log, acceleration=both[0], angular_velocity=both[1])


def fallen(log: Log, rng: np.random.Generator) -> Log:
    """The sensor on the floor from two thirds of the log on."""
    first = 2 * len(log.time) // 3
    both = [log.acceleration.copy(), log.angular_velocity.copy()]
    shape = (len(log.time) - first, 3)
    axis = rng.standard_normal(3)
    both[0][first:] = 9.81 * axis / np.linalg.norm(axis) + 0.03 * rng.standard_normal(shape)
    both[1][first:] = 0.002 * rng.standard_normal(shape)
    return replace(log, acceleration=both[0], angular_velocity=both[1])


def exchanged(log: Log, _rng: np.random.Generator) -> Log:
    """The log called the other side's."""
    return replace(log, side=SIDES[1 - SIDES.index(log.side)])


FAULTS: dict[str, Fault] = {
    "none": lambda log, _: log,
    "slipped by 6 deg": lambda log, rng: turned(log, 6.0, rng),
    "slipped by 12 deg": lambda log, rng: turned(log, 12.0, rng),
    "slipped by 25 deg": lambda log, rng: turned(log, 25.0, rng),
    "fell off": fallen,
    "gyroscope + 8 %": lambda log, _: replace(log, angular_velocity=1.08 * log.angular_velocity),
    "gyroscope - 8 %": lambda log, _: replace(log, angular_velocity=0.92 * log.angular_velocity),
    "gyroscope + 20 %": lambda log, _: replace(log, angular_velocity=1.20 * log.angular_velocity),
    "gyroscope - 20 %": lambda log, _: replace(log, angular_velocity=0.80 * log.angular_velocity),
    "left and right exchanged": exchanged,
}


def codes_of(person: Person, log: Log) -> set[str]:
    """What the analysis of a foot's log alone says, of the codes looked at."""
    walk = WalkLogs(WalkInfo("a", "unbraced"), (log,))
    return {f.code for f in analyse(person, [walk], settings=Settings()).findings} & set(CODES)


def recordings() -> Iterator[tuple[Person, Log]]:
    """Every foot log of the open recordings."""
    from real import annotated_feet, foot_mocap

    geometry = FootGeometry(0.14, 0.14, 0.075)
    with tempfile.TemporaryDirectory() as place:
        for name, make in (("annotated_feet", annotated_feet.make_study), ("foot_mocap", foot_mocap.make_study)):
            if not (DATA / name).is_dir():
                print(f"../shared/data/{name} is not here")
                continue
            for session in make(DATA / name, Path(place) / name):
                for walk in read_session(session, loggers=ROOT / "config" / "loggers").walks:
                    for log in walk.logs:
                        yield Person("X", "1", log.side, geometry), log


def main(seeds: int) -> None:
    """Print how often each code was given for each fault."""
    for name, fault in FAULTS.items():
        told: Counter[str] = Counter()
        count = 0
        for k, kind in enumerate(GAITS):
            for seed in range(seeds):
                walk = trial(kind, seed=500 + seed, bouts=1)
                told.update(codes_of(walk.person, fault(walk.logs.logs[0], np.random.default_rng([seed, k]))))
                count += 1
        print(f"simulated, {name}: {count} walks: {dict(told)}", flush=True)
    real: dict[str, Counter[str]] = {"none": Counter(), "left and right exchanged": Counter(), "walks": Counter()}
    for person, log in recordings():
        real["walks"]["all"] += 1
        for name in ("none", "left and right exchanged"):
            real[name].update(codes_of(person, FAULTS[name](log, np.random.default_rng(0))))
    for name, counter in real.items():
        print(f"recorded, {name}: {dict(counter)}", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1)
