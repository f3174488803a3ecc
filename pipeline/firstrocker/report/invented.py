"""Pages about people who do not exist say so, first and in print: printed alone they look like anybody's."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

CODE = "invented"
"""Of the finding that says so of a session (:data:`firstrocker.signals.read.INVENTED`)."""


def is_invented(quality: Mapping[str, Any]) -> bool:
    """Whether a quality.json says that its session is invented."""
    return any(finding.get("code") == CODE for finding in quality.get("findings") or [])


def invented_words(said: Iterable[bool]) -> str:
    """A sentence or two for the head of a page, by what each of its sessions says of itself; empty where none does.

    >>> invented_words([True, False, False])
    '1 of 3 sessions here is of an invented person, made up to try things out.'
    >>> invented_words([False])
    ''
    """
    each = list(said)
    count = sum(each)
    if not count:
        return ""
    if count == len(each):
        return "Invented: nobody here exists, all of it was made up to try things out."
    verb, people = ("is", "an invented person") if count == 1 else ("are", "invented people")
    return f"{count} of {len(each)} sessions here {verb} of {people}, made up to try things out."
