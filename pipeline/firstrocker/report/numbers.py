"""Numbers as they are printed: the decimals that are worth it, a real minus sign, units a reader can say."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from firstrocker.measures import BY_COLUMN, Measure

MINUS = "\u2212"
NONE = "\u2013"
_MORE = 3  # decimals beyond the measure's own, at most, to tell a small number from none

UNITS = {"deg": "\u00b0", "deg/s": "\u00b0/s", "m/s^2": "m/s\u00b2", "1": ""}


def unit_of(measure: Measure) -> str:
    """The unit as printed; empty for a pure number."""
    return UNITS.get(measure.unit, measure.unit)


def number(value: float | None, decimals: int, *, signed: bool = False) -> str:
    """A number, or a dash where there is none.

    >>> number(-1.26, 1), number(0.04, 1, signed=True), number(None, 1)
    ('\u22121.3', '0.0', '\u2013')
    """
    if value is None:
        return NONE
    text = f"{value:.{decimals}f}"
    if float(text) == 0:
        return text.lstrip("-")
    sign = "+" if signed and value > 0 else ""
    return sign + text.replace("-", MINUS)


def with_unit(text: str, measure: Measure) -> str:
    """The unit behind a number: a degree sign close up, else after a space that does not break.

    >>> with_unit("3.0", BY_COLUMN["ankle_heel_strike_deg"]), with_unit("0.4", BY_COLUMN["ankle_share"])
    ('3.0\u00b0', '0.4')
    """
    unit = unit_of(measure)
    return text + ("" if not unit or unit.startswith("\u00b0") else "\u00a0") + unit


def decimals_of(row: Mapping[str, Any]) -> int:
    """Decimals for one comparison: one more where rounding would make an end of the interval zero that is not."""
    measure = BY_COLUMN[row["measure"]]
    telling = [row["ci_low"], row["ci_high"]]
    if row["verdict"] in ("higher", "lower"):
        telling.append(row["difference"])
    for decimals in range(measure.decimals, measure.decimals + _MORE):
        if all(value is None or value == 0 or float(f"{value:.{decimals}f}") != 0 for value in telling):
            return decimals
    return measure.decimals + _MORE


def interval(row: Mapping[str, Any], *, signed: bool = True) -> str:
    """The interval of a comparison without unit, or a dash."""
    if row["ci_low"] is None:
        return NONE
    decimals = decimals_of(row)
    low, high = (number(row[end], decimals, signed=signed) for end in ("ci_low", "ci_high"))
    return f"{low} to {high}"
