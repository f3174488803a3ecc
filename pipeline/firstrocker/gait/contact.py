"""The instant at which a foot comes down.

Where the sensor's seat on the shoe was measured, heel and toe are known points: the one that touches first is arrested
at its resting height. Where it was not, the points are centimetres off, and the jolt that goes through the foot has to
help.
"""

from __future__ import annotations

import numpy as np

from firstrocker.gait.arrest import ONSET, arrest_onsets
from firstrocker.gait.flights import CONTACT_PITCH, Flights
from firstrocker.gait.windows import spanning, whole
from firstrocker.model import FloatArray, IntArray
from firstrocker.motion.foot import FootMotion
from firstrocker.motion.integrate import derivative_at
from firstrocker.signals.sizes import magnitude

ARRESTED = 0.7
"""Weight of the arrest beside the jolt where the seat is guessed: annotators see contact between the two, on average
here (set on half of the annotated feet that the tests read)."""
ALIKE_S = 0.060
"""s by which arrest and jolt of one landing may differ where the seat is guessed."""
SOLE_GIVES = 0.002
"""m over its rest at which an end of the sole touches; common practice, no source."""
LIFTED = 0.004
"""m over its rest to which a heel that has touched must rise for that to have been a graze and no landing."""
BRAKING, LANDED = 0.65, 0.08
"""Shares of its greatest speed at which a foot brakes, and has landed."""


def heel_strikes(flights: Flights) -> FloatArray:
    """The first contact after each flight.

    Args:
        flights: k of them.

    Returns:
        (k,) sample numbers, fractions included; NaN where there is no sign of a contact.
    """
    rate_hz = flights.motion.rate_hz
    felt = _jolt(flights.motion, *_braking(flights))
    arrested = arrest_onsets(flights)
    if flights.motion.geometry.measured:
        return _or_grazed(flights, np.where(np.isnan(arrested), felt, arrested))
    alike = np.abs(arrested - felt) < ALIKE_S * rate_hz
    return np.where(alike, ARRESTED * arrested + (1.0 - ARRESTED) * felt, felt)


def _or_grazed(flights: Flights, struck: FloatArray) -> FloatArray:
    """(k,) where the heel first touched, if it did so before it struck, and was lifted again; else where it struck.

    A heel that grazes the ground in passing is hardly stopped, so its arrest does not tell; that it was as low as where
    it rests does. The toe is not looked at: in mid-swing it passes as low without being put down.
    """
    before = spanning(flights.fastest, whole(struck), only=~np.isnan(struck))
    heel = before.of(flights.motion.heel_height) - before.each(flights.motion.heel_height[flights.stop])
    touched = before.first_crossing(heel, SOLE_GIVES, rising=False)
    after = spanning(flights.fastest + whole(touched) + 1, whole(struck), only=~np.isnan(touched))
    lifted = after.greatest(heel[before.part(after)]) > LIFTED
    return np.where(lifted, flights.fastest + touched, struck)


def _braking(flights: Flights) -> tuple[IntArray, IntArray]:
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


def _jolt(motion: FootMotion, begin: IntArray, end: IntArray) -> FloatArray:
    """(k,) onset of the greatest jolt within a window, NaN where that is too short.

    A jolt is the change of the acceleration, a vector in the world, since the sample before.
    """
    windows = spanning(begin - 1, end, only=end - begin >= 2)
    acceleration = derivative_at(motion.velocity, windows.sample, 1.0 / motion.rate_hz)
    part = np.concatenate([np.zeros(min(len(acceleration), 1)), magnitude(np.diff(acceleration, axis=0))])
    # One that is there when the window begins has its onset there.
    part[windows.begin[windows.count > 0]] = 0.0
    return begin - 1.0 + windows.first_crossing(part, ONSET * windows.greatest(part), rising=True)
