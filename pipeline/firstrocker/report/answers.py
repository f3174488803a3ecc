"""The three answers, in plain words: is the toe clear, is the foot let down, is the shank driven forward.

Each has one sentence on unbraced against braced with both numbers, the difference and its interval, then what each
resistance does against the others. "No clear change" is a full answer. No sentence calls anything safe, good or best:
no published number says where a toe is clear, a foot slaps or a shank is driven too far.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from firstrocker.measures import BY_COLUMN, Measure
from firstrocker.report.numbers import decimals_of, interval, number, with_unit
from firstrocker.report.words import QUESTIONS, Question, called, compared

Row = Mapping[str, Any]


@dataclass(frozen=True)
class Speech:
    """How a measure is put in plain words: what is asked of it, and what higher and lower mean."""

    subject: str
    higher: str
    lower: str


SPEECH: dict[str, Speech] = {
    "toe_clearance_min_mm": Speech(
        "how far the toe clears the floor", "The toe clears the floor by more", "The toe clears the floor by less"
    ),
    "slap_rate_deg_s": Speech(
        "how fast the foot is let down at the ankle",
        "The foot comes down faster at the ankle",
        "The foot is let down more slowly at the ankle",
    ),
    "foot_lowering_rate_deg_s": Speech(
        "how fast the foot is let down", "The foot comes down faster", "The foot is let down more slowly"
    ),
    "shank_forward_rate_deg_s": Speech(
        "how fast the shank is driven forward",
        "The shank is driven forward faster",
        "The shank is driven forward more slowly",
    ),
}


@dataclass(frozen=True)
class Level:
    """One walk: what it is called, the mean in words, twice its standard error in words, strides counted."""

    name: str
    mean: str
    twice_se: str
    n: int


@dataclass(frozen=True)
class Answer:
    """One question answered.

    measure: what stands for it; None where it could not be had, and ``plain`` says why. plain: the answer in a sentence
    or two. levels: each walk's mean. unbraced: sentences on unbraced walking against each setting, where there is more
    than one. between: on pairs of braced walks that differ clearly. tied, few: pairs that do not, and those with too
    few strides. further: on further measures that changed clearly. unchanged: labels of those that did not.
    """

    title: str
    measure: str | None
    plain: str
    note: str
    levels: Sequence[Level] = ()
    unbraced: Sequence[str] = ()
    between: Sequence[str] = ()
    tied: Sequence[str] = ()
    few: Sequence[str] = ()
    further: Sequence[str] = ()
    unchanged: Sequence[str] = ()
    stand_in: str = ""


def answer_all(
    summary: Sequence[Row], comparison: Sequence[Row], *, side: str, names: Mapping[str, str]
) -> list[Answer]:
    """The answers in order.

    Args:
        summary: rows of the summary of one session.
        comparison: rows of its comparison.
        side: whose answers.
        names: walk and ``walk:<walk>`` -> how it is called; ``walk:<walk>|braced`` is there for braced walks.
    """
    mine = [row for row in summary if row["side"] == side]
    rows = [row for row in comparison if row["side"] == side]
    return [_answer(question, mine, rows, names) for question in QUESTIONS]


def _answer(question: Question, summary: Sequence[Row], comparison: Sequence[Row], names: Mapping[str, str]) -> Answer:
    measured = {row["measure"] for row in summary if row["mean"] is not None}
    leading = next((column for column in question.leading if column in measured), None)
    if leading is None:
        return Answer(question.title, None, question.lacking, question.note)
    conditions = {row["measure"]: row for row in comparison if row["reference"] == "unbraced"}
    levels = [row for row in summary if row["measure"] == leading]
    pairs = [row for row in comparison if row["measure"] == leading and row["reference"].startswith("walk:")]
    braced = [row for row in pairs if all(f"{row[end]}|braced" in names for end in ("reference", "other"))]
    mixed = [row for row in pairs if (f"{row['reference']}|braced" in names) != (f"{row['other']}|braced" in names)]
    clear = [row for row in braced if row["verdict"] in ("higher", "lower")]
    further = [conditions[column] for column in question.further if column in conditions]
    return Answer(
        title=question.title,
        measure=leading,
        plain=_plain(conditions.get(leading), levels, leading),
        levels=[_level(row, names) for row in levels if row["mean"] is not None],
        unbraced=[compared(row, names) for row in mixed] if len(mixed) > 1 else [],
        between=[_apart(row, names) for row in clear],
        tied=[_pair(row, names, spans=True) for row in braced if row["verdict"] == "no clear change"],
        few=[_pair(row, names, spans=False) for row in braced if row["verdict"] == "too few strides"],
        further=[compared(row, names) for row in further if row["verdict"] in ("higher", "lower")],
        unchanged=[BY_COLUMN[row["measure"]].label for row in further if row["verdict"] == "no clear change"],
        stand_in=STAND_IN if leading == "foot_lowering_rate_deg_s" else "",
        note=question.note,
    )


STAND_IN = (
    "Slap rate is that of the ankle and needs a shank log; the foot's own lowering rate stands in for it. It cannot "
    "tell a foot let down by the ankle from one carried down with the shank."
)
"""What is said where there is no shank log."""


def _level(row: Row, names: Mapping[str, str]) -> Level:
    measure = BY_COLUMN[row["measure"]]
    se = "" if row["se"] is None else f"\u00b1\u00a0{_said(2 * row['se'], measure)}"
    return Level(names.get(row["walk"], row["walk"]), _said(row["mean"], measure), se, int(row["n"]))


def _said(value: float, measure: Measure) -> str:
    return with_unit(number(value, measure.decimals), measure)


def _apart(row: Row, names: Mapping[str, str]) -> str:
    """Two settings that differ clearly, under a heading that says in what."""
    measure = BY_COLUMN[row["measure"]]
    amount = with_unit(number(abs(row["difference"]), decimals_of(row)), measure)
    other, reference = (called(row[end], names) for end in ("other", "reference"))
    return f"{amount} {row['verdict']} with {other} than with {reference} ({with_unit(interval(row), measure)})."


def _pair(row: Row, names: Mapping[str, str], *, spans: bool) -> str:
    pair = f"{called(row['reference'], names)} and {called(row['other'], names)}"
    return f"{pair} ({with_unit(interval(row), BY_COLUMN[row['measure']])})" if spans else pair


def _plain(row: Row | None, levels: Sequence[Row], leading: str) -> str:
    """Unbraced against braced in plain words; one alone where there is nothing to set it against."""
    measure, speech = BY_COLUMN[leading], SPEECH[leading]
    label = f"{measure.label[0].lower()}{measure.label[1:]}"
    if row is None:
        return _alone(levels, measure)
    if row["verdict"] == "too few strides":
        return (
            f"Too few strides to say whether the brace changes {speech.subject}: {row['n_reference']} unbraced, "
            f"{row['n_other']} braced."
        )
    before = _pooled([one for one in levels if one["condition"] == "unbraced"])
    if row["ci_low"] is None or row["difference"] is None or before is None:
        return f"Whether the brace changes {speech.subject} cannot be told: the strides of one side do not vary at all."
    decimals = decimals_of(row)
    after = before + row["difference"]
    both = f"{label} {_said(before, measure)} unbraced, {_said(after, measure)} braced"
    span = with_unit(interval(row), measure)
    change = with_unit(number(row["smallest_real_change"], decimals), measure)
    if row["verdict"] in ("higher", "lower"):
        amount = with_unit(number(abs(row["difference"]), decimals), measure)
        words = speech.higher if row["verdict"] == "higher" else speech.lower
        return f"{words} in the brace: {both}, {amount} {row['verdict']} (interval {span})."
    difference = with_unit(number(row["difference"], decimals, signed=True), measure)
    sentence = f"No clear change in {speech.subject}: {both}; difference {difference}, interval {span}."
    if row["ci_low"] > 0 or row["ci_high"] < 0:
        return f"{sentence} That is no more than two walks may differ by anyway ({change})."
    return f"{sentence} Any difference within it fits these strides."


def _pooled(levels: Sequence[Row]) -> float | None:
    """The mean over all strides of several walks."""
    total = sum(one["n"] for one in levels if one["mean"] is not None)
    return sum(one["n"] * one["mean"] for one in levels if one["mean"] is not None) / total if total else None


def _alone(levels: Sequence[Row], measure: Measure) -> str:
    conditions = [name for name in ("unbraced", "braced") if any(one["condition"] == name for one in levels)]
    mean = _pooled([one for one in levels if one["condition"] == conditions[0]])
    found = "" if mean is None else f"{measure.label} {_said(mean, measure)} in {conditions[0]} walking. "
    missing = "braced" if conditions[0] == "unbraced" else "unbraced"
    return f"{found}No {missing} walk to compare with."
