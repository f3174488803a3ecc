"""What was cut out of long logs, kept on the disk until the day is analysed: memory holds a stretch at a time."""

from __future__ import annotations

import tempfile
from types import TracebackType
from typing import Self

import numpy as np

from firstrocker.day.clocks import Sensor
from firstrocker.signals.restarts import Rows


class Spool:
    """Rows by piece and sensor, in a file that is gone when the block ends."""

    def __init__(self) -> None:
        self._file = tempfile.TemporaryFile(prefix="firstrocker-")  # noqa: SIM115 - closed when the block ends
        self._places: dict[tuple[int, Sensor], tuple[int, int]] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._file.close()

    def put(self, piece: int, sensor: Sensor, rows: Rows) -> None:
        """Keep a piece's rows of a sensor."""
        self._places[piece, sensor] = self._file.seek(0, 2), len(rows.time)
        self._file.write(np.column_stack([rows.time, rows.values]).astype(np.float64).tobytes())

    def get(self, piece: int, sensor: Sensor) -> Rows | None:
        """A piece's rows of a sensor, None where it has none."""
        place = self._places.get((piece, sensor))
        if place is None:
            return None
        self._file.seek(place[0])
        table = np.frombuffer(self._file.read(place[1] * 7 * 8), dtype=np.float64).reshape(-1, 7)
        return Rows(table[:, 0].copy(), table[:, 1:].copy())
