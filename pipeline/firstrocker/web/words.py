"""Times and sizes as people read them."""

from __future__ import annotations

import time

STAGES = {
    "start": "Getting ready",
    "strides": "Reading the logs and measuring every stride",
    "study": "Comparing the walks and writing the report",
}
"""The stages of a session's run: the workflow's rules in words."""


def stages_of(rule: str) -> list[tuple[str, str]]:
    """(words, where it stands) of every stage of a run that is at this rule: done, now or next.

    >>> stages_of("study")[1:]
    [('Reading the logs and measuring every stride', 'done'), ('Comparing the walks and writing the report', 'now')]
    """
    known = list(STAGES)
    if rule and rule not in STAGES:
        # A rule that is not told of here: it is what is going on now, whatever came before.
        return [*((words, "done") for words in STAGES.values()), (rule.replace("_", " ").capitalize(), "now")]
    at = known.index(rule) if rule else -1
    return [
        (words, "done" if number < at else "now" if number == at else "next")
        for number, words in enumerate(STAGES.values())
    ]


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
