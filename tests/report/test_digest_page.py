"""The page of the morning: its words, its order, one sheet of paper, and readable for everyone."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pytest

from firstrocker.report.alert_words import FALSE_ALARMS, alert_sentence, harmless_words, now_sentence, rates_sentence
from firstrocker.report.digest import MOST_ALERTS, MOST_PEOPLE, Given, intake_lines, render_digest
from firstrocker.report.digest_people import DigestSession
from firstrocker.report.figures.spark import spark
from firstrocker.study.alerts import WATCHED
from firstrocker.tables_days import ALERTS, DAYS, TRENDS
from report.browser import OVERLAPS, browser, needs_chromium, printed, seen, violations
from structure.tree import REPOSITORY

TODAY = date(2026, 4, 30)
LEG = {"side": "left", "condition": "braced", "setting": "soft", "resistance": 50.0}
UNITS = {"slap_share": "1", "toe_clearance_min_mm": "mm", "low_pass_share": "1", "worn_h": "h"}
LEVELS = {"slap_share": 0.1, "toe_clearance_min_mm": 14.0, "low_pass_share": 0.01, "worn_h": 9.0}
LONG = "The file ends in the middle of a row, as one does that was cut off while it was copied. " * 4


def alert(subject: str, kind: str = "slaps", **more: Any) -> dict[str, Any]:
    measure = next((one.measure for one in WATCHED if one.kind == kind), "slap_share")
    leg = LEG if kind != "wear" else dict.fromkeys(LEG)
    usual = {"kind": kind, "subject": subject, "measure": measure, "unit": UNITS[measure], **leg}
    usual |= {"first_day": TODAY, "since_day": TODAY - timedelta(days=4), "standing": True, "new": True}
    usual |= {"baseline": LEVELS[measure], "baseline_days": 32, "change": 0.3, "ci_low": 0.2, "ci_high": 0.42}
    usual |= {"change_now": 0.3, "days": 5, "strides": None if kind == "wear" else 740}
    return usual | more


def silent(subject: str, since: date = date(2026, 4, 25)) -> dict[str, Any]:
    usual = {"kind": "silent", "subject": subject, "first_day": TODAY, "since_day": since, "days": 6}
    return usual | {"standing": True, "new": False}


def session(subject: str, status: str = "ok", day: date = TODAY, finding: str = "") -> DigestSession:
    return DigestSession(subject, f"{day:%Y%m%d}", day, status, finding)


def table(rows: Sequence[dict[str, Any]], schema: pa.Schema) -> pa.Table:
    return pa.Table.from_pylist(list(rows), schema=schema)


def page(
    people: Sequence[str],
    *,
    alerts: Sequence[dict[str, Any]] = (),
    sessions: Sequence[DigestSession] | None = None,
    intake: Sequence[dict[str, Any]] | None = None,
) -> str:
    rng = np.random.default_rng(1)
    days, trends = [], []
    for subject in people:
        for measure, level in LEVELS.items():
            keys: dict[str, Any] = {"subject": subject, "measure": measure, "unit": UNITS[measure]}
            keys |= LEG if measure != "worn_h" else dict.fromkeys(LEG)
            trends.append(
                keys
                | {"watched": True, "days": 60, "last_day": TODAY, "baseline": level, "baseline_days": 14}
                | {"last_week": level * 1.1, "shifts": 0}
            )
            days += [
                keys | {"day": TODAY - timedelta(days=k), "value": level * (1 + 0.2 * rng.standard_normal())}
                for k in reversed(range(60))
                if k % 9
            ]
    listed = [session(one, day=TODAY - timedelta(days=k)) for one in people for k in (1, 0)]
    return render_digest(
        Given(
            table(days, DAYS),
            table(trends, TRENDS),
            table(alerts, ALERTS),
            listed if sessions is None else sessions,
            [],
            intake,
            months=24.0,
            confidence=0.95,
        )
    )


def worst() -> str:
    """Every list longer than it may be, with long words."""
    people = [f"P{k:02}" for k in range(40)]
    found = [alert(f"P{k:02}", kind) for k in range(4) for kind in ("slaps", "clearance", "scuffs", "wear")]
    bad = [session(one, "rejected", finding=LONG) for one in people[:6]]
    bad += [DigestSession(one, "20260430", TODAY, "flagged", LONG, LONG) for one in people[6:12]]
    good = [session(one, day=TODAY - timedelta(days=k)) for one in people for k in (1, 0)]
    intake = [{"path": f"{k}", "state": "quarantined", "reason": LONG, "remedy": "Copy it again."} for k in range(9)]
    return page(people, alerts=[*found, *map(silent, people[20:35])], sessions=[*bad, *good], intake=intake)


def plain(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html.partition("<header>")[2]))


def test_an_alert_says_what_since_when_how_big_and_on_what() -> None:
    assert alert_sentence(alert("P1")) == (
        "slaps more frequent (left braced soft 50) since about 26 Apr: 40\u00a0% against 10\u00a0% in the baseline of "
        "32 days (+30 percentage points, interval +20 to +42; 5 days, 740 strides)."
    )
    fallen = alert("P1", "clearance", change=-5.2, ci_low=-8.0, ci_high=-2.4)
    assert "8.8\u00a0mm against 14.0\u00a0mm" in alert_sentence(fallen)
    assert (
        "(\u22125.2\u00a0mm, interval \u22128.0\u00a0mm to \u22122.4\u00a0mm; 5 days, 740 strides)"
        in alert_sentence(fallen)
    )
    worn = alert("P1", "wear", change=-3.0, ci_low=-4.0, ci_high=-2.0)
    assert alert_sentence(worn).startswith("worn less since about 26 Apr: 6.0\u00a0h against 9.0\u00a0h")
    assert alert_sentence(worn).endswith("5 days).")


def test_an_alert_from_before_says_how_its_change_stands_by_now() -> None:
    assert (
        now_sentence(alert("P1", new=False, change_now=0.12))
        == "Now, over 5 days: +12 percentage points against that baseline."
    )
    assert (
        now_sentence(alert("P1", "clearance", new=False, change_now=-6.6))
        == "Now, over 5 days: \u22126.6\u00a0mm against that baseline."
    )
    assert now_sentence(alert("P1")) == ""
    assert now_sentence(alert("P1", new=False, change_now=None)) == ""
    words = plain(page(["P1"], alerts=[alert("P1", new=False, change_now=0.12)]))
    assert "Raised 30 Apr. Now, over 5 days: +12 percentage points against that baseline." in words


def test_what_may_be_harmless_is_said_and_what_was_seen_first() -> None:
    row = alert("P1", speed_change_m_s=0.12)
    assert harmless_words(row, flagged=2).startswith(
        "Seen: walked faster (+0.12\u00a0m/s), 2 of its days have a flagged session. Rule out first: another shoe"
    )
    assert "Seen" not in harmless_words(row | {"speed_change_m_s": 0.01})
    assert "Seen" not in harmless_words(row | {"speed_change_m_s": None})


def test_the_page_opens_with_what_is_new() -> None:
    old = alert("P2", first_day=date(2026, 4, 20), new=False)
    over = alert("P3", standing=False, new=False)
    html = page(["P1", "P2", "P3"], alerts=[old, over, alert("P1")])
    words = plain(html)
    assert words.index("1 new alert, 1 standing from before.") < words.index("P1 : slaps") < words.index("P2 : slaps")
    assert words.index("P2 : slaps") < words.index("Everyone")
    assert "P3 : slaps" not in words
    assert words.index("about one in so many person-months") > words.index("Everyone")
    assert "not a medical device" in words
    assert html.count("<svg") == 3 * 3
    ids = re.findall(r' id="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    assert "http" not in html
    assert html == page(["P1", "P2", "P3"], alerts=[old, over, alert("P1")])


def test_a_quiet_morning_says_so() -> None:
    words = plain(page(["P1"]))
    assert "No alert stands." in words
    assert "Inbox" not in words
    assert "could not be used" not in words
    assert "No alert stands but that no session comes in." in plain(page(["P1"], alerts=[silent("P1")]))


def test_longer_lists_are_abridged_with_their_count_and_links() -> None:
    html = worst()
    assert f"And {40 - MOST_PEOPLE} more:" in plain(html)
    assert html.count('href="../sub-P39/course.html"') == 1
    assert f"<summary>{16 - MOST_ALERTS} more</summary>" in html
    assert "P34 (none from" not in html
    assert "and 7 more." in plain(html)


def test_names_and_findings_cannot_break_the_page() -> None:
    html = page(["<b>P1"], alerts=[alert("<b>P1", setting="<i>")], sessions=[session("<b>P1", "failed", finding="<u>")])
    for tag in ("<b>", "<i>", "<u>"):
        assert tag not in html


def test_an_inbox_is_told_once_per_session_and_cause() -> None:
    row = {"subject": "P1", "session": "1", "state": "waiting", "reason": "No shank log.", "path": "a"}
    assert intake_lines([row, row | {"path": "b"}, row | {"state": "taken"}]) == ["P1/1: waiting. No shank log."]
    assert intake_lines([row | {"state": "taken", "needs_person": True}]) == ["P1/1: taken. No shank log."]
    assert intake_lines([{"state": "quarantined"}]) == ["?: quarantined."]
    assert intake_lines(None) == []


def test_of_a_session_that_waits_for_someone_only_what_that_one_does_is_told() -> None:
    row = {"subject": "P1", "session": "1", "state": "quarantined", "path": "sub-P1/ses-1/a.csv", "kind": "log"}
    asked = row | {"reason": "It is P2's.", "remedy": "Move it.", "needs_person": True}
    along = row | {"reason": "Lies with a.csv.", "path": "sub-P1/ses-1/b.csv"}
    assert intake_lines([along, asked]) == ["P1/1, a.csv: quarantined. It is P2's. Move it."]
    assert intake_lines([along]) == ["P1/1: quarantined. Lies with a.csv."]


def test_a_session_whose_labels_are_in_doubt_is_shown_though_it_was_measured() -> None:
    odd = DigestSession("P1", "20260429", TODAY - timedelta(days=1), "flagged", "", "This foot swings inwards.")
    old = DigestSession("P1", "20260401", TODAY - timedelta(days=29), "flagged", "", "The other foot.")
    words = plain(page(["P1"], sessions=[odd, old, session("P2")]))
    assert "Labels to check" in words
    assert "P1, 29 Apr : This foot swings inwards." in words
    assert "The other foot." not in words
    assert "Labels to check" not in plain(page(["P1"]))


def test_a_dash_of_a_person_of_whom_nothing_was_measured_is_explained() -> None:
    words = plain(page(["P1"], sessions=[session("P1"), session("P2")]))
    assert "Slaps: in no session of the affected side (P2)." in words


def test_with_an_inbox_new_is_what_came_in_last_however_late() -> None:
    late = date(2026, 4, 20)
    rows = [alert("P1", first_day=late, new=False), alert("P2")]
    sessions = [session(one, day=day) for one in ("P1", "P2") for day in (late, TODAY)]
    came = [{"path": "x", "subject": "P1", "session": "20260420", "state": "taken", "new": True}]
    words = plain(page(["P1", "P2"], alerts=rows, sessions=sessions, intake=came))
    assert "1 new alert, 1 standing from before." in words
    assert words.index("new P1 : slaps") < words.index("P2 : slaps")
    assert "raised by what came in last" in words
    without = [{"path": "x", "subject": "P1", "session": "20260420", "state": "taken"}]
    assert "new P2 : slaps" in plain(page(["P1", "P2"], alerts=rows, sessions=sessions, intake=without))


def test_a_small_line_breaks_where_days_are_missing_and_stays_inside() -> None:
    points = [(1, 5.0), (2, 6.0), (3, 4.0), (9, 5.0), (10, 7.0)]
    drawn = str(spark(points, first=2, last=10, level=5.0, since=9, name="x", words="<&"))
    assert "&lt;&amp;" in drawn
    line = re.search(r'class="days" d="([^"]+)"', drawn)
    assert line is not None
    assert line[1].count("M") == 2
    numbers = [float(one) for one in re.findall(r"-?\d+\.\d", line[1])]
    assert min(numbers) >= 0
    assert max(numbers) <= 96
    assert 'class="since"' in drawn
    assert spark([], first=0, last=1, level=None, since=None, name="x", words="") == ""
    assert "nan" not in spark([(1, 5.0)], first=1, last=1, level=5.0, since=None, name="x", words="")


def test_the_rates_are_those_of_the_document() -> None:
    text = (REPOSITORY / "config" / "alerts.md").read_text(encoding="utf-8")
    assert set(FALSE_ALARMS) == {one.kind for one in WATCHED}
    for kind, months in FALSE_ALARMS.items():
        assert re.search(rf"^\| {kind} \|.*\| one in {months} \|", text, flags=re.MULTILINE), kind
        assert f" {months}" in rates_sentence(24.0)


@pytest.mark.untraced
@needs_chromium
@pytest.mark.parametrize("case", ["usual", "worst"])
def test_it_is_quiet_readable_and_one_sheet(tmp_path: Path, case: str) -> None:
    people = [f"P{k:02}" for k in range(MOST_PEOPLE)]
    usual = [alert("P01"), alert("P02", "clearance", change=-5.0, ci_low=-8.0, ci_high=-2.0), silent("P05")]
    file = tmp_path / "digest.html"
    file.write_text(worst() if case == "worst" else page(people, alerts=usual), encoding="utf-8")
    with browser() as chromium:
        for width, scheme in ((1280, "light"), (820, "dark"), (390, "light"))[2 * (case == "worst") :]:
            with seen(chromium, file, width=width, scheme=scheme) as found:  # type: ignore[arg-type]
                assert found.page.evaluate("document.documentElement.scrollWidth") <= width
                assert found.page.evaluate(OVERLAPS) == []
                assert violations(found.page) == []
                if width == 390:
                    sheets, _ = printed(found.page)
            assert found.complaints == []
            assert found.requests == [file.as_uri()]
    assert len(sheets) == 1
    shown = [one for one in people if re.search(rf"{one}.*left braced soft 50", sheets[0])]
    assert len(shown) >= (MOST_PEOPLE if case == "usual" else 4)
    assert "not a medical device" in sheets[0]
