"""The letter: the comparison's numbers and no more, escaped, editable, without script or network."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest

from firstrocker.report.letter import Letter, letter
from firstrocker.report.letter_page import render_letter
from firstrocker.report.rows import walk_names
from firstrocker.study.compare import compare
from firstrocker.study.summary import summarise
from study.made import MadeWalk, drawn, row_of, stride_table


def made(rng: np.random.Generator, walk: str, setting: str | None, slap: float, *, strides: int = 16) -> MadeWalk:
    bouts = (strides // 2, strides - strides // 2)
    values = {
        "toe_clearance_min_mm": drawn(rng, bouts, mean=14, sd=3),
        "slap_rate_deg_s": drawn(rng, bouts, mean=slap, sd=25),
        "walking_speed_m_s": drawn(rng, bouts, mean=1.1, sd=0.03),
    }
    return MadeWalk(walk, bouts, dict(values), "braced" if setting else "unbraced", setting)


def quality_of(walks: list[MadeWalk], status: str = "ok") -> dict[str, Any]:
    records = [
        {"walk": w.walk, "condition": w.condition, "setting": {"label": w.setting} if w.setting else None}
        for w in walks
    ]
    return {"subject": "P01", "session": "1", "affected_side": "left", "status": status, "walks": records}


def drafted(walks: list[MadeWalk], status: str = "ok") -> tuple[Letter, Any]:
    strides = stride_table(walks)
    table = compare(strides, confidence=0.95, resamples=400, seed=1, min_strides=5)
    quality = quality_of(walks, status)
    names = walk_names(quality["walks"])
    summary = summarise(strides).to_pylist()
    return letter(summary, table.to_pylist(), quality, names=names, confidence=0.95), table


def test_before_after_and_change_are_the_tables() -> None:
    rng = np.random.default_rng(1)
    draft, table = drafted([made(rng, "a", None, 300), made(rng, "b", "medium", 150)])
    (only,) = draft.tables
    assert only.after_name == "braced, medium"
    row = next(row for row in only.rows if row.label == "Slap rate")
    found = row_of(table, measure="slap_rate_deg_s", reference="walk:a", other="walk:b")
    assert row.certainty == f"clearly {found['verdict']}" == "clearly lower"
    assert f"{abs(found['difference']):.0f}" in row.difference
    assert f"{abs(found['ci_low']):.0f}" in row.interval
    assert "Clear change: slap rate (lower)." in only.closing
    assert draft.choose == draft.nothing == draft.flagged == ""


@pytest.mark.parametrize("braced_first", [False, True])
def test_unbraced_is_before_whichever_was_walked_first(braced_first: bool) -> None:
    rng = np.random.default_rng(2)
    walks = [made(rng, "a", None, 300), made(rng, "b", "medium", 150)]
    (table,) = drafted(walks[::-1] if braced_first else walks)[0].tables
    row = next(row for row in table.rows if row.label == "Slap rate")
    assert row.difference.startswith("\u2212")
    before, after = (int(re.sub(r"\D", "", text)) for text in (row.before, row.after))
    assert before > after


def test_of_several_settings_one_is_to_be_kept() -> None:
    rng = np.random.default_rng(3)
    draft, _ = drafted([made(rng, "a", None, 300), made(rng, "b", "soft", 200), made(rng, "c", "firm", 100)], "flagged")
    assert [table.after_name for table in draft.tables] == ["braced, soft", "braced, firm"]
    assert draft.choose.startswith("Keep the table")
    assert "flagged" in draft.flagged


@pytest.mark.parametrize("setting", [None, "soft"])
def test_nothing_to_compare_is_said(setting: str | None) -> None:
    rng = np.random.default_rng(4)
    draft, _ = drafted([made(rng, "a", setting, 300)])
    assert draft.tables == []
    assert "no pair of unbraced and braced walks" in draft.nothing
    assert "no pair of unbraced" in render_letter(draft)


def test_too_few_strides_are_no_change() -> None:
    rng = np.random.default_rng(5)
    draft, _ = drafted([made(rng, "a", None, 300), made(rng, "b", "soft", 100, strides=4)])
    (table,) = draft.tables
    assert {row.certainty for row in table.rows} == {"too few strides"}
    assert "Clear change" not in table.closing


def test_the_page_is_escaped_editable_and_needs_nothing() -> None:
    rng = np.random.default_rng(6)
    html = render_letter(drafted([made(rng, "a", None, 300), made(rng, "b", "<b>&\"'", 150)])[0])
    assert "<b>" not in html
    assert "&lt;b&gt;&amp;" in html
    assert 'contenteditable="true"' in html
    assert "<script" not in html
    assert not re.search(r"https?:|url\(|@import", html)
    assert "not a medical device" in html
    assert not re.search(r"\b(optimal|best|recommend)", html)
