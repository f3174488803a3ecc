"""Logs from files: every layout a profile can describe, and plain words for every file that cannot be one."""

from __future__ import annotations

import gzip
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from firstrocker.errors import FirstrockerError, LogError, SignalError
from firstrocker.model import Finding, FloatArray, Log
from firstrocker.signals.profiles import LoggerProfile, load_profile
from firstrocker.signals.readers import read_log
from signals.made import HEADER, LOGGERS, PROFILE, foot_log, rows_of, write_csv


def read(path: Path, **change: Any) -> tuple[Log, tuple[Finding, ...]]:
    profile = LoggerProfile.model_validate(PROFILE | change)
    return read_log(path, profile=profile, segment="foot", side="left", where=path.name)


def units(**change: str) -> dict[str, str]:
    said: dict[str, str] = PROFILE["units"]
    return said | change


@pytest.fixture(scope="module")
def rows() -> FloatArray:
    return rows_of(foot_log(stop_s=8.0))


def refused(path: Path, **change: Any) -> str:
    with pytest.raises(FirstrockerError) as caught:
        read(path, **change)
    assert isinstance(caught.value, LogError | SignalError)
    assert caught.value.where == path.name
    assert caught.value.remedy.endswith(".")
    return f"{caught.value.what} {caught.value.remedy}"


def same(log: Log, rows: FloatArray, tolerance: float = 1e-6) -> None:
    np.testing.assert_allclose(log.time, rows[:, 0], atol=tolerance)
    np.testing.assert_allclose(log.acceleration, rows[:, 1:4], atol=tolerance * 100)
    np.testing.assert_allclose(log.angular_velocity, rows[:, 4:], atol=tolerance * 10)


def test_plain_text(tmp_path: Path, rows: FloatArray) -> None:
    log, findings = read(write_csv(tmp_path / "a.csv", rows))
    same(log, rows)
    assert findings == ()
    assert (log.segment, log.side, log.source, log.mounting) == ("foot", "left", "a.csv", None)


def test_parquet_and_its_own_stamps(tmp_path: Path, rows: FloatArray) -> None:
    table = pa.table(dict(zip(HEADER, rows.T, strict=True)))
    pq.write_table(table, tmp_path / "a.anything")
    same(read(tmp_path / "a.anything")[0], rows, 1e-12)
    stamps = pa.array((1_772_000_000_000_000_000 + rows[:, 0] * 1e9).astype(np.int64), pa.timestamp("ns"))
    pq.write_table(table.set_column(0, "t", stamps), tmp_path / "b.parquet")
    log, _ = read(tmp_path / "b.parquet", units=units(time="iso8601"))
    np.testing.assert_allclose(log.time - 1_772_000_000, rows[:, 0], atol=1e-6)


def test_the_three_examples_read_what_their_comments_show(tmp_path: Path, rows: FloatArray) -> None:
    n = len(rows)
    milli = rows / np.array([1e-3, *[9.80665] * 3, *[np.pi / 180] * 3])
    path = write_csv(tmp_path / "a.csv", milli)
    log, _ = read_log(
        path, profile=load_profile(LOGGERS / "example_milliseconds_g_deg.yaml"), segment="foot", side="left", where="a"
    )
    same(log, rows)
    stamp = np.datetime64("2026-03-02T10:15:30") + (rows[:, 0] * 1e9).astype("timedelta64[ns]")
    cells = [
        f"{s};".replace(".", ",") + ";".join(f"{v:.6f}" for v in r).replace(".", ",")
        for s, r in zip(stamp, rows[:, 1:], strict=True)
    ]
    text = "# recorded by nobody\nwhen;fx;fy;fz;wx;wy;wz\n" + "\n".join(cells) + "\n"
    (tmp_path / "b.csv").write_text(text)
    profile = load_profile(LOGGERS / "example_semicolon_si.yaml")
    log, _ = read_log(tmp_path / "b.csv", profile=profile, segment="foot", side="left", where="b")
    same(
        Log("foot", "left", log.time - log.time[0], log.acceleration, log.angular_velocity),
        rows - rows[0] * ([1] + [0] * 6),
        1e-5,
    )
    assert log.mounting is not None
    np.testing.assert_array_equal(log.mounting @ [0.0, 1.0, 0.0], [1.0, 0.0, 0.0])
    names = ["acc_1", "acc_2", "acc_3", "gyr_1", "gyr_2", "gyr_3"]
    path = write_csv(tmp_path / "c.txt", milli[:, 1:] * ([1000] * 3 + [1] * 3), header=names, delimiter="\t")
    path.write_text("one\ntwo\n" + path.read_text())
    profile = load_profile(LOGGERS / "example_no_times.yaml")
    log, _ = read_log(path, profile=profile, segment="foot", side="left", where="c")
    np.testing.assert_allclose(log.time, np.arange(n) / 200.0)
    np.testing.assert_allclose(log.acceleration, rows[:, 1:4], atol=1e-4)


@pytest.mark.parametrize(
    "change",
    [
        pytest.param(lambda text: "\ufeff" + text, id="byte order mark"),
        pytest.param(lambda text: text.replace("\n", "\r\n"), id="Windows line ends"),
        pytest.param(lambda text: text.replace(",", " , "), id="spaces around values"),
        pytest.param(lambda text: text.rstrip("\n"), id="no last line end"),
        pytest.param(lambda text: text.replace("\n", "\n\n", 1), id="an empty line"),
        pytest.param(lambda text: text.replace("\n", ",\n").replace("gz,", "gz", 1), id="one more delimiter in rows"),
    ],
)
def test_harmless_oddities_of_text(tmp_path: Path, rows: FloatArray, change: Any) -> None:
    path = write_csv(tmp_path / "a.csv", rows)
    path.write_bytes(change(path.read_text()).encode())
    log, findings = read(path)
    same(log, rows)
    assert findings == ()


def test_columns_that_nobody_asks_for_may_hold_anything(tmp_path: Path, rows: FloatArray) -> None:
    path = write_csv(tmp_path / "a.csv", rows)
    names, *lines = path.read_text().split()
    path.write_text("\n".join([f"note,{names},note,", *(f"abc,{line},d e,-" for line in lines)]))
    log, findings = read(path)
    same(log, rows)
    assert findings == ()


def test_utf16_and_latin1_headers(tmp_path: Path, rows: FloatArray) -> None:
    path = write_csv(tmp_path / "a.csv", rows)
    text = path.read_text()
    path.write_bytes(text.encode("utf-16"))
    same(read(path)[0], rows)
    path.write_bytes(text.replace("ax", "ax m/s²").encode("latin-1"))
    columns = PROFILE["columns"] | {"acceleration": ["ax m/s²", "ay", "az"]}
    same(read(path, columns=columns)[0], rows)


def test_text_times_with_a_zone(tmp_path: Path, rows: FloatArray) -> None:
    path = write_csv(tmp_path / "a.csv", rows)
    lines = path.read_text().strip().split("\n")
    for zone in ("Z", "+02:00", ""):
        stamped = [lines[0]]
        for n, line in enumerate(lines[1:]):
            stamped.append(f"2026-03-02 10:15:{30 + n // 100:02d}.{n % 100 * 10:03d}{zone}" + line[line.index(",") :])
        path.write_text("\n".join(stamped[:700]))
        log, _ = read(path, units=units(time="iso8601"))
        np.testing.assert_allclose(np.diff(log.time), 0.01, atol=1e-6)


# Files that are no logs.


def written(path: Path, content: str | bytes) -> Path:
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "The file is empty"),
        (b"  \n\n", "The file is empty"),
        (b"t,ax,ay,az,gx,gy,gz\n", "not one usable row"),
        (b"t,ax,ay,az,gx,gy,gz", "not one usable row"),
        (bytes(range(256)) * 400, "not text but some binary form"),
        (b"t,ax\0,ay\0\n", "not text but some binary form"),
        (gzip.compress(b"t,ax,ay,az,gx,gy,gz\n", mtime=0), "not one usable row"),
        (b"PK\x03\x04rest", "packed file (zip) is damaged"),
        (b"7z\xbc\xaf\x27\x1c", "packed (7z). Unpack it"),
        (b"PAR1 but not really", "Parquet file is damaged or was cut off"),
        (b"x" * 2_000_000, "first line is longer than a million signs"),
        (b"t,ax,ay,az,gx,gy,gz\n" + b"1" * 20_000_000, "A line is far too long"),
    ],
)
def test_a_file_that_is_no_table_is_refused(tmp_path: Path, content: bytes, words: str) -> None:
    assert words in refused(written(tmp_path / "a.csv", content))


def test_a_missing_file_a_folder_and_one_without_permission(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert "The file is missing" in refused(tmp_path / "a.csv")
    (tmp_path / "b.csv").mkdir()
    assert "This is no file" in refused(tmp_path / "b.csv")


def test_a_cut_off_parquet_is_refused(tmp_path: Path, rows: FloatArray) -> None:
    pq.write_table(pa.table(dict(zip(HEADER, rows.T, strict=True))), tmp_path / "a.parquet")
    whole = (tmp_path / "a.parquet").read_bytes()
    (tmp_path / "a.parquet").write_bytes(whole[: len(whole) // 2])
    assert "damaged or was cut off" in refused(tmp_path / "a.parquet")


def test_parquet_columns_of_another_kind(tmp_path: Path, rows: FloatArray) -> None:
    table = pa.table(dict(zip(HEADER, rows.T, strict=True)))
    pq.write_table(table.set_column(1, "ax", pa.array(["x"] * len(rows))), tmp_path / "a.parquet")
    assert "'ax' does not hold numbers" in refused(tmp_path / "a.parquet")
    pq.write_table(table, tmp_path / "b.parquet")
    assert "'t' holds numbers, not ISO 8601" in refused(tmp_path / "b.parquet", units=units(time="iso8601"))


# Tables that do not fit the profile.


def test_a_missing_column_is_told_with_those_there_are(tmp_path: Path, rows: FloatArray) -> None:
    path = write_csv(tmp_path / "a.csv", rows, header=["t", "acc_x", "ay", "az", "gx", "gy", "gz"])
    told = refused(path)
    assert "no column 'ax'. Its columns are: 't', 'acc_x', 'ay'" in told
    columns = PROFILE["columns"] | {"acceleration": ["acc_X", "ay", "az"]}
    assert "Did you mean 'acc_x'?" in refused(path, columns=columns)


def test_a_wrong_delimiter_is_told_with_the_likely_one(tmp_path: Path, rows: FloatArray) -> None:
    path = write_csv(tmp_path / "a.csv", rows, delimiter=";")
    assert "looks parted by a semicolon" in refused(path)
    assert "looks parted by a comma" in refused(write_csv(path, rows), delimiter=";")


def test_a_header_of_numbers_is_told(tmp_path: Path, rows: FloatArray) -> None:
    path = write_csv(tmp_path / "a.csv", rows)
    path.write_text(path.read_text().split("\n", 1)[1])
    assert "first line holds numbers" in refused(path)
    assert "fewer than the 9000 lines" in refused(path, skip_rows=9000)


def test_two_columns_of_one_name_are_refused_if_asked_for(tmp_path: Path, rows: FloatArray) -> None:
    path = write_csv(tmp_path / "a.csv", rows, header=["t", "ax", "ax", "az", "gx", "gy", "gz"])
    assert "2 columns called 'ax'" in refused(path)
    path = write_csv(tmp_path / "a.csv", np.column_stack([rows, rows]), header=[*HEADER, *["other"] * 7])
    same(read(path)[0], rows)


def test_text_in_a_column_of_numbers(tmp_path: Path, rows: FloatArray) -> None:
    path = write_csv(tmp_path / "a.csv", rows)
    lines = path.read_text().strip().split("\n")
    broken = [line if n % 10 else line.replace(",", ",oops", 1) for n, line in enumerate(lines[1:])]
    assert "column 'ax' holds 'oops" in refused(written(path, "\n".join([lines[0], *broken])))
    broken = [line if n != 50 else line.replace(",", ",oops", 1) for n, line in enumerate(lines[1:])]
    log, findings = read(written(path, "\n".join([lines[0], *broken]) + "\n"))
    assert len(log.time) == len(rows) - 1
    assert [f.code for f in findings] == ["cells-not-numbers", "rows-empty"]
    assert "1 row with something that is no number; column 'ax' holds 'oops" in findings[0].message
    assert "in row 51 below the names" in findings[0].message


def test_decimal_commas_are_told(tmp_path: Path, rows: FloatArray) -> None:
    path = write_csv(tmp_path / "a.csv", rows, delimiter=";")
    path.write_text(path.read_text().replace(".", ","))
    same(read(path, delimiter=";", decimal=",")[0], rows)
    assert "set 'decimal' to ','" in refused(path, delimiter=";")


def test_a_few_broken_rows_are_left_out_and_told(tmp_path: Path, rows: FloatArray) -> None:
    path = write_csv(tmp_path / "a.csv", rows)
    lines = path.read_text().strip().split("\n")
    lines[100] = "1,2,3"
    lines[200] = lines[200].replace(",", ",?,", 1)
    lines[-1] = lines[-1][:12]
    log, findings = read(written(path, "\n".join(lines)))
    assert len(log.time) == len(rows) - 3
    assert [f.code for f in findings] == ["rows-broken"]
    assert "3 rows" in findings[0].message
    told = refused(written(path, "\n".join([lines[0], *[line + ",9" * (n % 2) for n, line in enumerate(lines[1:])]])))
    assert "another number of columns" in told


def test_empty_cells_and_not_a_numbers_count_as_lost(tmp_path: Path, rows: FloatArray) -> None:
    holes = rows.copy()
    holes[100:103, 2] = np.nan
    holes[300, 0] = np.nan
    holes[400, 5] = np.inf
    path = write_csv(tmp_path / "a.csv", holes)
    log, findings = read(path)
    assert len(log.time) == len(rows) - 5
    assert "rows-empty" in [f.code for f in findings]
    assert np.isfinite(log.acceleration).all()
    path.write_text(path.read_text().replace("nan", ""))
    assert len(read(path)[0].time) == len(rows) - 5
    nothing = rows.copy()
    nothing[:, 3] = np.nan
    assert "no rows in which every column holds a number" in refused(write_csv(path, nothing))
