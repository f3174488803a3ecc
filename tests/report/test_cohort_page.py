"""The page over all sessions."""

from __future__ import annotations

from typing import Any

import pyarrow as pa

from firstrocker import tables
from firstrocker.report.cohort import render_cohort


def session(subject: str, status: str, side: str | None = "left") -> dict[str, Any]:
    usual = {"session": "1", "walks": 2, "strides": 30, "steady": 20, "errors": 0, "warnings": 0, "first_finding": ""}
    return usual | {"subject": subject, "status": status, "affected_side": side}


def change(subject: str, difference: float, **more: Any) -> dict[str, Any]:
    usual = {"session": "1", "side": "left", "measure": "slap_rate_deg_s", "reference": "unbraced", "other": "braced"}
    ends = {"ci_low": difference - 20, "ci_high": difference + 20, "smallest_real_change": 15.0, "verdict": "lower"}
    return usual | ends | {"subject": subject, "difference": difference} | more


def test_each_persons_own_change_is_shown_for_the_affected_side() -> None:
    sessions = pa.Table.from_pylist(
        [session("P1", "ok"), session("P2", "flagged", "right"), session("P3", "rejected", None)],
        schema=tables.SESSIONS,
    )
    rows = [change("P1", -80.0), change("P1", 5.0, side="right"), change("P2", -30.0, side="right")]
    rows.append(change("P1", 7.0, reference="walk:a", other="walk:b"))
    comparison = pa.Table.from_pylist(rows, schema=tables.COMPARISON)
    html = render_cohort(sessions, tables.EFFECTS.empty_table(), confidence=0.95, comparison=comparison)
    assert "\u221280<small>\u2212100 to \u221260</small><small>lower</small>" in html
    assert "\u221230<small>" in html
    assert "+5<" not in html
    assert "+7<" not in html
    assert "1 ok, 1 flagged, 1 rejected" in html
    plain = render_cohort(sessions, tables.EFFECTS.empty_table(), confidence=0.95)
    assert "own change" not in plain
