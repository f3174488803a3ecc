"""Inboxes of tiny logs, and looks at them at any hour."""

from __future__ import annotations

import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from firstrocker.inbox.night import Night, take_in

HEADER = "t,ax,ay,az,gx,gy,gz\n"
PROFILE = """\
loggers:
  dock:
    columns: {time: t, acceleration: [ax, ay, az], angular_velocity: [gx, gy, gz]}
    units: {time: s, acceleration: m/s^2, angular_velocity: rad/s}
    axes: unknown
"""
SESSION = (
    """\
subject: {subject}
session: "{session}"
affected_side: left
"""
    + PROFILE.replace("{", "{{").replace("}", "}}")
    + """\
walks:
  - walk: a
    condition: unbraced
    logs:
      - {{segment: foot, side: left, file: a_foot.csv, logger: dock}}
      - {{segment: shank, side: left, file: a_shank.csv, logger: dock}}
"""
)
HOME = (
    """\
subject: {subject}
affected_side: left
"""
    + PROFILE.replace("{", "{{").replace("}", "}}")
    + """\
condition: braced
setting: {{label: soft, resistance: 50, unit: Shore A}}
logs:
  - {{file: "{{date}}_foot_{{walk}}.csv", segment: foot, side: left, logger: dock}}
  - {{file: "{{date}}_shank_{{walk}}.csv", segment: shank, side: left, logger: dock}}
"""
)
HOUR = 3600.0
SETTLE_MIN, PATIENCE_H = 30.0, 72.0


def log_text(seed: int, rows: int = 60) -> str:
    """A log of its own content for every seed; one of more rows begins like one of fewer."""
    lines = (f"{n / 100:.2f},{seed}.0{n % 10},0.10,9.81,0.01,0.02,0.0{n % 7}\n" for n in range(rows))
    return HEADER + "".join(lines)


def write(path: Path, text: str | bytes) -> Path:
    """Write a file, and the folders above it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def write_folder(inbox: Path, subject: str, session: str, *, seed: int) -> Path:
    """A whole session folder; its logs have seeds ``seed`` and ``seed + 1``."""
    folder = inbox / f"sub-{subject}" / f"ses-{session}"
    write(folder / "session.yaml", SESSION.format(subject=subject, session=session))
    write(folder / "a_foot.csv", log_text(seed))
    write(folder / "a_shank.csv", log_text(seed + 1))
    return folder


class Place:
    """An inbox and its study, and a clock that only the test moves."""

    def __init__(self, folder: Path) -> None:
        self.inbox, self.study = folder / "inbox", folder / "study"
        self.inbox.mkdir(parents=True)
        self._later = 1.0

    def look(self, hours: float = 1.0) -> Night:
        """Look at the inbox so many hours after the last look: what has not changed since has settled."""
        self._later += hours * HOUR
        return take_in(
            self.inbox,
            self.study,
            settle_min=SETTLE_MIN,
            patience_h=PATIENCE_H,
            now=time.time() + self._later,
        )

    def files(self) -> dict[str, bytes]:
        """Every file of the study by its path, but for what is the intake's own."""
        return held(self.study)

    def states(self, night: Night) -> dict[str, str]:
        """Path in the inbox -> state."""
        return {row["path"]: row["state"] for row in night.rows}


def held(folder: Path) -> dict[str, bytes]:
    """Path -> content of every file below a folder, hidden ones left out."""
    files = (path for path in sorted(folder.rglob("*")) if path.is_file())
    named = ((path.relative_to(folder), path) for path in files)
    return {str(name): path.read_bytes() for name, path in named if not any(p.startswith(".") for p in name.parts)}


def row(night: Night, path: str) -> Mapping[str, Any]:
    """The row of one file of the inbox."""
    return next(one for one in night.rows if one["path"] == path)
