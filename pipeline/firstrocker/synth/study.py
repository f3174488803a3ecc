"""The demo study: an invented clinic with invented people, for trying everything out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import yaml

from firstrocker.model import STANDARD_GRAVITY, Log, Side
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.pattern import Gait, blend
from firstrocker.synth.sensors import FOOT_SEAT, ORDINARY
from firstrocker.synth.trial import log_pair
from firstrocker.synth.walker import walk

DEGREE = np.pi / 180.0

README = """An invented study.

Every person, clinic, value and walk in this folder is invented. The logs were made by firstrocker's simulated walkers;
no one's data are in them. Use them to try the programme out, never to judge a brace or a person.
"""

LOGGERS: dict[str, dict[str, Any]] = {
    "bench_a": {
        "columns": {"time": "t", "acceleration": ["ax", "ay", "az"], "angular_velocity": ["gx", "gy", "gz"]},
        "units": {"time": "ms", "acceleration": "g", "angular_velocity": "deg/s"},
        "axes": "unknown",
    },
    "bench_b": {
        "columns": {
            "time": "seconds",
            "acceleration": ["acc_1", "acc_2", "acc_3"],
            "angular_velocity": ["rot_1", "rot_2", "rot_3"],
        },
        "units": {"time": "s", "acceleration": "m/s^2", "angular_velocity": "rad/s"},
        "axes": "unknown",
    },
}
"""Two layouts of our own invention; bench_b's logs are Parquet."""


@dataclass(frozen=True)
class DemoWalk:
    """One walk of the demo: how the person walked, in what."""

    walk: str
    gait: Gait
    condition: str
    setting: dict[str, Any] | None = None


@dataclass(frozen=True)
class DemoSession:
    """One session of the demo."""

    subject: str
    session: str
    affected_side: Side
    logger: str
    walks: tuple[DemoWalk, ...]
    shank: bool = True
    both: bool = False
    ruler: bool = True


def _shore(label: str, resistance: float) -> dict[str, Any]:
    return {"label": label, "resistance": resistance, "unit": "Shore A"}


def demo_sessions() -> tuple[DemoSession, ...]:
    """Three invented people: one tuned over four walks and seen again, one with foot sensors only, one on both legs."""
    slap, balanced, stiff = GAITS["slap"], GAITS["balanced"], GAITS["too_much_resistance"]
    soft = blend(slap, balanced, 0.45)
    tuned = (
        DemoWalk("a", slap, "unbraced"),
        DemoWalk("b", soft, "braced", _shore("soft", 50.0)),
        DemoWalk("c", balanced, "braced", _shore("medium", 60.0)),
        DemoWalk("d", stiff, "braced", _shore("firm", 70.0)),
    )
    again = (
        DemoWalk("a", blend(slap, balanced, 0.15), "unbraced"),
        DemoWalk("b", balanced, "braced", _shore("medium", 60.0)),
    )
    dropping = (
        DemoWalk("a", GAITS["toe_drop"], "unbraced"),
        DemoWalk("b", blend(GAITS["toe_drop"], balanced, 0.8), "braced", {"label": "strut"}),
    )
    hemiparetic = (
        DemoWalk("a", GAITS["hemiparetic"], "unbraced"),
        DemoWalk("b", blend(GAITS["hemiparetic"], balanced, 0.5), "braced", _shore("medium", 60.0)),
    )
    return (
        DemoSession("A1", "20260302", "left", "bench_a", tuned),
        DemoSession("A1", "20260330", "left", "bench_a", again),
        DemoSession("B2", "20260305", "right", "bench_a", dropping, shank=False),
        DemoSession("C3", "20260310", "right", "bench_b", hemiparetic, both=True, ruler=False),
    )


def write_demo_study(folder: Path, *, seed: int = 1, strides: int = 10) -> None:
    """Write the demo study, an ordinary study folder.

    Args:
        folder: to write into; made where it is missing.
        seed: of everything random.
        strides: in each of a walk's two bouts.
    """
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "README.txt").write_text(README, encoding="utf-8")
    for number, session in enumerate(demo_sessions()):
        _write_session(folder, session, seed=1000 * seed + 10 * number, strides=strides)


def _write_session(folder: Path, session: DemoSession, *, seed: int, strides: int) -> None:
    place = folder / f"sub-{session.subject}" / f"ses-{session.session}"
    place.mkdir(parents=True, exist_ok=True)
    walks = []
    for k, planned in enumerate(session.walks):
        walker = walk(planned.gait, seed=seed + k, side=session.affected_side, strides=strides, both=session.both)
        shape = walker.leg().shape
        logs = []
        for side in sorted(walker.legs):
            later = replace(ORDINARY, clock_offset_s=1.3 + 0.2 * k, clock_drift_ppm=25.0)
            foot, shank = log_pair(walker, side, ORDINARY, seed + k, shank_quality=later)
            for log in (foot, shank) if session.shank else (foot,):
                suffix = "parquet" if session.logger == "bench_b" else "csv"
                short = f"_{side}" if session.both else ""
                name = f"{planned.walk}{short}_{log.segment}.{suffix}"
                _write_log(place / name, log, session.logger)
                logs.append({"segment": log.segment, "side": side, "file": name, "logger": session.logger})
        entry: dict[str, Any] = {"walk": planned.walk, "condition": planned.condition}
        if planned.setting:
            entry["setting"] = planned.setting
        walks.append(entry | {"logs": logs})
    head: dict[str, Any] = {
        "subject": session.subject,
        "session": session.session,
        "invented": True,
        "affected_side": session.affected_side,
    }
    if session.ruler:
        head["foot_sensor"] = {
            "to_toe_mm": round(1000 * (shape.length - FOOT_SEAT[0])),
            "above_ground_mm": round(1000 * FOOT_SEAT[2]),
        }
        head["shoe"] = {"outsole_mm": round(1000 * shape.length)}
    else:
        head["shoe"] = {"size": 41, "system": "EU"}
    document = head | {"loggers": {session.logger: LOGGERS[session.logger]}, "walks": walks}
    text = "# Invented: no such person.\n" + yaml.safe_dump(document, sort_keys=False, allow_unicode=True)
    (place / "session.yaml").write_text(text, encoding="utf-8")


def _write_log(path: Path, log: Log, logger: str) -> None:
    if logger == "bench_b":
        names = ["seconds", "acc_1", "acc_2", "acc_3", "rot_1", "rot_2", "rot_3"]
        columns = np.column_stack([log.time, log.acceleration, log.angular_velocity])
        pq.write_table(pa.table(dict(zip(names, columns.T, strict=True))), path)
        return
    columns = np.column_stack([1000.0 * log.time, log.acceleration / STANDARD_GRAVITY, log.angular_velocity / DEGREE])
    header = "t,ax,ay,az,gx,gy,gz"
    np.savetxt(path, columns, fmt=["%.2f"] + ["%.5f"] * 3 + ["%.3f"] * 3, delimiter=",", header=header, comments="")
