"""The page over all sessions of a study: what changed on average, for whom, and which sessions to look at."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pyarrow as pa

from firstrocker.measures import BY_COLUMN
from firstrocker.report.cohort_figures import FEW, changes_picture, curves_picture
from firstrocker.report.cohort_sessions import MARKS, WHOLE, every_session, to_look_at
from firstrocker.report.cohort_words import (
    curve_sentence,
    dose_step,
    dose_words,
    effect_decimals,
    effect_numbers,
    effect_sentence,
    p_words,
    short_sentence,
    turned_sentence,
    walked_words,
)
from firstrocker.report.invented import invented_words
from firstrocker.report.numbers import NONE, number, unit_of
from firstrocker.report.page import environment
from firstrocker.study.mislabelled import by_person, leading_rows, turned_round
from firstrocker.study.multiple import LEADING

Row = Mapping[str, Any]


def render_cohort(
    *,
    sessions: pa.Table,
    effects: pa.Table,
    people: pa.Table,
    reliability: pa.Table,
    curves: pa.Table,
    spm: pa.Table,
    comparison: pa.Table,
    confidence: float,
    min_strides: int,
    invented: Sequence[bool] = (),
) -> str:
    """The cohort's report as one HTML page that needs nothing else.

    Args:
        sessions: rows in the schema SESSIONS.
        effects: rows in the schema EFFECTS.
        people: rows in the schema PEOPLE.
        reliability: rows in the schema RELIABILITY.
        curves: rows in the schema COHORT_CURVES.
        spm: rows in the schema SPM.
        comparison: rows in the schema COMPARISON of unbraced against braced in the leading measures; others are
            passed over.
        confidence: level of the intervals.
        min_strides: walks with fewer strides that count are in no average.
        invented: of each session whether it is invented.
    """
    rows = sessions.to_pylist()
    percent = f"{100 * confidence:.3g}"
    asked = effects.to_pylist()
    found = [row for row in asked if row["leg"] == "affected"]
    braced = [row for row in found if row["question"] == "braced"]
    doses = [row for row in found if row["question"] == "resistance"]
    own = _leading_people(people)
    mapped = [row for row in spm.to_pylist() if row["leg"] == "affected"]
    columns, every = every_session(rows, comparison.to_pylist())
    look, more_to_look_at = to_look_at(rows)
    return (
        environment()
        .get_template("cohort.html.j2")
        .render(
            invented=invented_words(invented),
            people=len({row["subject"] for row in rows}),
            sessions=len(rows),
            walks=sum(row["walks"] for row in rows),
            steady=sum(row["steady"] for row in rows),
            counts={status: sum(row["status"] == status for row in rows) for status in ("ok", "flagged", "rejected")},
            look=look,
            more_to_look_at=more_to_look_at,
            percent=percent,
            min_strides=min_strides,
            turned=[turned_sentence(one) for one in by_person(turned_round(people))],
            answers=_answers(braced, own, percent),
            dose_answers=_answers(doses, {}, percent),
            further=_further(braced, percent),
            curve_answers=[curve_sentence(one) for one in _by_curve(mapped)],
            pictures=[
                changes_picture(row["measure"], own[row["measure"]], row) for row in braced if row["measure"] in own
            ],
            shown=max((len(own[row["measure"]]) for row in braced if row["measure"] in own), default=0),
            few=FEW,
            curves_picture=curves_picture(mapped, curves) if mapped else None,
            curve_people=max((row["people"] for row in mapped), default=0),
            effects=_tables(braced),
            doses=_tables(doses),
            other_leg=[_words(row) for row in asked if row["leg"] == "other" and row["question"] == "braced"],
            checks=[(BY_COLUMN[row["measure"]].label, row["checks"]) for row in braced if row["measure"] in LEADING],
            columns=columns,
            every=every,
            whole=len(rows) <= WHOLE,
            reliability=_reliabilities(reliability),
        )
    )


def _tables(effects: Sequence[Row]) -> dict[str, list[dict[str, Any]]]:
    """Effects as they are printed, the leading measures and the further ones."""
    return {family: [_words(row) for row in effects if row["family"] == family] for family in ("leading", "further")}


def _reliabilities(reliability: pa.Table) -> dict[str, list[dict[str, str]]]:
    rows = [row for row in reliability.to_pylist() if row["leg"] == "affected"]
    return {
        "leading": [_reliability(row) for row in rows if row["measure"] in LEADING],
        "further": [_reliability(row) for row in rows if row["measure"] not in LEADING],
    }


def _leading_people(people: pa.Table) -> dict[str, list[dict[str, Any]]]:
    """Leading measure -> its rows on the affected leg."""
    found: dict[str, list[dict[str, Any]]] = {}
    for row in leading_rows(people):
        if row["leg"] == "affected":
            found.setdefault(row["measure"], []).append(row)
    return found


def _answers(effects: Sequence[Row], own: Mapping[str, Sequence[Row]], percent: str) -> list[str]:
    """A sentence for each leading measure, in the order of the questions; units of resistance one after the other."""
    found = []
    for dose in dict.fromkeys(row["dose_unit"] for row in effects):
        members = {row["measure"]: row for row in effects if row["dose_unit"] == dose and row["family"] == "leading"}
        for column in LEADING:
            if column in members:
                changes = [row["difference"] for row in own.get(column, ())]
                found.append(effect_sentence(members[column], changes, len(members), percent))
    return found


def _further(effects: Sequence[Row], percent: str) -> dict[str, list[str]]:
    """The further measures by what is said of them: those that changed with their numbers, labels of the rest."""
    rows = [row for row in effects if row["family"] == "further"]
    clear = [row for row in rows if row["verdict"] in ("higher", "lower")]
    return {
        "changed": [short_sentence(row, percent) for row in clear],
        "unchanged": [BY_COLUMN[row["measure"]].label for row in rows if row["verdict"] == "no clear change"],
        "too_few": [BY_COLUMN[row["measure"]].label for row in rows if row["verdict"] == "too few people"],
    }


def _by_curve(spm: Sequence[Row]) -> list[list[Row]]:
    found: dict[str, list[Row]] = {}
    for row in spm:
        found.setdefault(row["curve"], []).append(row)
    return list(found.values())


def _words(row: Row) -> dict[str, Any]:
    """One effect as it is printed in a table."""
    measure = BY_COLUMN[row["measure"]]
    difference, low, high = effect_numbers(row)
    step = dose_step(row)
    ends = [None if row[key] is None else row[key] * step for key in ("without_one_low", "without_one_high")]
    without = [number(end, effect_decimals(row), signed=True) for end in ends]
    return {
        "label": measure.label,
        "unit": unit_of(measure),
        "people": str(row["people"]),
        "counts": f"{row['walks']:,} walks, {row['strides']:,} strides",
        "difference": difference,
        "interval": NONE if row["ci_low"] is None else f"{low} to {high}",
        "p": p_words(row["p_adjusted"]),
        "without": NONE if None in ends else f"{without[0]} to {without[1]}",
        "leans_on": row["leans_on"] or "",
        "model": row["model"],
        "dose": "" if row["question"] == "braced" else dose_words(row),
        "walked": "" if row["question"] == "braced" else walked_words(row),
        "verdict": row["verdict"],
        "mark": MARKS.get(row["verdict"], ""),
        "doubtful": row["doubtful"],
        "checks": row["checks"],
    }


def _reliability(row: Row) -> dict[str, str]:
    measure = BY_COLUMN[row["measure"]]

    def told(name: str, decimals: int, *, signed: bool = False) -> tuple[str, str]:
        value, low, high = (
            number(row[key], decimals, signed=signed) for key in (name, f"{name}_ci_low", f"{name}_ci_high")
        )
        return value, "" if row[f"{name}_ci_low"] is None else f"{low} to {high}"

    more = measure.decimals + 1
    cells = {name: told(name, 2) for name in ("icc_agreement", "icc_consistency")}
    cells |= {"mdc95": told("mdc95", more), "bias": told("bias", more, signed=True)}
    limits = (number(row[key], more, signed=True) for key in ("limit_low", "limit_high"))
    return {
        "label": measure.label,
        "unit": unit_of(measure),
        "repeats": row["repeats"],
        "condition": row["condition"],
        "people": str(row["people"]),
        "sem": number(row["sem"], more),
        "limits": " to ".join(limits),
        **{name: value for name, (value, _) in cells.items()},
        **{f"{name}_interval": span for name, (_, span) in cells.items()},
    }
