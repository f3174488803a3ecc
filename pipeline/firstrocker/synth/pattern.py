"""How a leg walks, as numbers: the mean of a kind, of a person, or of one stride.

The values are this project's own invention, chosen to lie in the bands of the literature where there are any; none is
a published measurement of a person. Angles in degrees, lengths in metres, times in seconds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from types import MappingProxyType
from typing import Any

import numpy as np


@dataclass(frozen=True)
class Gait:
    """One leg's way of walking: the mean of a kind, of a person, or the values of one stride.

    Angles in deg: pitch toes-up positive, shank inclined positive. Rates in deg/s.
    """

    stride_time: float = 1.08
    stride_length: float = 1.40
    stance_share: float = 0.615
    other_stance_share: float = 0.615
    step_share: float = 0.5  # of the stride, from the other foot's contact to this foot's
    loading_time: float = 0.088  # first touch to the other end's touch
    heel_off_share: float = 0.35  # of the stride, after contact
    heel_off_rate: float = 50.0  # deg/s once the heel has left
    pitch_contact: float = 21.0
    pitch_rate_contact: float = -40.0
    pitch_late_extra: float = 4.0  # by which pitch exceeds that at contact late in swing
    pitch_mid_swing: float = -10.0
    pitch_toe_off: float = -60.0
    # How toe off lies to the course of pitch: as in the open recordings of eight healthy people that the tests use,
    # where the pitch rate peaks 32 ms before the annotated foot off and pitch is lowest 34 ms after it.
    leaving_rate_share: float = 0.65  # pitch rate at toe off as a share of the greatest
    fastest_before_toe_off: float = 0.026
    lowest_after_toe_off: float = 0.034
    landing_rate_share: float = 0.6  # pitch rate at foot flat as a share of the mean in loading
    impact_forward: float = 0.5  # m/s of the point that touches first
    impact_down: float = 0.22
    stop_time: float = 0.020  # in which the heel pad and the shoe stop that point
    flat_stop_time: float = 0.015  # in which the other end is stopped
    clearance: float = 0.008  # of the lower of toe and heel in mid-swing
    clearance_early: float = 0.040  # of the toe in its first rise
    height_late: float = 0.024  # of the end that will touch, late in swing
    lift_rate: float = 0.25  # m/s with which the last point leaves the ground
    circumduction: float = 0.012
    toe_flex: float = 34.0  # most the toes bend at push-off
    toe_out: float = 7.0
    inversion: float = 4.0
    step_width: float = 0.10
    ankle_share: float = 0.40
    shank_contact: float = -19.0
    shank_advance: float = 4.0  # forward rotation in loading where the heel is not first
    shank_heel_off: float = 13.0
    shank_toe_off: float = 44.0
    shank_mid_swing: float = 9.0
    stride_spread: float = 1.0  # scales the variation from stride to stride
    pitch_limits: tuple[float, float] = (-90.0, 90.0)  # which pitch at contact belongs to the kind


_SPREAD: Mapping[str, tuple[float, float, float]] = MappingProxyType(
    # field: sd between people, sd between strides (both absolute), least value
    {
        "stride_time": (0.05, 0.015, 0.6),
        "stride_length": (0.07, 0.025, 0.2),
        "stance_share": (0.008, 0.005, 0.5),
        "loading_time": (0.005, 0.005, 0.02),
        "heel_off_share": (0.012, 0.010, 0.1),
        "heel_off_rate": (6.0, 5.0, 20.0),
        "pitch_contact": (1.8, 1.2, -40.0),
        "pitch_rate_contact": (12.0, 10.0, -100.0),
        "pitch_late_extra": (0.5, 0.4, 0.8),
        "pitch_mid_swing": (2.0, 1.2, -60.0),
        "pitch_toe_off": (3.0, 1.8, -80.0),
        "leaving_rate_share": (0.06, 0.05, 0.3),
        "fastest_before_toe_off": (0.011, 0.005, 0.006),
        "lowest_after_toe_off": (0.009, 0.004, 0.012),
        "landing_rate_share": (0.06, 0.07, 0.2),
        "impact_forward": (0.08, 0.06, 0.1),
        "impact_down": (0.03, 0.025, 0.08),
        "stop_time": (0.0015, 0.0015, 0.010),
        "flat_stop_time": (0.001, 0.001, 0.009),
        "clearance": (0.0015, 0.0016, 0.002),
        "clearance_early": (0.004, 0.003, 0.004),
        "height_late": (0.003, 0.003, 0.006),
        "lift_rate": (0.03, 0.025, 0.1),
        "circumduction": (0.004, 0.003, -0.05),
        "toe_flex": (3.0, 2.0, 3.0),
        "toe_out": (3.0, 1.2, -5.0),
        "inversion": (1.5, 1.0, -6.0),
        "step_width": (0.015, 0.012, 0.0),
        "ankle_share": (0.03, 0.03, 0.05),
        "shank_contact": (1.5, 0.9, -40.0),
        "shank_heel_off": (1.5, 0.9, 0.0),
        "shank_toe_off": (2.0, 1.2, 10.0),
        "shank_mid_swing": (1.5, 1.2, -20.0),
    }
)


def _varied(gait: Gait, rng: np.random.Generator, which: int, scale: float) -> Gait:
    drawn: dict[str, Any] = {}
    for name, spread in _SPREAD.items():
        shift = float(np.clip(rng.standard_normal(), -2.2, 2.2)) * spread[which] * scale
        if name == "loading_time":
            shift *= gait.loading_time / Gait.loading_time  # a short loading varies by less
        drawn[name] = max(getattr(gait, name) + shift, spread[2])
    low, high = gait.pitch_limits
    drawn["pitch_contact"] = min(max(drawn["pitch_contact"], low), high)
    drawn["ankle_share"] = min(drawn["ankle_share"], 1.0)
    return replace(gait, **drawn)


def draw_person(gait: Gait, rng: np.random.Generator) -> Gait:
    """One person of that kind."""
    return _varied(gait, rng, 0, 1.0)


def draw_stride(person: Gait, rng: np.random.Generator) -> Gait:
    """One stride of that person."""
    return _varied(person, rng, 1, person.stride_spread)


def blend(first: Gait, second: Gait, share: float) -> Gait:
    """A gait between two: ``first`` at share 0, ``second`` at share 1."""
    low = tuple((1.0 - share) * a + share * b for a, b in zip(first.pitch_limits, second.pitch_limits, strict=True))
    mixed = {
        f.name: (1.0 - share) * getattr(first, f.name) + share * getattr(second, f.name)
        for f in fields(Gait)
        if f.name != "pitch_limits"
    }
    return Gait(**mixed, pitch_limits=(low[0], low[1]))


def shortened(gait: Gait, share: float) -> Gait:
    """The same leg in a step ``share`` as long, as in starting, stopping and turning: flatter and slower."""
    part = 0.35 + 0.65 * share
    return replace(
        gait,
        pitch_contact=gait.pitch_contact * part,
        pitch_late_extra=gait.pitch_late_extra * part,
        pitch_rate_contact=gait.pitch_rate_contact * part,
        pitch_toe_off=gait.pitch_toe_off * (0.5 + 0.5 * share),
        impact_forward=max(0.15, gait.impact_forward * share),
        shank_contact=gait.shank_contact * part,
        shank_heel_off=gait.shank_heel_off * part,
        shank_toe_off=gait.shank_toe_off * (0.5 + 0.5 * share),
    )


def sound_side(gait: Gait) -> Gait:
    """The other leg of someone who walks so with one: ordinary, at the same pace and stride."""
    normal = Gait()
    near = blend(normal, gait, 0.0)
    part = min(1.0, 0.45 + 0.55 * gait.stride_length / normal.stride_length)
    return replace(
        shortened(near, (part - 0.35) / 0.65),
        stride_time=gait.stride_time,
        stride_length=gait.stride_length,
        stance_share=gait.other_stance_share,
        other_stance_share=gait.stance_share,
        step_share=1.0 - gait.step_share,
        heel_off_share=normal.heel_off_share * gait.other_stance_share / normal.stance_share,
        stride_spread=gait.stride_spread,
    )
