"""Trends and the page of the morning from a results folder: what is lacking is said, and the same bytes come again."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

from firstrocker.cli import main
from firstrocker.files import read_table, write_table
from firstrocker.layout import session_day
from firstrocker.study.day_series import CLEARANCE, SLAP, SPEED
from firstrocker.synth.months import Change
from study.home import label, person, stride_rows, write_day

TABLES = ("days", "trends", "alerts")
DAYS = 26


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A: slaps more, with wear time; B: no shank log, no wear time, silent at the end; C: odd sessions."""
    place = tmp_path_factory.mktemp("home")
    lived, worn = person(DAYS, 1, Change(SLAP, 80.0, 20))
    for day in lived:
        write_day(place, "A", label(day.day), [stride_rows(day, {})], worn_h=worn[day.day])
    for day in person(DAYS - 5, 2)[0]:
        bare = {**day.values, SLAP: np.full(day.n, np.nan)}
        write_day(place, "B", label(day.day), [stride_rows(type(day)(day.day, day.bout, bare, day.under), {})])
    first, second = person(2, 3)[0]
    write_day(place, "C", f"{label(0)}a", [stride_rows(first, {"setting": "soft"})], worn_h=2.0)
    write_day(place, "C", f"{label(0)}b", [stride_rows(second, {"setting": "soft"})], worn_h=3.0)
    write_day(place, "C", label(DAYS - 1), [], status="rejected", side=None)
    write_day(place, "C", "first", [stride_rows(first, {})])
    (place / "study" / "sub-C" / f"ses-{label(DAYS - 2)}").mkdir()  # failed: it has no results
    return place


def made(home: Path) -> dict[str, bytes]:
    arguments = ["--study", str(home / "study"), "--results", str(home / "results")]
    assert main(["trend", *arguments]) == 0
    assert main(["digest", *arguments]) == 0
    return {path.name: path.read_bytes() for path in (home / "results" / "nightly").iterdir()}


@pytest.fixture(scope="module")
def results(home: Path) -> Path:
    first = made(home)
    assert set(first) == {"days.parquet", "trends.parquet", "alerts.parquet", "digest.html"}
    assert made(home) == first
    return home / "results" / "nightly"


def test_the_alert_is_in_table_and_page(results: Path) -> None:
    alerts = read_table(results / "alerts.parquet").to_pylist()
    assert [(row["subject"], row["kind"]) for row in alerts if row["standing"]] == [("A", "slaps"), ("B", "silent")]
    page = (results / "digest.html").read_text(encoding="utf-8")
    assert "slaps more frequent (left braced soft 50) since about" in page
    assert "No session: B (none from 23 Mar on, 5 days)." in page
    assert "Friday 27 March 2026. 2 sessions of that day (1 rejected), 3 people followed." in page


def test_what_is_lacking_is_null_and_says_why(results: Path) -> None:
    days = read_table(results / "days.parquet").to_pylist()
    reasons = {(row["subject"], row["measure"]): row["reason"] for row in days}
    assert "no shank log" in reasons["B", "slap_share"]
    assert reasons["B", "worn_h"] == "wear time could not be told"
    assert reasons["A", "worn_h"] == ""
    assert "known after 14 days" in reasons["C", "slap_share"]
    page = (results / "digest.html").read_text(encoding="utf-8")
    assert "Slaps: no shank log, or no loading could be measured (B)." in page
    assert "Worn: wear time could not be told (B)." in page


def test_sessions_of_a_date_are_one_day_and_those_without_are_named(results: Path) -> None:
    days = read_table(results / "days.parquet").to_pylist()
    mine = [row for row in days if row["subject"] == "C" and row["measure"] == CLEARANCE]
    assert [str(row["day"]) for row in mine] == ["2026-03-02"]
    assert mine[0]["n"] > 60
    worn = {str(row["day"]): row["value"] for row in days if row["subject"] == "C" and row["measure"] == "worn_h"}
    assert worn["2026-03-02"] == pytest.approx(5.0)
    assert worn["2026-03-27"] is None
    page = (results / "digest.html").read_text(encoding="utf-8")
    assert "begin with no date (YYYYMMDD): sub-C/ses-first." in page


def test_rejected_and_failed_sessions_are_told_escaped(results: Path) -> None:
    page = (results / "digest.html").read_text(encoding="utf-8")
    assert "rejected. walk a: No &lt;log&gt;. Find it." in page
    assert "C, 26 Mar: failed. It has no results; its log says why." in page


def test_an_inbox_is_shown_whatever_columns_its_table_has(home: Path, results: Path) -> None:
    rows = [
        {
            "path": "x/a.csv",
            "subject": "A",
            "session": "20260327",
            "state": "quarantined",
            "reason": "Torn.",
            "new": True,
        },
        {"path": "x/b.csv", "subject": None, "session": None, "state": "waiting", "reason": "Its pair is missing."},
        {"path": "x/c.csv", "subject": "A", "session": "20260326", "state": "taken", "reason": ""},
    ]
    write_table(results / "intake.parquet", pa.Table.from_pylist(rows))
    page = made(home)["digest.html"].decode()
    (results / "intake.parquet").unlink()
    assert "Inbox: 1 quarantined, 1 taken, 1 waiting." in page
    assert page.index("A/20260327: quarantined. Torn.") < page.index("x/b.csv: waiting. Its pair is missing.")
    assert "x/c.csv" not in page


def test_a_study_without_dates_has_a_page_too(tmp_path: Path) -> None:
    write_day(tmp_path, "A", "first", [stride_rows(person(1, 1)[0][0], {})])
    page = made(tmp_path)["digest.html"].decode()
    assert "No session with a date." in page
    assert "sub-A/ses-first" in page


def test_who_begins_anew_is_held_against_what_came_before_no_more(home: Path, results: Path) -> None:
    before = {path.name: path.read_bytes() for path in results.iterdir()}
    anew = f'{{"trend": {{"begin_anew": {{"A": {label(19)}}}}}}}'
    arguments = ["--study", str(home / "study"), "--results", str(home / "results"), "--settings"]
    assert main(["trend", *arguments, anew]) == 0
    days, alerts = (read_table(results / f"{name}.parquet").to_pylist() for name in ("days", "alerts"))
    for name, content in before.items():
        (results / name).write_bytes(content)
    assert [row["kind"] for row in alerts if row["subject"] == "A"] == []
    assert min(row["day"] for row in days if row["subject"] == "A") == session_day(label(19))
    assert min(row["day"] for row in days if row["subject"] == "B") == session_day(label(0))
    assert main(["trend", *arguments, '{"trend": {"begin_anew": {"A": "20261301"}}}']) == 2


def test_a_strange_label_is_no_date() -> None:
    assert [session_day(one) for one in ("2026030", "202603021", "20261301", "x20260302", "")] == [None] * 5


def test_strides_that_do_not_count_are_in_no_day(tmp_path: Path) -> None:
    day = person(1, 1)[0][0]
    spoilt = {name: column + 1000.0 for name, column in day.values.items()}
    out = stride_rows(type(day)(0, day.bout, spoilt, day.under), {"steady": False, "left_out": "turn"})
    write_day(tmp_path, "A", label(0), [stride_rows(day, {}), out])
    made(tmp_path)
    rows = read_table(tmp_path / "results" / "nightly" / "days.parquet").to_pylist()
    (speed,) = [row for row in rows if row["measure"] == SPEED]
    assert speed["n"] == day.n
    assert speed["value"] < 2.0


@pytest.mark.untraced
def test_what_was_kept_of_former_days_changes_no_byte(tmp_path: Path) -> None:
    """Days come in one by one, one of them late, one is measured anew: as if all had been read at once."""
    lived, worn = person(DAYS, 4, Change(SLAP, 80.0, 20))
    for day in [*lived[:9], *lived[10:]]:
        write_day(tmp_path, "A", label(day.day), [stride_rows(day, {})], worn_h=worn[day.day])
        if day.day > DAYS - 5:
            made(tmp_path)
    write_day(tmp_path, "A", label(lived[9].day), [stride_rows(lived[9], {})], worn_h=1.0)
    write_day(tmp_path, "A", label(lived[3].day), [stride_rows(lived[5], {})], worn_h=2.0)
    kept = tmp_path / "results" / ".made" / "days" / "sub-A.parquet"
    assert kept.is_file()
    before = kept.read_bytes()
    found = made(tmp_path)
    assert kept.read_bytes() != before
    written = kept.stat().st_mtime_ns
    assert made(tmp_path) == found
    assert kept.stat().st_mtime_ns == written
    kept.write_bytes(b"torn")
    assert made(tmp_path) == found
