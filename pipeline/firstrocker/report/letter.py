"""The outcome letter: half a page for whoever referred or pays. Before, after, the change and how sure it is, no more.

It is a draft. The clinician fills in the brackets and edits it before it leaves; nothing in it recommends anything.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from firstrocker.measures import BY_COLUMN, Measure
from firstrocker.report.invented import invented_words, is_invented
from firstrocker.report.numbers import decimals_of, interval, number, with_unit
from firstrocker.report.words import called

Row = Mapping[str, Any]

SHOWN: tuple[tuple[str, ...], ...] = (
    ("toe_clearance_min_mm",),
    ("slap_rate_deg_s", "foot_lowering_rate_deg_s"),
    ("shank_forward_rate_deg_s",),
    ("walking_speed_m_s",),
)
"""The measures of the letter; of several the first that was measured."""

MEANING: dict[str, str] = {
    "toe_clearance_min_mm": "least height of the shoe's tip over the floor in mid-swing",
    "slap_rate_deg_s": "how fast the foot comes down at the ankle after heel strike",
    "foot_lowering_rate_deg_s": "how fast the foot comes down after heel strike",
    "shank_forward_rate_deg_s": "how fast the shank is driven forward while the foot comes down",
    "walking_speed_m_s": "speed of steady walking",
}


@dataclass(frozen=True)
class LetterRow:
    """One measure: before, after, difference and its interval as printed, and how sure the change is in words."""

    label: str
    meaning: str
    before: str
    after: str
    difference: str
    interval: str
    certainty: str


@dataclass(frozen=True)
class LetterTable:
    """One braced setting against unbraced walking, with what it says in a sentence or two."""

    after_name: str
    rows: Sequence[LetterRow]
    closing: str


@dataclass(frozen=True)
class Letter:
    """The parts of the draft, unescaped: who shows them escapes them.

    invented: said where there is no such person, else empty. tables: one per braced setting; of several the clinician
    keeps the one that was fitted, as ``choose`` says. None where there is nothing to set against each other:
    ``nothing`` then says so, and both are empty else.
    """

    invented: str
    heading: str
    recipient: str
    opening: str
    tables: Sequence[LetterTable]
    choose: str
    nothing: str
    flagged: str
    caution: str
    signature: str


CAUTION = (
    "Measured with small inertial sensors; for research, not a medical device. A change is called clear where its "
    "interval leaves out zero and it is greater than two walks may differ by although nothing has changed. The shank "
    "stands in for the knee, which was not measured."
)


def letter(
    summary: Sequence[Row],
    comparison: Sequence[Row],
    quality: Mapping[str, Any],
    *,
    names: Mapping[str, str],
    confidence: float,
) -> Letter:
    """The draft for one session, of the affected side.

    Args:
        summary: rows of its summary.
        comparison: rows of its comparison.
        quality: the content of its quality.json.
        names: walk and ``walk:<walk>`` -> how it is called.
        confidence: level of the intervals.
    """
    side = quality.get("affected_side")
    walks = list(quality.get("walks") or [])
    braced = [walk["walk"] for walk in walks if walk["condition"] == "braced"]
    unbraced = next((walk["walk"] for walk in walks if walk["condition"] == "unbraced"), None)
    mine = [row for row in summary if row["side"] == side]
    theirs = [row for row in comparison if row["side"] == side]
    tables = [_table(unbraced, walk, mine, theirs, names) for walk in braced] if unbraced is not None else []
    tables = [table for table in tables if table.rows]
    several = "Keep the table of the setting that was fitted, and delete the others and this line."
    flagged = "Something about the recording was flagged: see the full report."
    return Letter(
        invented=invented_words([is_invented(quality)]),
        heading=f"Outcome of a brace fitting: {quality.get('subject', '')}, session {quality.get('session', '')}",
        recipient="[Name of the referring physician or payer]",
        opening=(
            f"Walking was measured without and with the brace, {side} leg. The table gives the mean of the strides "
            f"that count, the difference, and the {100 * confidence:.3g}\u00a0% interval of the true difference."
        ),
        tables=tables,
        choose=several if len(tables) > 1 else "",
        nothing="" if tables else "There is no pair of unbraced and braced walks to report on.",
        flagged="" if quality.get("status") == "ok" else flagged,
        caution=CAUTION,
        signature="[Name, date and signature of the orthotist]",
    )


def _table(
    unbraced: str, braced: str, summary: Sequence[Row], comparison: Sequence[Row], names: Mapping[str, str]
) -> LetterTable:
    ends = f"walk:{unbraced}", f"walk:{braced}"
    found = {
        row["measure"]: _turned(row, ends[0]) for row in comparison if {row["reference"], row["other"]} == set(ends)
    }
    chosen = [next((column for column in columns if column in found), None) for columns in SHOWN]
    means = {(row["walk"], row["measure"]): row["mean"] for row in summary}
    rows = [
        _row(found[column], means.get((unbraced, column)), means.get((braced, column))) for column in chosen if column
    ]
    name = called(ends[1], names)
    return LetterTable("braced" if name == "braced" else f"braced, {name}", rows, _closing(rows))


def _turned(row: Row, reference: str) -> Row:
    """The row with ``reference`` as the reference."""
    if row["reference"] == reference:
        return row
    minus = {name: None if row[name] is None else -row[name] for name in ("difference", "ci_low", "ci_high")}
    ends = {"difference": minus["difference"], "ci_low": minus["ci_high"], "ci_high": minus["ci_low"]}
    verdict = {"higher": "lower", "lower": "higher"}.get(row["verdict"], row["verdict"])
    return {**row, **ends, "verdict": verdict}


def _row(row: Row, before: float | None, after: float | None) -> LetterRow:
    measure = BY_COLUMN[row["measure"]]
    span = interval(row)
    return LetterRow(
        label=measure.label,
        meaning=MEANING[row["measure"]],
        before=_said(before, measure),
        after=_said(after, measure),
        difference=_said(row["difference"], measure, decimals=decimals_of(row), signed=True),
        interval=span if row["ci_low"] is None else with_unit(span, measure),
        certainty=f"clearly {row['verdict']}" if row["verdict"] in ("higher", "lower") else row["verdict"],
    )


def _said(value: float | None, measure: Measure, *, decimals: int | None = None, signed: bool = False) -> str:
    text = number(value, measure.decimals if decimals is None else decimals, signed=signed)
    return text if value is None else with_unit(text, measure)


def _closing(rows: Sequence[LetterRow]) -> str:
    changed = [f"{row.label.lower()} ({row.certainty.removeprefix('clearly ')})" for row in rows if _clear(row)]
    same = [row.label.lower() for row in rows if row.certainty == "no clear change"]
    few = [row.label.lower() for row in rows if row.certainty == "too few strides"]
    told = []
    if changed:
        told.append(f"Clear change: {', '.join(changed)}.")
    if same:
        told.append(f"No clear change: {', '.join(same)}; this does not say that nothing changed.")
    if few:
        told.append(f"Too few strides to say: {', '.join(few)}.")
    return " ".join(told)


def _clear(row: LetterRow) -> bool:
    return row.certainty.startswith("clearly")
