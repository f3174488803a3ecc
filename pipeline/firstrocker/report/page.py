"""The page of one session: what was found out, how sure that is, and whether it can be trusted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pyarrow as pa
from jinja2 import Environment, PackageLoader, StrictUndefined

from firstrocker.measures import MEASURES
from firstrocker.report.answers import STAND_IN
from firstrocker.report.evidence import Trust, trust
from firstrocker.report.invented import invented_words, is_invented
from firstrocker.report.rows import contacts, counts, findings, tables, walk_names, walk_words
from firstrocker.report.said import Said
from firstrocker.report.words import KEY, MAIN, NOTHING, QUESTIONS, STATUS, Question, answers

USUAL_CONFIDENCE = 0.95
"""Of the pictures' intervals, where the comparison's own is not known."""


def environment() -> Environment:
    """Where the pages' templates are; everything put into one is escaped."""
    return Environment(
        loader=PackageLoader("firstrocker.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def render(
    *,
    strides: pa.Table,
    curves: pa.Table,
    summary: pa.Table,
    comparison: pa.Table,
    quality: Mapping[str, Any],
    confidence: float | None = None,
    evidence: Mapping[str, Any] | None = None,
    said: Said | None = None,
    follow_up: bool = False,
) -> str:
    """One session's report as an HTML page that needs nothing else.

    Args:
        strides: rows in the schema STRIDES.
        curves: rows in the schema CURVES.
        summary: rows in the schema SUMMARY.
        comparison: rows in the schema COMPARISON.
        quality: the content of quality.json.
        confidence: level of the comparison's intervals, printed where it is known.
        evidence: the content of evidence.json.
        said: answers, settings and hazards in words, of the side that is shown first.
        follow_up: whether the person has other sessions, and a page over all of them.
    """
    walks = list(quality.get("walks") or [])
    names = walk_names(walks)
    summed = summary.to_pylist()
    affected = quality.get("affected_side")
    sides = sides_shown(summed, affected)
    shown = sides[0] if sides and quality["status"] != "rejected" else None
    known = trust(quality, evidence)
    page = {
        "subject": quality.get("subject", ""),
        "session": quality.get("session", ""),
        "invented": invented_words([is_invented(quality)]),
        "status": quality["status"],
        "status_words": NOTHING if shown is None and quality["status"] == "ok" else STATUS[quality["status"]],
        "affected": affected,
        "shown": shown,
        "braced": sum(walk["condition"] == "braced" for walk in walks),
        "walks": [walk_words(walk) for walk in walks],
        "counts": counts(walks),
        "findings": findings(quality.get("findings") or []),
        "trust": known,
        "said": said,
        "follow_up": follow_up,
        "settings_hash": quality.get("settings_sha256", ""),
    }
    if shown is not None:
        level = "" if confidence is None else f"{100 * confidence:.3g}\u00a0% "
        page |= {"level": level} | _found(summed, comparison.to_pylist(), strides, sides, names)
        if said is not None:
            for question, answer in zip(page["questions"], said.answers, strict=True):
                question |= {"conditions": answer.plain, "stand_in": answer.stand_in, "settings": answer.between}
        page["pictures"] = _pictures(strides, curves, summed, shown, names, confidence, level, known)
    return environment().get_template("session.html.j2").render(page)


def sides_shown(summary: Sequence[Mapping[str, Any]], affected: str | None) -> list[str]:
    """The sides that have numbers, the affected one first."""
    return sorted({row["side"] for row in summary}, key=lambda side: (side != affected, side))


def _found(
    summary: list[dict[str, Any]],
    comparison: list[dict[str, Any]],
    strides: pa.Table,
    sides: Sequence[str],
    names: Mapping[str, str],
) -> dict[str, Any]:
    """What the page says where there is something to say: answers and numbers, of the first side and of all."""
    every = [measure.column for measure in MEASURES]
    measured = {row["measure"] for row in summary if row["side"] == sides[0]}
    return {
        "questions": [_question(question, sides[0], measured, comparison, names) for question in QUESTIONS],
        "contacts": contacts(strides, sides[0], names),
        "main_tables": [tables(side, MAIN, summary, comparison, names, key=KEY) for side in sides],
        "all_tables": [tables(side, every, summary, comparison, names) for side in sides],
        "comparisons": sum(row["verdict"] != "too few strides" for row in comparison),
    }


def _pictures(
    strides: pa.Table,
    curves: pa.Table,
    summary: list[dict[str, Any]],
    side: str,
    names: Mapping[str, str],
    confidence: float | None,
    level: str,
    known: Trust,
) -> Any:
    from firstrocker.report.pictures import draw  # matplotlib costs half a second, and a rejected session has none

    return draw(
        strides=strides,
        curves=curves,
        summary=summary,
        side=side,
        names=names,
        confidence=confidence or USUAL_CONFIDENCE,
        level=level or f"{100 * USUAL_CONFIDENCE:.3g}\u00a0% ",
        trust=known,
    )


def _question(
    question: Question,
    side: str,
    measured: set[str],
    comparison: Sequence[Mapping[str, Any]],
    names: Mapping[str, str],
) -> dict[str, Any]:
    leading = next((column for column in question.leading if column in measured), None)
    return answers(comparison, question, side, names) | {
        "title": question.title,
        "note": question.note,
        "lacking": question.lacking if leading is None else "",
        "stand_in": STAND_IN if leading == "foot_lowering_rate_deg_s" else "",
    }
