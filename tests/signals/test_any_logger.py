"""Layouts of every kind of logger give the log that the plain one gives."""

from __future__ import annotations

import gzip
import io
import zipfile
from math import pi
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from firstrocker.errors import FirstrockerError, LogError
from firstrocker.model import Finding, FloatArray, IntArray, Log
from firstrocker.signals.counter import seconds_of
from firstrocker.signals.profiles import LoggerProfile
from firstrocker.signals.readers import read_log
from firstrocker.signals.strict import problems_of
from signals.made import HEADER, PROFILE, foot_log, rows_of, write_csv

ROWS = rows_of(foot_log(stop_s=8.0))
UNTIMED = {key: value for key, value in PROFILE["columns"].items() if key != "time"}
TIMELESS = {key: value for key, value in PROFILE["units"].items() if key != "time"}


def read(path: Path, where: str = "a", **change: Any) -> tuple[Log, tuple[Finding, ...]]:
    profile = LoggerProfile.model_validate(PROFILE | change)
    return read_log(path, profile=profile, segment="foot", side="left", where=where)


def refused(path: Path, **change: Any) -> str:
    with pytest.raises(LogError) as caught:
        read(path, **change)
    return f"{caught.value.what} {caught.value.remedy}"


def same(log: Log, rows: FloatArray = ROWS, tolerance: float = 1e-6) -> None:
    np.testing.assert_allclose(log.time, rows[:, 0] - rows[0, 0] + log.time[0], atol=tolerance)
    np.testing.assert_allclose(log.acceleration, rows[:, 1:4], atol=tolerance * 100)
    np.testing.assert_allclose(log.angular_velocity, rows[:, 4:], atol=tolerance * 10)


def codes(findings: tuple[Finding, ...] | list[Finding]) -> list[str]:
    return [one.code for one in findings]


# Counts with a scale.


def test_integer_counts_with_a_scale(tmp_path: Path) -> None:
    worth = np.array([1.0, *[0.000488 * 9.80665] * 3, *[0.07 * pi / 180] * 3])
    counts = np.round(ROWS / worth)
    counts[:, 0] = np.round(ROWS[:, 0] * 1000)
    path = write_csv(tmp_path / "a.csv", counts)
    units = {"time": "ms", "acceleration": "g", "angular_velocity": "deg/s"}
    log, _ = read(path, units=units, scale={"acceleration": 0.000488, "angular_velocity": 0.07})
    np.testing.assert_allclose(log.acceleration, ROWS[:, 1:4], atol=0.6 * worth[1])
    np.testing.assert_allclose(log.angular_velocity, ROWS[:, 4:], atol=0.6 * worth[4])


# A counter instead of times.


def counted(tmp_path: Path, counts: FloatArray | IntArray, kept: Any = slice(None)) -> Path:
    rows = ROWS.copy()
    rows[:, 0] = counts
    return write_csv(tmp_path / "a.csv", rows[kept], header=["n", *HEADER[1:]])


def by_counter(path: Path, **counter: Any) -> tuple[Log, tuple[Finding, ...]]:
    said = {"column": "n"} | counter
    return read(path, columns=UNTIMED, units=TIMELESS, counter=said, sampling_rate_hz=100)


@pytest.mark.parametrize("states", [256, 1000, 65536])
@pytest.mark.parametrize("said", [True, False])
def test_a_counter_that_wraps_tells_the_time_and_what_was_lost(tmp_path: Path, states: int, said: bool) -> None:
    counts = (np.arange(len(ROWS)) + states - 300) % states
    lost = np.ones(len(ROWS), dtype=bool)
    lost[[100, 101, 102, 299, 300, 400]] = False
    path = counted(tmp_path, counts, lost)
    log, findings = by_counter(path, **({"wraps_at": states} if said else {}))
    same(log, ROWS[lost], 1e-9 + 1e-6)
    assert ("counter-wraps" in codes(findings)) == (not said)
    assert ("counter-wraps-soon" in codes(findings)) == (states / 100 < 10)


def test_a_counter_of_ticks_with_its_own_rate(tmp_path: Path) -> None:
    ticks = np.round(ROWS[:, 0] * 32768) + 60000
    log, findings = by_counter(counted(tmp_path, ticks % 65536), per_second=32768)
    same(log, ROWS, 1e-4)
    assert "counter-wraps" in codes(findings)


def test_samples_of_a_counter_out_of_order_are_put_back(tmp_path: Path) -> None:
    order = np.arange(len(ROWS))
    order[[50, 51]] = [51, 50]
    order[[255, 256]] = [256, 255]
    rows = ROWS[order].copy()
    rows[:, 0] = order % 256
    log, findings = by_counter(write_csv(tmp_path / "a.csv", rows, header=["n", *HEADER[1:]]), wraps_at=256)
    same(log)
    assert "time-out-of-order" in codes(findings)


@given(
    st.integers(2, 10**6), st.lists(st.integers(1, 40), min_size=2, max_size=200), st.sampled_from([256, 4096, 65536])
)
def test_unwrapping_undoes_wrapping(start: int, steps: list[int], states: int) -> None:
    truth = start + np.cumsum(steps).astype(float)
    seconds, _ = seconds_of(truth % states, per_second=100.0, wraps_at=states, where="a")
    np.testing.assert_allclose(np.diff(seconds), np.diff(truth) / 100.0, atol=1e-9)


def test_a_counter_that_cannot_be_is_refused(tmp_path: Path) -> None:
    counts = np.arange(len(ROWS), dtype=float)
    assert "not whole" in told(lambda: by_counter(counted(tmp_path, counts + 0.5)))
    assert "said to begin anew at 256" in told(lambda: by_counter(counted(tmp_path, counts), wraps_at=256))
    assert "no counter begins anew" in told(lambda: by_counter(counted(tmp_path, counts % 400)))
    assert "runs back" in told(lambda: by_counter(counted(tmp_path, counts % 256), wraps_at="never"))


def told(deed: Any) -> str:
    with pytest.raises(FirstrockerError) as caught:
        deed()
    return str(caught.value)


# Packed files.


def zipped(members: dict[str, bytes], how: int = zipfile.ZIP_DEFLATED) -> bytes:
    kept = io.BytesIO()
    with zipfile.ZipFile(kept, "w", how) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return kept.getvalue()


def test_gzip_and_zip_read_as_what_is_in_them(tmp_path: Path) -> None:
    text = write_csv(tmp_path / "plain.csv", ROWS).read_bytes()
    pq.write_table(pa.table(dict(zip(HEADER, ROWS.T, strict=True))), tmp_path / "plain.parquet")
    table = (tmp_path / "plain.parquet").read_bytes()
    for n, content in enumerate((text, table)):
        (tmp_path / "a.gz").write_bytes(gzip.compress(content))
        same(read(tmp_path / "a.gz")[0])
        (tmp_path / "a.zip").write_bytes(zipped({"x/foot.csv": content, "__MACOSX/x/._foot.csv": b"\0"}))
        same(read(tmp_path / "a.zip")[0])
        (tmp_path / "b.zip").write_bytes(zipped({"one.csv": content, "x/two.csv": b"no"}, zipfile.ZIP_STORED))
        same(read(tmp_path / "b.zip" / "one.csv")[0])
        assert "2 files: 'one.csv', 'x/two.csv'" in refused(tmp_path / "b.zip")
        assert "Did you mean 'x/two.csv'?" in refused(tmp_path / "b.zip" / "x" / "tow.csv")
        assert n < 2


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (gzip.compress(b"t,ax\n1,2\n" * 9999)[:-60], "(gzip) is damaged or was cut off"),
        (gzip.compress(b"x" * 100)[:-8] + b"12345678", "(gzip) is damaged"),
        (zipped({"a.csv": b"t,ax\n1,2\n" * 9999})[:-60], "(zip) is damaged or was cut off"),
        (gzip.compress(gzip.compress(b"t,ax\n1,2\n")), "packed twice (gzip, and gzip in it)"),
        (zipped({"a.zip": zipped({"a.csv": b"t\n1\n"})}), "packed twice (zip, and zip in it)"),
        (zipped({}), "It is empty"),
        (zipped({"a.csv": b"t,ax\n1,2\n"}, zipfile.ZIP_LZMA), "packed in a way that is not read"),
        (zipped({f"{n}": b"" for n in range(5001)}, zipfile.ZIP_STORED), "too many files"),
        (gzip.compress(bytes(40_000_000)), "Unpacked, the file is more than"),
        (zipped({"a.csv": bytes(40_000_000)}), "Unpacked, the file is more than"),
    ],
    ids=range(10),
)
def test_a_packed_file_that_is_no_log_is_refused(tmp_path: Path, content: bytes, words: str) -> None:
    (tmp_path / "a.any").write_bytes(content)
    assert words in refused(tmp_path / "a.any")


def test_a_locked_zip_is_refused(tmp_path: Path) -> None:
    content = bytearray(zipped({"a.csv": b"t,ax\n1,2\n" * 50}))
    for mark, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        content[content.index(mark) + place] |= 1
    (tmp_path / "a.zip").write_bytes(content)
    assert "locked with a password" in refused(tmp_path / "a.zip")


# Several sensors in one file.


@pytest.mark.parametrize("name", ["3", "left foot"])
def test_rows_of_one_sensor_among_several(tmp_path: Path, name: str) -> None:
    path = write_csv(tmp_path / "a.csv", ROWS)
    names, *lines = path.read_text().split()
    path.write_text("\n".join([f"sensor,{names}", *(f"{name},{line}\n7,{line[:-1]}" for line in lines)]))
    equals = int(name) if name.isdigit() else name
    same(read(path, rows={"column": "sensor", "equals": equals})[0])
    assert f"No row has '4' in the column 'sensor'; it holds '{name}', '7'" in refused(
        path, rows={"column": "sensor", "equals": 4}
    )
    table = pa.table({"sensor": [3.0, 7.0] * len(ROWS)} | dict(zip(HEADER, np.repeat(ROWS, 2, axis=0).T, strict=True)))
    pq.write_table(table, tmp_path / "a.parquet")
    same(read(tmp_path / "a.parquet", rows={"column": "sensor", "equals": 3})[0])


# Columns without names, and columns parted by spaces.


def test_columns_without_names_are_called_by_their_places(tmp_path: Path) -> None:
    path = write_csv(tmp_path / "a.csv", ROWS)
    path.write_text("made up\n" + path.read_text().split("\n", 1)[1])
    columns = {"time": 1, "acceleration": [2, 3, 4], "angular_velocity": [5, 6, 7]}
    same(read(path, columns=columns, header=False, skip_rows=1)[0])
    columns["angular_velocity"] = [5, 6, 8]
    assert "no column '8': its first line has 7" in refused(path, columns=columns, header=False, skip_rows=1)
    assert "'header: false'" in refused(write_csv(path, ROWS, header=["1"] * 7))


def test_columns_parted_by_any_number_of_spaces(tmp_path: Path) -> None:
    lines = ["  ".join(HEADER) + " ", *("   " + "   \t ".join(f"{v:12.7f}" for v in row) + "  " for row in ROWS)]
    for end in ("\n", "\r\n", "\r"):
        (tmp_path / "a.txt").write_bytes((end.join(lines) + end).encode())
        same(read(tmp_path / "a.txt", delimiter="spaces")[0])


def test_utf16_without_its_mark(tmp_path: Path) -> None:
    path = write_csv(tmp_path / "a.csv", ROWS)
    text = path.read_text()
    for encoding in ("utf-16-le", "utf-16-be"):
        path.write_bytes(text.encode(encoding))
        same(read(path)[0])


# Profiles that cannot be.


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"counter": {"column": "n"}}, "Both a time and a counter are given"),
        ({"columns": UNTIMED, "units": TIMELESS, "counter": {"column": "n"}}, "Nothing tells how fast"),
        ({"units": TIMELESS}, "The unit of time is missing"),
        ({"columns": UNTIMED, "units": TIMELESS, "counter": {"column": "n", "wrap_at": 9}}, "Did you mean 'wraps_at'?"),
        ({"counter": {"column": "n", "wraps_at": 1}}, "'1' says nothing of where the counter begins anew"),
        ({"scale": {"acceleration": 0}}, "must be over 0"),
        ({"scale": {"accelaration": 1}}, "Did you mean 'acceleration'?"),
        ({"rows": {"column": "s", "equals": []}}, "cannot be what stands in a cell"),
        ({"rows": {"column": "s", "equal": 1}}, "Did you mean 'equals'?"),
        ({"header": False}, "columns have no names"),
        ({"rows": {"column": "gx", "equals": 1}}, "'gx' is named for two things"),
        ({"delimiter": "\n"}, "Line ends and quotes cannot part"),
    ],
)
def test_a_profile_that_cannot_be_is_refused(change: dict[str, Any], words: str) -> None:
    with pytest.raises(ValidationError) as caught:
        LoggerProfile.model_validate(PROFILE | change)
    assert words in " ".join(str(problem) for problem in problems_of(caught.value, LoggerProfile))
