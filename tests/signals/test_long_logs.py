"""Logs too long to be held, read in parts: the same rows, whatever they are packed in and however they are parted."""

from __future__ import annotations

import gzip
import itertools
import tracemalloc
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstrocker.errors import LogError
from firstrocker.model import FloatArray
from firstrocker.signals.counter import rounds_of, seconds_of, states_in
from firstrocker.signals.digest import digest
from firstrocker.signals.profiles import LoggerProfile
from firstrocker.signals.readers import read_log
from firstrocker.signals.restarts import Rows, unrolled
from firstrocker.signals.stream import LongLog, head_of, lasts_longer, log_of, rows_of

NAMES = ["t", "ax", "ay", "az", "gx", "gy", "gz"]
PROFILE: dict[str, Any] = {
    "columns": {"time": "t", "acceleration": NAMES[1:4], "angular_velocity": NAMES[4:]},
    "units": {"time": "ms", "acceleration": "g", "angular_velocity": "deg/s"},
}
SECONDS = 12.0


def table(seconds: float = SECONDS, seed: int = 1) -> FloatArray:
    rng = np.random.default_rng(seed)
    time = np.arange(round(100 * seconds)) * 10.0
    values = rng.normal(0, 0.3, (len(time), 6)) + np.array([0, 0, 1, 0, 0, 0])
    return np.round(np.column_stack([time, values]), 4)


def as_text(rows: FloatArray, delimiter: str = ",", decimal: str = ".") -> str:
    lines = [delimiter.join(NAMES)]
    lines += [delimiter.join(f"{value:.4f}".replace(".", decimal) for value in row) for row in rows]
    return "\n".join(lines) + "\n"


def write(folder: Path, kind: str, rows: FloatArray) -> LongLog:
    profile = dict(PROFILE)
    path = folder / f"log.{kind}"
    match kind:
        case "csv":
            path.write_text(as_text(rows))
        case "gz":
            path.write_bytes(gzip.compress(as_text(rows).encode()))
        case "utf16":
            path.write_bytes(as_text(rows).encode("utf-16"))
        case "comma":
            path.write_text(as_text(rows, ";", ","))
            profile |= {"delimiter": ";", "decimal": ","}
        case "preamble":
            path.write_text("made by nobody\n# a comment\n" + as_text(rows))
            profile |= {"skip_rows": 1, "comment": "#"}
        case "parquet":
            pq.write_table(pa.table(dict(zip(NAMES, rows.T, strict=True))), path)
    return LongLog(path, LoggerProfile.model_validate(profile), "foot", "left", path.name)


def all_rows(log: LongLog, **sizes: int) -> Rows:
    parts = list(rows_of(log, **sizes))
    return Rows(np.concatenate([p.time for p in parts]), np.concatenate([p.values for p in parts]))


@pytest.mark.parametrize("kind", ["csv", "gz", "utf16", "comma", "preamble", "parquet"])
def test_parts_put_together_are_the_log(tmp_path: Path, kind: str) -> None:
    log = write(tmp_path, kind, table())
    whole, _ = read_log(log.path, profile=log.profile, segment="foot", side="left", where="x")
    for size in (700, 5_001, 1 << 22):
        parted, _ = log_of(log, all_rows(log, block=size, part_rows=max(size // 100, 2)))
        assert np.array_equal(parted.time, whole.time)
        assert np.array_equal(parted.acceleration, whole.acceleration)
        assert np.array_equal(parted.angular_velocity, whole.angular_velocity)


def test_one_sensor_of_several_in_a_file(tmp_path: Path) -> None:
    rows = table()
    lines = ["who," + ",".join(NAMES)]
    for number, row in enumerate(rows):
        lines.append(("left" if number // 300 % 2 else "right") + "," + ",".join(f"{v:.4f}" for v in row))
    path = tmp_path / "both.csv"
    path.write_text("\n".join(lines))
    profile = LoggerProfile.model_validate(PROFILE | {"rows": {"column": "who", "equals": "left"}})
    found = all_rows(LongLog(path, profile, "foot", "left", "both"), block=2_000)
    assert np.allclose(found.time, rows[np.arange(len(rows)) // 300 % 2 == 1, 0] / 1000.0)


def test_cells_that_are_no_numbers_and_a_header_in_the_middle_are_lost_rows(tmp_path: Path) -> None:
    lines = as_text(table()).splitlines()
    lines.insert(700, lines[0])
    lines[300] = lines[300].replace(lines[300].split(",")[3], "oops")
    path = tmp_path / "log.csv"
    path.write_text("\n".join(lines))
    log = LongLog(path, LoggerProfile.model_validate(PROFILE), "foot", "left", "log")
    found = all_rows(log, block=9_000)
    assert np.isnan(found.values).any(axis=1).sum() == 1
    assert len(found.time) == len(table())


def test_a_column_that_is_missing_and_a_file_that_is_cut_off_are_told(tmp_path: Path) -> None:
    log = write(tmp_path, "csv", table())
    wrong = PROFILE | {"columns": PROFILE["columns"] | {"time": "stamp"}}
    with pytest.raises(LogError, match="no column 'stamp'"):
        head_of(LongLog(log.path, LoggerProfile.model_validate(wrong), "foot", "left", "log"))
    packed = write(tmp_path, "gz", table())
    packed.path.write_bytes(packed.path.read_bytes()[:9_000])
    with pytest.raises(LogError, match="damaged or was cut off"):
        all_rows(packed)


@pytest.mark.parametrize("kind", ["csv", "gz", "parquet"])
def test_how_long_a_log_lasts_is_judged_from_its_size(tmp_path: Path, kind: str) -> None:
    log = write(tmp_path, kind, table(150.0))
    assert lasts_longer(log, 100.0)
    assert not lasts_longer(log, 200.0)


@pytest.mark.parametrize("content", [b" " * 300_000, b"\n" * 300_000, b"PAR1" * 80_000, b"x,y\n" * 90_000, b""])
def test_what_cannot_be_judged_is_not_said_to_be_long(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(content)
    for place in (path, tmp_path / "none.csv", tmp_path, Path("nul\0.csv")):
        log = LongLog(place, LoggerProfile.model_validate(PROFILE), "foot", "left", "log")
        assert not lasts_longer(log, 60.0)


def test_counters_are_unrolled_part_by_part() -> None:
    counts = np.mod(np.arange(5_000.0) * 2 + 60_000, 65_536)
    counts = np.delete(counts, [100, 101, 3_000])
    whole, _ = seconds_of(counts, per_second=200.0, wraps_at="found", where="x")
    parts = np.array_split(counts, 17)
    states = states_in(iter(parts), where="x")
    assert states == 65_536
    last, got = np.nan, []
    for part in parts:
        got.append(rounds_of(part, last, states=states, per_second=200.0))
        last = float(got[-1][-1])
    assert np.allclose(np.concatenate(got) / 200.0, whole)


ROWS = 400


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(1, ROWS - 1), max_size=12), st.integers(0, 2**31))
def test_what_a_log_comes_to_does_not_hang_on_its_parts(cuts: list[int], seed: int) -> None:
    """Restarts, damaged times, rows out of order and empty cells included."""
    rng = np.random.default_rng(seed)
    time = np.asarray(np.arange(ROWS) * 0.01)
    time[250:] -= 2.4
    time[120], time[60], time[61] = 1e6, time[61], time[60]
    values = rng.normal(0.0, 1.0, (ROWS, 6))
    values[33, 2] = np.nan
    whole = list(unrolled([(time, values)], where="x"))
    ends = [0, *sorted(set(cuts)), ROWS]
    parts = [(time[a:b], values[a:b]) for a, b in itertools.pairwise(ends)]
    parted = list(unrolled(parts, where="x"))
    for name in ("time", "values"):
        one, other = (np.concatenate([getattr(part, name) for part in given]) for given in (whole, parted))
        assert np.array_equal(one, other, equal_nan=True)
    assert [r for p in whole for r in p.restarts] == [r for p in parted for r in p.restarts] != []
    briefs = [digest(p, acceleration_scale=1.0, angular_velocity_scale=1.0, where="x") for p in (whole, parted)]
    for name in ("samples", "turning", "energy", "gravity", "spread", "turn"):
        assert np.array_equal(getattr(briefs[0], name), getattr(briefs[1], name), equal_nan=True)
    assert briefs[0].dropped == briefs[1].dropped == 1


def test_memory_does_not_grow_with_the_log(tmp_path: Path) -> None:
    """Two hours read in brief hold less than half of their table."""
    rng = np.random.default_rng(3)
    count = 2 * 360_000
    columns = [np.arange(count) * 10.0, *(rng.integers(-900, 900, count) / 1000.0 for _ in range(6))]
    path = tmp_path / "log.parquet"
    pq.write_table(pa.table(dict(zip(NAMES, columns, strict=True))), path, row_group_size=count)
    log = LongLog(path, LoggerProfile.model_validate(PROFILE), "foot", "left", "log")
    size = 7 * 8 * count
    del columns
    before = pa.default_memory_pool().bytes_allocated()
    tracemalloc.start()
    most = 0
    try:

        def watched() -> object:
            nonlocal most
            for rows in rows_of(log, part_rows=1 << 14):
                most = max(most, pa.default_memory_pool().bytes_allocated() - before)
                yield rows

        brief = digest(watched(), acceleration_scale=9.8, angular_velocity_scale=0.017, where="x")  # type: ignore[arg-type]
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert len(brief.spread) == 2 * 3600
    assert peak + most < 0.5 * size
