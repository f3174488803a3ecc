"""Effects across people in sentences that say no more than their intervals do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from firstrocker.measures import BY_COLUMN
from firstrocker.report.cohort_figures import CURVE_LABELS
from firstrocker.report.numbers import MINUS, NONE, number, with_unit
from firstrocker.study.mislabelled import Turned

Row = Mapping[str, Any]

_MORE = 3  # decimals beyond the measure's own, at most
_STEPS = 3.0  # of the last decimal that an interval spans at least


def effect_numbers(row: Row) -> tuple[str, str, str]:
    """Difference, lower and upper end as printed without unit; a dose for one step of resistance."""
    step, decimals = dose_step(row), effect_decimals(row)
    found = (None if row[key] is None else row[key] * step for key in ("difference", "ci_low", "ci_high"))
    one, two, three = (number(value, decimals, signed=True) for value in found)
    return one, two, three


def effect_decimals(row: Row) -> int:
    """The measure's, or more where its interval would hardly be one."""
    decimals = BY_COLUMN[row["measure"]].decimals
    if row["ci_low"] is None:
        return decimals
    width = (row["ci_high"] - row["ci_low"]) * dose_step(row)
    enough = (more for more in range(_MORE) if width >= _STEPS * 10.0 ** -(decimals + more))
    return decimals + next(enough, _MORE)


def dose_step(row: Row) -> float:
    """What the effect is told for: 1, or as much resistance as a power of ten that is no more than was walked.

    >>> dose_step({"question": "resistance", "cause_low": 50, "cause_high": 75})
    10.0
    """
    if row["question"] == "braced":
        return 1.0
    return float(10.0 ** np.floor(np.log10(row["cause_high"] - row["cause_low"]) + 1e-9))


def dose_words(row: Row) -> str:
    """The step, as in "for every 10 Shore A more"."""
    return f"for every {dose_step(row):g}\u00a0{row['dose_unit']} more"


def walked_words(row: Row) -> str:
    """The range of resistance, as in "from 50 to 70 Shore A"."""
    return f"from {row['cause_low']:g} to {row['cause_high']:g}\u00a0{row['dose_unit']}"


def counted(number_of: int, one: str, many: str) -> str:
    """As in "1 person", "1,204 strides"."""
    return f"{number_of:,} {one if number_of == 1 else many}"


def who_words(row: Row) -> str:
    """People and strides."""
    return f"{counted(row['people'], 'person', 'people')} and {counted(row['strides'], 'stride', 'strides')}"


def effect_sentence(row: Row, changes: Sequence[float], family: int, percent: str) -> str:
    """One effect as a sentence.

    Args:
        row: of the schema EFFECTS.
        changes: people's own differences; how many went the same way is told of braced and unbraced.
        family: how many measures were asked together.
        percent: the interval's level.
    """
    measure = BY_COLUMN[row["measure"]]
    difference, low, high = effect_numbers(row)
    braced, who = row["question"] == "braced", who_words(row)
    walked = "" if braced else f" Walked {walked_words(row)}."
    compared = "braced minus unbraced" if braced else dose_words(row)
    if row["verdict"] == "too few people":
        return (
            f"{measure.label}: {who}, too few for an interval; mean difference {compared}: "
            f"{with_unit(difference, measure)}.{walked}"
        )
    if row["ci_low"] is None:
        return f"{measure.label}: {who}; people's differences do not vary, so that no interval can be given."
    level = f"{percent}\u00a0% interval"
    if row["verdict"] == "no clear change":
        alone = row["ci_low"] > 0 or row["ci_high"] < 0
        several = f"p\u00a0{p_words(row['p_adjusted'])} among {family} measures asked together"
        tail = f", which by itself leaves out zero, but {several}" if alone else ""
        against = "braced against unbraced" if braced else "with more resistance"
        return (
            f"{measure.label}: no clear change {against} on average over {who}; {compared} "
            f"{with_unit(difference, measure)}, {level} {with_unit(f'{low} to {high}', measure)}{tail}.{walked}"
        )
    amount, span = _amounts(row)
    sure = f"{level} {span}; p\u00a0{p_words(row['p_adjusted'])} among {family} measures"
    is_so = f"{measure.label} is {amount} {row['verdict']}"
    if not braced:
        return f"{is_so} {compared} resistance on average over {who} ({sure}).{walked}"
    same = sum(np.sign(change) == np.sign(row["difference"]) for change in changes)
    count = f" {same} of {len(changes)} people changed that way." if changes else ""
    return f"{is_so} braced than unbraced on average over {who} ({sure}).{count}"


def short_sentence(row: Row, percent: str) -> str:
    """A clear effect of braced against unbraced in a list that says so above it."""
    measure = BY_COLUMN[row["measure"]]
    difference, span = _amounts(row)
    who = counted(row["people"], "person", "people")
    return f"{measure.label} {difference} {row['verdict']} ({percent}\u00a0% interval {span}; {who})"


def _amounts(row: Row) -> tuple[str, str]:
    """A clear effect and its interval without signs, as in "3 mm" and "2 to 4 mm lower"."""
    measure = BY_COLUMN[row["measure"]]
    difference, low, high = (text.lstrip(f"+{MINUS}") for text in effect_numbers(row))
    ends = f"{low} to {high}" if row["difference"] > 0 else f"{high} to {low}"
    return with_unit(difference, measure), f"{with_unit(ends, measure)} {row['verdict']}"


def p_words(p: float | None) -> str:
    r"""A p value as printed.

    >>> p_words(0.0312), p_words(0.00002)
    ('0.031', '<\xa00.001')
    """
    if p is None:
        return NONE
    return "<\u00a00.001" if p < 0.001 else f"{p:.3f}" if p < 0.1 else f"{p:.2f}"


def turned_sentence(found: Sequence[Turned]) -> str:
    """What is odd about one person's labels, and what to look at.

    Args:
        found: all of one person, the exchange of conditions first.
    """
    labels = found[0].labels
    parts = []
    for one in (one for one in found if one.labels == labels):
        measure = BY_COLUMN[one.measure]
        low, high, own = (number(value, measure.decimals, signed=True) for value in (one.low, one.high, one.difference))
        parts.append(
            f"{measure.label.lower()} {with_unit(own, measure)} braced minus unbraced, where that of the other "
            f"{one.others} people is {with_unit(f'{low} to {high}', measure)}"
        )
    what = "unbraced and braced were exchanged" if labels == "conditions" else "the legs were exchanged"
    look = "the conditions of the walks" if labels == "conditions" else "affected_side and the sides of the logs"
    return (
        f"{found[0].subject}: {'; '.join(parts)}. It would be like the others' if {what}: look at {look} in "
        "session.yaml. The person may also differ."
    )


def curve_sentence(rows: Sequence[Row]) -> str:
    """What the mapping says of one curve.

    Args:
        rows: of the schema SPM, of one leg and curve, in the order of percent.
    """
    label, unit = CURVE_LABELS[rows[0]["curve"]]
    people = counted(rows[0]["people"], "person", "people")
    if rows[0]["t"] is None:
        return f"{label} along the stride: {people}, too few to tell where it differs."
    found: dict[int, list[Row]] = {}
    for row in rows:
        if row["cluster"] is not None:
            found.setdefault(row["cluster"], []).append(row)
    if not found:
        return f"{label}: nowhere along the stride a clear difference between braced and unbraced ({people})."
    parts = []
    for one in found.values():
        mean = float(np.mean([row["difference"] for row in one]))
        amount = number(abs(mean), 1) + (unit if unit == "\u00b0" else f"\u00a0{unit}")
        first, last = one[0]["percent"], one[-1]["percent"]
        where = f"at {first}\u00a0%" if first == last else f"from {first} to {last}\u00a0%"
        direction = "higher" if mean > 0 else "lower"
        parts.append(f"{amount} {direction} {where} of the stride (p\u00a0{p_words(one[0]['p_value'])})")
    return f"{label}, braced against unbraced on average over {people}: {'; '.join(parts)}."
