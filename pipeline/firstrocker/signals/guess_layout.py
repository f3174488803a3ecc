"""How a delimited text that nobody described is laid out, told from its first lines."""

from __future__ import annotations

import re
from dataclasses import dataclass

from firstrocker.signals.cells import NUMBER
from firstrocker.signals.description import Item, Sure
from firstrocker.signals.noticed import counted
from firstrocker.signals.strict import quoted
from firstrocker.signals.table import SPACES, Layout
from firstrocker.signals.text import cells_of, parted

LOOKED_AT = 300
"""Lines from which the layout is told."""
MOST_SIGNS = 1 << 18
"""Of a line: ten thousand columns of numbers have some 100,000."""
MOST_BYTES = 1 << 21
DELIMITERS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars", SPACES: "spaces"}
STAMP = r"^\s*\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d"
_COMMENTS = ("#", "//", "%", "!", "*")
_LEAST_COLUMNS = 6
_NOTHING = {"", "na", "nan", "null", "none", "n/a", "-"}


@dataclass(frozen=True)
class LayoutGuess:
    """A layout, its columns' names (or places), sample cells by row, lines above the names, and how sure all is."""

    layout: Layout
    names: list[str]
    sample: list[list[str]]
    above: list[str]
    items: tuple[Item, ...]

    def column(self, place: int) -> list[str]:
        """The sample cells of one column."""
        return [row[place] for row in self.sample if place < len(row)]


def guess_layout(head: bytes) -> LayoutGuess | None:
    """The likeliest layout of a text.

    Args:
        head: the text's beginning in UTF-8 or Latin-1, cut at a line's end.

    Returns:
        None where no way of parting the lines gives a table with six columns of numbers or more.
    """
    lines = [line.rstrip(b"\r") for line in head.split(b"\n", 4 * LOOKED_AT)[: 4 * LOOKED_AT]]
    longest = max(len(line) for line in lines)
    if longest > MOST_SIGNS:
        return None
    lines = lines[: max(MOST_BYTES // max(longest, 1), 30)]
    comment = _comment(lines)
    layouts = [
        Layout(delimiter, decimal, comment) for delimiter in DELIMITERS for decimal in ".," if delimiter != decimal
    ]
    scored = sorted(
        ((_score(lines, layout), -n, layout) for n, layout in enumerate(layouts)), key=lambda s: s[:2], reverse=True
    )
    (columns, share), _, layout = scored[0]
    if columns < _LEAST_COLUMNS or share < 0.5:
        return None
    rivals = [other for (n, part), _, other in scored[1:] if n >= _LEAST_COLUMNS and part > 0.9 and n > 0.8 * columns]
    return _with_header(lines, layout, rivals)


def is_number(cell: str, decimal: str) -> bool:
    """Whether a cell reads as a number."""
    cell = cell.strip().strip('"')
    if decimal != ".":
        cell = cell.replace(".", "?").replace(decimal, ".")
    return re.match(NUMBER, cell) is not None


def _comment(lines: list[bytes]) -> str | None:
    """The sign of comments, where such lines stand among the rows too."""
    for sign in _COMMENTS:
        marked = [n for n, line in enumerate(lines) if line.lstrip().startswith(sign.encode())]
        if marked and len(marked) < 0.5 * len(lines) and marked[-1] - marked[0] >= len(marked) and len(marked) > 1:
            return sign
    return None


def _rows(lines: list[bytes], layout: Layout) -> list[list[str]]:
    body, delimiter = parted(b"\n".join(lines), layout)
    return [cells_of(line, delimiter) if line.strip() else [] for line in body.split(b"\n")]


def _score(lines: list[bytes], layout: Layout) -> tuple[int, float]:
    """How many columns of numbers the layout gives, and in what share of the later lines all fits."""
    rows = [row for row in _rows(lines[len(lines) // 3 :][:LOOKED_AT], layout) if row]
    if not rows:
        return 0, 0.0
    width = _usual(rows)
    fitting = [row for row in rows if len(row) == width]
    numeric = [
        sum(is_number(row[n], layout.decimal) or row[n].lower() in _NOTHING for row in fitting) >= 0.9 * len(fitting)
        and any(is_number(row[n], layout.decimal) for row in fitting)
        for n in range(min(width, 2000))
    ]
    return sum(numeric), len(fitting) / len(rows)


def _usual(rows: list[list[str]]) -> int:
    widths = [len(row) for row in rows]
    return max(set(widths), key=widths.count)


def _with_header(lines: list[bytes], layout: Layout, rivals: list[Layout]) -> LayoutGuess:
    rows = _rows(lines, layout)
    width = _usual([row for row in rows[len(rows) // 3 :] if row])
    first = next(n for n, row in enumerate(rows) if _is_data(row, width, layout.decimal))
    heads = [n for n in range(max(first - 3, 0), first) if len(rows[n]) in (width, width - 1) and any(rows[n])]
    # Right above the first row of numbers: names, or names with a line of units below.
    while heads and heads[-1] != first - 1 and any(rows[heads[-1] + 1 : first]):
        heads.pop()
    names_at = heads[-1] if heads else None
    if len(heads) >= 2 and heads[-2] == heads[-1] - 1 and _distinct(rows[heads[-2]]) and _is_units(rows[heads[-1]]):
        names_at = heads[-2]
    above_rows = lines if layout.comment is None else parted(b"\n".join(lines), layout)[0].split(b"\n")
    above = [line.decode("utf-8", errors="replace") for line in above_rows[: first if names_at is None else names_at]]
    items = _items(layout, rivals, width)
    sample = [row for row in rows[first : first + LOOKED_AT] if row]
    if names_at is None or not _distinct(rows[names_at]):
        skip, places = first, [str(place) for place in range(1, width + 1)]
        why = "Above the first row of numbers stands no line with a name for each column: columns are called by place."
        if names_at is not None:
            why = "Several columns share a name: columns are called by their places instead."
        items += [Item("header", False, "high", why), Item("skip_rows", skip, "high", _skipped(skip))]
        named = Layout(layout.delimiter, layout.decimal, layout.comment, skip, False)
        return LayoutGuess(
            named, places, sample, [*above, " ".join(rows[names_at])] if names_at else above, tuple(items)
        )
    below = first - names_at - 1 if any(rows[names_at + 1 : first]) else 0
    names = rows[names_at]
    sure: Sure = "high" if sum(any(c.isalpha() for c in name) for name in names) > 0.5 * width else "fair"
    shown = ", ".join(quoted(name, limit=15) for name in names[:4])
    items.append(Item("header", True, sure, f"The line above the first row of numbers names the columns: {shown}, ..."))
    items.append(Item("skip_rows", names_at, "high", _skipped(names_at)))
    if below:
        items.append(
            Item("skip_below", below, "high", "Between the names and the first row of numbers stand no numbers.")
        )
    found = Layout(layout.delimiter, layout.decimal, layout.comment, names_at, True, below)
    return LayoutGuess(found, names, sample, [*above, " ".join(names)], tuple(items))


def _skipped(count: int) -> str:
    return f"{counted(count, 'line')} above the table." if count else "The table begins with the first line."


def _is_data(row: list[str], width: int, decimal: str) -> bool:
    numbers = sum(is_number(cell, decimal) for cell in row)
    return len(row) in (width, width + 1) and numbers >= _LEAST_COLUMNS


def _is_units(row: list[str]) -> bool:
    return not any(is_number(cell, ".") for cell in row)


def _distinct(names: list[str]) -> bool:
    given = [name for name in names if name]
    return len(set(given)) == len(given) and len(given) >= _LEAST_COLUMNS


def _items(layout: Layout, rivals: list[Layout], width: int) -> list[Item]:
    others = tuple(dict.fromkeys(_shown(one.delimiter) for one in rivals if one.delimiter != layout.delimiter))
    sharp = not others or layout.delimiter in (",", ";", "\t", "|")
    why = f"At {DELIMITERS[layout.delimiter]} the lines fall into {width} columns each."
    items = [Item("delimiter", _shown(layout.delimiter), "high" if sharp else "fair", why, () if sharp else others)]
    unclear = any(one.delimiter == layout.delimiter for one in rivals)
    about = "Numbers read so in every row." if not unclear else "No number has decimals, so that either sign would do."
    items.append(Item("decimal", layout.decimal, "high", about))
    if layout.comment is not None:
        items.append(Item("comment", layout.comment, "high", "Such lines stand among the rows."))
    return items


def _shown(delimiter: str) -> str:
    return "tab" if delimiter == "\t" else delimiter
