"""The whole way without scripts: handed in, understood, run, read, corrected, run again, followed up, taken along."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from time import sleep

import pyarrow.parquet as pq
import pytest

from firstrocker.signals.session import load_session
from web.served import PASSWORD, Server, Visitor
from web.small_session import WORN, logs, parts


@pytest.fixture(scope="module")
def ran(server: Server) -> tuple[Visitor, str]:
    """A clinician and the address of a session that has run."""
    visitor = server.account("flow", clinic="Flow clinic")
    session = visitor.new_session("F1")
    visitor.post(f"{session}/details", **WORN, go="on")
    visitor.upload(f"{session}/logs", parts(logs()))
    assert "Before it can run" not in visitor.page
    visitor.post(f"{session}/run")
    visitor.wait_for_report(session)
    return visitor, session


def person_folder(server: Server, code: str) -> Path:
    (study,) = server.data.glob(f"people/*/study/sub-{code}")
    return study.parents[1]


def test_the_report_is_there_and_sealed(ran: tuple[Visitor, str]) -> None:
    visitor, session = ran
    assert "Read the report" in visitor.get(session).text
    frame = visitor.get(f"{session}/report")
    assert f'src="{session}/files/report.html"' in frame.text
    report = visitor.get(f"{session}/files/report.html")
    assert "F1, session 20260302" in report.text
    policy = report.headers["content-security-policy"]
    assert "sandbox" in policy
    assert "unsafe-inline" not in policy
    assert "style=" not in report.text


def test_an_ordinary_study_folder_was_made(ran: tuple[Visitor, str], server: Server) -> None:
    folder = person_folder(server, "F1") / "study" / "sub-F1" / "ses-20260302"
    session = load_session(folder)
    assert session.foot_sensor is not None
    assert session.foot_sensor.above_ground_mm == 75.5
    assert [walk.condition for walk in session.walks] == ["unbraced", "braced"]
    assert session.walks[1].setting is not None
    assert session.walks[1].setting.resistance == 50.0
    assert {path.name: path.read_bytes() for path in folder.glob("*.csv")} == {
        name.replace("_", "_left_"): content for name, content in logs().items()
    }


def test_what_can_be_taken_along(ran: tuple[Visitor, str], server: Server) -> None:
    visitor, session = ran
    table = visitor.get(f"{session}/files/summary.parquet")
    assert pq.read_table(io.BytesIO(table.content)).num_rows > 10
    text = visitor.get(f"{session}/files/summary.csv")
    assert "attachment" in text.headers["content-disposition"]
    assert text.text.startswith('"subject","session","walk"')
    whole = zipfile.ZipFile(io.BytesIO(visitor.get(f"{session}/all.zip").content))
    assert whole.testzip() is None
    names = set(whole.namelist())
    assert "study/sub-F1/ses-20260302/a_left_foot.csv" in names
    assert "results/sub-F1/ses-20260302/report.html" in names
    assert visitor.get(f"{session}/files/..%2f..%2fclinic.sqlite").status_code == 404


def test_a_corrected_label_is_run_again_and_followed_up(ran: tuple[Visitor, str], server: Server) -> None:
    visitor, session = ran
    visitor.post(f"{session}/details", **WORN | {"label2": "firm", "resistance2": "70"}, go="on")
    assert "has changed since this run" in visitor.get(session).text
    visitor.post(f"{session}/run")
    page = visitor.wait_for_report(session)
    assert "has changed since this run" not in page
    assert "firm" in visitor.get(f"{session}/files/report.html").text
    results = person_folder(server, "F1") / "results" / "sub-F1"
    assert [path.name for path in results.glob("ses-*")] == ["ses-20260302"]
    # The person's sessions are set side by side after each run.
    person = visitor.get(visitor.client.get(session).text.split('class="up"><a href="')[1].split('"')[0])
    for _ in range(300):
        if "/course" in visitor.page and "being brought up to date" not in visitor.page:
            break
        sleep(0.2)
        visitor.get(person.url.path)
    course = visitor.get(f"{person.url.path}/course")
    address = course.text.split('iframe src="')[1].split('"')[0]
    assert "20260302" in visitor.get(address).text


def test_pressing_run_twice_runs_once_more_at_most(ran: tuple[Visitor, str], server: Server) -> None:
    visitor, session = ran
    visitor.get(f"{session}/logs")
    for _ in range(3):
        visitor.post(f"{session}/run")
    page = visitor.wait_for_report(session)
    assert "Read the report" in page


def test_the_first_account_is_made_by_a_link_that_works_once(tmp_path: Path) -> None:
    first = Server(tmp_path / "clinic").start()
    try:
        visitor = Visitor(first.address)
        link = first.first_link
        assert visitor.get("/").url.path == "/signin"
        visitor.get(link)
        weak = visitor.post(link, clinic="Invented", name="ada", password="password1234", again="password1234")  # noqa: S106
        assert weak.status_code == 400
        assert "soon guessed" in visitor.page
        visitor.post(link, clinic="Invented", name="ada", password=PASSWORD, again=PASSWORD)
        assert visitor.path == "/"
        assert "Accounts and devices" in visitor.page
        assert Visitor(first.address).get(link).status_code == 404
    finally:
        first.stop()
    assert first.log == ""
