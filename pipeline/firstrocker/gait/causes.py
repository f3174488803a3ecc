"""What may make a measure of a stride wrong, and by how much each cause reaches it.

A measure's error is built from causes that do not know of each other: the tilt left after anchoring (its covariance
comes with the course), the instant of an event times the rate at which the curve then changes, the scale of the
sensors, the ruler, samples that were lost, and for the shank the posture in standing that counts as its zero. Here is
how far each cause reaches; ``errors.py`` weighs them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from firstrocker.gait.bouts import Strides
from firstrocker.gait.clearance import MidSwings
from firstrocker.gait.flights import CONTACT_PITCH
from firstrocker.gait.measures import Columns, Curves
from firstrocker.gait.rates import greatest
from firstrocker.gait.windows import how_many, spanning, whole
from firstrocker.model import FloatArray, IntArray
from firstrocker.motion.integrate import at, between
from firstrocker.motion.stillness import around

NEAR_S = 0.05
"""s about an event within which lost samples blur it."""
DIP_S, PEAK_SPEED_S = 0.0015, 0.015
"""s, one standard error of mid-swing, by how it was taken."""
AS_IF_S = 0.01
"""s; samples closer together bend a peak as much as these do, for the rates are smoothed alike."""
EDGE_S = (0.0018, 0.0028)
"""s, one standard error of heel strike and foot flat: a peak's interval is widened by it, to see what it hangs on."""

LONG_S = 1.2
"""s from one foot flat to the next from which a swing is a slow walker's: errors grow with the time they are summed."""

Sizes = dict[str, FloatArray | float]
"""How large each cause is, by its name: (k,), or the same for all strides."""


@dataclass(frozen=True)
class Causes:
    """The causes of error of the strides of one foot. ``values``: their measures, SI and radians."""

    data: Curves
    strides: Strides
    values: Columns
    middle: MidSwings

    def of(self) -> dict[str, Sizes]:
        """For every measure that has a standard error, the size of each cause in its own unit."""
        return self._way() | self._foot() | self._shank() | self._rates()

    @cached_property
    def _tilts(self) -> tuple[FloatArray, FloatArray]:
        """(k,) rad, of foot and of shank in each stride, the shank's without its zero."""
        foot, shank = self.data.foot, self.data.shank
        first, last = (np.searchsorted(foot.anchors, s) for s in (self.strides.before.start, self.strides.swing.stop))
        nodes = spanning(first, last)
        of_shank = np.zeros(len(first)) if shank is None else nodes.greatest(nodes.of(shank.tilt_se))
        return nodes.greatest(nodes.of(foot.tilt_se)), of_shank

    def _missed(self) -> tuple[FloatArray, FloatArray]:
        """m, along and in height, that the velocity missing at the end of the swing would make, kept up all the way."""
        foot, swing = self.data.foot, self.strides.swing
        velocity = foot.misclosure[np.searchsorted(foot.anchors, swing.start)]
        time = (swing.stop - swing.start) / foot.rate_hz
        return time * np.hypot(velocity[:, 0], velocity[:, 1]), time * np.abs(velocity[:, 2])

    def _rolled(self) -> FloatArray:
        """M that each stride owes to the foot rolling on in stance, if the ground is what rests."""
        foot, swing = self.data.foot, self.strides.swing
        near = [around(end, foot.rate_hz, len(foot.still)) for end in (swing.start, swing.stop)]
        rate = np.linalg.norm([foot.turning(part).mean(axis=1) for part in near], axis=2).mean(axis=0)
        return np.asarray(rate * foot.geometry.above_ground * (swing.stop - swing.start) / foot.rate_hz)

    @cached_property
    def _bridged(self) -> tuple[IntArray, IntArray]:
        """Samples that were bridged, of the foot, and of foot or shank."""
        foot, shank = self.data.foot.bridged, self.data.shank
        return np.flatnonzero(foot), np.flatnonzero(foot if shank is None else foot | shank.bridged)

    def _lost_s(self, first: FloatArray, last: FloatArray, *, shank: bool = False) -> FloatArray:
        """S of bridged samples within intervals of sample numbers."""
        lost = how_many(self._bridged[shank], np.maximum(whole(first), 0), whole(last) + 2)
        return np.where(np.isnan(first + last), np.nan, lost / self.data.foot.rate_hz)

    def _way(self) -> dict[str, Sizes]:
        foot, values, swing = self.data.foot, self.values, self.strides.swing
        geometry, tilt = foot.geometry, self._tilts[0]
        length, time = values["stride_length_m"], np.maximum(values["stride_time_s"], 1e-3)
        ahead, up = self._missed()
        lost = self._lost_s(swing.start.astype(np.float64), swing.stop.astype(np.float64))
        long = np.maximum((swing.stop - swing.start) / foot.rate_hz - LONG_S, 0.0)
        of_length = {"floor": 1.0, "scale": length, "missed": ahead, "rolled": self._rolled(), "lost": lost}
        of_length |= {"long": long}
        lifted = np.maximum(values["heel_clearance_max_mm"], 0.0)
        off, level = values["foot_pitch_toe_off_deg"], values["foot_pitch_mid_swing_deg"]
        return {
            "stride_length_m": of_length,
            "walking_speed_m_s": {name: size / time for name, size in of_length.items()}
            | {"strike": length / time**2, "slow": self._slow_s * length / time**2},
            "toe_clearance_min_mm": {
                "floor": 1.0,
                "tilt": geometry.to_toe * tilt,
                "scale": lifted,
                "missed": up,
                "ruler": np.hypot(geometry.to_toe_se * np.sin(level), geometry.above_ground_se * (1.0 - np.cos(level))),
                "instant": self._instant_s * self._slope(foot.toe_height, self.middle.place),
                "rival": self._rival(foot.toe_height),
                "lost": lost,
                **self._unlevel(lambda roll: geometry.to_toe * at(roll, self.middle.place), shank=False),
            },
            "heel_clearance_max_mm": {
                "floor": 1.0,
                "scale": lifted,
                "missed": up,
                "long": long,
                "ruler": np.hypot(geometry.to_heel_se * np.sin(off), geometry.above_ground_se * (1.0 - np.cos(off))),
                "lost": lost,
            },
            "circumduction_mm": {
                "floor": 1.0,
                "scale": np.abs(values["circumduction_mm"]),
                "length": length,
                "missed": ahead,
                "long": long,
                "lost": lost,
            },
        }

    @property
    def _slow_s(self) -> float:
        """S between two samples beyond a hundredth."""
        return max(1.0 / self.data.foot.rate_hz - 0.01, 0.0)

    @property
    def _instant_s(self) -> FloatArray:
        return np.where(self.middle.dip, DIP_S, PEAK_SPEED_S)

    def _slope(self, curve: FloatArray, place: FloatArray) -> FloatArray:
        """Change per second at sample numbers."""
        return np.abs(at(curve, place + 1.0) - at(curve, place - 1.0)) * (0.5 * self.data.foot.rate_hz)

    def _rival(self, curve: FloatArray) -> FloatArray:
        """By how much a value would differ at the other instant that mid-swing may be; 0 where there is no doubt."""
        apart = np.abs(at(curve, self.middle.rival) - at(curve, self.middle.place))
        return np.where(np.isnan(self.middle.rival), 0.0, apart)

    def _event(self, rate: FloatArray, place: FloatArray, *, shank: bool) -> Sizes:
        """rad/s at an event: what each second of its instant's error turns into."""
        there, near = between(place, 0, len(rate) - 1), NEAR_S * self.data.foot.rate_hz
        windows = spanning(np.maximum(whole(place - near), 0), np.minimum(whole(place + near), len(rate) - 1))
        fastest = windows.greatest(np.abs(windows.of(rate)))
        return {
            "instant": np.abs(there.read(rate)),
            "slow": self._slow_s * fastest,
            "lost": self._lost_s(place - near, place + near, shank=shank) * fastest,
            "unrest": self.data.unrest,
            **self._unlevel(there.read, shank=shank),
        }

    def _unlevel(self, tell: Callable[[FloatArray], FloatArray], *, shank: bool) -> Sizes:
        """What roll that is wrongly taken for pitch comes to, of both segments together where the shank matters.

        The less clearly a sideways axis stood out, the farther the forward axis may be from the true one (``heading``),
        and the farther the foot's two axes lie apart (``axis``); through it a segment's roll leaks into its pitch.

        tell: (k,) of a roll (n,) rad what matters.
        """
        foot, other = self.data.foot, self.data.shank
        rolls = np.abs(tell(foot.roll))
        leak = (1.0 - foot.mounting.planar) * rolls
        if shank and other is not None:
            leak = np.hypot(leak, (1.0 - other.mounting.planar) * tell(other.roll))
        return {"heading": leak, "axis": np.sin(foot.mounting.doubt) * rolls}

    def _foot(self) -> dict[str, Sizes]:
        rate = self.data.pitch_rate
        base: Sizes = {"floor": 1.0, "tilt": self._tilts[0]}
        at_strike = self._event(rate, self.strides.before.heel_strike, shank=False)
        at_off = self._event(rate, self.strides.swing.toe_off, shank=False)
        return {
            "foot_pitch_heel_strike_deg": base | at_strike,
            "foot_pitch_toe_off_deg": base | at_off,
            "foot_pitch_mid_swing_deg": base | self._mid_swing(rate, self.data.foot.pitch, shank=False),
        }

    def _mid_swing(self, rate: FloatArray, curve: FloatArray, *, shank: bool) -> Sizes:
        there = self._event(rate, self.middle.place, shank=shank)
        return there | {"instant": there["instant"] * self._instant_s, "rival": self._rival(curve)}

    def _shank(self) -> dict[str, Sizes]:
        data, strides = self.data, self.strides
        shank, shank_rate, ankle_rate, ankle = data.shank, data.shank_rate, data.ankle_rate, data.ankle
        if shank is None or shank_rate is None or ankle_rate is None or ankle is None:
            return {}
        tilt, shank_tilt = self._tilts
        base: Sizes = {"floor": 1.0, "zero": shank.reference_se, "shank tilt": shank_tilt}
        both = base | {"tilt": tilt}
        strike, flat = strides.before.heel_strike, strides.before.foot_flat
        ankle_strike = self._event(ankle_rate, strike, shank=True)
        ankle_flat = self._drawn(self._event(ankle_rate, flat, shank=True))
        shank_flat = self._drawn(self._event(shank_rate, flat, shank=True))
        middle = 0.5 * (flat + strides.swing.heel_off)
        fall = np.abs(self.values["foot_pitch_heel_strike_deg"]) + 1e-6
        # The zero cancels in a range; what is left is the tilt's change within a tenth of a second.
        change: Sizes = {
            "floor": 1.0,
            "unrest": data.unrest,
            "instant": ankle_strike["instant"],
            "flat": ankle_flat["instant"],
            "slow": ankle_strike["slow"],
            "lost": ankle_strike["lost"] + ankle_flat["lost"],
        }
        lost = self._lost_s(strike, strides.swing.toe_off, shank=True)
        return {
            "ankle_heel_strike_deg": both | ankle_strike,
            "ankle_foot_flat_deg": both | ankle_flat,
            "ankle_peak_dorsiflexion_deg": both | {"lost": lost, "unrest": data.unrest},
            "ankle_mid_swing_deg": both | self._mid_swing(ankle_rate, ankle, shank=True),
            "shank_heel_strike_deg": base | self._event(shank_rate, strike, shank=True),
            "shank_foot_flat_deg": base | shank_flat,
            "shank_mid_stance_deg": base | self._event(shank_rate, middle, shank=True),
            "first_rocker_range_deg": change,
            "ankle_share": {name: size / fall for name, size in change.items()},
        }

    def _drawn(self, at_flat: Sizes) -> Sizes:
        """A foot that lands flat has no fall in pitch from which its foot flat could be drawn."""
        falls = np.abs(self.values["foot_pitch_heel_strike_deg"]) > CONTACT_PITCH
        return at_flat | {"undrawn": np.where(falls, 0.0, at_flat["instant"])}

    def _rates(self) -> dict[str, Sizes]:
        data, values = self.data, self.values
        strike, flat = self.strides.before.heel_strike, self.strides.before.foot_flat
        rise, off = self.strides.swing.heel_off, self.strides.swing.toe_off
        lowering = np.abs(values["foot_lowering_rate_deg_s"])
        causes: dict[str, Sizes] = {}
        for name in data.loading_rates:
            part = self._peak(values[name], strike, flat, shank=name != "foot_lowering_rate_deg_s")
            # What few samples blur of foot and shank does not cancel in the ankle, though their rates do.
            turning = np.abs(values[name]) if name == "shank_forward_rate_deg_s" else lowering
            part |= {"coarse": self._coarse(strike, flat) * turning}
            part |= {"lowering": lowering, "edge": self._edge(name, strike, flat)}
            causes[name] = part | {"blur": self._blur(name, values[name], strike, flat)}
        if data.ankle_rate is not None:
            name = "push_off_rate_deg_s"
            causes[name] = self._peak(values[name], rise, off, shank=True)
        return causes

    def _peak(self, size: FloatArray, first: FloatArray, last: FloatArray, *, shank: bool) -> Sizes:
        """A peak between two samples is read too low by what it bends; a short push bends sharply."""
        step, size = 1.0 / self.data.foot.rate_hz, np.abs(size)
        time = np.maximum((last - first) * step, 2.0 * step)
        near = NEAR_S * self.data.foot.rate_hz
        lost = self._lost_s(first - near, last + near, shank=shank)
        return {
            "floor": 1.0,
            "unrest": self.data.unrest,
            "scale": size,
            "bend": (max(step, AS_IF_S) / time) ** 2 * size,
            "sampling": self._slow_s / time * size,
            "lost": lost * size,
            **self._unlevel(lambda roll: self._turning(roll, first, last), shank=shank),
        }

    def _turning(self, curve: FloatArray, first: FloatArray, last: FloatArray) -> FloatArray:
        """(k,) greatest change per second from sample to sample within intervals; NaN where they have no ends."""
        begin, end = np.maximum(whole(first) - 1, 0), np.minimum(whole(last) + 1, len(curve) - 2)
        windows = spanning(begin, end, only=first <= last)
        steps = np.abs(curve[windows.sample + 1] - windows.of(curve))
        return windows.greatest(steps) * self.data.foot.rate_hz

    def _coarse(self, strike: FloatArray, flat: FloatArray) -> FloatArray:
        """How much more than at 100 Hz a loading of few samples is blurred, as a share."""
        step = 1.0 / self.data.foot.rate_hz
        return np.asarray(self._slow_s * step / np.maximum((flat - strike) * step, 2.0 * step) ** 2)

    def _edge(self, name: str, strike: FloatArray, flat: FloatArray) -> FloatArray:
        """rad/s by which a peak grows and shrinks as the events that bound it move by their errors."""
        early, late = (seconds * self.data.foot.rate_hz for seconds in EDGE_S)
        near, far = np.minimum(strike + early, flat), np.maximum(flat - late, strike)
        wide = self._greatest(name, strike - early, flat + late)
        narrow = self._greatest(name, np.minimum(near, far), np.maximum(near, far))
        return 0.5 * (wide - narrow)

    def _blur(self, name: str, size: FloatArray, strike: FloatArray, flat: FloatArray) -> FloatArray:
        """rad/s that a peak loses if each sample is blurred with its neighbours, as the sensor's own low-pass does.

        What that filter takes from a peak, or adds by overshooting, nobody knows; how sharp the peak is tells how much
        it may be.
        """
        return size - self._greatest(name, strike, flat, blunt=True)

    def _greatest(self, name: str, first: FloatArray, last: FloatArray, *, blunt: bool = False) -> FloatArray:
        return greatest(self.data.loading_rates[name], first, last, rate_hz=self.data.foot.rate_hz, blunt=blunt)
