"""Stretches cut out of a log that is read in parts; nothing but the open stretches is held."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from firstrocker.signals.restarts import Rows
from firstrocker.signals.samples import MAX_STEP_BACK_S
from firstrocker.signals.screen import Span


def cut(parts: Iterable[Rows], spans: Sequence[Span]) -> Iterator[tuple[int, Rows]]:
    """The rows of each span, as soon as it is past.

    Args:
        parts: of a log.
        spans: on the log's own clock, in any order; they may overlap.

    Yields:
        the span's number and its rows, in the order in which spans end; a span without rows is left out.
    """
    waiting = sorted(range(len(spans)), key=lambda n: spans[n][0])
    begun: dict[int, list[Rows]] = {}
    for rows in parts:
        if not len(rows.time):
            continue
        low, high = float(rows.time.min()), float(rows.time.max())
        while waiting and spans[waiting[0]][0] <= high:
            begun[waiting.pop(0)] = []
        for number, held in begun.items():
            first, stop = spans[number]
            if stop >= low:
                inside = (rows.time >= first) & (rows.time <= stop)
                if inside.any():
                    held.append(Rows(rows.time[inside], rows.values[inside]))
        past = [number for number in begun if spans[number][1] < high - MAX_STEP_BACK_S]
        yield from _joined(begun, sorted(past, key=lambda n: spans[n][1]))
        if not waiting and not begun:
            return
    yield from _joined(begun, sorted(begun, key=lambda n: spans[n][1]))


def _joined(begun: dict[int, list[Rows]], numbers: Sequence[int]) -> Iterator[tuple[int, Rows]]:
    for number in numbers:
        held = begun.pop(number)
        if held:
            yield (
                number,
                Rows(np.concatenate([one.time for one in held]), np.concatenate([one.values for one in held])),
            )
