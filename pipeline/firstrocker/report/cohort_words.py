"""Effects across people in sentences that say no more than their intervals do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from firstrocker.measures import BY_COLUMN
from firstrocker.report.cohort_figures import CURVE_LABELS
from firstrocker.report.numbers import NONE, number, with_unit

Row = Mapping[str, Any]


def effect_numbers(row: Row) -> tuple[str, str, str]:
    """Difference, lower and upper end as printed without unit; a dose over the range that was walked."""
    measure = BY_COLUMN[row["measure"]]
    reach = dose_range(row)
    decimals = measure.decimals
    ends = [row[key] for key in ("ci_low", "ci_high") if row[key] is not None]
    while decimals < measure.decimals + 3 and any(
        end != 0 and float(f"{end * reach:.{decimals}f}") == 0 for end in ends
    ):
        decimals += 1
    found = (None if row[key] is None else row[key] * reach for key in ("difference", "ci_low", "ci_high"))
    one, two, three = (number(value, decimals, signed=True) for value in found)
    return one, two, three


def dose_range(row: Row) -> float:
    """What the effect is multiplied by to be told: 1, or the range of resistance."""
    return 1.0 if row["question"] == "braced" else row["cause_high"] - row["cause_low"]


def dose_words(row: Row) -> str:
    """The range of resistance, as in "from 50 to 70 Shore A"."""
    return f"from {row['cause_low']:g} to {row['cause_high']:g}\u00a0{row['dose_unit']}"


def effect_sentence(row: Row, changes: Sequence[float], family: int) -> str:
    """One effect as a sentence.

    Args:
        row: of the schema EFFECTS.
        changes: people's own differences; how many went the same way is told of braced and unbraced.
        family: how many measures were asked together.
    """
    measure = BY_COLUMN[row["measure"]]
    difference, low, high = effect_numbers(row)
    people = f"{row['people']} {'person' if row['people'] == 1 else 'people'}"
    dose = "" if row["question"] == "braced" else f" ({dose_words(row)})"
    where = ("braced", "unbraced") if row["question"] == "braced" else ("with more resistance", "with less")
    if row["verdict"] == "too few people":
        return (
            f"{measure.label}: {people}, too few for an interval. Mean difference {where[0]} minus {where[1]}{dose}: "
            f"{with_unit(difference, measure)}."
        )
    if row["ci_low"] is None:
        return f"{measure.label}: {people}, whose differences do not vary; no interval can be given."
    span = with_unit(f"{low} to {high}", measure)
    if row["verdict"] == "no clear change":
        alone = row["ci_low"] > 0 or row["ci_high"] < 0
        tail = f", without zero by itself but not among {family} measures asked together" if alone else ""
        return (
            f"{measure.label}: no clear change {where[0]}{dose} on average over {people}. Difference "
            f"{with_unit(difference, measure)}, interval {span}{tail}."
        )
    amount = with_unit(difference.lstrip("+\u2212"), measure)
    same = sum(np.sign(change) == np.sign(row["difference"]) for change in changes)
    count = f" {same} of {len(changes)} people changed that way." if row["question"] == "braced" and changes else ""
    return (
        f"{measure.label} is {amount} {row['verdict']} {where[0]} than {where[1]}{dose} on average over {people} "
        f"(interval {span}; p {p_words(row['p_adjusted'])} among {family} measures).{count}"
    )


def p_words(p: float | None) -> str:
    """A p value as printed.

    >>> p_words(0.0312), p_words(0.00002)
    ('0.031', '< 0.001')
    """
    if p is None:
        return NONE
    return "< 0.001" if p < 0.001 else f"{p:.3f}" if p < 0.1 else f"{p:.2f}"


def curve_sentence(rows: Sequence[Row]) -> str:
    """What the mapping says of one curve.

    Args:
        rows: of the schema SPM, of one leg and curve, in the order of percent.
    """
    label, unit = CURVE_LABELS[rows[0]["curve"]]
    people = rows[0]["people"]
    if rows[0]["t"] is None:
        return f"{label} over the whole stride: cannot be told from {people} {'person' if people == 1 else 'people'}."
    found: dict[int, list[Row]] = {}
    for row in rows:
        if row["cluster"] is not None:
            found.setdefault(row["cluster"], []).append(row)
    if not found:
        return f"{label}: nowhere along the stride a clear difference ({people} people)."
    parts = []
    for one in found.values():
        mean = float(np.mean([row["difference"] for row in one]))
        amount = number(abs(mean), 1) + (unit if unit == "\u00b0" else f"\u00a0{unit}")
        first, last = one[0]["percent"], one[-1]["percent"]
        where = f"at {first}\u00a0%" if first == last else f"from {first} to {last}\u00a0%"
        parts.append(f"{amount} {'higher' if mean > 0 else 'lower'} braced {where} (p {p_words(one[0]['p_value'])})")
    return f"{label} is on average {'; '.join(parts)} of the stride ({people} people)."
