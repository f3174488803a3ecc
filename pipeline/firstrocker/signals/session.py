"""``session.yaml``: who walked, what was worn, and which log belongs to which walk; checked as a whole.

Every mistake is named at once, each with its key and a remedy, so that one correction is enough.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, Field, StringConstraints, ValidationError, model_validator

from firstrocker.errors import SessionError
from firstrocker.model import Condition, Finding, Segment, Side
from firstrocker.signals.motion_names import FOLDER, MotionLabels
from firstrocker.signals.motion_session import motion_content, motion_walks
from firstrocker.signals.profiles import LoggerProfile, ProfileName
from firstrocker.signals.strict import Label, Problem, Strict, mistake, problems_of, quoted
from firstrocker.signals.yamlfile import YamlError, load_yaml

FILE_NAME = "session.yaml"
ShoeSystem = Literal["EU", "UK", "US-men", "US-women", "mondopoint"]
_Text = Annotated[str, StringConstraints(pattern=r"^[^\W_][\w .,·°/%+²-]{0,39}$")]
_SIZE_RANGE: dict[str, tuple[float, float]] = {
    "EU": (15, 55),
    "UK": (0, 20),
    "US-men": (0, 21),
    "US-women": (0, 22),
    "mondopoint": (90, 350),
}


class SessionFileError(SessionError):
    """A session file with one or more mistakes; ``problems`` holds each."""

    def __init__(self, problems: Sequence[Problem], *, where: str) -> None:
        first = str(problems[0]) if len(problems) == 1 else f"{len(problems)} things are to be mended."
        lines = "" if len(problems) == 1 else "".join(f"\n  {n}. {p}" for n, p in enumerate(problems, 1))
        super().__init__(first + lines, where=where)
        self.problems = tuple(problems)

    def findings(self) -> tuple[Finding, ...]:
        """Each problem as an error of the session."""
        return tuple(
            Finding(
                self.code, "error", f"{self.where}: {p.key}: {p.what}" if p.key else f"{self.where}: {p.what}", p.remedy
            )
            for p in self.problems
        )


class FootSensor(Strict):
    """Where the foot sensor sat, by ruler, shoe on, standing."""

    to_toe_mm: Annotated[float, Field(ge=20, le=350)] | None = None
    above_ground_mm: Annotated[float, Field(ge=5, le=250)] | None = None


class Shoe(Strict):
    """The outsole's length, or the size it can be estimated from."""

    outsole_mm: Annotated[float, Field(ge=100, le=420)] | None = None
    size: float | None = None
    system: ShoeSystem | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if (self.size is None) != (self.system is None):
            raise mistake("A shoe size needs both 'size' and 'system'.", "Write for example {size: 42, system: EU}.")
        if self.outsole_mm is None and self.size is None:
            raise mistake("The shoe has neither a length nor a size.", "Give 'outsole_mm', or 'size' and 'system'.")
        if self.size is not None and self.system is not None:
            low, high = _SIZE_RANGE[self.system]
            if not low <= self.size <= high:
                raise mistake(
                    f"{self.size:g} is no {self.system} shoe size.", f"Such sizes run from {low:g} to {high:g}."
                )
        return self


class Standing(Strict):
    """How the person stood while the sensors were at rest."""

    shank_to_vertical_deg: Annotated[float, Field(ge=-45, le=45)]


class SettingEntry(Strict):
    """How much the brace resists plantarflexion."""

    label: _Text
    resistance: Annotated[float, Field(ge=0)] | None = None
    unit: _Text | None = None


def _inside(value: str) -> str:
    if not value or len(value) > 255 or not value.isprintable():
        raise mistake(f"{quoted(value)} is no file name.", "Use a short name without line breaks.")
    parts = PurePosixPath(value.replace("\\", "/")).parts
    if PurePosixPath(value).is_absolute() or PureWindowsPath(value).anchor or PureWindowsPath(value).drive:
        raise mistake(
            f"{quoted(value)} is an absolute path.", "Put the log into the session's folder and write its name only."
        )
    if ".." in parts:
        raise mistake(f"{quoted(value)} leads out of the session's folder.", "Put the log into the session's folder.")
    return value


class LogEntry(Strict):
    """One log: what the sensor sat on, the file, and the profile it reads by."""

    segment: Segment
    side: Side
    file: Annotated[str, AfterValidator(_inside)]
    logger: ProfileName


class MotionEntry(Strict):
    """Which Motion-BIDS recording in the session's ``motion/`` is the walk's: the entities that tell it apart."""

    task: Label | None = None
    acq: Label | None = None
    run: Label | None = None


class Walk(Strict):
    """One walk and its logs, or the Motion-BIDS recording that holds them."""

    walk: Label
    condition: Condition
    setting: SettingEntry | None = None
    logs: Annotated[list[LogEntry], Field(min_length=1, max_length=4)] = Field(default_factory=list)
    motion: MotionEntry | None = None

    @model_validator(mode="after")
    def _one_source(self) -> Self:
        if bool(self.logs) == (self.motion is not None):
            raise mistake(
                "The walk has both 'logs' and 'motion'." if self.logs else "The walk has neither 'logs' nor 'motion'.",
                "List the walk's logs, or name its recording in motion/: {task: walking, acq: soft}.",
            )
        return self

    @model_validator(mode="after")
    def _setting_of_a_brace(self) -> Self:
        if self.setting is not None and self.condition == "unbraced":
            raise mistake(
                "A walk without a brace cannot have a setting of the brace.",
                "Write 'condition: braced', or take 'setting' away.",
            )
        return self


class Told(Strict):
    """What is told of a person and the sensors, whether it holds for one session or for many.

    invented: whether there is no such person, so that every page can say it.
    """

    subject: Label
    invented: bool = False
    affected_side: Side
    foot_sensor: FootSensor | None = None
    shoe: Shoe | None = None
    standing: Standing | None = None
    loggers: dict[ProfileName, LoggerProfile] = Field(default_factory=dict)


class SessionFile(Told):
    """Everything ``session.yaml`` may hold."""

    session: Label
    walks: Annotated[list[Walk], Field(min_length=1, max_length=200)]


def load_session(folder: Path, labels: MotionLabels | None = None) -> SessionFile:
    """The session file of a folder ``sub-<label>/ses-<label>``, checked.

    Where there is a folder ``motion/``, the file's walks, or the whole file, may be left out: then the recordings and
    their labels tell them.

    Args:
        folder: the session's.
        labels: what labels of a Motion-BIDS dataset mean.

    Raises:
        SessionError: with every mistake of the file, each with its key path and remedy.
    """
    here = Path(os.path.abspath(folder))
    where = f"{here.parent.name}/{here.name}/{FILE_NAME}"
    untold: list[Problem] = []
    moved = (here / FOLDER).is_dir()
    try:
        if moved and not (here / FILE_NAME).exists():
            content = motion_content(here, labels or MotionLabels(), untold)
        else:
            content = load_yaml(here / FILE_NAME, where=where)
    except YamlError as error:
        raise SessionFileError([Problem("", error.what, error.remedy)], where=where) from None
    if moved and isinstance(content, dict) and "walks" not in content:
        content["walks"] = motion_walks(here, labels or MotionLabels(), untold)
    if not isinstance(content, dict):
        what = "The file is empty." if content is None else "The file does not hold keys with values."
        raise SessionFileError([Problem("", what, "Start from the example in the README.")], where=where)
    if untold and not content.get("walks"):
        raise SessionFileError(untold[:50], where=where)
    problems = [*untold, *_across(content), *_labels(content, here), *_escapes(content, here)]
    try:
        session = SessionFile.model_validate(content)
    except ValidationError as error:
        problems = [*problems_of(error, SessionFile), *problems]
        raise SessionFileError(problems[:50], where=where) from None
    if problems:
        raise SessionFileError(problems[:50], where=where)
    return session


def _labels(content: dict[str, Any], folder: Path) -> Iterator[Problem]:
    for key, prefix, name in (("subject", "sub-", folder.parent.name), ("session", "ses-", folder.name)):
        label = content.get(key)
        if isinstance(label, str | int) and name != f"{prefix}{label}":
            yield Problem(
                key,
                f"The file says {quoted(label)} but its folder is called {quoted(name)}.",
                f"Make them agree: the folder must be called '{prefix}' and the label.",
            )


def _logs(content: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any], dict[str, Any]]]:
    """(key path, walk, log) of every log that has at least the shape of one."""
    walks = content.get("walks")
    for w, walk in enumerate(walks if isinstance(walks, list) else [], 1):
        logs = walk.get("logs") if isinstance(walk, dict) else None
        for n, log in enumerate(logs if isinstance(logs, list) else [], 1):
            if isinstance(log, dict):
                yield f"walks[{w}].logs[{n}]", walk, log


def _across(content: dict[str, Any]) -> Iterator[Problem]:
    """What no single entry can know: labels and files used twice, walks without a foot log."""
    walks = content.get("walks")
    walks = [walk for walk in walks if isinstance(walk, dict)] if isinstance(walks, list) else []
    labels = Counter(str(walk.get("walk")) for walk in walks if "walk" in walk)
    for label, count in labels.items():
        if count > 1:
            yield Problem(
                "walks", f"The walk {quoted(label)} is listed {count} times.", "Give each walk its own label."
            )
    files: dict[tuple[str, str], str] = {}
    for key, _, log in _logs(content):
        if not isinstance(log.get("file"), str):
            continue
        name = (str(PurePosixPath(log["file"])), str(log.get("logger")))
        if name in files:
            yield Problem(
                f"{key}.file",
                f"The file {quoted(name[0])} is already given at {files[name]}.",
                "Each log belongs to one sensor of one walk: name the right file.",
            )
        files.setdefault(name, key)
    for w, walk in enumerate(walks, 1):
        logs = walk.get("logs")
        logs = [log for log in logs if isinstance(log, dict)] if isinstance(logs, list) else []
        places = Counter((log.get("segment"), log.get("side")) for log in logs)
        for (segment, side), count in places.items():
            if count > 1 and isinstance(segment, str) and isinstance(side, str):
                yield Problem(f"walks[{w}].logs", f"There are {count} logs of the {side} {segment}.", "Keep one.")
        if logs and not any(log.get("segment") == "foot" for log in logs):
            yield Problem(f"walks[{w}].logs", "The walk has no foot log.", "Every walk needs one: add it.")


def _escapes(content: dict[str, Any], folder: Path) -> Iterator[Problem]:
    """Files that are links out of the session's folder."""
    root = folder.resolve()
    for key, _, log in _logs(content):
        name = log.get("file")
        if not isinstance(name, str) or not name or "\0" in name or len(name) > 255:
            continue
        if PurePosixPath(name).is_absolute() or ".." in PurePosixPath(name).parts:
            continue
        try:
            target = (folder / name).resolve()
        except (OSError, RuntimeError):
            yield Problem(f"{key}.file", f"{quoted(name)} is a link that leads nowhere.", "Put the log itself there.")
            continue
        if not target.is_relative_to(root):
            yield Problem(
                f"{key}.file", f"{quoted(name)} is a link out of the session's folder.", "Put the log itself there."
            )
