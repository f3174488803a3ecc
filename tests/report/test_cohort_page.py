"""The page over all sessions."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import numpy as np
import pyarrow as pa
import pytest

from firstrocker import tables
from firstrocker.model import Side
from firstrocker.report.cohort import render_cohort
from firstrocker.report.cohort_words import curve_sentence, dose_step, effect_numbers, effect_sentence
from firstrocker.study.cohort import effects, own_effects
from firstrocker.study.multiple import LEADING
from study.test_cohort import CHANGES, SLAP, doses, study


def session(subject: str, status: str, side: str | None = "left") -> dict[str, Any]:
    usual = {"session": "1", "walks": 2, "strides": 30, "steady": 20, "errors": 0, "warnings": 0, "first_finding": ""}
    return usual | {"subject": subject, "status": status, "affected_side": side}


def change(subject: str, difference: float, **more: Any) -> dict[str, Any]:
    usual = {"session": "1", "side": "left", "measure": SLAP, "reference": "unbraced", "other": "braced"}
    ends = {"ci_low": difference - 20, "ci_high": difference + 20, "smallest_real_change": 15.0, "verdict": "lower"}
    return usual | ends | {"subject": subject, "difference": difference} | more


def page(
    sessions: Sequence[dict[str, Any]],
    *,
    summary: Sequence[dict[str, Any]] = (),
    comparison: Sequence[dict[str, Any]] = (),
    units: dict[Any, str] | None = None,
) -> str:
    sides: dict[tuple[str, str], Side] = {(row["subject"], row["session"]): "left" for row in summary}
    table = pa.Table.from_pylist(list(summary), schema=tables.SUMMARY)
    return render_cohort(
        sessions=pa.Table.from_pylist(list(sessions), schema=tables.SESSIONS),
        effects=effects(table, sides, units=units or {}, confidence=0.95, min_strides=5),
        people=own_effects(table, sides, min_strides=5),
        reliability=tables.RELIABILITY.empty_table(),
        curves=tables.COHORT_CURVES.empty_table(),
        spm=tables.SPM.empty_table(),
        comparison=pa.Table.from_pylist(list(comparison), schema=tables.COMPARISON),
        confidence=0.95,
        min_strides=5,
    )


def test_too_few_strides_are_the_reason_that_is_given_where_nobody_can_be_compared() -> None:
    html = page([session("P1", "ok")], summary=study([-50.0])[:1])
    assert "No person has both an unbraced and a braced walk, in one session, of 5 strides or more that count." in html


def test_each_sessions_own_change_is_shown_for_the_affected_side() -> None:
    sessions = [session("P1", "ok"), session("P2", "flagged", "right"), session("P3", "rejected", None)]
    rows = [change("P1", -80.0), change("P1", 5.0, side="right"), change("P2", -30.0, side="right")]
    rows.append(change("P1", 7.0, reference="walk:a", other="walk:b"))
    html = page(sessions, comparison=rows)
    assert "\u221280<small>\u2212100 to \u221260</small><small>lower</small>" in html
    assert "\u221230<small>" in html
    assert "+5<" not in html
    assert "+7<" not in html
    facts = re.sub(r"\s+", " ", html)
    assert "3 sessions (1 ok, 1 flagged, 1 rejected), 6 walks, 60 strides that count." in facts


def test_the_page_opens_with_what_was_found() -> None:
    people = [session(f"P{k:02}", "ok") for k in range(7)] + [session("X", "rejected", None)]
    html = page(people, summary=study(CHANGES))
    first = html.index("What was found")
    assert first < html.index("Slap rate is 53\u00b0/s lower braced than unbraced on average over 7 people")
    assert "7 of 7 people changed that way." in html
    assert first < html.index("Sessions to look at first") < html.index("<svg")
    assert "Nothing speaks against normal effects." in html
    assert html.count("<svg") == 1
    ids = re.findall(r' id="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    assert not re.search(r"#0[0-9]0[0-9]0[0-9]\b", html)
    assert "http" not in html.replace("http://www.w3.org", "")
    assert html == page(people, summary=study(CHANGES))


def test_doses_are_told_over_the_range_walked() -> None:
    rows, units = doses({f"A{k}": "Shore A" for k in range(5)})
    html = page([session(f"A{k}", "ok") for k in range(5)], summary=rows, units=units)
    assert "Slap rate is 29\u00b0/s lower for every 10\u00a0Shore A more resistance on average over 5 people" in html
    assert "Walked from 50 to 70\u00a0Shore A." in html


def test_names_cannot_break_the_page() -> None:
    rows = [row | {"subject": f"<b>{row['subject']}&"} for row in study(CHANGES)]
    html = page([session("P1", "ok")], summary=rows)
    assert "<b>" not in html


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (
            CHANGES[:2],
            "2 people and 48 strides, too few for an interval; mean difference braced minus unbraced: \u221256",
        ),
        (
            [-10.0, 12.0, 3.0, -4.0],
            "no clear change braced against unbraced on average over 4 people and 96 strides; braced minus unbraced 0",
        ),
        ([5.0] * 4, "people's differences do not vary"),
    ],
)
def test_a_sentence_says_no_more_than_its_interval(changes: list[float], words: str) -> None:
    sides: dict[tuple[str, str], Side] = {(row["subject"], "1"): "left" for row in study(changes)}
    table = pa.Table.from_pylist(study(changes), schema=tables.SUMMARY)
    (row,) = effects(table, sides, units={}, confidence=0.95, min_strides=5).to_pylist()
    sentence = effect_sentence(row, changes, 1, "95")
    assert words in sentence
    assert "changed that way" not in sentence


def test_curves_are_told_in_words() -> None:
    rows = [
        {"curve": "ankle_deg", "people": 8, "percent": k, "t": 1.0, "cluster": 0 if 10 <= k <= 20 else None}
        | {"difference": -2.5, "p_value": 0.003 if 10 <= k <= 20 else None}
        for k in range(101)
    ]
    assert curve_sentence(rows) == (
        "Ankle, braced against unbraced on average over 8 people: "
        "2.5\u00b0 lower from 10 to 20\u00a0% of the stride (p\u00a00.003)."
    )
    assert "nowhere along the stride" in curve_sentence([row | {"cluster": None} for row in rows])
    assert "1 person, too few to tell" in curve_sentence([row | {"t": None, "people": 1} for row in rows])


@pytest.mark.parametrize(
    ("low", "high", "step"),
    [(50.0, 75.0, 10.0), (0.5, 2.0, 1.0), (0.1, 0.4, 0.1), (0.0, 100.0, 100.0), (1.0, 9.0, 1.0)],
)
def test_a_step_of_resistance_is_no_more_than_was_walked(low: float, high: float, step: float) -> None:
    assert dose_step({"question": "resistance", "cause_low": low, "cause_high": high}) == pytest.approx(step)


def test_an_interval_is_never_printed_as_one_number() -> None:
    row = {"question": "braced", "measure": SLAP, "difference": 1.02, "ci_low": 0.96, "ci_high": 1.08}
    assert effect_numbers(row) == ("+1.02", "+0.96", "+1.08")
    assert effect_numbers(row | {"ci_low": -9.0, "ci_high": 11.0}) == ("+1", "\u22129", "+11")


def test_someone_turned_round_is_asked_about_before_anything_is_said() -> None:
    changes = [*CHANGES, 58.0]
    html = page([session(f"P{k:02}", "ok") for k in range(8)], summary=study(changes))
    first = html.index(
        "P07: slap rate +58\u00b0/s braced minus unbraced, where that of the other 7 people is \u221266 to"
    )
    assert first < html.index("braced than unbraced on average over 8 people")
    assert "if unbraced and braced were exchanged: look at the conditions of the walks in session.yaml" in html
    assert "Look at these labels" not in page([session("P00", "ok")], summary=study(CHANGES))


def many(count: int) -> str:
    """The page of so many people, each with a flagged session."""
    rng = np.random.default_rng(3)
    sessions = [session(f"P{k:04}", "flagged") | {"first_finding": "Look. Mend it."} for k in range(count)]
    columns = [*LEADING, "stride_length_m", "walking_speed_m_s"]
    summary = [
        row | {"subject": f"P{k // 2:04}"}
        for column in columns
        for k, row in enumerate(study(rng.normal(-20, 10, count).tolist(), column))
    ]
    comparison = [change(f"P{k:04}", -20.0, measure=column) for column in LEADING for k in range(count)]
    return page(sessions, summary=summary, comparison=comparison)


def test_the_page_does_not_grow_much_with_people() -> None:
    few, some, all_ = (many(count) for count in (30, 90, 240))
    assert "30 people are too many" not in few
    assert "90 people are too many for a line each" in some
    each = (len(all_) - len(some)) / 150
    assert each < 300  # a person's row, and nothing else: 1,000 people are 250 kB more
    assert "180 more sessions are flagged or rejected" in all_
    assert all_.count("Look. Mend it.") == 60
    assert all(f"../sub-P{k:04}/ses-1/report.html" in all_ for k in range(240))
