"""What failed is tried again when it has changed, and told once."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pyarrow as pa
import pytest

from firstrocker.errors import SettingsError
from firstrocker.files import write_table
from firstrocker.inbox.morning import morning
from firstrocker.layout import SessionName
from firstrocker.stamps import write_failed
from firstrocker.steps.intake import make_intake
from firstrocker.workflow import Plan
from nightly.inboxes import HOUR, Place, log_text, write, write_folder

DAY = 24 * HOUR


@pytest.fixture
def home(tmp_path: Path) -> Path:
    (tmp_path / "config" / "loggers").mkdir(parents=True)
    return tmp_path


def plan_of(place: Place, home: Path, **more: str) -> Plan:
    folders = {"inbox": place.inbox, "study": place.study, "results": place.study.parent / "results"}
    return Plan.from_config({name: str(path) for name, path in folders.items()} | more, home=home)


def test_a_session_that_failed_is_passed_over_until_it_changes(place: Place, home: Path) -> None:
    write_folder(place.inbox, "P01", "1", seed=1)
    write_folder(place.inbox, "P02", "1", seed=5)
    place.look(24)
    plan, name = plan_of(place, home), SessionName("P01", "1")
    assert list(plan.to_make) == [name, SessionName("P02", "1")]
    write_failed(plan.results, name, plan.wanted[name])
    assert list(plan_of(place, home).to_make) == [SessionName("P02", "1")]
    watched = Plan.from_config({"study": str(place.study), "results": str(plan.results)}, home=home)
    assert name in watched.to_make
    told = morning(place.study, plan.results, remind_days=7, now=0)
    assert [item.where for item in told.to_do] == ["sub-P01/ses-1"]
    assert "because of a bug" in told.lines()[0]
    write(place.study / "sub-P01/ses-1/a_foot.csv", log_text(9))
    assert name in plan_of(place, home).to_make


def test_a_thing_to_do_is_told_once_and_again_after_some_days(place: Place, home: Path) -> None:
    results = place.study.parent / "results"
    settings = plan_of(place, home).settings
    write(place.inbox / "stray.csv", log_text(1))
    write_folder(place.inbox, "P01", "1", seed=5)
    make_intake(place.inbox, place.study, results, settings=settings)

    def told(day: float) -> tuple[int, int]:
        found = morning(place.study, results, remind_days=7, now=day * DAY)
        return found.status, len(found.told_before)

    assert [told(day) for day in (0, 1, 6.9)] == [(3, 0), (0, 1), (0, 1)]
    assert told(7) == (3, 0)
    assert [told(day) for day in (400, 7.1, 14, 14.1)] == [(3, 0), (0, 1), (0, 1), (3, 0)], (
        "a clock that was wrong once"
    )
    assert (results / "nightly/quarantine/stray.csv.why.txt").is_file()
    (place.inbox / "stray.csv").unlink()
    make_intake(place.inbox, place.study, results, settings=settings)
    assert told(8) == (0, 0)
    assert not (results / "nightly/quarantine").exists()
    write(place.inbox / "stray.csv", log_text(1))
    make_intake(place.inbox, place.study, results, settings=settings)
    assert told(9) == (3, 0)
    record = json.loads((results / "nightly/morning.json").read_text())
    assert record["status"] == 3
    assert record["to_do"][0]["where"] == "stray.csv"


def test_an_alert_is_something_to_do(place: Place) -> None:
    results = place.study.parent / "results"
    rows = [
        {"kind": "slaps", "subject": "P01", "side": "left", "first_day": date(2026, 3, 9), "standing": True},
        {"kind": "silent", "subject": "P02", "side": None, "first_day": date(2026, 3, 8), "standing": True},
        {"kind": "wear", "subject": "P03", "side": None, "first_day": date(2026, 3, 1), "standing": False},
    ]
    write_table(results / "nightly" / "alerts.parquet", pa.Table.from_pylist(rows))
    told = morning(place.study, results, remind_days=7, now=0)
    assert [item.what for item in told.to_do] == [
        "Alert of 2026-03-09: the foot slaps more often, left leg.",
        "Alert of 2026-03-08: no session comes in.",
    ]
    assert not (results / "nightly" / "quarantine").exists()
    assert morning(place.study, results, remind_days=7, now=1).status == 0


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"inbox": "nowhere"}, "inbox=nowhere: there is no such folder."),
        ({"study": "INBOX/study"}, "study lies in inbox."),
        ({"results": "INBOX"}, "inbox lies in results."),
        ({"inbox": "STUDY"}, "inbox lies in study."),
    ],
)
def test_folders_that_cannot_be_are_refused(place: Place, home: Path, more: dict[str, str], words: str) -> None:
    place.study.mkdir()
    there = {"INBOX": str(place.inbox), "STUDY": str(place.study)}
    given = {key: path.replace("INBOX", there["INBOX"]).replace("STUDY", there["STUDY"]) for key, path in more.items()}
    with pytest.raises(SettingsError, match=words):
        plan_of(place, home, **given)


def test_an_inbox_needs_a_study(place: Place, home: Path) -> None:
    with pytest.raises(SettingsError, match="needs a study"):
        Plan.from_config({"inbox": str(place.inbox)}, home=home)
