"""Words for what was looked at to catch a hazard."""

from __future__ import annotations

from collections.abc import Sequence

from firstrocker.measures import BY_COLUMN
from firstrocker.report.numbers import number, with_unit


def side_words(measure: str, affected: float, other: float) -> str:
    """One measure on both sides, the side called affected first.

    >>> side_words("foot_pitch_heel_strike_deg", 7.8, 17.7)
    'foot pitch at heel strike 7.8\u00b0 (other side 17.7\u00b0)'
    """
    of = BY_COLUMN[measure]
    mine, theirs = (with_unit(number(value, of.decimals), of) for value in (affected, other))
    return f"{of.label[0].lower()}{of.label[1:]} {mine} (other side {theirs})"


def listed_changes(parts: Sequence[str]) -> str:
    """Parts joined as in speech."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
