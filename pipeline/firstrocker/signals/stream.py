"""Logs too long to be held, read in parts: how long one is, and its rows one part after the other."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO, Any

import numpy as np

from firstrocker.errors import LogError
from firstrocker.model import Finding, FloatArray, Log, Segment, Side, WalkInfo
from firstrocker.signals.blocks import BLOCK, line_blocks
from firstrocker.signals.columns import archive_of
from firstrocker.signals.counter import rounds_of, states_in
from firstrocker.signals.encoded import as_utf8
from firstrocker.signals.packed import opened, packing_of
from firstrocker.signals.profiles import LoggerProfile
from firstrocker.signals.readers import layout_of, wanted_of
from firstrocker.signals.restarts import Rows, unrolled
from firstrocker.signals.samples import PLAUSIBLE_RATE_HZ, make_log
from firstrocker.signals.table import Table, Wanted
from firstrocker.signals.units import SECONDS

PART_ROWS = 1 << 16
"""Rows of a Parquet file that are read at a time: eleven minutes at 100 Hz."""
LEAST_ROW = 14
"""Bytes of text that a row of seven numbers takes at least."""
_HEAD = 1 << 18


@dataclass(frozen=True)
class LongLog:
    """One sensor's log that is not to be held. source: how to name the file."""

    path: Path
    profile: LoggerProfile
    segment: Segment
    side: Side
    source: str


def lasts_longer(log: LongLog, than_s: float) -> bool:
    """Whether a log spans more than so many seconds, judged by its size and its first rows.

    A log that cannot be judged is said not to: whoever reads it whole says what is wrong with it.
    """
    try:
        size = log.path.stat().st_size if log.path.exists() else 0
        least = than_s * PLAUSIBLE_RATE_HZ[0]
        packed = _packing(log)
        if size * (50 if packed else 1) < least * (1 if _is_parquet(log.path) else LEAST_ROW):
            return False
        rows, step = _extent(log)
    except (LogError, OSError, ValueError, StopIteration):
        return False
    return rows * step > than_s


def rows_of(log: LongLog, *, block: int = BLOCK, part_rows: int = PART_ROWS) -> Iterator[Rows]:
    """A log's rows in parts, on its own clock in s, which goes on where the logger began anew.

    Args:
        log: where it lies and how it reads.
        block: bytes of text that are read at a time.
        part_rows: rows of Parquet.

    Raises:
        LogError: as of :func:`firstrocker.signals.readers.read_log`, and whenever it shows.
    """
    profile = log.profile
    names = [*profile.columns.acceleration, *profile.columns.angular_velocity]
    scales = np.repeat([profile.scale.acceleration, profile.scale.angular_velocity], 3)

    def parts() -> Iterator[tuple[FloatArray, FloatArray]]:
        tables = tables_of(log, wanted_of(profile), block=block, part_rows=part_rows)
        for time, table in _timed(tables, log):
            yield time, np.column_stack([table.numbers[name] for name in names]) * scales

    return unrolled(parts(), where=log.source)


def log_of(log: LongLog, rows: Rows) -> tuple[Log, tuple[Finding, ...]]:
    """Some rows of a log as a log by itself, in SI units; arguments and errors as of ``make_log``."""
    profile = log.profile
    return make_log(
        rows.time,
        list(rows.values.T[:3]),
        list(rows.values.T[3:]),
        time_unit="s",
        acceleration_unit=profile.units.acceleration,
        angular_velocity_unit=profile.units.angular_velocity,
        sampling_rate_hz=profile.sampling_rate_hz,
        segment=log.segment,
        side=log.side,
        mounting=profile.mounting,
        where=log.source,
        counted=profile.counter is not None,
    )


def tables_of(log: LongLog, wanted: Wanted, *, block: int = BLOCK, part_rows: int = PART_ROWS) -> Iterator[Table]:
    """The named columns of a log's file in parts, in the file's own units.

    Raises:
        LogError: missing, damaged, not a table, or without the columns.
    """
    wanted = replace(wanted, part=True)
    try:
        if _is_parquet(log.path):
            from firstrocker.signals.parquet import parquet_parts

            yield from parquet_parts(log.path, wanted=wanted, rows=part_rows, where=log.source)
            return
        from firstrocker.signals.text import header_place, parted, read_text

        layout, header = layout_of(log.profile), b""
        for text in _blocks(log, block):
            if not header:
                yield read_text(text, wanted=wanted, layout=layout, where=log.source)
                body, _ = parted(as_utf8(text, where=log.source), layout)
                begin, end = header_place(body, layout, where=log.source)
                header = body[begin:end] + b"\n" if layout.header else b"\n"
                layout = replace(layout, skip_rows=0, skip_below=0)
            elif text.strip():
                yield read_text(header + text, wanted=wanted, layout=layout, where=log.source)
    except OSError as error:
        reason = (error.strerror or "it ended too soon").lower()
        raise LogError(f"The file cannot be read: {reason}.", where=log.source, remedy="Allow reading it.") from None


def _is_parquet(path: Path) -> bool:
    if not path.is_file():
        return False
    with path.open("rb") as stream:
        return stream.read(4) == b"PAR1"


def _packing(log: LongLog) -> str:
    path, _ = archive_of(log.path)
    if not path.is_file():
        return ""
    with path.open("rb") as stream:
        return packing_of(stream.read(8))


def _blocks(log: LongLog, block: int) -> Iterator[bytes]:
    path, member = archive_of(log.path)
    with ExitStack() as stack:
        raw: IO[bytes] = stack.enter_context(path.open("rb"))
        packing = packing_of(raw.read(8))
        raw.seek(0)
        stream: Any = raw
        packed_size: int | None = None
        if packing:
            given = opened(raw, packing=packing, member=member, size=path.stat().st_size, where=log.source)
            stream, packed_size = stack.enter_context(given)
        yield from line_blocks(stream, packed_size=packed_size, where=log.source, block=block)


def _timed(tables: Iterator[Table], log: LongLog) -> Iterator[tuple[FloatArray, Table]]:
    """Each part with its times in s."""
    profile = log.profile
    if profile.counter is not None:
        column = profile.counter.column
        per_second = profile.counter.per_second or profile.sampling_rate_hz or 1.0
        states = _states(log)
        last = np.nan
        for table in tables:
            counts = rounds_of(table.numbers[column], last, states=states, per_second=per_second)
            last = _last(counts, last)
            yield counts / per_second, table
        return
    clock, done = profile.time_column, 0
    unit = SECONDS.get(profile.units.time or "s", 1.0)
    for table in tables:
        if clock is None:
            count = len(next(iter(table.numbers.values())))
            yield (done + np.arange(count)) / (profile.sampling_rate_hz or 1.0), table
            done += count
        else:
            yield (table.stamps[clock] if clock in table.stamps else table.numbers[clock]) * unit, table


def _states(log: LongLog) -> int | None:
    """How many states the counter has; None where it never begins anew but with the logger itself."""
    counter = log.profile.counter
    if counter is None or counter.wraps_at == "never":
        return None
    if isinstance(counter.wraps_at, int):
        return counter.wraps_at
    wanted = Wanted([counter.column], rows=wanted_of(log.profile).rows)
    parts = (table.numbers[counter.column] for table in tables_of(log, wanted))
    return states_in(parts, where=log.source)


def _last(values: FloatArray, before: float) -> float:
    fine = values[np.isfinite(values)]
    return float(fine[-1]) if len(fine) else before


def _extent(log: LongLog) -> tuple[float, float]:
    """About how many rows a log has, and the usual step between two in s."""
    if _is_parquet(log.path):
        from firstrocker.signals.parquet import parquet_rows

        rows = float(parquet_rows(log.path, where=log.source))
        first = next(iter(tables_of(log, wanted_of(log.profile), part_rows=2000)))
        kept = len(next(iter(first.numbers.values()))) / max(min(rows, 2000.0), 1.0)
        return rows * kept, _step(first, log)
    first_text = next(iter(_blocks(log, _HEAD)))
    from firstrocker.signals.text import read_text

    wanted = replace(wanted_of(log.profile), part=True)
    first = read_text(first_text, wanted=wanted, layout=layout_of(log.profile), where=log.source)
    rows = len(next(iter(first.numbers.values()))) * _size(log) / len(first_text)
    return rows, _step(first, log)


def _size(log: LongLog) -> float:
    """Bytes of a text, unpacked; about, where it is packed."""
    path, member = archive_of(log.path)
    packing, size = _packing(log), path.stat().st_size
    if not packing:
        return float(size)
    with path.open("rb") as raw, opened(raw, packing=packing, member=member, size=size, where=log.source) as given:
        stream, packed_size = given
        start = raw.tell() if packing == "gzip" else 0
        out = 0
        while out < 8 * _HEAD and (piece := stream.read(_HEAD)):
            out += len(piece)
        used = max(raw.tell() - start, 1) if packing == "gzip" else 0
    return out * size / used if packing == "gzip" else float(getattr(stream, "_orig_file_size", 0) or packed_size * 5)


def _step(table: Table, log: LongLog) -> float:
    profile = log.profile
    if profile.counter is None and profile.time_column is None:
        return 1.0 / (profile.sampling_rate_hz or 100.0)
    time = next(_timed(iter([table]), _unwrapped(log)))[0]
    steps = np.diff(time[np.isfinite(time)])
    steps = steps[steps > 0]
    return float(np.median(steps)) if len(steps) else 0.0


def _unwrapped(log: LongLog) -> LongLog:
    """The log with a counter that is not searched for its end."""
    counter = log.profile.counter
    if counter is None:
        return log
    profile = log.profile.model_copy(update={"counter": counter.model_copy(update={"wraps_at": "never"})})
    return replace(log, profile=profile)


def head_of(log: LongLog, seconds: float = 60.0) -> Log:
    """The first minute of a log, so that a wrong unit or column is told before all of it is read.

    Raises:
        LogError, SignalError: as reading it whole would.
    """
    times: list[FloatArray] = []
    values: list[FloatArray] = []
    for rows in rows_of(log, block=_HEAD, part_rows=2000):
        times.append(rows.time)
        values.append(rows.values)
        if len(rows.time) and (rows.time[-1] - times[0][0] > seconds or sum(map(len, times)) > 100_000):
            break
    if not times:
        raise LogError("The file has not one usable row.", where=log.source, remedy="Check that it was saved.")
    return log_of(log, Rows(np.concatenate(times), np.concatenate(values)))[0]


@dataclass(frozen=True)
class LongWalk:
    """A walk of which a foot log is too long to be held; all its logs are read in parts."""

    info: WalkInfo
    logs: tuple[LongLog, ...]
    findings: tuple[Finding, ...] = ()
