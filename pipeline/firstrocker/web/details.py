"""What a clinician fills in about a session, kept as written until it is whole, and the session file made of it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Protocol

MOST_WALKS = 26
SEGMENTS = ("foot", "shank")


@dataclass(frozen=True)
class WalkEntry:
    """One walk as filled in."""

    walk: str
    condition: str = ""
    label: str = ""
    resistance: str = ""
    unit: str = ""


@dataclass(frozen=True)
class Details:
    """A session as filled in; every value is text as it was written."""

    affected_side: str = ""
    worn: str = "affected"
    to_toe_mm: str = ""
    above_ground_mm: str = ""
    outsole_mm: str = ""
    shoe_size: str = ""
    shoe_system: str = ""
    shank_to_vertical_deg: str = ""
    walks: tuple[WalkEntry, ...] = field(default_factory=lambda: (WalkEntry("a", "unbraced"), WalkEntry("b", "braced")))

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Details:
        """What :meth:`to_json` gave."""
        return replace(cls(**{**data, "walks": ()}), walks=tuple(WalkEntry(**walk) for walk in data["walks"]))

    def to_json(self) -> dict[str, Any]:
        """Plain data."""
        return asdict(self)

    @property
    def sides(self) -> tuple[str, ...]:
        """The sides that wore sensors, the affected one first."""
        if self.affected_side not in ("left", "right"):
            return ()
        other = "right" if self.affected_side == "left" else "left"
        return (self.affected_side, other) if self.worn == "both" else (self.affected_side,)

    @property
    def slots(self) -> list[tuple[str, str]]:
        """(slot, words) of every place a log can have: ``a:left:foot``, "walk a, left foot"."""
        return [
            (f"{walk.walk}:{side}:{segment}", f"walk {walk.walk}, {side} {segment}")
            for walk in self.walks
            for side in self.sides
            for segment in SEGMENTS
        ]

    @property
    def demands(self) -> list[str]:
        """What has to be filled in before logs can be placed."""
        missing = [] if self.affected_side in ("left", "right") else ["Say which side is affected."]
        missing += [] if self.walks else ["Name at least one walk."]
        missing += [f"Say whether walk {w.walk} was braced or not." for w in self.walks if not w.condition]
        return missing


class Placed(Protocol):
    """A log that has its place: the slot, the logger profile's name, the file's name in the session's folder."""

    @property
    def slot(self) -> str:
        """``walk:side:segment``."""
        ...

    @property
    def logger(self) -> str:
        """The profile's name."""
        ...

    @property
    def file(self) -> str:
        """The file's name in the session's folder."""
        ...


def details_of(form: Mapping[str, str], walk_numbers: Iterable[int]) -> Details:
    """What a form says; walks without condition and setting are those that were taken away."""
    walks = []
    for number in walk_numbers:
        entry = WalkEntry(
            walk=form.get(f"walk{number}", "").strip(),
            condition=form.get(f"condition{number}", ""),
            label=form.get(f"label{number}", "").strip(),
            resistance=_number(form.get(f"resistance{number}", "")),
            unit=form.get(f"unit{number}", "").strip(),
        )
        if entry.walk and entry.condition != "none":
            walks.append(entry)
    return Details(
        affected_side=form.get("affected_side", ""),
        worn="both" if form.get("worn") == "both" else "affected",
        to_toe_mm=_number(form.get("to_toe_mm", "")),
        above_ground_mm=_number(form.get("above_ground_mm", "")),
        outsole_mm=_number(form.get("outsole_mm", "")),
        shoe_size=_number(form.get("shoe_size", "")),
        shoe_system=form.get("shoe_system", ""),
        shank_to_vertical_deg=_number(form.get("shank_to_vertical_deg", "")),
        walks=tuple(walks[:MOST_WALKS]),
    )


def session_document(
    details: Details, *, subject: str, session: str, logs: Sequence[Placed], loggers: Mapping[str, Mapping[str, Any]]
) -> dict[str, Any]:
    """The content of session.yaml: nothing is checked here, for whoever reads a session file checks it.

    Args:
        details: as filled in.
        subject: the person's code.
        session: the session's label.
        logs: the logs that have a place.
        loggers: profiles that belong to this session alone, by name.
    """
    foot = {k: _plain(getattr(details, k)) for k in ("to_toe_mm", "above_ground_mm") if getattr(details, k)}
    shoe: dict[str, Any] = {"outsole_mm": _plain(details.outsole_mm)} if details.outsole_mm else {}
    if details.shoe_size:
        shoe |= {"size": _plain(details.shoe_size), "system": details.shoe_system or None}
    document: dict[str, Any] = {"subject": subject, "session": session, "affected_side": details.affected_side}
    document |= {"foot_sensor": foot} if foot else {}
    document |= {"shoe": shoe} if shoe else {}
    if details.shank_to_vertical_deg:
        document["standing"] = {"shank_to_vertical_deg": _plain(details.shank_to_vertical_deg)}
    document |= {"loggers": {name: dict(profile) for name, profile in sorted(loggers.items())}} if loggers else {}
    document["walks"] = [
        _walk(walk, [log for log in logs if log.slot.split(":")[0] == walk.walk]) for walk in details.walks
    ]
    return document


def _walk(walk: WalkEntry, logs: Sequence[Placed]) -> dict[str, Any]:
    entry: dict[str, Any] = {"walk": walk.walk, "condition": walk.condition}
    if walk.label or walk.resistance or walk.unit:
        setting: dict[str, Any] = {"label": walk.label}
        setting |= {"resistance": _plain(walk.resistance)} if walk.resistance else {}
        setting |= {"unit": walk.unit} if walk.unit else {}
        entry["setting"] = setting
    entry["logs"] = []
    for log in sorted(logs, key=lambda log: log.slot):
        _, side, segment = log.slot.split(":")
        entry["logs"].append({"segment": segment, "side": side, "file": log.file, "logger": log.logger})
    return entry


def _number(text: str) -> str:
    """A number as people type it: spaces off, a decimal comma taken as a point."""
    text = text.strip().replace("\u00a0", "")
    return text.replace(",", ".") if re.fullmatch(r"[-+]?\d*,\d+", text) else text


def _plain(text: str) -> float | str:
    """The number a text means; the text itself where it means none, for the session file's reader to refuse."""
    return float(text) if re.fullmatch(r"[-+]?(\d+\.?\d*|\.\d+)", text) and len(text) < 20 else text
