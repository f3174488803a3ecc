"""Files made to break a reader, and those that did: one plain sentence each, and bounded memory."""

from __future__ import annotations

import gzip
import io
import os
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import yaml

from firstrocker.errors import LogError
from firstrocker.model import Log
from firstrocker.signals.describe import describe
from firstrocker.signals.profiles import LoggerProfile, load_profile
from firstrocker.signals.read import read_session
from firstrocker.signals.readers import read_log
from signals.made import HEADER, PROFILE, foot_log, rows_of, session_content, shank_log, write_csv, write_session

ROWS = rows_of(foot_log(stop_s=6.0))


def read(path: Path, **change: Any) -> Log:
    profile = LoggerProfile.model_validate(PROFILE | change)
    return read_log(path, profile=profile, segment="foot", side="left", where="a.csv")[0]


def refused(path: Path, **change: Any) -> str:
    with pytest.raises(LogError) as caught:
        read(path, **change)
    return str(caught.value)


def plain() -> bytes:
    kept = io.StringIO()
    np.savetxt(kept, ROWS, delimiter=",", header=",".join(HEADER), comments="", fmt="%.6g")
    return kept.getvalue().encode()


# What was found by feeding damaged files.


def test_bytes_that_are_no_utf8_in_a_ragged_row_leave_no_traceback(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    lines = plain().split(b"\n")
    lines[20] = b"\xcd\xff,1,2"
    (tmp_path / "a.csv").write_bytes(b"\n".join(lines))
    assert len(read(tmp_path / "a.csv").time) == len(ROWS) - 1
    assert capfd.readouterr().err == ""


def test_bytes_that_are_no_utf8_in_the_column_that_names_the_sensor(tmp_path: Path) -> None:
    lines = [
        line + (b",unit" if n == 0 else b",3" if n % 9 else b",\xff\xfe\xcd") for n, line in enumerate(plain().split())
    ]
    (tmp_path / "a.csv").write_bytes(b"\n".join(lines))
    assert len(read(tmp_path / "a.csv", rows={"column": "unit", "equals": 3}).time) > 400


def test_parquet_numbers_that_overflow_or_warn_when_touched_count_as_lost(tmp_path: Path) -> None:
    rows = ROWS.copy()
    rows[50, 4], rows[60, 2] = 1e300, -1e155
    rows[70:71, 3] = np.array([0x7FF0000000000001], dtype=np.uint64).view(float)
    pq.write_table(pa.table(dict(zip(HEADER, rows.T, strict=True))), tmp_path / "a.parquet")
    units = PROFILE["units"] | {"acceleration": "g"}
    assert len(read(tmp_path / "a.parquet", units=units).time) == len(ROWS) - 3
    describe(tmp_path / "a.parquet")


def test_times_that_mostly_fall_back_tell_no_rate(tmp_path: Path) -> None:
    rows = ROWS.copy()
    rows[200:, 0] = rows[:-200, 0] - 1e15
    write_csv(tmp_path / "a.csv", rows)
    described = describe(tmp_path / "a.csv")
    assert not described.usable or described.doubtful


# Text.


@pytest.mark.parametrize("seed", range(5))
def test_noise_is_refused(tmp_path: Path, seed: int) -> None:
    rng = np.random.default_rng(seed)
    for size in (1, 10, 1000, 100_000):
        (tmp_path / "a.csv").write_bytes(rng.bytes(size))
        assert refused(tmp_path / "a.csv").startswith("a.csv: ")
        with pytest.raises(LogError):
            describe(tmp_path / "a.csv")


def test_ten_thousand_columns(tmp_path: Path) -> None:
    names = [*HEADER, *(f"c{n}" for n in range(10_000))]
    cells = ",".join(["0"] * 10_000)
    rows = "\n".join(",".join(f"{value:.5g}" for value in row) + f",{cells}" for row in ROWS[:250])
    (tmp_path / "a.csv").write_text(",".join(names) + "\n" + rows)
    assert len(read(tmp_path / "a.csv").time) == 250


@pytest.mark.parametrize(
    "content",
    [
        b"t,ax,ay,az,gx,gy,gz\n" + b"1" * 20_000_000,
        b"1," * 10_000_000,
        b'"' + b"a\n" * 1_000_000,
        b"\n" * 3_000_000,
        b"," * 20_000_000,
    ],
    ids=range(5),
)
def test_endless_lines_are_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "a.csv").write_bytes(content)
    assert len(refused(tmp_path / "a.csv")) < 1000
    with pytest.raises(LogError):
        describe(tmp_path / "a.csv")


def test_names_of_columns_do_no_harm_in_sentences(tmp_path: Path) -> None:
    for name in ("=1+1", "<script>x</script>", "a" * 100_000, "\u202egnp", "x\ty"):
        (tmp_path / "a.csv").write_text(f"{name};b\n1;2\n")
        told = refused(tmp_path / "a.csv", delimiter=";")
        assert len(told) < 700
        assert told.isprintable()


def test_numbers_beyond_all_measure(tmp_path: Path) -> None:
    for cell in ("1e308", "-1e308", "1e400", "inf", "0x10", "1_000", "\u0661"):
        lines = plain().decode().split("\n")
        lines[50] = lines[50].replace(",", f",{cell},", 1).rsplit(",", 1)[0]
        (tmp_path / "a.csv").write_text("\n".join(lines))
        assert np.isfinite(read(tmp_path / "a.csv").acceleration).all()
        for column in ("t", "ax"):
            rows = [
                "0,0,0,0,0,0,0".replace("0", cell, 1) if column == "t" else f"{n / 50},{cell},0,9,1,1,1"
                for n in range(200)
            ]
            (tmp_path / "b.csv").write_text("\n".join([",".join(HEADER), *rows]))
            try:
                read(tmp_path / "b.csv")
            except LogError as error:
                assert len(str(error)) < 600  # noqa: PT017  (either way is right)


# Parquet.


def test_parquet_that_is_cut_or_changed_at_any_place(tmp_path: Path) -> None:
    kept = io.BytesIO()
    pq.write_table(pa.table(dict(zip(HEADER, ROWS.T, strict=True))), kept)
    whole, rng = kept.getvalue(), np.random.default_rng(3)
    for _ in range(150):
        damaged = bytearray(whole[: int(rng.integers(4, len(whole)))] if rng.random() < 0.3 else whole)
        for place in rng.integers(4, len(damaged), size=int(rng.integers(1, 9))):
            damaged[place] = int(rng.integers(256))
        (tmp_path / "a.parquet").write_bytes(damaged)
        for attempt in (read, describe):
            try:
                attempt(tmp_path / "a.parquet")
            except LogError as error:
                assert str(error).endswith((".", "?"))  # noqa: PT017
            except Exception as error:
                if getattr(error, "code", "") != "wrong-unit":
                    raise


@pytest.mark.parametrize("kind", ["nested", "twice", "dictionary"])
def test_parquet_columns_that_are_no_plain_numbers(tmp_path: Path, kind: str) -> None:
    columns: dict[str, Any] = dict(zip(HEADER, ROWS.T, strict=True))
    if kind == "nested":
        columns["ax"] = [{"x": value} for value in ROWS[:, 1]]
    if kind == "dictionary":
        columns["t"] = pa.DictionaryArray.from_arrays(np.zeros(len(ROWS), int), pa.array(["x" * 10_000_000]))
    names = [*columns, *(["ax"] if kind == "twice" else [])]
    table = pa.Table.from_arrays([pa.array(columns[name]) for name in names], names)
    pq.write_table(table, tmp_path / "a.parquet")
    told = refused(
        tmp_path / "a.parquet", units=PROFILE["units"] | {"time": "iso8601" if kind == "dictionary" else "s"}
    )
    assert "not one plain column" in told or "holds long texts" in told


# Profiles.


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a: &a [x, x]\nb: &b [*a, *a]\nc: [*b, *b]\n", "alias"),
        ("a: &a\n  b: *a\n", "alias"),
        ("{" * 10_000, "nested too deeply"),
        ("columns: " + "x" * 300_000, "larger than 256 kB"),
        ("? [a, b]\n: c\n", "not a word"),
        ("columns: {time: t\n", "not valid YAML"),
        ("\x07", "not valid YAML"),
        ("delimiter: 'tabb'\n", "cannot part two columns"),
        ("axis: unknown\n", "Did you mean 'axes'?"),
        ("columns: {time: t, accelerations: [a, b, c]}\n", "Did you mean 'acceleration'?"),
        ("skip_rows: 99999999999999999999999\n", "is not a number"),
        ("sampling_rate_hz: .inf\n", "is not a number"),
    ],
)
def test_profiles_that_cannot_be_meant(tmp_path: Path, text: str, words: str) -> None:
    (tmp_path / "own.yaml").write_text(text)
    with pytest.raises(LogError) as caught:
        load_profile(tmp_path / "own.yaml")
    assert words in str(caught.value)


# A session keeps what can be read of it.


def test_every_other_walk_is_read_whatever_one_file_is(tmp_path: Path) -> None:
    content = session_content()
    content["walks"][0]["logs"][0]["file"] = "a.zip/foot.csv"
    folder = write_session(tmp_path, yaml.safe_dump(content, sort_keys=False))
    write_csv(folder / "b_foot.csv", ROWS)
    write_csv(folder / "a_shank.csv", rows_of(shank_log(stop_s=6.0)))
    for garbage in (b"", b"\0" * 999, gzip.compress(bytes(30_000_000)), b"PK\x03\x04", b"PAR1", os.urandom(5000)):
        (folder / "a.zip").write_bytes(garbage)
        session = read_session(folder, loggers=tmp_path)
        assert [walk.info.walk for walk in session.walks] == ["b"]
        assert [one.walk for one in session.findings if one.severity == "error"] == ["a"]
    kept = io.BytesIO()
    with zipfile.ZipFile(kept, "w") as archive:
        archive.writestr("foot.csv", (folder / "b_foot.csv").read_bytes().replace(b"9.8", b"9.7"))
    (folder / "a.zip").write_bytes(kept.getvalue())
    assert {walk.info.walk for walk in read_session(folder, loggers=tmp_path).walks} <= {"a", "b"}
