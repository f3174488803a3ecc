"""The beginning of an unknown file as columns: of text or Parquet, and of one sensor or of several in turn."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from firstrocker.errors import LogError
from firstrocker.model import FloatArray
from firstrocker.signals.description import Item
from firstrocker.signals.encoded import as_utf8
from firstrocker.signals.guess_layout import STAMP, LayoutGuess, guess_layout, is_number
from firstrocker.signals.guess_names import SENSOR
from firstrocker.signals.strict import quoted
from firstrocker.signals.table import Choice, Layout, Table, Wanted
from firstrocker.signals.text import read_text

HEAD_BYTES = 4 << 20
MOST_ROWS = 20_000
MOST_COLUMNS = 400
MOST_SENSORS = 16
_CALMER = 0.7
"""Rows parted by sensor change from one to the next by less than this share of what they do in file order."""


@dataclass(frozen=True)
class Seen:
    """The beginning of a file: columns of numbers and of stamps, and what was found out of the table itself.

    ``choices`` are columns that may name the sensor, with the things they hold; ``rows`` those that were chosen.
    """

    numbers: dict[str, FloatArray]
    stamps: dict[str, FloatArray]
    items: tuple[Item, ...] = ()
    above: tuple[str, ...] = ()
    header: bool = True
    choices: dict[str, list[str]] = field(default_factory=dict)
    rows: Choice | None = None
    sensor: str = ""
    head: bytes = b""
    layout: Layout | None = None


def seen_in(content: bytes, *, where: str) -> Seen:
    """The beginning of a file.

    Raises:
        LogError: no table with six columns of numbers.
    """
    if content.startswith(b"PAR1"):
        return _seen_in_parquet(content, where)
    text = as_utf8(content, where=where)
    head = text[: _cut(text)]
    guess = guess_layout(head)
    if guess is None:
        raise _no_table(where)
    names, decimal = guess.names, guess.layout.decimal
    numbers: list[str] = []
    stamps: list[str] = []
    for place, name in enumerate(names[:MOST_COLUMNS]):
        cells = [cell for cell in guess.column(place) if cell.strip().lower() not in ("", "nan", "na", "null")]
        if not cells or names.count(name) > 1 or not name:
            continue
        if sum(is_number(cell, decimal) for cell in cells) >= 0.96 * len(cells):
            numbers.append(name)
        elif all(re.match(STAMP, cell) for cell in cells):
            stamps.append(name)
    if len(numbers) < 6:
        raise _no_table(where)
    table = read_text(head, wanted=Wanted(numbers, stamps), layout=guess.layout, where=where)
    seen = Seen(table.numbers, table.stamps, guess.items, tuple(guess.above), guess.layout.header)
    return replace(seen, choices=_choices(guess, stamps), head=head, layout=guess.layout)


def _seen_in_parquet(content: bytes, where: str) -> Seen:
    from firstrocker.signals.parquet import parquet_head

    numbers, stamps, choices = parquet_head(content, rows=MOST_ROWS, most=MOST_COLUMNS, where=where)
    if len(numbers) < 6:
        raise _no_table(where)
    return Seen(numbers, stamps, choices=choices, head=content)


def _cut(text: bytes) -> int:
    """Where to end the look: after so many bytes and rows, at a line's end."""
    if len(text) <= HEAD_BYTES:
        return len(text)
    end = text.rfind(b"\n", 0, HEAD_BYTES)
    if end < 0:
        return HEAD_BYTES
    return end + 1


def _no_table(where: str) -> LogError:
    return LogError(
        "This is no table with six columns of numbers or more.",
        where=where,
        remedy="Export the log as delimited text with a row per sample: time, acceleration and angular velocity.",
    )


def _choices(guess: LayoutGuess, stamps: list[str]) -> dict[str, list[str]]:
    """Columns whose few different cells come by turns: they may name the sensor."""
    found = {}
    for place, name in enumerate(guess.names[:MOST_COLUMNS]):
        cells = [cell.strip() for cell in guess.column(place)]
        values = sorted(set(cells))
        switches = sum(a != b for a, b in pairwise(cells))
        few = name and name not in stamps and 2 <= len(values) <= MOST_SENSORS and switches >= 0.2 * len(cells)
        if few and all(value and cells.count(value) >= 0.5 * len(cells) / len(values) for value in values):
            found[name] = values
    return found


def sensors_in_rows(seen: Seen) -> Iterator[Seen]:
    """One part for each sensor where rows of several take turns, else the whole."""
    for name in sorted(seen.choices, key=lambda one: not re.search(SENSOR, one.lower())):
        parts = {value: _of(seen, Choice(name, value)) for value in seen.choices[name]}
        if all(len(next(iter(p.numbers.values()))) > 1 for p in parts.values()) and _calmer(
            seen, list(parts.values()), name
        ):
            for value, part in parts.items():
                why = (
                    f"The column {quoted(name)} holds {len(parts)} things by turns, and parted so the rows are smooth."
                )
                items = (*seen.items, Item("rows.column", name, "high", why), Item("rows.equals", value, "high", why))
                numbers = {key: values for key, values in part.numbers.items() if key != name}
                yield replace(part, items=items, numbers=numbers, rows=Choice(name, value), sensor=value)
            return
    yield seen


def _of(seen: Seen, rows: Choice) -> Seen:
    wanted = Wanted([name for name in seen.numbers if name != rows.column], list(seen.stamps), rows)
    table: Table
    if seen.layout is None:
        from firstrocker.signals.parquet import read_parquet

        table = read_parquet(seen.head, wanted=wanted, where="")
    else:
        table = read_text(seen.head, wanted=wanted, layout=seen.layout, where="")
    return replace(seen, numbers=table.numbers, stamps=table.stamps)


def _calmer(seen: Seen, parts: list[Seen], name: str) -> bool:
    """Whether rows change less from one to the next once they are parted."""
    ratios = []
    for column, values in seen.numbers.items():
        if column == name:
            continue
        whole = _restlessness(values)
        if whole > 0:
            ratios.append(np.mean([_restlessness(part.numbers[column]) for part in parts]) / whole)
    return bool(ratios) and float(np.median(ratios)) < _CALMER


def _restlessness(values: FloatArray) -> float:
    steps = np.abs(np.diff(values[np.isfinite(values)]))
    return float(steps.mean()) if len(steps) else 0.0
