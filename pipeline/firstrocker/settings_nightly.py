"""The settings of the nightly intake: when a file of the inbox counts as whole, and when someone is told."""

from __future__ import annotations

from firstrocker.settings_fields import Section, setting


class NightlySettings(Section):
    """How an inbox that loggers fill is taken in; changes no number of a session that was taken."""

    settle_min: float = setting(
        30.0,
        unit="min",
        meaning="A file of the inbox that has not changed for so long counts as copied to its end.",
        why="transfers of phones and docks pause for minutes, not for half an hour; common practice, no source.",
        small="a file may be taken while it still grows; the session is then made twice.",
        large="what arrives late in the evening waits for the next night.",
        ge=0.0,
        le=1440.0,
    )
    patience_h: float = setting(
        72.0,
        unit="h",
        meaning="So long a file waits for its rest, or a session for a file that is missing, before someone is told.",
        why="a weekend without a network is no fault; common practice, no source.",
        small="people are asked about what would have mended itself.",
        large="a broken logger is noticed late.",
        ge=0.0,
        le=8760.0,
    )
    remind_days: float = setting(
        7.0,
        unit="d",
        meaning="What is still to be mended is told again after so many days; in between, nights with nothing new are "
        "quiet.",
        why="a message that comes every morning is no longer read; common practice, no source.",
        small="more messages of what is known.",
        large="what was forgotten stays forgotten.",
        gt=0.0,
        le=365.0,
    )
