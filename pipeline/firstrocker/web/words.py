"""Times and sizes as people read them."""

from __future__ import annotations

import time

STAGES = {
    "start": "Getting ready",
    "strides": "Reading the logs and measuring every stride",
    "study": "Comparing the walks and writing the report",
    "sessions": "Measuring every stride, comparing, and writing the report",
}
"""The stages of a session's run: the workflow's rules in words. What comes after these is over all sessions."""


def stages_of(rule: str) -> list[tuple[str, str]]:
    """(words, where it stands) of every stage of a run that is at this rule: done, now or next.

    >>> stages_of("study")[1:]
    [('Reading the logs and measuring every stride', 'done'), ('Comparing the walks and writing the report', 'now')]
    """
    # One rule that makes sessions whole, or one for their strides and one for what is made of these.
    shown = ["start", "sessions"] if rule == "sessions" else ["start", "strides", "study"]
    at = shown.index(rule) if rule in shown else len(shown) if rule else -1
    words = ("done", "now", "next")
    return [(STAGES[name], words[(number >= at) + (number > at)]) for number, name in enumerate(shown)]


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
