"""A day of somebody at home, sensors on both legs: an invented person, invented hours, walks whose truth is known.

Sensors drift against each other as crystals do, their gyroscopes' biases wander with temperature, packets get lost, and
at midday they are taken off and put on again differently. Written part by part: a day is never held.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from firstrocker.model import SIDES, FloatArray, Segment, Side
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.pastimes import PASTIMES, RATE_HZ, Pair
from firstrocker.synth.sensors import FOOT_SEAT, PERFECT, SHANK_SEAT, Mounting, record
from firstrocker.synth.truth import truth_of
from firstrocker.synth.walker import U_TURN, walk

SENSORS: tuple[tuple[Segment, Side], ...] = tuple((segment, side) for side in SIDES for segment in ("foot", "shank"))
HEADER = ("t", "ax", "ay", "az", "gx", "gy", "gz")
LENGTHS = (3, 5, 8, 8, 14, 25, 40)
"""Strides of the walks that a day is made of."""


@dataclass(frozen=True)
class Clock:
    """A logger's clock: s that it shows at the start, ppm by which it runs fast, and by which that wanders."""

    offset_s: float = 0.0
    drift_ppm: float = 0.0
    wander_ppm: float = 0.0

    def shows(self, time: FloatArray) -> FloatArray:
        """What it shows at true times (n,) in s since midnight."""
        day = 86400.0 / (2.0 * np.pi)
        wandered = self.wander_ppm * day * (1.0 - np.cos(time / day))
        return np.asarray(self.offset_s + time + 1e-6 * (self.drift_ppm * time + wandered))


@dataclass(frozen=True)
class Day:
    """What a day is like.

    parts: (what, seconds or a walk's number) in order. strides: by side, (k, 2) true heel strike and the next, s. off:
    (first, last) s in which nobody wore the sensors.
    """

    parts: tuple[tuple[str, float], ...]
    strides: dict[Side, FloatArray]
    off: tuple[tuple[float, float], ...]
    duration_s: float


@dataclass(frozen=True)
class Stroll:
    """One walk: readings of every sensor, and its strides' heel strikes by side, s since its start."""

    readings: dict[tuple[Segment, Side], Pair]
    strides: dict[Side, FloatArray]

    def __len__(self) -> int:
        return len(next(iter(self.readings.values()))[0])


@dataclass(frozen=True)
class Remount:
    """Sensors taken off and put on again otherwise.

    at: true time, s, from which they sit otherwise; a part of the day begins there. turned: (3, 3) by sensor, by which
    it then sits turned against before, segment axes. exchanged: sensors that have changed places.
    """

    at: float
    turned: Mapping[tuple[Segment, Side], FloatArray] = field(default_factory=dict)
    exchanged: tuple[tuple[tuple[Segment, Side], tuple[Segment, Side]], ...] = ()

    def place_of(self, sensor: tuple[Segment, Side]) -> tuple[Segment, Side]:
        """Where a sensor sits from then on."""
        pairs = {**dict(self.exchanged), **{two: one for one, two in self.exchanged}}
        return pairs.get(sensor, sensor)


@dataclass(frozen=True)
class Faults:
    """What the sensors do wrong, SI; sizes as of an ordinary :class:`firstrocker.synth.sensors.Quality`."""

    gyro_noise: float = np.radians(0.1)
    gyro_bias: float = np.radians(0.5)
    bias_wander: float = np.radians(0.3)
    accel_noise: float = 0.03
    lost: float = 0.002
    clocks: dict[tuple[Segment, Side], Clock] = field(default_factory=dict)
    restart: tuple[tuple[Segment, Side], float, float] | None = None
    """Which logger began anew, when, and for how long it had stopped, s."""
    remount_at: float | None = None
    """When all sensors were put on again, turned anyhow, s."""
    remounts: tuple[Remount, ...] = ()
    """In order of time."""


def strolls(gait: str, *, seed: int, lengths: Sequence[int] = LENGTHS) -> list[Stroll]:
    """Walks of one person, of so many strides each; the longer ones with a turn."""
    out: list[Stroll] = []
    for number, count in enumerate(lengths):
        turns = (U_TURN,) if count > 12 else ()
        walker = walk(GAITS[gait], seed=seed + number, strides=count, bouts=1, turns=turns, both=True)
        readings: dict[tuple[Segment, Side], Pair] = {}
        for segment, side in SENSORS:
            seat = Mounting(FOOT_SEAT if segment == "foot" else SHANK_SEAT)
            log = record(walker, segment, side, seat, PERFECT, seed=1)
            readings[segment, side] = log.acceleration, log.angular_velocity
        strides: dict[Side, FloatArray] = {}
        for side in SIDES:
            rows = truth_of(walker, walker.legs[side]).strides
            times = [[float(row["heel_strike_s"]), float(row["next_heel_strike_s"])] for row in rows]
            strides[side] = np.array(times).reshape(-1, 2)
        out.append(Stroll(readings, strides))
    return out


def plan_day(walks: Sequence[Stroll], *, hours: float, strides: int, seed: int) -> Day:
    """Hours with about so many strides of the left foot, spread over what is not night.

    A third of the time is night: half of it asleep with the sensors on, half with the sensors on the table.
    """
    rng = np.random.default_rng(seed)
    total = hours * 3600.0
    night = total / 6.0
    awake = total - 2.0 * night
    chosen: list[int] = []
    while sum(len(walks[k].strides["left"]) for k in chosen) < strides:
        chosen.append(int(rng.integers(len(walks))))
    spent = sum(len(walks[k]) for k in chosen) / RATE_HZ
    rest = max(awake - spent, 10.0 * len(chosen)) / len(chosen)
    parts: list[tuple[str, float]] = [("sleep", night)]
    for k in chosen:
        what = str(rng.choice(["sit", "sit", "sit", "sit", "fidget", "ride", "pedal"]))
        parts += [
            ("walk", float(k)),
            (what, max(round(rest * rng.uniform(0.3, 1.7), 1), 40.0 if what != "sit" else 8.0)),
        ]
    parts.append(("lie", night))
    at, off = 0.0, list[tuple[float, float]]()
    found: dict[Side, list[FloatArray]] = {side: [] for side in SIDES}
    for what, amount in parts:
        if what == "walk":
            for side in SIDES:
                found[side].append(walks[int(amount)].strides[side] + at)
            at += len(walks[int(amount)]) / RATE_HZ
        else:
            if what == "lie":
                off.append((at + 3.0, at + amount - 3.0))
            at += amount
    return Day(tuple(parts), {side: np.concatenate(found[side]) for side in SIDES}, tuple(off), at)


def readings(day: Day, walks: Sequence[Stroll], *, seed: int) -> Iterator[dict[tuple[Segment, Side], Pair]]:
    """What perfect sensors in segment axes read, part by part of a day, at most ten minutes each."""
    rng = np.random.default_rng(seed)
    kept: dict[tuple[str, int], list[dict[tuple[Segment, Side], Pair]]] = {}
    for what, amount in day.parts:
        if what == "walk":
            yield walks[int(amount)].readings
            continue
        # Long pastimes repeat a few that were made once; their noise is new each time.
        length = round(amount * RATE_HZ)
        if what in ("sleep", "lie"):
            yield from _sliced({s: p for side in SIDES for s, p in _both(what, rng, amount, side)})
            continue
        known = kept.setdefault((what, 0), [])
        if len(known) < 3:
            known.append({s: p for side in SIDES for s, p in _both(what, rng, 300.0, side)})
        yield from _stretched(known[int(rng.integers(len(known)))], length)


def _both(
    what: str, rng: np.random.Generator, seconds: float, side: Side
) -> Iterator[tuple[tuple[Segment, Side], Pair]]:
    made = PASTIMES[what](rng, seconds)
    for segment, pair in made.readings.items():
        yield (segment, side), pair


def _sliced(whole: dict[tuple[Segment, Side], Pair]) -> Iterator[dict[tuple[Segment, Side], Pair]]:
    count, step = len(next(iter(whole.values()))[0]), round(600 * RATE_HZ)
    for first in range(0, count, step):
        part = slice(first, first + step)
        yield {sensor: (force[part], rate[part]) for sensor, (force, rate) in whole.items()}


def _stretched(made: dict[tuple[Segment, Side], Pair], length: int) -> Iterator[dict[tuple[Segment, Side], Pair]]:
    """A pastime made as long as wanted: its ends kept, its middle, in which it is what it is, repeated or cut."""
    count = len(next(iter(made.values()))[0])
    end = min(round(8 * RATE_HZ), length // 2)
    places = [np.arange(0, end)]
    left, middle = length - 2 * end, np.arange(round(8 * RATE_HZ), count - round(8 * RATE_HZ))
    while left > 0:
        places.append(middle[:left])
        left -= len(middle)
    places.append(np.arange(count - end, count))
    for place in places:
        if len(place):
            yield {sensor: (force[place], rate[place]) for sensor, (force, rate) in made.items()}
