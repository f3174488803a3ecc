"""Sessions and logs made up for the tests of `signals`."""

from __future__ import annotations

from copy import deepcopy
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import yaml

from firstrocker.model import FloatArray, Log
from signals import two_link

LOGGERS = Path(__file__).resolve().parents[2] / "config" / "loggers"
HEADER = ["t", "ax", "ay", "az", "gx", "gy", "gz"]
PROFILE: dict[str, Any] = {
    "columns": {"time": "t", "acceleration": ["ax", "ay", "az"], "angular_velocity": ["gx", "gy", "gz"]},
    "units": {"time": "s", "acceleration": "m/s^2", "angular_velocity": "rad/s"},
}


@cache
def leg(strides: int = 20, seed: int = 0) -> tuple[two_link.Sensor, two_link.Sensor]:
    """Foot and shank sensors of one made-up walk, made once."""
    return two_link.leg(strides=strides, seed=seed)


def foot_log(rate_hz: float = 100.0, **how: Any) -> Log:
    return two_link.record(leg()[0], rate_hz=rate_hz, **how)


def shank_log(rate_hz: float = 100.0, **how: Any) -> Log:
    said: dict[str, Any] = {"segment": "shank", "seed": 2} | how
    return two_link.record(leg()[1], rate_hz=rate_hz, **said)


def rows_of(log: Log) -> FloatArray:
    """(n, 7): time, acceleration, angular velocity."""
    return np.column_stack([log.time, log.acceleration, log.angular_velocity])


def write_csv(path: Path, rows: FloatArray, *, header: list[str] | None = None, delimiter: str = ",") -> Path:
    names = delimiter.join(HEADER if header is None else header)
    np.savetxt(path, rows, delimiter=delimiter, header=names, comments="", fmt="%.9g")
    return path


def session_content() -> dict[str, Any]:
    """A session file with one of everything."""
    return {
        "subject": "P01",
        "session": "20260302",
        "affected_side": "left",
        "foot_sensor": {"to_toe_mm": 145, "above_ground_mm": 75},
        "shoe": {"outsole_mm": 285},
        "standing": {"shank_to_vertical_deg": 3},
        "loggers": {"bench": deepcopy(PROFILE)},
        "walks": [
            {
                "walk": "a",
                "condition": "unbraced",
                "logs": [
                    {"segment": "foot", "side": "left", "file": "a_foot.csv", "logger": "bench"},
                    {"segment": "shank", "side": "left", "file": "a_shank.csv", "logger": "bench"},
                ],
            },
            {
                "walk": "b",
                "condition": "braced",
                "setting": {"label": "soft", "resistance": 50, "unit": "Shore A"},
                "logs": [{"segment": "foot", "side": "left", "file": "b_foot.csv", "logger": "bench"}],
            },
        ],
    }


def write_session(study: Path, content: dict[str, Any] | str) -> Path:
    """A session's folder with its session.yaml; logs are another matter."""
    folder = study / "sub-P01" / "ses-20260302"
    folder.mkdir(parents=True, exist_ok=True)
    text = content if isinstance(content, str) else yaml.safe_dump(content, sort_keys=False)
    (folder / "session.yaml").write_text(text, encoding="utf-8")
    return folder
