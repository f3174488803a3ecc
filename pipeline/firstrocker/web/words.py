"""Times and sizes as people read them."""

from __future__ import annotations

import time

STAGES = {
    "": "Waiting",
    "start": "Getting ready",
    "strides": "Reading the logs and measuring every stride",
    "study": "Comparing walks and writing the report",
    "cohort": "Setting the sessions side by side",
    "all": "Setting the sessions side by side",
}
"""The workflow's rules in words; one that is not here is called by its own name."""


def stage_words(rule: str) -> str:
    """A stage of a run in words.

    >>> stage_words("study")
    'Comparing walks and writing the report'
    """
    return STAGES.get(rule, rule.replace("_", " ").capitalize())


def words_of_time(at: float | None) -> str:
    """A moment on this machine's clock, to the minute."""
    return "" if at is None else time.strftime("%Y-%m-%d %H:%M", time.localtime(at))


def day(at: float | None) -> str:
    """A day on this machine's calendar."""
    return "" if at is None else time.strftime("%Y-%m-%d", time.localtime(at))


def size(number: int) -> str:
    """A number of bytes.

    >>> size(342467)
    '342 kB'
    """
    return f"{number / 1e6:.1f} MB" if number >= 1e6 else f"{max(1, round(number / 1e3))} kB"
