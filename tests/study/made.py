"""Small tables of strides with known numbers in them, for the tests of `study` and `report`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pyarrow as pa

from firstrocker.tables import STRIDES


@dataclass(frozen=True)
class MadeWalk:
    """A walk: ``values`` by column, one per counted stride; ``bouts`` the counted strides of each bout."""

    walk: str
    bouts: tuple[int, ...]
    values: dict[str, Sequence[float | None]]
    condition: str = "braced"
    setting: str | None = None
    resistance: float | None = None
    side: str = "left"
    errors: dict[str, float] = field(default_factory=dict)


def stride_table(walks: Sequence[MadeWalk], *, subject: str = "P01", session: str = "1", ends: bool = True) -> pa.Table:
    """Rows of STRIDES; with ``ends`` every bout also has a first and a last stride that do not count (value 1e6)."""
    rows: list[dict[str, Any]] = []
    for walk in walks:
        at = 0
        number = 0
        base = {
            "subject": subject,
            "session": session,
            "walk": walk.walk,
            "condition": walk.condition,
            "setting": walk.setting,
            "resistance": walk.resistance,
            "side": walk.side,
        }
        for bout, size in enumerate(walk.bouts):
            reasons = (["first"] if ends else []) + [""] * size + (["last"] if ends else [])
            for reason in reasons:
                row = base | {"bout": bout, "stride": number, "steady": reason == "", "left_out": reason}
                for column, values in walk.values.items():
                    row[column] = values[at] if reason == "" else 1e6
                    if column in walk.errors and row[column] is not None:
                        row[f"{column}_se"] = walk.errors[column]
                rows.append(row)
                number += 1
                at += reason == ""
    return pa.Table.from_pylist(rows, schema=STRIDES)


def drawn(
    rng: np.random.Generator, bouts: Sequence[int], *, mean: float, sd: float, rho: float = 0.0, share: float = 0.0
) -> list[float]:
    """Strides about a mean: correlation rho from one to the next, ``share`` of the variance between bouts."""
    values: list[float] = []
    for size in bouts:
        common = np.sqrt(share) * rng.standard_normal()
        own = rng.standard_normal()
        for place in range(size):
            if place:
                own = rho * own + np.sqrt(1 - rho**2) * rng.standard_normal()
            values.append(float(mean + sd * (common + np.sqrt(1 - share) * own)))
    return values


def row_of(table: pa.Table, **keys: object) -> dict[str, Any]:
    """The one row with those values."""
    found = [row for row in table.to_pylist() if all(row[name] == value for name, value in keys.items())]
    assert len(found) == 1, f"{len(found)} rows with {keys}"
    return dict(found[0])
