"""Is ground that is not level told from level ground, and what would a ramp do that was not noticed?

Use: ``PYTHONPATH=tests python tests/bench/ground.py [SEEDS [PART ...]]``. Simulated walks of every kind of gait over
ramps and stairs, walks that are all on a ramp, level walks under every condition of ``synth/validate.py``, and the open
recordings of ``../shared/data``, whose floors are level. Not part of the tests: one seed takes ten minutes.

The constants of ``motion/ground.py`` and ``ground_model.py`` were set on the recordings for choosing, whole and cut at
their U-turns, and looked at on seeds 5, 6, 31, 41 to 53, 9100 and 9200; the seeds here are later ones. Of the
recordings held back one was looked at: its missing samples passed for a ramp until the same, seen in those for
choosing, was allowed for.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from firstrocker.chain import align, analyse
from firstrocker.settings import Settings
from firstrocker.signals.read import read_session
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.sensors import CHEAP, ORDINARY, Quality
from firstrocker.synth.terrain import Section
from firstrocker.synth.trial import trial
from firstrocker.synth.validate import CONDITION_KINDS, CONDITIONS, HELD_BACK, Outcome, judge, way_of
from firstrocker.synth.walker import U_TURN
from motion.walked import Walked, follow
from shared_data import DATA, ROOT

FIRST = HELD_BACK + 200
SLOPES = (1.0, 2.0, 3.0, 5.0, 8.0)
RISERS = (0.15, 0.16, 0.17, 0.18, 0.19)
QUALITIES = {"ordinary": ORDINARY, "cheap": CHEAP}
TRUE = ("level", "up", "down", "stairs_up", "stairs_down", "mixed")
FOUND = ("level", "up", "down", "stairs_up", "stairs_down", "unknown")


def route(slope: float, riser: float) -> tuple[Section, ...]:
    """Level ground, a ramp up and down, stairs up and down foot over foot, and step by step."""
    level = Section("level", 4)
    return (
        level,
        Section("ramp", 6, slope_deg=slope),
        level,
        Section("ramp", 6, slope_deg=-slope),
        level,
        Section("stairs", 4, riser_m=riser),
        level,
        Section("stairs", 4, riser_m=-riser),
        level,
        Section("stairs", 5, riser_m=riser, together=True),
        level,
        Section("stairs", 5, riser_m=-riser, together=True),
        level,
    )


def own(seeds: Sequence[int], kind: int) -> list[int]:
    """Seeds of one kind's own: the faults of the sensors hang on them, and are not to be the same for every kind."""
    return [len(GAITS) * (seed - FIRST) + FIRST + kind for seed in seeds]


def matrix(outcomes: Iterable[Outcome]) -> Counter[tuple[str, str]]:
    """How often each ground was called what."""
    return Counter((str(t["ground"]), str(f["ground"])) for one in outcomes for t, f in one.pairs)


def table(counts: Counter[tuple[str, str]], title: str) -> None:
    """Print a confusion matrix."""
    print(f"{title}: rows true, columns found {' '.join(FOUND)}")
    for true in TRUE:
        row = [counts[true, found] for found in FOUND]
        if sum(row):
            print(f"  {true:12}" + "".join(f"{n:8d}" for n in row))


def kept(outcomes: Sequence[Outcome], grounds: tuple[str, ...]) -> str:
    """Of the strides on these grounds, how many count that should not, or should and do not."""
    pairs = [(t, f) for one in outcomes for t, f in one.pairs if t["ground"] in grounds]
    steady = sum(bool(f["steady"]) for _, f in pairs)
    return f"{steady} of {len(pairs)} count"


def routes(seeds: Sequence[int]) -> None:
    """Mixed walks."""
    everything: list[Outcome] = []
    by_slope: dict[tuple[float, str], list[Outcome]] = defaultdict(list)
    for k, kind in enumerate(GAITS):
        mine: list[Outcome] = []
        for seed in own(seeds, k):
            for n, (slope, riser) in enumerate(zip(SLOPES, RISERS, strict=True)):
                name = ("ordinary", "cheap")[(k + n + seed) % 2]
                terrain = route(slope, riser)
                walk = trial(kind, seed=seed, quality=QUALITIES[name], terrain=terrain, turns=(), bouts=1)
                one = judge(walk, Settings())
                by_slope[slope, name].append(one)
                mine.append(one)
        table(matrix(mine), f"{kind}, all slopes")
        sys.stdout.flush()
        everything += mine
    table(matrix(everything), "all kinds")
    for (slope, name), outcomes in sorted(by_slope.items()):
        counts = matrix(outcomes)
        for true in ("up", "down"):
            total = sum(counts[true, found] for found in FOUND)
            right, level = counts[true, true], counts[true, "level"]
            print(f"ramp {slope:g} deg {true}, {name}: {right} of {total} found, {level} called level")
    for grounds in (("stairs_up", "stairs_down"), ("mixed",)):
        print(f"{' '.join(grounds)}: {kept(everything, grounds)}")
    between = [(t, f) for one in everything for t, f in one.pairs if t["ground"] == "level" and t["steady"]]
    print(f"level strides between: {sum(bool(f['steady']) for _, f in between)} of {len(between)} count")


def whole_walks(seeds: Sequence[int]) -> None:
    """Walks that are on a ramp from first to last, with a U-turn on it."""
    for slope in SLOPES:
        for turns, what in (((), "one way"), ((U_TURN,), "with a U-turn")):
            terrain = (Section("ramp", 12, slope_deg=slope),)
            outcomes = [
                judge(trial(kind, seed=seed, terrain=terrain, turns=turns, bouts=1), Settings())
                for k, kind in enumerate(GAITS)
                for seed in own(seeds, k)
            ]
            table(matrix(outcomes), f"all on a ramp of {slope:g} deg, {what}")
            sys.stdout.flush()


def level_walks(seeds: Sequence[int]) -> None:
    """False ramps and stairs on simulated level walks."""
    for name, quality in QUALITIES.items():
        counts = matrix(
            judge(trial(kind, seed=seed, quality=quality, **way_of(seed)), Settings())
            for k, kind in enumerate(GAITS)
            for seed in own(seeds, k)
        )
        table(counts, f"level, {name}, all kinds")
    for name, how in CONDITIONS.items():
        counts = matrix(
            judge(trial(k, seed=s, **{**way_of(s), **how}), Settings()) for k in CONDITION_KINDS for s in seeds
        )
        table(counts, f"level, {name}")
        sys.stdout.flush()


def unnoticed(kind: str, slope: float, seed: int, quality: Quality) -> tuple[Walked, list[dict[str, Any]]]:
    """A walk on a ramp taken for level, and its true strides."""
    terrain = (Section("level", 4), Section("ramp", 8, slope_deg=slope), Section("level", 4))
    walk = trial(kind, seed=seed, quality=quality, terrain=terrain, turns=(), bouts=1)
    signals = align(walk.logs, settings=Settings())
    foot, shank = (signals.find(segment, "left") for segment in ("foot", "shank"))
    if foot is None or shank is None:
        raise SystemExit("a log is missing")
    return follow(walk.walker, foot, shank, signals.rate_hz), [dict(row) for row in walk.truth.strides]


def costs(seed: int) -> None:
    """What a ramp does to the measures where it is taken for level."""
    columns = ("toe_clearance_min_mm", "heel_clearance_max_mm", "stride_length_m", "foot_pitch_heel_strike_deg")
    for slope in (-5.0, -2.0, -1.0, 0.0, 1.0, 2.0, 5.0):
        errors: dict[str, list[float]] = defaultdict(list)
        for kind in ("normal", "slap", "forefoot", "hemiparetic"):
            walked, rows = unnoticed(kind, slope, seed, ORDINARY)
            for row in rows:
                near = [f for f in walked.rows if abs(f["heel_strike_s"] - row["heel_strike_s"]) < 0.1]
                if near and row["ground"] == ("level" if not slope else "up" if slope > 0 else "down"):
                    for column in columns:
                        if near[0][column] is not None:
                            errors[column].append(near[0][column] - row[column])
        # The pitch is right against gravity; against the ground it is off by the slope.
        words = ", ".join(f"{c} {np.nanmean(e):+.4g} (sd {np.nanstd(e):.2g})" for c, e in errors.items())
        print(f"taken for level, {slope:+g} deg: {words}")
        sys.stdout.flush()


def recordings() -> None:
    """False ramps and stairs on real feet on a level floor."""
    from real import annotated_feet, foot_mocap

    with tempfile.TemporaryDirectory() as place:
        for name, make in (("annotated_feet", annotated_feet.make_study), ("foot_mocap", foot_mocap.make_study)):
            if not (DATA / name).is_dir():
                print(f"../shared/data/{name} is not here")
                continue
            found: Counter[str] = Counter()
            for session in make(DATA / name, Path(place) / name):
                given = read_session(session, loggers=ROOT / "config" / "loggers")
                rows = analyse(given.person, given.walks, settings=Settings()).strides
                found.update(
                    f"{ground} {left}".strip()
                    for ground, left in zip(rows["ground"].to_pylist(), rows["left_out"].to_pylist(), strict=True)
                )
            print(f"recorded, {name}: {dict(found)}")


def main(count: int, parts: Sequence[str]) -> None:
    """Print it all, or those parts."""
    chosen = range(FIRST, FIRST + count)
    doing: dict[str, Callable[[], None]] = {
        "recordings": recordings,
        "costs": lambda: costs(chosen[0]),
        "level": lambda: level_walks(chosen),
        "ramps": lambda: whole_walks(chosen),
        "routes": lambda: routes(chosen),
    }
    for name, part in doing.items():
        if not parts or name in parts:
            part()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1, sys.argv[2:])
