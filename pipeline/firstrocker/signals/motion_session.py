"""A session's content told by its Motion-BIDS files, where ``session.yaml`` does not tell it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from firstrocker.model import Condition, Setting
from firstrocker.signals.motion_bids import Recording, find_recordings
from firstrocker.signals.motion_names import MotionLabels
from firstrocker.signals.strict import Problem, quoted

PARTICIPANTS = "participants.tsv"
MAX_BYTES = 1 << 22
_PLAIN: Mapping[str, tuple[Condition, Setting | None]] = {
    "unbraced": ("unbraced", None),
    "braced": ("braced", None),
}
"""Labels that say by themselves what they mean."""


def motion_content(folder: Path, labels: MotionLabels, problems: list[Problem]) -> dict[str, Any]:
    """What a ``session.yaml`` would hold of a session that has none; ``problems`` gets what cannot be told."""
    subject, session = folder.parent.name.removeprefix("sub-"), folder.name.removeprefix("ses-")
    content: dict[str, Any] = {"subject": subject, "session": session}
    side = labels.affected_side.get(subject) or _affected_side(folder.parent.parent / PARTICIPANTS, subject)
    if side is None:
        remedy = "Add a column 'affected_side' to participants.tsv, or name it under settings, bids, affected_side."
        problems.append(Problem("", f"Nothing tells the affected side of {quoted(subject)}.", remedy))
        side = "left"
    return content | {"affected_side": side, "walks": motion_walks(folder, labels, problems)}


def motion_walks(folder: Path, labels: MotionLabels, problems: list[Problem]) -> list[dict[str, Any]]:
    """An entry of ``walks`` for each recording whose label has a meaning."""
    meant: list[tuple[Recording, tuple[Condition, Setting | None]]] = []
    for recording in find_recordings(folder):
        own = [label for label in (recording.acq, recording.task) if label]
        known = {**_PLAIN, **labels.walks}
        label = next((one for one in own if one in known), None)
        if label is None:
            what = f"Nothing tells what was worn in the recording acq-{recording.acq or ''}, task-{recording.task}."
            remedy = "Name one of its labels under settings, bids, walks, with its condition."
            problems.append(Problem("motion", what, remedy))
        elif (meaning := known[label]) is not None:
            meant.append((recording, meaning))
    names = _names([recording for recording, _ in meant])
    return [_entry(name, *one) for name, one in zip(names, meant, strict=True)]


def _entry(name: str, recording: Recording, meaning: tuple[Condition, Setting | None]) -> dict[str, Any]:
    condition, setting = meaning
    entry: dict[str, Any] = {"walk": name, "condition": condition}
    if setting is not None:
        given = {"label": setting.label, "resistance": setting.resistance, "unit": setting.unit or None}
        entry["setting"] = {key: value for key, value in given.items() if value is not None}
    motion = {"task": recording.task, "acq": recording.acq, "run": recording.run}
    return entry | {"motion": {key: value for key, value in motion.items() if value}}


def _names(recordings: list[Recording]) -> list[str]:
    """A walk's label for each recording: its acq, or its task, with the rest only where that would not be enough."""
    names = [one.acq or one.task for one in recordings]
    for longer in (
        [f"{one.acq or one.task}{'run' + one.run if one.run else ''}" for one in recordings],
        [f"{one.task}{one.acq or ''}{'run' + one.run if one.run else ''}" for one in recordings],
    ):
        if max(Counter(names).values(), default=0) > 1:
            names = longer
    return [name[:40] for name in names]


def _affected_side(path: Path, subject: str) -> str | None:
    try:
        with path.open("rb") as stream:
            lines = stream.read(MAX_BYTES).decode("utf-8-sig", errors="replace").splitlines()
    except OSError:
        return None
    rows = [line.split("\t") for line in lines if line.strip()]
    if not rows or not {"participant_id", "affected_side"} <= set(rows[0]):
        return None
    at = rows[0].index("participant_id"), rows[0].index("affected_side")
    for row in rows[1:]:
        if len(row) > max(at) and row[at[0]] == f"sub-{subject}" and row[at[1]].lower() in ("left", "right"):
            return row[at[1]].lower()
    return None
