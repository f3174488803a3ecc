"""What a run says at its end of the sessions, where somebody watches; nights have ``inbox/morning.py``."""

from __future__ import annotations

from pathlib import Path

from firstrocker.files import json_or_empty
from firstrocker.layout import find_sessions, gravest_finding, withdrawn_line, withdrawn_sessions


def closing_lines(study: Path, results: Path) -> list[str]:
    """A line for each folder that was not looked at, session that is gone, and session that was rejected or flagged."""
    if not study.is_dir():
        return []
    sessions, lines = find_sessions(study)
    lines += [f"{name.folder}: {withdrawn_line(name, results)}" for name in withdrawn_sessions(sessions, results)]
    for name in sessions:
        record = json_or_empty(results / name.folder / "quality.json")
        if record.get("status") in ("flagged", "rejected"):
            lines.append(f"{name.folder}: {record['status']}: {gravest_finding(record) or 'see quality.json'}")
    return lines
