"""Pages of made sessions for the tests: the usual one, and every case in which something is lacking."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from firstrocker.model import FloatArray
from firstrocker.report.course import SessionLink, render_course
from firstrocker.report.letter import letter
from firstrocker.report.letter_page import render_letter
from firstrocker.report.page import render
from firstrocker.report.rows import walk_names
from firstrocker.report.said import say
from firstrocker.settings import Settings
from firstrocker.steps.demo import make_demo
from firstrocker.steps.report import make_report
from firstrocker.steps.strides import make_strides
from firstrocker.steps.study import make_study
from firstrocker.study.compare import compare
from firstrocker.study.course import course
from firstrocker.study.summary import summarise
from firstrocker.tables import CURVES
from structure.tree import REPOSITORY
from study.made import MadeWalk, drawn, stride_table

FOOT = {
    "toe_clearance_min_mm": (9.0, 3.0),
    "foot_lowering_rate_deg_s": (330.0, 25.0),
    "loading_time_s": (0.09, 0.01),
    "heel_strike_shock_m_s2": (20.0, 4.0),
    "slap_shock_m_s2": (50.0, 8.0),
}
SHANK = {"slap_rate_deg_s": (290.0, 30.0), "shank_forward_rate_deg_s": (110.0, 12.0), "ankle_share": (0.8, 0.08)}
EVENTS = {
    "heel_strike_s": 0.0,
    "foot_flat_s": 0.09,
    "heel_off_s": 0.5,
    "toe_off_s": 0.72,
    "next_heel_strike_s": 1.15,
}


def made_walk(
    name: str,
    rng: np.random.Generator,
    *,
    condition: str = "braced",
    setting: str | None = None,
    shank: bool = True,
    bouts: tuple[int, ...] = (10, 10),
    **shift: float,
) -> MadeWalk:
    """A walk whose strides are drawn about usual values, shifted by measure."""
    normal = FOOT | SHANK if shank else FOOT
    values = {c: drawn(rng, bouts, mean=mean + shift.get(c, 0.0), sd=sd) for c, (mean, sd) in normal.items()}
    begins = np.cumsum(np.full(sum(bouts), 1.15))
    values |= {event: (begins + after).tolist() for event, after in EVENTS.items()}
    return MadeWalk(name, bouts, dict(values), condition, setting, 50.0 if setting else None)


def usual_walks(seed: int = 1, *, shank: bool = True) -> list[MadeWalk]:
    """Unbraced, soft and firm, with the trade-off between slap and shank driven forward."""
    rng = np.random.default_rng(seed)
    return [
        made_walk("a", rng, condition="unbraced", shank=shank),
        made_walk("b", rng, setting="soft", shank=shank, slap_rate_deg_s=-120.0, toe_clearance_min_mm=9.0),
        made_walk(
            "c",
            rng,
            setting="firm",
            shank=shank,
            slap_rate_deg_s=-200.0,
            shank_forward_rate_deg_s=80.0,
            toe_clearance_min_mm=9.0,
        ),
    ]


def made_curves(strides: pa.Table, *, shank: bool = True, seed: int = 1) -> pa.Table:
    """Curves of an invented movement for every stride, alike in shape and scattered in size."""
    rng = np.random.default_rng(seed)
    percent = np.arange(101.0)
    pitch = _through(percent, [0, 8, 40, 62, 90, 100], [15, 0, 0, -55, 22, 15])
    leaning = _through(percent, [0, 8, 40, 62, 90, 100], [-15, -11, 12, 40, -12, -15])
    height = _through(percent, [0, 8, 40, 62, 70, 82, 92, 100], [70, 0, 0, -20, 40, 15, 100, 70])
    rows: list[dict[str, Any]] = []
    for stride in strides.to_pylist():
        size, offset = 1 + 0.05 * rng.standard_normal(), rng.standard_normal()
        keys = {key: stride[key] for key in CURVES.names if key in stride}
        for at in range(101):
            foot, tilt = size * pitch[at] + offset, size * leaning[at]
            row = keys | {"percent": at, "foot_pitch_deg": foot, "toe_height_mm": size * height[at]}
            rows.append(row | ({"ankle_deg": foot + tilt, "shank_deg": tilt} if shank else {}))
    return pa.Table.from_pylist(rows, schema=CURVES)


def _through(percent: FloatArray, at: Sequence[float], values: Sequence[float]) -> FloatArray:
    return np.interp(percent, at, values)


def quality_of(
    walks: Sequence[MadeWalk], strides: pa.Table, *, status: str = "ok", findings: Sequence[dict[str, Any]] = ()
) -> dict[str, Any]:
    """The quality record that goes with strides."""
    records = []
    for walk in walks:
        rows = [row for row in strides.to_pylist() if row["walk"] == walk.walk]
        left_out = [row["left_out"] for row in rows if row["left_out"]]
        count = {
            "strides": len(rows),
            "steady": sum(row["steady"] for row in rows),
            "left_out": {reason: left_out.count(reason) for reason in left_out},
        }
        setting = None
        if walk.setting:
            setting = {"label": walk.setting, "resistance": walk.resistance, "unit": "Shore A"}
        sides = {"left": count} if rows else {}
        records.append({"walk": walk.walk, "condition": walk.condition, "setting": setting, "sides": sides})
    return {
        "subject": "P01",
        "session": "1",
        "affected_side": "left",
        "status": status,
        "findings": list(findings),
        "walks": records,
        "versions": {"firstrocker": "0.1.0"},
        "inputs": {"a_foot.csv": "0" * 64},
        "settings_sha256": "",
    }


def page_of(
    walks: Sequence[MadeWalk], *, steady: bool = True, curves: bool = True, shank: bool = True, **quality: Any
) -> str:
    """The page of some walks."""
    strides = stride_table(walks)
    if not steady:
        place = strides.column_names.index("steady")
        strides = strides.set_column(place, strides.schema.field(place), pa.array([False] * strides.num_rows))
    study = {"confidence": 0.95, "resamples": 400, "seed": 1, "min_strides": 5}
    known = {"summary": summarise(strides), "comparison": compare(strides, **study)}  # type: ignore[arg-type]
    record = quality_of(walks, strides, **quality)
    said = say(strides=strides, **known, quality=record, side="left", names=walk_names(record["walks"]), **study)  # type: ignore[arg-type]
    return render(
        strides=strides,
        curves=made_curves(strides, shank=shank) if curves and steady else CURVES.empty_table(),
        **known,
        quality=record,
        confidence=0.95,
        said=said if known["summary"].num_rows and record["status"] != "rejected" else None,
    )


UNREADABLE = {
    "code": "log-unreadable",
    "severity": "error",
    "message": "There is no a.csv.",
    "remedy": "Put it there.",
    "walk": "a",
    "segment": "foot",
    "side": "left",
}


def every_case() -> dict[str, str]:
    """Name -> page, of the usual session and of every case in which something is lacking."""
    return {
        "usual": page_of(usual_walks()),
        "no shank": page_of(usual_walks(shank=False), shank=False),
        "one walk": page_of(usual_walks()[:1]),
        "no steady stride": page_of(usual_walks(), steady=False, status="flagged"),
        "rejected": page_of([MadeWalk("a", (), {})], status="rejected", findings=[UNREADABLE]),
        "rejected, nothing known": page_of([], status="rejected", findings=[UNREADABLE]),
    }


def pages_beside() -> dict[str, str]:
    """The letter of a session with one setting, and the course of a person with two sessions."""
    walks = [walk for walk in usual_walks() if walk.walk in "ab"]
    strides = stride_table(walks)
    summary = summarise(strides).to_pylist()
    table = compare(strides, confidence=0.95, resamples=400, seed=1, min_strides=5)
    quality = quality_of(walks, strides)
    draft = letter(summary, table.to_pylist(), quality, names=walk_names(quality["walks"]), confidence=0.95)
    later = [row | {"mean": None if row["mean"] is None else 1.3 * row["mean"]} for row in summary]
    points = course([("1", "left", summary), ("2", "left", later)], confidence=0.95, min_strides=5)
    links = [SessionLink(label, "left", "ok") for label in "12"]
    return {
        "letter": render_letter(draft),
        "course": render_course("P01", links, points, confidence=0.95),
    }


def demo_pages(folder: Path, sessions: Sequence[str]) -> dict[str, Path]:
    """Session -> its report.html, made as the workflow makes it from the demo study."""
    make_demo(folder / "study")
    found = {}
    for session in sessions:
        out = folder / "results" / session
        make_strides(folder / "study" / session, out, settings=Settings(), loggers=REPOSITORY / "config" / "loggers")
        make_study(out, settings=Settings())
        make_report(out, settings=Settings())
        found[session] = out / "report.html"
    return found
