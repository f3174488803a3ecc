"""A good session damaged in one or two ways is read, or refused in plain words; its sound logs are read as ever."""

from __future__ import annotations

import gzip
import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firstrocker.errors import FirstrockerError, SessionError
from firstrocker.signals.read import SessionInput, read_session
from signals.made import foot_log, rows_of, session_content, shank_log, write_csv, write_session

LOGS = ("a_foot.csv", "a_shank.csv", "b_foot.csv")


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = write_session(tmp_path_factory.mktemp("good"), session_content())
    write_csv(folder / "a_foot.csv", rows_of(foot_log(stop_s=5.0)))
    write_csv(folder / "a_shank.csv", rows_of(shank_log(stop_s=5.0)))
    write_csv(folder / "b_foot.csv", rows_of(foot_log(stop_s=9.0))[400:])
    return folder


def _lines(change: Callable[[list[bytes], int, int], list[bytes]]) -> Callable[[bytes, int, int], bytes]:
    return lambda content, a, b: b"\n".join(change(content.split(b"\n"), a, b))


def _cell(what: bytes) -> Callable[[bytes, int, int], bytes]:
    def change(lines: list[bytes], a: int, b: int) -> list[bytes]:
        row = a % len(lines)
        cells = lines[row].split(b",")
        cells[b % len(cells)] = what
        return [*lines[:row], b",".join(cells), *lines[row + 1 :]]

    return _lines(change)


DAMAGES: dict[str, Callable[[bytes, int, int], bytes]] = {
    "cut off": lambda content, a, _: content[: a % max(len(content), 1)],
    "beginning lost": lambda content, a, _: content[a % max(len(content), 1) :],
    "a byte changed": lambda c, a, b: c[: a % len(c)] + bytes([b % 256]) + c[a % len(c) + 1 :] if c else c,
    "a piece repeated": lambda c, a, b: c[: a % len(c)] + c[max(a % len(c) - b % 5000, 0) :] if c else c,
    "a line lost": _lines(lambda lines, a, _: [line for n, line in enumerate(lines) if n != a % len(lines)]),
    "lines exchanged": _lines(
        lambda lines, a, b: [lines[b % len(lines)] if n == a % len(lines) else x for n, x in enumerate(lines)]
    ),
    "a cell emptied": _cell(b""),
    "a cell of text": _cell(b"oops"),
    "a huge number": _cell(b"1e300"),
    "a formula": _cell(b"=1+1"),
    "a zero byte": _cell(b"\0"),
    "no text": lambda content, a, _: np.random.default_rng(a).bytes(min(len(content), 3000)),
    "packed": lambda content, _, __: gzip.compress(content, 1, mtime=0),
    "in UTF-16": lambda content, _, __: content.decode("latin-1").encode("utf-16"),
    "emptied": lambda _, __, ___: b"",
    "commas to semicolons": lambda content, _, __: content.replace(b",", b";"),
}


def damaged(good: Path, hits: list[tuple[str, str, int, int]], place: Path) -> Path:
    folder = place / "sub-P01" / "ses-20260302"
    shutil.rmtree(place, ignore_errors=True)
    shutil.copytree(good, folder)
    for name, how, a, b in hits:
        path = folder / name
        path.write_bytes(DAMAGES[how](path.read_bytes(), a, b))
    return folder


HITS = st.lists(
    st.tuples(
        st.sampled_from([*LOGS, "session.yaml"]),
        st.sampled_from(sorted(DAMAGES)),
        st.integers(0, 10**6),
        st.integers(0, 10**6),
    ),
    min_size=1,
    max_size=2,
)


@pytest.mark.untraced
@given(HITS)
@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_damaged_session_is_read_or_refused_in_plain_words(
    good: Path, tmp_path: Path, hits: list[tuple[str, str, int, int]]
) -> None:
    folder = damaged(good, hits, tmp_path / "study")
    struck = {name for name, *_ in hits}
    try:
        session = read_session(folder, loggers=tmp_path)
    except SessionError as error:
        assert str(error).strip().endswith((".", "?"))  # noqa: PT017  (either way is right)
        assert struck & {"session.yaml"} or {"a_foot.csv", "b_foot.csv"} <= struck
        return
    for finding in session.findings:
        assert finding.message.endswith(".")
        assert finding.message.isprintable()
    if "session.yaml" not in struck:
        _sound_ones_are_as_ever(session, read_session(good, loggers=tmp_path), struck)


def _sound_ones_are_as_ever(session: SessionInput, before: SessionInput, struck: set[str]) -> None:
    """Logs that nobody touched hold what they held; those that were are finite and run forward."""
    logs = {log.source: log for walk in session.walks for log in walk.logs}
    # A foot log that cannot be read takes its walk's shank log with it.
    for name in set(LOGS) - struck - ({"a_shank.csv"} if "a_foot.csv" in struck else set()):
        whole = next(log for walk in before.walks for log in walk.logs if log.source == name)
        np.testing.assert_array_equal(logs[name].acceleration, whole.acceleration)
        np.testing.assert_array_equal(logs[name].time, whole.time)
    for log in logs.values():
        assert (np.diff(log.time) > 0).all()
        assert np.isfinite(log.acceleration).all()
        assert np.isfinite(log.angular_velocity).all()


def test_a_good_session_has_nothing_to_mend(good: Path, tmp_path: Path) -> None:
    session = read_session(good, loggers=tmp_path)
    assert [len(walk.logs) for walk in session.walks] == [2, 1]
    assert yaml.safe_load((good / "session.yaml").read_text())["subject"] == "P01"


@given(st.binary(max_size=3000))
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_as_a_session_file_are_refused_in_plain_words(tmp_path: Path, content: bytes) -> None:
    folder = tmp_path / "sub-P01" / "ses-20260302"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "session.yaml").write_bytes(content)
    with pytest.raises(FirstrockerError) as caught:
        read_session(folder, loggers=tmp_path)
    assert str(caught.value).endswith((".", "?"))
