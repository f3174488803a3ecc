"""Kinds of gait, each a set of numbers from which a walker is made.

The values are this project's own invention, chosen to lie in the bands of the literature where there are any; none is
a published measurement of a person.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from firstrocker.synth.pattern import Gait

_NORMAL = Gait()

_SLAP = Gait(
    stride_time=1.16,
    stride_length=1.18,
    stance_share=0.615,
    loading_time=0.050,
    pitch_contact=13.0,
    pitch_late_extra=2.0,
    pitch_mid_swing=-12.0,
    pitch_toe_off=-55.0,
    landing_rate_share=0.95,
    flat_stop_time=0.011,
    clearance=0.009,
    clearance_early=0.050,
    height_late=0.022,
    impact_forward=0.40,
    ankle_share=0.85,
    shank_contact=-15.0,
    shank_heel_off=12.0,
    shank_toe_off=40.0,
    shank_mid_swing=8.0,
    pitch_limits=(9.0, 18.0),
)

_TOE_DROP = replace(
    _SLAP,
    loading_time=0.045,
    pitch_contact=6.5,
    pitch_late_extra=2.0,
    pitch_mid_swing=-22.0,
    pitch_toe_off=-56.0,
    landing_rate_share=0.85,
    clearance=0.004,
    clearance_early=0.045,
    height_late=0.018,
    circumduction=0.025,
    ankle_share=0.75,
    shank_contact=-12.0,
    shank_mid_swing=11.0,
    pitch_limits=(4.0, 10.0),
)

_FOREFOOT = replace(
    _SLAP,
    stride_time=1.22,
    stride_length=1.02,
    loading_time=0.070,
    heel_off_share=0.36,
    pitch_contact=-9.0,
    pitch_rate_contact=10.0,
    pitch_late_extra=2.0,
    pitch_mid_swing=-22.0,
    landing_rate_share=0.7,
    flat_stop_time=0.018,
    clearance=0.010,
    clearance_early=0.045,
    height_late=0.016,
    impact_forward=0.35,
    circumduction=0.025,
    shank_contact=-9.0,
    shank_advance=3.0,
    shank_mid_swing=10.0,
    pitch_limits=(-16.0, -4.5),
)

_FLAT = replace(
    _SLAP,
    stride_time=1.2,
    stride_length=1.0,
    loading_time=0.030,
    pitch_contact=0.0,
    pitch_rate_contact=-20.0,
    pitch_late_extra=2.0,
    pitch_mid_swing=-14.0,
    landing_rate_share=0.8,
    clearance=0.012,
    clearance_early=0.040,
    height_late=0.016,
    impact_forward=0.30,
    shank_contact=-8.0,
    pitch_limits=(-2.5, 2.5),
)

_BALANCED = Gait(
    stride_time=1.12,
    stride_length=1.27,
    loading_time=0.085,
    pitch_contact=18.0,
    pitch_late_extra=2.0,
    pitch_mid_swing=-8.0,
    pitch_toe_off=-52.0,
    landing_rate_share=0.6,
    clearance=0.012,
    toe_flex=22.0,
    ankle_share=0.50,
    shank_contact=-17.0,
    shank_toe_off=42.0,
    pitch_limits=(12.0, 24.0),
)

_TOO_MUCH = replace(
    _BALANCED,
    stride_time=1.14,
    stride_length=1.22,
    loading_time=0.078,
    pitch_contact=17.0,
    pitch_late_extra=2.0,
    pitch_mid_swing=-5.0,
    pitch_toe_off=-44.0,
    landing_rate_share=0.7,
    clearance=0.015,
    toe_flex=14.0,
    ankle_share=0.20,
    shank_contact=-16.0,
    shank_heel_off=14.0,
    shank_toe_off=41.0,
    shank_mid_swing=6.0,
    pitch_limits=(12.0, 23.0),
)

_SHUFFLING = Gait(
    stride_time=1.15,
    stride_length=0.46,
    stance_share=0.68,
    other_stance_share=0.68,
    loading_time=0.032,
    heel_off_share=0.48,
    heel_off_rate=35.0,
    pitch_contact=3.0,
    pitch_rate_contact=-15.0,
    pitch_late_extra=2.0,
    pitch_mid_swing=-5.0,
    pitch_toe_off=-22.0,
    landing_rate_share=0.7,
    impact_forward=0.25,
    impact_down=0.12,
    clearance=0.004,
    clearance_early=0.012,
    height_late=0.009,
    lift_rate=0.12,
    circumduction=0.006,
    shank_contact=-2.0,
    shank_advance=2.0,
    shank_heel_off=9.0,
    shank_toe_off=21.0,
    shank_mid_swing=9.0,
    stride_spread=0.7,
    pitch_limits=(1.0, 7.0),
)

_BRISK = Gait(
    stride_time=0.94,
    stride_length=1.66,
    stance_share=0.595,
    other_stance_share=0.595,
    loading_time=0.078,
    heel_off_share=0.33,
    pitch_contact=25.0,
    pitch_late_extra=2.0,
    pitch_toe_off=-66.0,
    impact_forward=0.8,
    impact_down=0.32,
    stop_time=0.017,
    clearance=0.010,
    clearance_early=0.046,
    shank_contact=-23.0,
    shank_toe_off=48.0,
)

_NO_HEEL_RISE = replace(
    _SLAP,
    stride_time=1.25,
    stride_length=0.92,
    stance_share=0.64,
    other_stance_share=0.66,
    loading_time=0.060,
    heel_off_share=0.545,
    heel_off_rate=70.0,
    pitch_contact=9.0,
    pitch_late_extra=2.0,
    pitch_mid_swing=-8.0,
    pitch_toe_off=-17.0,
    landing_rate_share=0.8,
    ankle_share=0.6,
    clearance_early=0.030,
    toe_flex=12.0,
    shank_contact=-10.0,
    shank_heel_off=22.0,
    shank_toe_off=29.0,
    shank_mid_swing=14.0,
    pitch_limits=(6.0, 14.0),
)

_HEMIPARETIC = replace(
    _SLAP,
    stride_time=1.5,
    stride_length=0.78,
    stance_share=0.62,
    other_stance_share=0.72,
    step_share=0.55,
    loading_time=0.060,
    heel_off_share=0.44,
    heel_off_rate=40.0,
    pitch_contact=4.5,
    pitch_rate_contact=-15.0,
    pitch_late_extra=2.0,
    pitch_mid_swing=-9.0,
    pitch_toe_off=-30.0,
    landing_rate_share=0.8,
    impact_forward=0.25,
    impact_down=0.16,
    clearance=0.020,
    clearance_early=0.010,
    height_late=0.034,
    lift_rate=0.12,
    circumduction=0.045,
    toe_flex=15.0,
    inversion=8.0,
    step_width=0.16,
    ankle_share=0.6,
    shank_contact=-8.0,
    shank_heel_off=13.0,
    shank_toe_off=28.0,
    shank_mid_swing=12.0,
    stride_spread=1.3,
    pitch_limits=(-2.0, 9.0),
)

GAITS: Mapping[str, Gait] = MappingProxyType(
    {
        "normal": _NORMAL,
        "slap": _SLAP,
        "toe_drop": _TOE_DROP,
        "forefoot": _FOREFOOT,
        "flat_contact": _FLAT,
        "too_much_resistance": _TOO_MUCH,
        "balanced": _BALANCED,
        "shuffling": _SHUFFLING,
        "brisk": _BRISK,
        "no_heel_rise": _NO_HEEL_RISE,
        "hemiparetic": _HEMIPARETIC,
    }
)
"""The kinds of gait by name."""


def slowed(gait: Gait, times: float) -> Gait:
    """Somebody who walks alike but slowly, as many do who have had a stroke.

    Args:
        gait: of the usual pace.
        times: how many times longer a stride lasts; it is as many times shorter.

    Returns:
        With longer stances too. The foot lands as suddenly as before, for nothing holds it back.
    """
    longer = 0.11 * (times - 1.0)
    return replace(
        gait,
        stride_time=gait.stride_time * times,
        stride_length=gait.stride_length / times,
        stance_share=min(gait.stance_share + longer, 0.75),
        other_stance_share=min(gait.other_stance_share + longer, 0.8),
    )
