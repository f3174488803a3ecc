"""Days at home of invented people, written as results, for the tests of trends and their page."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from firstrocker.files import write_table
from firstrocker.study.day_series import StrideDay
from firstrocker.synth.months import Change, Life, live
from firstrocker.tables import STRIDES, WEAR

FIRST = date(2026, 3, 2)
SHORT = Life(strides=40.0, strides_spread=0.3, missing=0.0, outage=0.0, odd_days=0.0)


def person(days: int, seed: int, *changes: Change) -> tuple[list[StrideDay], dict[int, float | None]]:
    """An invented person with few strides a day and no day without data."""
    lived = live(np.random.default_rng(seed), days, life=SHORT, change=changes[0] if changes else None)
    return lived.days, lived.worn_h


def label(day: int) -> str:
    """The session's label of a day."""
    return f"{FIRST + timedelta(days=day):%Y%m%d}"


def stride_rows(day: StrideDay, keys: Mapping[str, Any]) -> pa.Table:
    """A day's strides in the schema STRIDES."""
    usual = {"walk": "a", "condition": "braced", "setting": "soft", "resistance": 50.0, "side": "left", "left_out": ""}
    usual |= {"toe_clearance_kind": "local_minimum", "steady": True, **keys}
    columns: dict[str, Any] = {name: [usual.get(name)] * day.n for name in STRIDES.names}
    columns |= {name: pa.array(values, from_pandas=True) for name, values in day.values.items()}
    columns |= {"bout": day.bout, "stride": np.arange(day.n)}
    return pa.table([pa.array(columns[field.name], field.type) for field in STRIDES], schema=STRIDES)


def write_day(
    place: Path,
    subject: str,
    session: str,
    parts: Sequence[pa.Table],
    *,
    worn_h: float | None = None,
    status: str = "ok",
    side: str | None = "left",
) -> None:
    """One session below ``place/study`` and ``place/results``; without ``worn_h`` it has no wear.parquet."""
    (place / "study" / f"sub-{subject}" / f"ses-{session}").mkdir(parents=True, exist_ok=True)
    folder = place / "results" / f"sub-{subject}" / f"ses-{session}"
    folder.mkdir(parents=True, exist_ok=True)
    write_table(folder / "strides.parquet", pa.concat_tables([STRIDES.empty_table(), *parts]))
    found = [{"severity": "error", "walk": "a", "message": "No <log>.", "remedy": "Find it."}]
    record = {"affected_side": side, "status": status, "walks": [], "findings": found if status == "rejected" else []}
    (folder / "quality.json").write_text(json.dumps(record), encoding="utf-8")
    if worn_h is not None:
        row: dict[str, Any] = {"subject": subject, "session": session, "walk": "a", "segment": "foot", "side": "left"}
        row |= {"recorded_s": 40_000.0, "worn_s": 3600.0 * worn_h, "walking_s": 600.0}
        write_table(folder / "wear.parquet", pa.Table.from_pylist([row], schema=WEAR))
