"""People whose change is the others' turned round: the labels may be, rather than the person."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import pyarrow as pa

from firstrocker import tables
from firstrocker.model import FloatArray
from firstrocker.study.multiple import LEADING

OTHERS = 5
"""Others with that change that are needed to know what is usual; from memory, no source."""

FAR, NEAR = 3.0, 1.5
"""Standard deviations of the others from their mean: as labelled at least FAR, exchanged at most NEAR; and exchanging
the labels of all others must move their mean by FAR, else their changes are too mixed to know one by. Chosen with
``tests/bench/cohort_labels.py``, which prints how often right labels are asked about and exchanged ones found."""

SAID = {
    "conditions": "opposite to all others, and like theirs if unbraced and braced were exchanged",
    "legs": "unlike the others, and like theirs if the legs were exchanged",
}
"""As it stands in people.parquet."""


@dataclass(frozen=True)
class Turned:
    """One person's change in one measure that would be like the others' with labels exchanged.

    difference: the person's, braced minus unbraced, on the leg that is called affected. low, high: the least and the
    greatest of the others'.
    """

    subject: str
    measure: str
    labels: Literal["conditions", "legs"]
    difference: float
    others: int
    low: float
    high: float


def turned_round(people: pa.Table) -> list[Turned]:
    """Everyone whose change in a leading measure is the others' turned round.

    ``conditions``: on the affected leg all others changed the other way, the person lies far from them, and near them
    if the sign is turned. ``legs``: the pair of changes of both legs lies far from the others', and near them if the
    legs are exchanged. Both may be true of a person: this is a question, and changes no number.

    Args:
        people: rows in the schema PEOPLE.
    """
    found: list[Turned] = []
    rows = leading_rows(people)
    for measure in LEADING:
        legs = {
            leg: {row["subject"]: row["difference"] for row in rows if row["leg"] == leg and row["measure"] == measure}
            for leg in ("affected", "other")
        }
        found += _conditions(measure, legs["affected"])
        found += _legs(measure, legs["affected"], legs["other"])
    return found


def leading_rows(people: pa.Table) -> list[dict[str, Any]]:
    """The rows of the leading measures, of a table in the schema PEOPLE."""
    leading = np.isin(people["measure"].to_numpy(zero_copy_only=False).astype(str), LEADING)
    rows: list[dict[str, Any]] = people.filter(pa.array(leading)).to_pylist()
    return rows


def with_doubts(people: pa.Table) -> pa.Table:
    """The table with ``look`` filled in where a person's change is the others' turned round."""
    doubts = {(one.subject, one.measure): SAID[one.labels] for one in reversed(turned_round(people))}
    look = [
        doubts.get((subject, measure)) if leg == "affected" else None
        for subject, measure, leg in zip(
            *(people[name].to_pylist() for name in ("subject", "measure", "leg")), strict=True
        )
    ]
    place = people.schema.get_field_index("look")
    return people.set_column(place, people.schema.field("look"), pa.array(look, type=pa.string())).cast(tables.PEOPLE)


def _conditions(measure: str, changes: Mapping[str, float]) -> list[Turned]:
    names, values = list(changes), np.array(list(changes.values()))
    found = []
    for place in _alone(np.sign(values)):
        rest = np.delete(values, place)
        if _is_turned(values[[place]], -values[[place]], rest[:, None], -rest.mean(keepdims=True)):
            found.append(_turned(names[place], measure, "conditions", values[place], rest))
    return found


def _alone(signs: FloatArray) -> list[int]:
    """The place of the one whose sign all others do not share, where there are others enough."""
    if len(signs) <= OTHERS:
        return []
    lonely = [sign for sign in (-1, 1) if np.sum(signs == sign) == 1 and np.sum(signs == -sign) == len(signs) - 1]
    return [int(np.flatnonzero(signs == sign)[0]) for sign in lonely]


def _legs(measure: str, affected: Mapping[str, float], other: Mapping[str, float]) -> list[Turned]:
    names = [name for name in affected if name in other]
    if len(names) <= OTHERS:
        return []
    pairs = np.array([[affected[name], other[name]] for name in names])
    found = []
    for place in range(len(names)):
        rest = np.delete(pairs, place, axis=0)
        if _is_turned(pairs[place], pairs[place, ::-1], rest, rest.mean(axis=0)[::-1]):
            found.append(_turned(names[place], measure, "legs", pairs[place, 0], rest[:, 0]))
    return found


def _is_turned(one: FloatArray, exchanged: FloatArray, rest: FloatArray, mean_exchanged: FloatArray) -> bool:
    return _far(one, rest) >= FAR and _far(exchanged, rest) <= NEAR and _far(mean_exchanged, rest) >= FAR


def _far(one: FloatArray, rest: FloatArray) -> float:
    """Standard deviations between one and the mean of the rest, in the column where it is farthest."""
    return float(np.max(np.abs(one - rest.mean(axis=0)) / np.maximum(rest.std(axis=0, ddof=1), 1e-300)))


def _turned(subject: str, measure: str, labels: Literal["conditions", "legs"], value: Any, rest: FloatArray) -> Turned:
    return Turned(subject, measure, labels, float(value), len(rest), float(rest.min()), float(rest.max()))


def by_person(found: Sequence[Turned]) -> list[list[Turned]]:
    """What was found, person by person; of one person the exchange of conditions first."""
    people: dict[str, list[Turned]] = {}
    for one in sorted(found, key=lambda one: (one.subject, one.labels)):
        people.setdefault(one.subject, []).append(one)
    return list(people.values())
