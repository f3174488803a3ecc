"""A day of some minutes: two invented walks of one person between sitting, tapping and pedalling."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow.parquet as pq

from firstrocker.model import SIDES, FloatArray, Segment, Side
from firstrocker.settings import load_settings
from firstrocker.steps.strides import make_strides
from firstrocker.synth.day import Clock, Day, Faults, Stroll, strolls
from firstrocker.synth.day_logs import write_day
from firstrocker.synth.pastimes import RATE_HZ
from shared_data import ROOT

CLOCKS: dict[tuple[Segment, Side], Clock] = {
    ("foot", "left"): Clock(12.0, 20.0),
    ("shank", "left"): Clock(11.0, -60.0),
    ("foot", "right"): Clock(12.5, 80.0),
    ("shank", "right"): Clock(13.0, -20.0),
}
STARTS = float(CLOCKS["foot", "left"].shows(np.zeros(1))[0])


@cache
def walks() -> list[Stroll]:
    """The two walks."""
    return strolls("slap", seed=50, lengths=(7, 10))


def day_of(*parts: tuple[str, float]) -> Day:
    """A day of these parts, with its truth."""
    at = 0.0
    found: dict[Side, list[FloatArray]] = {side: [] for side in SIDES}
    for what, amount in parts:
        if what == "walk":
            for side in SIDES:
                found[side].append(walks()[int(amount)].strides[side] + at)
            at += len(walks()[int(amount)]) / RATE_HZ
        else:
            at += amount
    return Day(tuple(parts), {side: np.concatenate(found[side]) for side in SIDES}, (), at)


def write(folder: Path, day: Day, faults: Faults, suffix: str = "parquet") -> Path:
    """The session's folder."""
    write_day(folder, day, walks(), faults, seed=9, suffix=suffix)
    return folder


def analysed(folder: Path, out: Path, *, whole_up_to_s: float, **day: float) -> dict[str, Any]:
    """The session's tables, by name, as pandas frames."""
    settings = load_settings({"day": {"whole_up_to_s": whole_up_to_s} | day})
    make_strides(folder, out, settings=settings, loggers=ROOT / "config" / "loggers")
    return {name: pq.read_table(out / f"{name}.parquet").to_pandas() for name in ("strides", "curves", "wear")}


def true_strikes(day: Day, side: Side) -> FloatArray:
    """True heel strikes on the walk's clock."""
    return CLOCKS["foot", "left"].shows(day.strides[side][:, 0]) - STARTS
