"""Settings of logs that last a day: how long, how they are screened for walking, when a sensor was not worn."""

from __future__ import annotations

from firstrocker.settings_fields import Section, setting


class DaySettings(Section):
    """Logs too long to be held in memory, and how long sensors were worn."""

    whole_up_to_s: float = setting(
        5400.0,
        unit="s",
        meaning="Walks whose foot log is longer than this are screened for walking and never held in memory.",
        why="an hour's walk is analysed as one; four sensors for longer would need gigabytes.",
        small="less memory; strides at the edges of what the screening keeps may be left out.",
        large="more memory: some 0.3 GB for each hour of four sensors at 100 Hz.",
        ge=60.0,
        le=86_400.0,
    )
    turning_deg_s: float = setting(
        40.0,
        unit="deg/s",
        meaning="Turning of the foot, over a tenth of a second, from which the screening of a long log sees movement.",
        why="the slowest swings of simulated gaits reach 100 deg/s, those of annotated healthy feet 125 (one step in a "
        "hundred less, 51 the least).",
        small="slower; more of what is no walking is looked at.",
        large="faster; slow shuffling may be passed over.",
        ge=10.0,
        le=200.0,
    )
    pad_s: float = setting(
        5.0,
        unit="s",
        meaning="Time kept before and after each stretch that the screening of a long log finds.",
        why="standing before the first step gives the sole's level and the gyroscope's bias.",
        small="strides without standing before them.",
        large="slower.",
        ge=2.0,
        le=60.0,
    )
    longest_stretch_s: float = setting(
        600.0,
        unit="s",
        meaning="Longer stretches of a long log are analysed in pieces.",
        why="ten minutes of four sensors take some 0.2 GB of memory while they are analysed.",
        small="less memory; more cuts.",
        large="more memory.",
        ge=120.0,
        le=5400.0,
    )
    unworn_min_s: float = setting(
        3600.0,
        unit="s",
        meaning="A sensor that lies still in one direction for this long was not worn.",
        why="after van Hees et al. (2013), from memory; sitters and sleepers rarely keep a leg still for longer.",
        small="still sitters and sleepers count as not wearing the sensors.",
        large="sensors taken off for a while count as worn.",
        ge=600.0,
        le=43_200.0,
    )
