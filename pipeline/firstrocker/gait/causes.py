"""What may make a measure of one stride wrong, and by how much each cause reaches it.

A measure's error is built from causes that do not know of each other: the tilt left after anchoring (its covariance
comes with the course), the instant of an event times the rate at which the curve then changes, the scale of the
sensors, the ruler, samples that were lost, and for the shank the posture in standing that counts as its zero. Here is
how far each cause reaches; ``errors.py`` weighs them.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan

import numpy as np

from firstrocker.gait.bouts import Stride
from firstrocker.gait.clearance import MidSwing
from firstrocker.gait.contact import CONTACT_PITCH
from firstrocker.gait.measures import Curves
from firstrocker.gait.rates import greatest
from firstrocker.model import FloatArray
from firstrocker.motion.integrate import at_one
from firstrocker.motion.stillness import around

NEAR_S = 0.05
"""s about an event within which lost samples blur it."""
DIP_S, PEAK_SPEED_S = 0.0015, 0.015
"""s, one standard error of mid-swing, by how it was taken."""
AS_IF_S = 0.01
"""s; samples closer together bend a peak as much as these do, for the rates are smoothed alike."""
EDGE_S = (0.0018, 0.0028)
"""s, one standard error of heel strike and foot flat: a peak's interval is widened by it, to see what it hangs on."""

Sizes = dict[str, float]


@dataclass(frozen=True)
class Causes:
    """The causes of error of one stride. ``values``: its measures, SI and radians."""

    data: Curves
    stride: Stride
    values: dict[str, float]
    middle: MidSwing | None

    def of(self) -> dict[str, Sizes]:
        """For every measure that has a standard error, the size of each cause in its own unit."""
        return self._way() | self._foot() | self._shank() | self._rates()

    def _tilts(self) -> tuple[float, float]:
        """rad, of foot and of shank in this stride, the shank's without its zero."""
        foot, shank = self.data.foot, self.data.shank
        nodes = np.searchsorted(foot.anchors, [self.stride.before.start, self.stride.swing.stop])
        part = slice(int(nodes[0]), int(nodes[1]) + 1)
        return float(foot.tilt_se[part].max()), 0.0 if shank is None else float(shank.tilt_se[part].max())

    def _missed(self) -> tuple[float, float]:
        """m, along and in height, that the velocity missing at the end of the swing would make, kept up all the way."""
        foot, swing = self.data.foot, self.stride.swing
        node = int(np.searchsorted(foot.anchors, swing.start))
        velocity, time = foot.misclosure[node], (swing.stop - swing.start) / foot.rate_hz
        return time * float(np.hypot(*velocity[:2])), time * abs(float(velocity[2]))

    def _rolled(self) -> float:
        """M that the stride owes to the foot rolling on in stance, if the ground is what rests."""
        foot, swing = self.data.foot, self.stride.swing
        near = around(np.array([swing.start, swing.stop]), foot.rate_hz, len(foot.angular_velocity))
        rate = float(np.linalg.norm(foot.angular_velocity[near].mean(axis=1), axis=1).mean())
        return rate * foot.geometry.above_ground * (swing.stop - swing.start) / foot.rate_hz

    def _lost_s(self, first: float, last: float, *, shank: bool = False) -> float:
        """S of bridged samples within an interval of sample numbers."""
        if isnan(first + last):
            return float("nan")
        part = slice(max(int(first), 0), int(last) + 2)
        lost = self.data.foot.bridged[part]
        if shank and self.data.shank is not None:
            lost = lost | self.data.shank.bridged[part]
        return float(lost.sum()) / self.data.foot.rate_hz

    def _way(self) -> dict[str, Sizes]:
        foot, values, swing = self.data.foot, self.values, self.stride.swing
        geometry, tilt = foot.geometry, self._tilts()[0]
        length, time = values["stride_length_m"], max(values["stride_time_s"], 1e-3)
        ahead, up = self._missed()
        lost = self._lost_s(swing.start, swing.stop)
        of_length = {"floor": 1.0, "scale": length, "missed": ahead, "rolled": self._rolled(), "lost": lost}
        lifted = max(values["heel_clearance_max_mm"], 0.0)
        off, level = values["foot_pitch_toe_off_deg"], values["foot_pitch_mid_swing_deg"]
        place, se_s = (float("nan"), 0.0) if self.middle is None else (self.middle.place, self._instant_s())
        return {
            "stride_length_m": of_length,
            "walking_speed_m_s": {name: size / time for name, size in of_length.items()}
            | {"strike": length / time**2, "slow": self._slow_s * length / time**2},
            "toe_clearance_min_mm": {
                "floor": 1.0,
                "tilt": geometry.to_toe * tilt,
                "scale": lifted,
                "missed": up,
                "ruler": float(
                    np.hypot(geometry.to_toe_se * np.sin(level), geometry.above_ground_se * (1.0 - np.cos(level)))
                ),
                "instant": se_s * self._slope(foot.toe_height, place),
                "rival": self._rival(foot.toe_height),
                "lost": lost,
            },
            "heel_clearance_max_mm": {
                "floor": 1.0,
                "scale": lifted,
                "missed": up,
                "ruler": float(
                    np.hypot(geometry.to_heel_se * np.sin(off), geometry.above_ground_se * (1.0 - np.cos(off)))
                ),
                "lost": lost,
            },
            "circumduction_mm": {
                "floor": 1.0,
                "scale": abs(values["circumduction_mm"]),
                "length": length,
                "missed": ahead,
                "lost": lost,
            },
        }

    @property
    def _slow_s(self) -> float:
        """S between two samples beyond a hundredth."""
        return max(1.0 / self.data.foot.rate_hz - 0.01, 0.0)

    def _instant_s(self) -> float:
        return DIP_S if self.middle is not None and self.middle.kind == "local_minimum" else PEAK_SPEED_S

    def _slope(self, series: FloatArray, place: float) -> float:
        """Change per second at a sample number."""
        if isnan(place):
            return float("nan")
        return abs(at_one(series, place + 1.0) - at_one(series, place - 1.0)) * 0.5 * self.data.foot.rate_hz

    def _rival(self, series: FloatArray) -> float:
        """By how much a value would differ at the other instant that mid-swing may be; 0 where there is no doubt."""
        if self.middle is None or isnan(self.middle.rival):
            return 0.0
        return abs(at_one(series, self.middle.rival) - at_one(series, self.middle.place))

    def _event(self, rate: FloatArray, place: float, *, shank: bool) -> Sizes:
        """rad/s at an event: what each second of its instant's error turns into."""
        if isnan(place):
            return {"instant": float("nan")}
        near = NEAR_S * self.data.foot.rate_hz
        window = slice(max(int(place - near), 0), int(place + near) + 1)
        fastest = float(np.abs(rate[window]).max())
        turn = abs(at_one(rate, place))
        lost = self._lost_s(place - near, place + near, shank=shank)
        heading = self._unlevel(place, shank=shank)
        return {
            "instant": turn,
            "slow": self._slow_s * fastest,
            "lost": lost * fastest,
            "heading": heading,
            "unrest": self.data.unrest,
        }

    def _unlevel(self, place: float, *, shank: bool) -> float:
        """Rad at an event, of both segments together where the shank matters."""
        foot, other = self.data.unlevel
        return float(np.hypot(at_one(foot, place), at_one(other, place) if shank else 0.0))

    def _foot(self) -> dict[str, Sizes]:
        data, stride = self.data, self.stride
        base = {"floor": 1.0, "tilt": self._tilts()[0]}
        middle = float("nan") if self.middle is None else self.middle.place
        at_middle = self._event(data.pitch_rate, middle, shank=False)
        at_middle["instant"] *= self._instant_s()
        return {
            "foot_pitch_heel_strike_deg": base | self._event(data.pitch_rate, stride.before.heel_strike, shank=False),
            "foot_pitch_toe_off_deg": base | self._event(data.pitch_rate, stride.swing.toe_off, shank=False),
            "foot_pitch_mid_swing_deg": base | at_middle | {"rival": self._rival(data.foot.pitch)},
        }

    def _shank(self) -> dict[str, Sizes]:
        data, stride = self.data, self.stride
        shank, shank_rate, ankle_rate, ankle = data.shank, data.shank_rate, data.ankle_rate, data.ankle
        if shank is None or shank_rate is None or ankle_rate is None or ankle is None:
            return {}
        tilt, shank_tilt = self._tilts()
        base = {"floor": 1.0, "zero": shank.reference_se, "shank tilt": shank_tilt}
        both = base | {"tilt": tilt}
        strike, flat = stride.before.heel_strike, stride.before.foot_flat
        rise = stride.swing.heel_off
        middle = float("nan") if self.middle is None else self.middle.place
        at_middle = self._event(ankle_rate, middle, shank=True)
        at_middle["instant"] *= self._instant_s()
        ankle_strike = self._event(ankle_rate, strike, shank=True)
        ankle_flat = self._drawn(self._event(ankle_rate, flat, shank=True))
        shank_flat = self._drawn(self._event(shank_rate, flat, shank=True))
        fall = abs(self.values["foot_pitch_heel_strike_deg"]) + 1e-6
        # The zero cancels in a range; what is left is the tilt's change within a tenth of a second.
        change = {
            "floor": 1.0,
            "unrest": data.unrest,
            "instant": ankle_strike["instant"],
            "flat": ankle_flat["instant"],
            "slow": ankle_strike.get("slow", 0.0),
            "lost": ankle_strike.get("lost", 0.0) + ankle_flat.get("lost", 0.0),
        }
        lost = self._lost_s(strike, stride.swing.toe_off, shank=True)
        return {
            "ankle_heel_strike_deg": both | ankle_strike,
            "ankle_foot_flat_deg": both | ankle_flat,
            "ankle_peak_dorsiflexion_deg": both | {"lost": lost, "unrest": data.unrest},
            "ankle_mid_swing_deg": both | at_middle | {"rival": self._rival(ankle)},
            "shank_heel_strike_deg": base | self._event(shank_rate, strike, shank=True),
            "shank_foot_flat_deg": base | shank_flat,
            "shank_mid_stance_deg": base | self._event(shank_rate, 0.5 * (flat + rise), shank=True),
            "first_rocker_range_deg": change,
            "ankle_share": {name: size / fall for name, size in change.items()},
        }

    def _drawn(self, at_flat: Sizes) -> Sizes:
        """A foot that lands flat has no fall in pitch from which its foot flat could be drawn."""
        flat = not abs(self.values["foot_pitch_heel_strike_deg"]) > CONTACT_PITCH
        return at_flat | {"undrawn": at_flat["instant"] if flat else 0.0}

    def _rates(self) -> dict[str, Sizes]:
        data, stride, values = self.data, self.stride, self.values
        strike, flat = stride.before.heel_strike, stride.before.foot_flat
        rise, off = stride.swing.heel_off, stride.swing.toe_off
        lowering = values["foot_lowering_rate_deg_s"]
        causes: dict[str, Sizes] = {}
        for name in data.loading_rates:
            part = self._peak(values[name], strike, flat, shank=name != "foot_lowering_rate_deg_s")
            # What few samples blur of foot and shank does not cancel in the ankle, though their rates do.
            turning = values[name] if name == "shank_forward_rate_deg_s" else lowering
            part |= {"coarse": self._coarse(strike, flat) * abs(turning)}
            part |= {"lowering": abs(lowering), "edge": self._edge(name, strike, flat)}
            causes[name] = part | {"blur": self._blur(name, values[name], strike, flat)}
        if data.plantarflexion_rate is not None:
            name = "push_off_rate_deg_s"
            causes[name] = self._peak(values[name], rise, off, shank=True)
        return causes

    def _peak(self, size: float, first: float, last: float, *, shank: bool) -> Sizes:
        """A peak between two samples is read too low by what it bends; a short push bends sharply."""
        if not first <= last:
            return {"floor": float("nan")}
        step = 1.0 / self.data.foot.rate_hz
        time = max((last - first) * step, 2.0 * step)
        near = NEAR_S * self.data.foot.rate_hz
        lost = self._lost_s(first - near, last + near, shank=shank)
        window = slice(max(int(first) - 1, 0), int(last) + 3)
        foot, other = (float(np.abs(np.diff(leak[window])).max()) / step for leak in self.data.unlevel)
        return {
            "floor": 1.0,
            "unrest": self.data.unrest,
            "scale": abs(size),
            "bend": (max(step, AS_IF_S) / time) ** 2 * abs(size),
            "sampling": self._slow_s / time * abs(size),
            "lost": lost * abs(size),
            "heading": float(np.hypot(foot, other if shank else 0.0)),
        }

    def _coarse(self, strike: float, flat: float) -> float:
        """How much more than at 100 Hz a loading of few samples is blurred, as a share."""
        step = 1.0 / self.data.foot.rate_hz
        return self._slow_s * step / max((flat - strike) * step, 2.0 * step) ** 2

    def _edge(self, name: str, strike: float, flat: float) -> float:
        """rad/s by which a peak grows and shrinks as the events that bound it move by their errors."""
        if isnan(strike + flat):
            return float("nan")
        early, late = (seconds * self.data.foot.rate_hz for seconds in EDGE_S)
        first = np.array([strike - early, min(strike + early, flat)])
        last = np.array([flat + late, max(flat - late, strike)])
        wide, narrow = greatest(
            self.data.loading_rates[name],
            np.minimum(first, last),
            np.maximum(first, last),
            rate_hz=self.data.foot.rate_hz,
        )
        return 0.5 * float(wide - narrow)

    def _blur(self, name: str, size: float, strike: float, flat: float) -> float:
        """rad/s that a peak loses if each sample is blurred with its neighbours, as the sensor's own low-pass does.

        What that filter takes from a peak, or adds by overshooting, nobody knows; how sharp the peak is tells how much
        it may be.
        """
        read = greatest(
            self.data.blurred_rates[name], np.array([strike]), np.array([flat]), rate_hz=self.data.foot.rate_hz
        )
        return size - float(read[0])
