"""A short session of simulated walks as files to hand in, written as a known logger writes them."""

from __future__ import annotations

from functools import cache
from io import StringIO

import numpy as np

from workflow.small_study import sensors

WORN = {
    "label": "20260302",
    "affected_side": "left",
    "worn": "affected",
    "to_toe_mm": "145",
    "above_ground_mm": "75,5",
    "outsole_mm": "",
    "shoe_size": "",
    "shoe_system": "",
    "shank_to_vertical_deg": "",
    "walk1": "a",
    "condition1": "unbraced",
    "label1": "",
    "resistance1": "",
    "unit1": "",
    "walk2": "b",
    "condition2": "braced",
    "label2": "soft",
    "resistance2": "50",
    "unit2": "Shore A",
}
"""The details' form, filled in."""


@cache
def log(gait: str, segment: str, seed: int = 1) -> bytes:
    """A log in ms, g and deg/s, as the example profile of config/loggers reads it."""
    rows = sensors(gait, seed)[segment]
    scaled = np.column_stack([rows[:, :1] * 1000.0, rows[:, 1:4] / 9.80665, np.degrees(rows[:, 4:])])
    text = StringIO()
    np.savetxt(
        text,
        scaled,
        fmt=["%.2f"] + ["%.5f"] * 3 + ["%.3f"] * 3,
        delimiter=",",
        header="t,ax,ay,az,gx,gy,gz",
        comments="",
    )
    return text.getvalue().encode()


def logs(seed: int = 1) -> dict[str, bytes]:
    """Name -> content of the four logs of an unbraced and a braced walk."""
    return {
        f"{walk}_{segment}.csv": log(gait, segment, seed)
        for walk, gait in (("a", "slap"), ("b", "balanced"))
        for segment in ("foot", "shank")
    }


def parts(files: dict[str, bytes], field: str = "any") -> list[tuple[str, tuple[str, bytes]]]:
    """Files as the field of a form takes them."""
    return [(field, (name, content)) for name, content in files.items()]
