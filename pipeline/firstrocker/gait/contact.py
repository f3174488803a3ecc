"""The instant at which a foot comes down.

Where the sensor's seat on the shoe was measured, heel and toe are known points: the one that touches first is arrested
at its resting height. Where it was not, the points are centimetres off, and the jolt that goes through the foot has to
help.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from firstrocker.gait.windows import Windows, last_rise, spanning, whole
from firstrocker.model import BoolArray, FloatArray, IntArray
from firstrocker.motion.foot import FootMotion
from firstrocker.motion.integrate import between, derivative

CONTACT_PITCH = np.radians(3.0)
"""rad of pitch at contact beyond which it is the heel's or the forefoot's."""
ONSET = 0.5
"""Share of the arrest's greatest upward acceleration that counts as its onset."""


@dataclass(frozen=True)
class _Search:
    """Where an arrest is looked for: about ``later_s`` after a point last sinks to ``height`` m over its rest.

    spread_s: give or take. bounds_s: about that instant, what its onset may not leave.
    """

    height: float
    later_s: float
    spread_s: float
    bounds_s: tuple[float, float]


KNOWN_SEAT = _Search(0.003, 0.010, 0.020, (-0.008, 0.014))
GUESSED_SEAT = _Search(0.010, 0.0, 0.070, (-np.inf, np.inf))
SLOWED = _Search(0.30, 0.0, 0.060, (-np.inf, np.inf))  # its height is a share of the foot's greatest speed
QUICK_READING_HZ = 80.0
"""Samples per second from which an arrest keeps its shape, so that its own height can be read."""
TOUCHING_M, GIVE_M, GIVE_S = 0.001, 0.004, 0.006
"""m over its rest at which a point's arrest begins, give or take in height and s in time."""
SINKING_S, ON_TIME_S, LATE_S = 0.02, 0.012, 0.008
"""s over which its speed is read; s that an arrest may come late, and give or take."""
STRENGTH = 0.8
"""Power of an arrest's strength among its signs."""
SLOWEST_S = 0.050
"""s that a point may take at the most from where it is looked for down to the ground."""
LOOK_BACK_S = 0.04
"""s before that instant over which its speed is read."""
LONGER = 1.3
"""How many times the time so reckoned a slow point may take."""
STILL_FAST = 0.6
"""Share of its greatest speed above which the foot cannot be landing."""
ARRESTED = 0.7
"""Weight of the arrest beside the jolt where the seat is guessed: annotators see contact between the two, on average
here (set on half of the annotated feet that the tests read)."""
ALIKE_S = 0.060
"""s by which arrest and jolt of one landing may differ where the seat is guessed."""
BRAKING, LANDED = 0.65, 0.08
"""Shares of its greatest speed at which a foot brakes, and has landed."""


@dataclass(frozen=True)
class _Flights:
    """Flights of a foot, each from its greatest speed to where it rests again: (k,) sample numbers."""

    motion: FootMotion
    pace: FloatArray
    fastest: IntArray
    stop: IntArray

    @cached_property
    def windows(self) -> Windows:
        """The flights' samples."""
        return spanning(self.fastest, self.stop)

    @cached_property
    def slowing(self) -> FloatArray:
        """(m,) speed as a share of the greatest."""
        return self.windows.of(self.pace) / self.windows.each(self.pace[self.fastest])

    def over_rest(self, curve: FloatArray) -> FloatArray:
        """(m,) a curve (n,) over what it comes to where the foot rests."""
        return self.windows.of(curve) - self.windows.each(curve[self.stop])


@dataclass(frozen=True)
class _Look:
    """Where each flight's arrest is looked for, (k,).

    toe: whether the toe's, or the heel's. down: samples from the flight's beginning, NaN where nothing tells.
    slowed: whether only the foot's slowing down tells.
    """

    toe: BoolArray
    down: FloatArray
    slowed: BoolArray

    def slowed_or(self, of_slowed: float, of_others: float) -> FloatArray:
        """(k,) one number for the flights told by their slowing down alone, another for the others."""
        return np.where(self.slowed, of_slowed, of_others)


@dataclass(frozen=True)
class _Arrests:
    """Moments at which a point of the sole is stopped, several in a flight, (a,).

    flight: the number of each one's flight. peak, onset: samples from the flight's beginning. lift: m/s^2 upwards.
    """

    flight: IntArray
    peak: IntArray
    onset: FloatArray
    lift: FloatArray

    def onset_of_greatest(self, likely: FloatArray, flights: int) -> FloatArray:
        """(k,) onset of each flight's likeliest arrest, NaN in a flight without any."""
        count = np.bincount(self.flight, minlength=flights)
        groups = Windows(np.cumsum(count) - count, count)
        best = groups.place_of_greatest(likely)
        out = np.full(flights, np.nan)
        out[best >= 0] = self.onset[(groups.first + best)[best >= 0]]
        return out


def heel_strikes(
    motion: FootMotion, pace: FloatArray, acceleration: FloatArray, fastest: IntArray, stop: IntArray
) -> FloatArray:
    """The first contact after each flight.

    Args:
        motion: the foot's motion.
        pace: (n,) m/s its speed.
        acceleration: (n, 3) m/s^2 of the foot.
        fastest: (k,) samples at which each flight's speed is greatest.
        stop: (k,) samples at which the foot rests again.

    Returns:
        (k,) sample numbers, fractions included; NaN where there is no sign of a contact.
    """
    flights = _Flights(motion, pace, fastest, stop)
    felt = _jolt(_jolts(acceleration, motion.rate_hz), *_braking(flights))
    arrested = _arrested(flights, KNOWN_SEAT if motion.geometry.measured else GUESSED_SEAT)
    if motion.geometry.measured:
        return np.where(np.isnan(arrested), felt, arrested)
    alike = np.abs(arrested - felt) < ALIKE_S * motion.rate_hz
    return np.where(alike, ARRESTED * arrested + (1.0 - ARRESTED) * felt, felt)


def _jolts(acceleration: FloatArray, rate_hz: float) -> FloatArray:
    """(n,) m/s^3, how much the acceleration (a vector in the world) changed since the sample before."""
    return np.asarray(np.linalg.norm(np.diff(acceleration, axis=0, prepend=acceleration[:1]), axis=1) * rate_hz)


def _braking(flights: _Flights) -> tuple[IntArray, IntArray]:
    """From where to where a foot lands, by its slowing down; a heel lands before half of the fall in pitch is over."""
    fastest, stop, windows, pitch = flights.fastest, flights.stop, flights.windows, flights.motion.pitch
    begin = fastest + np.maximum(windows.first_true(flights.slowing < BRAKING), 0)
    slow = windows.first_true(flights.slowing < LANDED)
    end = np.where(slow < 0, stop, fastest + slow)
    landing = spanning(begin, np.maximum(end - 1, begin))
    away = landing.of(pitch) - landing.each(pitch[stop])
    top = begin + landing.place_of_greatest(away)
    falling = spanning(top, stop)
    fall = falling.of(pitch) - falling.each(pitch[stop])
    half = falling.first_crossing(fall, 0.5 * (pitch[top] - pitch[stop]), rising=False)
    on_heel = (landing.greatest(away) > 2.0 * CONTACT_PITCH) & ~np.isnan(half)
    return begin, np.where(on_heel, np.minimum(end, top + whole(np.ceil(half))), end)


def _jolt(jolt: FloatArray, begin: IntArray, end: IntArray) -> FloatArray:
    """(k,) onset of the greatest jolt within a window, NaN where that is too short."""
    windows = spanning(begin - 1, np.where(end - begin < 2, begin - 2, end))
    part = windows.of(jolt)
    # One that is there when the window begins has its onset there.
    part[windows.begin[windows.count > 0]] = 0.0
    return begin - 1.0 + windows.first_crossing(part, ONSET * windows.greatest(part), rising=True)


def _arrested(flights: _Flights, search: _Search) -> FloatArray:
    """(k,) onset of the arrest of the point that comes down first.

    When the heel, or in a foot that does not land on it the lower of heel and toe, last sinks to its resting height
    tells where to look; there the greatest upward acceleration of that point is its arrest.
    """
    motion, windows, rate_hz = flights.motion, flights.windows, flights.motion.rate_hz
    heel, toe = flights.over_rest(motion.heel_height), flights.over_rest(motion.toe_height)
    look = _where_to_look(flights, heel, toe, search.height)
    on_toe = windows.each(look.toe)
    height = np.where(on_toe, toe, heel)
    lift = np.where(on_toe, *(windows.of(_lift(of, rate_hz)) for of in (motion.toe_height, motion.heel_height)))
    arrests = _arrests(lift, windows)
    likely = _by_instant(arrests, look, search, rate_hz)
    precise = ~look.slowed & (search is KNOWN_SEAT and rate_hz >= QUICK_READING_HZ)
    if precise.any():
        touched = look.down + LONGER * _sinking(height, windows, look.down, search.height, rate_hz)
        likely = np.where(precise[arrests.flight], _by_height(arrests, height, windows, touched, rate_hz), likely)
    onset = arrests.onset_of_greatest(likely, len(look.down))
    # A strap that rings, or a landing too soft to be felt, moves the arrest about; the height bounds it.
    # Read less than a hundred times a second, an arrest is smeared ahead of itself.
    smeared = max(1.0 / rate_hz - 0.01, 0.0)
    early, late = (
        look.down + (look.slowed_or(of_slowed, margin) + smeared) * rate_hz
        for of_slowed, margin in zip(SLOWED.bounds_s, search.bounds_s, strict=True)
    )
    held = np.minimum(np.maximum(onset, early), late)
    return np.where(np.isnan(look.down), np.nan, flights.fastest + np.where(precise, onset, held))


def _where_to_look(flights: _Flights, heel: FloatArray, toe: FloatArray, height: float) -> _Look:
    """Which point comes down first, and when it last sinks to a height.

    heel, toe: (m,) m over where they rest. height: m.
    """
    windows, pitch = flights.windows, flights.over_rest(flights.motion.pitch)

    def there(values: FloatArray, place: FloatArray) -> FloatArray:
        return np.asarray(values[windows.begin + whole(np.round(place))])

    heel_down = windows.last_crossing(heel, height, rising=False)
    either_down = windows.last_crossing(np.minimum(heel, toe), height, rising=False)
    # Not on its heel: whichever point comes down first for good.
    other = np.isnan(heel_down) | (there(pitch, heel_down) < CONTACT_PITCH)
    on_toe = other & ~np.isnan(either_down) & (there(toe, either_down) < there(heel, either_down))
    down = np.where(other, either_down, heel_down)
    # The points may be so far off that they scrape the ground in flight: go by the foot's slowing down.
    slowed = np.isnan(down) | (there(flights.slowing, down) > STILL_FAST)
    slow_down = windows.last_crossing(flights.slowing, SLOWED.height, rising=False)
    on_toe = np.where(slowed, there(pitch, slow_down) <= -CONTACT_PITCH, on_toe)
    return _Look(on_toe, np.where(slowed, slow_down, down), slowed)


def _lift(height: FloatArray, rate_hz: float) -> FloatArray:
    """(n,) m/s^2 upward acceleration of a point."""
    return derivative(derivative(height, 1.0 / rate_hz), 1.0 / rate_hz)


def _arrests(lift: FloatArray, windows: Windows) -> _Arrests:
    """Every peak of the upward acceleration (m,) and where it has risen to a share of its height."""
    inner, number = lift[1:-1], windows.number
    peaked = (inner >= lift[:-2]) & (inner > lift[2:]) & (inner > 0.0) & (number[:-2] == number[2:])
    top = np.flatnonzero(peaked) + 1
    begin = windows.begin[number[top]]
    onset = last_rise(lift, begin, top, ONSET * lift[top])
    risen = ~np.isnan(onset)
    top, begin, onset = top[risen], begin[risen], onset[risen]
    return _Arrests(number[top], top - begin, onset, lift[top])


def _by_instant(arrests: _Arrests, look: _Look, search: _Search, rate_hz: float) -> FloatArray:
    """(a,) how likely each arrest is the first contact: by its strength, and how near it is to where it is looked for.

    The square root, for the other end's arrest that follows may be many times harder.
    """
    centre = look.down + look.slowed_or(SLOWED.later_s, search.later_s) * rate_hz
    spread = look.slowed_or(SLOWED.spread_s, search.spread_s) * rate_hz
    away = (arrests.peak - centre[arrests.flight]) / spread[arrests.flight]
    return np.asarray(np.sqrt(arrests.lift) * np.exp(-0.5 * away**2))


def _by_height(
    arrests: _Arrests, height: FloatArray, windows: Windows, touched: FloatArray, rate_hz: float
) -> FloatArray:
    """(a,) how likely each arrest is the first contact: by its strength, its height and how late it comes.

    Height and instant of an onset are both uncertain, and what an instant's error does to a height is told by how fast
    the point sinks. Late is after the point last sank to where it is looked for: what follows is the other end's.

    height: (m,) m of the point over its rest. touched: (k,) samples from each flight's beginning to its touching.
    """
    begin = windows.begin[arrests.flight]
    here = _straight(height, begin, arrests.onset)
    before = _straight(height, begin, np.maximum(arrests.onset - SINKING_S * rate_hz, 0.0))
    speed = np.maximum(before - here, 0.0) / SINKING_S
    away = (here - TOUCHING_M) ** 2 / (GIVE_M**2 + (speed * GIVE_S) ** 2)
    late = np.maximum((arrests.onset - touched[arrests.flight]) / rate_hz - ON_TIME_S, 0.0) / LATE_S
    return np.asarray(arrests.lift**STRENGTH * np.exp(-0.5 * (away + late**2)))


def _straight(values: FloatArray, begin: IntArray, place: FloatArray) -> FloatArray:
    """Values (m,) between two samples by the straight line, at places counted from ``begin``."""
    here = begin + place.astype(np.int64)
    return np.asarray(values[here] + (values[here + 1] - values[here]) * (place - (here - begin)))


def _sinking(height: FloatArray, windows: Windows, down: FloatArray, left: float, rate_hz: float) -> FloatArray:
    """(k,) samples a point takes for the ``left`` m down to the ground, at the speed it then sinks at."""
    # As fast as just before, for a height that is off by some millimetres is passed when the point has been arrested.
    before = np.maximum(down[:, None] - np.array([LOOK_BACK_S, 0.5 * LOOK_BACK_S, 0.0]) * rate_hz, 0.0)
    begin = windows.begin[:, None]
    heights = between(before + begin, begin, begin + windows.count[:, None] - 1).read(height)
    fall = np.max(-np.diff(heights, axis=1), axis=1) / (0.5 * LOOK_BACK_S)
    return np.asarray(SLOWEST_S * rate_hz / (1.0 + SLOWEST_S * np.maximum(fall, 0.0) / left))
