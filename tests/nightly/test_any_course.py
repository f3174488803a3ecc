"""Whatever comes in in whatever order, grows, is sent again, or finds the intake killed: the study ends the same."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest import mock

from hypothesis import given, settings
from hypothesis import strategies as st

from firstrocker.signals.session import load_session
from nightly.conftest import quick_folder
from nightly.inboxes import HOME, SESSION, Place, held, log_text, write

FILES: dict[str, str] = {
    "sub-P01/ses-1/session.yaml": SESSION.format(subject="P01", session="1"),
    "sub-P01/ses-1/a_foot.csv": log_text(1),
    "sub-P01/ses-1/a_shank.csv": log_text(2),
    "sub-P02/home.yaml": HOME.format(subject="P02"),
    "sub-P02/20260302_foot_m.csv": log_text(3),
    "sub-P02/20260302_shank_m.csv": log_text(4),
    "sub-P02/20260303_foot_m.csv": log_text(5),
    "sub-P02/20260303_shank_m.csv": log_text(6),
}
"""What the inbox holds in the end."""
LOGS = sorted(path for path in FILES if path.endswith(".csv"))


class Killed(BaseException):
    """The intake ends where it stands, as if it had been killed."""


def looked(place: Place, *, dies_at: int | None = None) -> bool:
    """A look that dies before its so-manieth step that touches the disk for good, and whether it did.

    The inbox stays as it is.
    """
    died = False
    left = [-1 if dies_at is None else dies_at]

    def stepping(real: Callable[..., Any]) -> Callable[..., Any]:
        def step(*arguments: Any) -> Any:
            if left[0] == 0:
                raise Killed
            left[0] -= 1
            return real(*arguments)

        return step

    before = held(place.inbox)
    with mock.patch("os.fsync", stepping(os.fsync)), mock.patch("os.replace", stepping(os.replace)):
        try:
            place.look(12)
        except Killed:
            died = True
    assert dies_at is not None or not died
    assert held(place.inbox) == before
    return died


def sessions(place: Place) -> set[str]:
    """The sessions of the study, none of which lacks what its session file names."""
    folders = sorted(place.study.glob("sub-*/ses-*"))
    for folder in folders:
        assert [
            log.file for walk in load_session(folder).walks for log in walk.logs if not (folder / log.file).exists()
        ] == []
    return {folder.name for folder in folders}


Event = Callable[[Place], None]
arrive = st.sampled_from(sorted(FILES)).map(lambda path: lambda place: write(place.inbox / path, FILES[path]))
half = st.tuples(st.sampled_from(LOGS), st.integers(0, 40)).map(
    lambda drawn: lambda place: write(place.inbox / drawn[0], FILES[drawn[0]][: 30 * drawn[1]])
)
other = st.sampled_from(LOGS).map(
    lambda path: lambda place: write(place.inbox / path, log_text(50 + LOGS.index(path), rows=80))
)
partial = st.sampled_from(LOGS).map(lambda path: lambda place: write(place.inbox / f"{path}.part", FILES[path][:99]))
cleared = st.sampled_from(sorted(FILES)).map(lambda path: lambda place: (place.inbox / path).unlink(missing_ok=True))
night = st.just(lambda place: looked(place))
killed = st.integers(0, 40).map(lambda step: lambda place: looked(place, dies_at=step))
events = st.lists(st.one_of(arrive, arrive, half, other, partial, cleared, night, killed, killed), max_size=14)


def all_there(place: Place) -> None:
    for path, text in FILES.items():
        write(place.inbox / path, text)


def undisturbed() -> dict[str, bytes]:
    with quick_folder() as folder:
        place = Place(Path(folder))
        all_there(place)
        place.look(12)
        return place.files()


WANTED = undisturbed()


@settings(max_examples=40)
@given(st.booleans(), events)
def test_any_course_of_events_ends_in_the_same_study(begun: bool, course: list[Event]) -> None:
    assert len(WANTED) == 9
    with quick_folder() as folder:
        place, ever = Place(Path(folder)), set[str]()
        if begun:
            all_there(place)
            looked(place)
        for event in course:
            event(place)
            ever |= sessions(place)
        looked(place)
        assert ever <= sessions(place), "a session that was taken is gone"
        for path in place.inbox.rglob("*.part"):
            path.unlink()
        all_there(place)
        looked(place)
        assert place.files() == WANTED
        assert not list(place.study.rglob("*.part"))


def test_a_log_that_is_sent_back_to_what_it_was_is_taken_again_after_a_kill() -> None:
    file = "sub-P01/ses-1/a_foot.csv"
    for dies_at in range(0, 60, 3):
        with quick_folder() as folder:
            place = Place(Path(folder))
            all_there(place)
            looked(place)
            write(place.inbox / file, log_text(60))
            looked(place, dies_at=dies_at)
            all_there(place)
            looked(place)
            assert place.files() == WANTED, f"killed at step {dies_at}"


def test_a_kill_at_any_step_of_a_change_loses_nothing() -> None:
    file, newer = "sub-P01/ses-1/a_foot.csv", log_text(60)
    steps = 0
    for dies_at in range(100):
        with quick_folder() as folder:
            place = Place(Path(folder))
            all_there(place)
            looked(place)
            for path in FILES:
                (place.inbox / path).unlink()  # the study holds the only copy but for what is new
            write(place.inbox / file, newer)
            killed_at_once = looked(place, dies_at=dies_at)
            looked(place)
            assert place.files() == WANTED | {file: newer.encode()}, f"killed at step {dies_at}"
            steps = dies_at
            if not killed_at_once:
                break
    assert 10 < steps < 99
