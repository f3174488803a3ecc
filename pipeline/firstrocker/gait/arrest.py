"""The instant at which a point of the sole is stopped by the ground."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.gait.flights import CONTACT_PITCH, Flights
from firstrocker.gait.windows import Windows, last_rise
from firstrocker.model import BoolArray, FloatArray, IntArray
from firstrocker.motion.integrate import SLOPE, between

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


def arrest_onsets(flights: Flights) -> FloatArray:
    """Onset of the arrest of the point that comes down first.

    When the heel, or in a foot that does not land on it the lower of heel and toe, last sinks to its resting height
    tells where to look; there the greatest upward acceleration of that point is its arrest.

    Args:
        flights: k of them.

    Returns:
        (k,) sample numbers, fractions included; NaN where no point is seen to be stopped.
    """
    motion, windows, rate_hz = flights.motion, flights.windows, flights.motion.rate_hz
    search = KNOWN_SEAT if motion.geometry.measured else GUESSED_SEAT
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


def _where_to_look(flights: Flights, heel: FloatArray, toe: FloatArray, height: float) -> _Look:
    """Which point comes down first, and when it last sinks to a height.

    heel, toe: (m,) m over where they rest. height: m.
    """
    windows, pitch = flights.windows, flights.over_rest(flights.motion.pitch)
    heel_down = windows.last_crossing(heel, height, rising=False)
    either_down = windows.last_crossing(np.minimum(heel, toe), height, rising=False)
    # Not on its heel: whichever point comes down first for good.
    other = np.isnan(heel_down) | (flights.there(pitch, heel_down) < CONTACT_PITCH)
    on_toe = other & ~np.isnan(either_down) & (flights.there(toe, either_down) < flights.there(heel, either_down))
    down = np.where(other, either_down, heel_down)
    # The points may be so far off that they scrape the ground in flight: go by the foot's slowing down.
    slowed = np.isnan(down) | (flights.there(flights.slowing, down) > STILL_FAST)
    slow_down = windows.last_crossing(flights.slowing, SLOWED.height, rising=False)
    on_toe = np.where(slowed, flights.there(pitch, slow_down) <= -CONTACT_PITCH, on_toe)
    return _Look(on_toe, np.where(slowed, slow_down, down), slowed)


def _lift(height: FloatArray, rate_hz: float) -> FloatArray:
    """(n,) m/s^2 upward acceleration of a point: twice the derivative of fourth order."""
    return np.convolve(np.pad(height, 4, mode="edge"), np.convolve(SLOPE, SLOPE) * rate_hz**2, mode="valid")


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
