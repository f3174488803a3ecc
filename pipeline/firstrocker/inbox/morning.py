"""What someone has to do in the morning: told once, and again after some days while it is still to be done."""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from firstrocker.files import json_or_empty, read_json, read_table, sha256_of_json, write_json, write_text
from firstrocker.layout import NIGHTLY, find_sessions, gravest_finding, withdrawn_line, withdrawn_sessions
from firstrocker.stamps import failed_file

QUARANTINE = "quarantine"
"""Below it: a text for everything that is set aside, by person and session."""
LONGEST_NAME, DEEPEST = 200, 8
"""Bytes of a name and folders one in another that a text in quarantine is called by."""
NEEDS_PERSON = 3
"""Exit status of a night after which someone has something to do."""


@dataclass(frozen=True)
class Item:
    """One thing to do. where: person, session or file; what: is wrong; remedy: mends it; files: that are set aside."""

    where: str
    what: str
    remedy: str
    files: tuple[str, ...] = ()
    quarantined: bool = True

    @property
    def key(self) -> str:
        """Tells the thing apart from others, night after night."""
        return sha256_of_json([self.where, self.what])[:16]

    def line(self) -> str:
        """The thing in one line."""
        return " ".join(f"{self.where}: {self.what} {self.remedy}".split())


@dataclass(frozen=True)
class Morning:
    """What a night came to: things to do that are new or due again, others that were told before, and counts."""

    to_do: tuple[Item, ...]
    told_before: tuple[Item, ...]
    states: Mapping[str, int]
    taken: tuple[str, ...]
    longest_wait_h: float

    @property
    def status(self) -> int:
        """The exit status that says so."""
        return NEEDS_PERSON if self.to_do else 0

    def lines(self) -> list[str]:
        """A line for each thing to do."""
        return [item.line() for item in self.to_do]

    def text(self) -> str:
        """All of it, to be read."""
        parts = [f"Sessions new or changed: {len(self.taken)}.", *(f"  {name}" for name in self.taken)]
        wait = f", one for {self.longest_wait_h:.0f} h" if self.states.get("waiting") else ""
        counts = ", ".join(f"{count} {state}" for state, count in sorted(self.states.items()))
        parts += ["", f"Files of the inbox: {counts or 'none'}{wait}.", ""]
        for title, items in (("To do", self.to_do), ("Told before, still to do", self.told_before)):
            parts += [f"{title}: {len(items) or 'nothing'}."]
            for item in items:
                parts += [f"  {item.where}: {item.what}", *([f"    {item.remedy}"] if item.remedy else [])]
            parts.append("")
        return "\n".join(parts)


def morning(study: Path, results: Path, *, remind_days: float, now: float | None = None) -> Morning:
    """Put together what is to be done after a run, and write it below ``results/nightly``.

    Written are ``morning.txt``, ``morning.json`` and a text for everything set aside, in ``quarantine``.

    Args:
        study: the study folder.
        results: the results folder with ``nightly/intake.parquet``.
        remind_days: after so many days a thing is told again.
        now: seconds since 1970; the clock's own where it is not given.
    """
    now = time.time() if now is None else now
    folder = results / NIGHTLY
    rows = read_table(folder / "intake.parquet").to_pylist() if (folder / "intake.parquet").is_file() else []
    items = {item.key: item for item in [*_of_files(rows), *_of_sessions(study, results), *_of_alerts(folder)]}
    told_at = json_or_empty(folder / "told.json")
    known = {
        key: min(float(when), now) for key, when in told_at.items() if key in items
    }  # the clock may have been wrong
    due = {key for key in items if key not in known or now - known[key] >= remind_days * 86400}
    states: dict[str, int] = {}
    for row in rows:
        states[row["state"]] = states.get(row["state"], 0) + 1
    waits = [row["waiting_h"] for row in rows if row["state"] == "waiting"]
    taken = {f"sub-{row['subject']}/ses-{row['session']}" for row in rows if row["new"] and row["state"] == "taken"}
    made = Morning(
        tuple(item for key, item in items.items() if key in due),
        tuple(item for key, item in items.items() if key not in due),
        states,
        tuple(sorted(name for name in taken if not name.endswith("None"))),
        max(waits, default=0.0),
    )
    _write_quarantine(folder / QUARANTINE, list(items.values()))
    write_text(folder / "morning.txt", made.text())
    told = [vars(item) | {"files": list(item.files)} for item in made.to_do]
    write_json(told_file(results), {"status": made.status, "to_do": told, "told_before": len(made.told_before)})
    write_json(folder / "told.json", known | dict.fromkeys(due, now))
    return made


def told_file(results: Path) -> Path:
    """Where a night's things to do stand for a program to read."""
    return results / NIGHTLY / "morning.json"


def read_told(results: Path) -> tuple[Item, ...] | None:
    """The things to do of the last night that has put them together; None where that cannot be read."""
    try:
        return tuple(Item(**{**told, "files": tuple(told["files"])}) for told in read_json(told_file(results))["to_do"])
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _of_files(rows: list[dict[str, Any]]) -> Iterator[Item]:
    for row in rows:
        if not row["needs_person"]:
            continue
        where = "inbox" if row["path"] == "." else row["path"]
        files = [where]
        if row["session"] is not None and row["state"] == "quarantined":
            same = (row["subject"], row["session"], "quarantined")
            files = [one["path"] for one in rows if (one["subject"], one["session"], one["state"]) == same]
        yield Item(where, row["reason"], row["remedy"], tuple(files), row["state"] == "quarantined")


def _of_sessions(study: Path, results: Path) -> Iterator[Item]:
    """Sessions that the analysis rejected, that failed because of a bug, or that are no longer in the study."""
    if not study.is_dir():
        return
    sessions = find_sessions(study)[0]
    for name in sessions:
        if failed_file(results, name).is_file():
            log = f"{results.name}/logs/{name.folder}.log"
            yield Item(name.folder, "It failed because of a bug; it is tried again when it has changed.", f"See {log}.")
            continue
        record = json_or_empty(results / name.folder / "quality.json")
        if record.get("status") == "rejected" and not _is_passing(record):
            yield Item(name.folder, f"Rejected: {gravest_finding(record) or 'see quality.json'}", _AGAIN)
    for name in withdrawn_sessions(sessions, results):
        yield Item(name.folder, withdrawn_line(name, results), "", quarantined=False)


def _is_passing(record: Mapping[str, Any]) -> bool:
    """Whether a session is rejected only because a file was still being copied: the next night makes it anew."""
    return any(finding.get("code") == "file-changed" for finding in record.get("findings", ()))


def _of_alerts(folder: Path) -> Iterator[Item]:
    """Alerts that stand, where a run has looked for such."""
    if not (folder / "alerts.parquet").is_file():
        return
    for row in read_table(folder / "alerts.parquet").to_pylist():
        if not row.get("standing"):
            continue
        kind = ALERTS.get(row["kind"], row["kind"])
        leg = f", {row['side']} leg" if row.get("side") else ""
        yield Item(f"sub-{row['subject']}", f"Alert of {row['first_day']}: {kind}{leg}.", _LOOK, quarantined=False)


ALERTS = {
    "slaps": "the foot slaps more often",
    "clearance": "toe clearance falls",
    "scuffs": "more steps all but scuff",
    "wear": "the loggers are worn less",
    "silent": "no session comes in",
}
"""Kind of an alert -> in words."""
_LOOK = "See nightly/digest.html in the results; an orthotist decides what it means."
_AGAIN = "It is tried again when its files change."


def _writable(place: str) -> str:
    """A path that a disk can write with an ending behind it: what is too long is cut, and told by a fingerprint."""
    parts = [
        part if len(part.encode()) <= LONGEST_NAME else f"{part.encode()[:100].decode(errors='ignore')}-{_short(part)}"
        for part in place.split("/")
    ]
    return "/".join(parts if len(parts) <= DEEPEST else [*parts[:DEEPEST], _short(place)])


def _short(text: str) -> str:
    return sha256_of_json(text)[:16]


def _write_quarantine(folder: Path, items: list[Item]) -> None:
    """A text for everything that is set aside; what is no longer has none."""
    texts: dict[Path, str] = {}
    for item in items:
        if not item.quarantined:
            continue
        parts = item.where.split("/")
        place = "/".join(parts[:2]) if len(parts) > 2 and parts[1].startswith("ses-") else item.where
        path = folder / f"{_writable(place)}.why.txt"
        files = "".join(f"  {file}\n" for file in item.files)
        text = f"{item.where}\n\n{item.what}\n{item.remedy}\n" + (f"\nLeft in the inbox:\n{files}" if files else "")
        texts[path] = texts[path] + "\n" + text if path in texts else text
    for path in [*folder.rglob("*.why.txt")]:
        if path not in texts:
            path.unlink(missing_ok=True)
    for path, text in texts.items():
        if not path.is_file() or path.read_text(encoding="utf-8") != text:
            write_text(path, text)
    if not texts:
        shutil.rmtree(folder, ignore_errors=True)
