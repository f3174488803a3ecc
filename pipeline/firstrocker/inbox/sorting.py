"""What becomes of each file of the inbox: what sorting a look needs, and what holds for every file."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from firstrocker.files import sha256_of
from firstrocker.inbox.ledger import Fact, Ledger
from firstrocker.inbox.look import READABLE, UNREADABLE, Seen
from firstrocker.inbox.shelf import Held, Shelf
from firstrocker.inbox.whole import missing_end
from firstrocker.layout import SessionName
from firstrocker.mark import mark_if_there, mark_of

State = Literal["arrived", "waiting", "duplicate", "quarantined", "taken"]
SMALLEST_COPY = 1024
"""Bytes. Shorter files may be alike by chance: two seconds at 20 Hz, the shortest log that is read, take more."""


@dataclass(frozen=True)
class Verdict:
    """What becomes of a file, why, what someone has to do, and of which file it is a copy."""

    state: State
    reason: str = ""
    remedy: str = ""
    needs_person: bool = False
    copy_of: str = ""
    kind: str = "other"
    session: SessionName | None = None


TAKEN = Verdict("taken")


@dataclass(frozen=True)
class Take:
    """A session that is new or changed: files of the inbox by their names in the session, and a text for session.yaml.

    The text is None where session.yaml is one of the files or stays as it is.
    """

    name: SessionName
    files: Mapping[str, str]
    text: str | None = None


@dataclass
class Sorting:
    """One look at the inbox while it is being sorted.

    inbox, study: the folders. seen: what lies there, by path. now: seconds since 1970. settle_s, patience_s: see the
    settings. verdicts, takes: what came of it.
    """

    inbox: Path
    study: Path
    seen: Mapping[str, Seen]
    ledger: Ledger
    shelf: Shelf
    now: float
    settle_s: float
    patience_s: float
    verdicts: dict[str, Verdict] = field(default_factory=dict)
    takes: list[Take] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._by_content: dict[str, list[str]] = {}
        for path, fact in self.ledger.inbox.items():
            if fact.sha256:
                self._by_content.setdefault(fact.sha256, []).append(path)

    def fact(self, path: str) -> Fact:
        """What is known of a file."""
        return self.ledger.inbox[path]

    def long(self, paths: Iterable[str]) -> bool:
        """Whether nothing about these files has changed for longer than patience lasts."""
        return self.now - max(self.fact(path).same_since for path in paths) >= self.patience_s

    def say(
        self, paths: Iterable[str], verdict: Verdict, *, kind: str = "", session: SessionName | None = None
    ) -> None:
        """Give several files one verdict; the need for a person counts once."""
        for number, path in enumerate(paths):
            own = verdict if number == 0 else replace(verdict, needs_person=False)
            self.verdicts[path] = replace(own, kind=kind or own.kind, session=session or own.session)

    def hindrance(self, path: str, *, is_log: bool, before: Path | None = None) -> Verdict | None:
        """Why a file cannot be used yet or at all; None where it can.

        Args:
            path: in the inbox.
            is_log: whether it must have a log's end.
            before: the file of the study that it would replace.
        """
        seen, fact = self.seen[path], self.fact(path)
        if seen.sort == "strange":
            remedy = READABLE if seen.why.startswith(UNREADABLE) else "Put the file itself there, under a plain name."
            return Verdict("quarantined", seen.why, remedy, True)
        if seen.sort == "temporary":
            why = seen.why or "It is still being transferred: its name says so."
            if not self.long([path]):
                return Verdict("waiting", why)
            why = f"{why} It has not changed for {self._age(path)}."
            return Verdict("quarantined", why, "Start the transfer again, or delete it.", True)
        if not rested(fact, self.now, self.settle_s):
            return Verdict("arrived", "It is too fresh to be sure that it is whole.")
        if fact.trouble:
            return Verdict("quarantined", fact.trouble, READABLE, True)
        if not fact.sha256:
            return Verdict("arrived", _MEANWHILE)
        return self._cut(path, before) if is_log else None

    def _cut(self, path: str, before: Path | None) -> Verdict | None:
        fact = self.fact(path)
        if not fact.checked:
            try:
                half = missing_end(self.inbox / path)
            except OSError:  # its content was read a moment ago: it is gone, or its disk is
                half = None
            if mark_if_there(self.inbox / path) != fact.mark:
                fact.sha256, fact.same_since = "", self.now
                return Verdict("arrived", _MEANWHILE)
            fact.half, fact.readable = ("", True) if half is None else (half.why, half.readable)
            fact.checked = True
        shrunk = before is not None and _begins(before, fact)
        why = "It is the beginning of what was taken before: it is being sent again." if shrunk else fact.half
        if not why or (fact.readable and not shrunk and self.long([path])):
            return None
        if not self.long([path]):
            return Verdict("waiting", f"{why} The rest may still come.")
        remedy = "Send it again whole; or, if the shorter one is right, take the longer one out of the study first."
        return Verdict("quarantined", why, remedy if shrunk else "Copy it again from the logger, whole.", True)

    def copy(self, path: str, name: SessionName, file: str) -> Verdict | None:
        """What holds of a log whose bytes are known already under another name; None for a log of its own.

        The same recording cannot be two people's: neither is taken before someone has said whose it is.
        """
        fact = self.fact(path)
        if fact.mark.size < SMALLEST_COPY or self.shelf.has(name, file, fact.sha256):
            return None
        held = [one for one in self.shelf.holders(fact.sha256) if (one.name, one.file) != (name, file)]
        others = [str(one) for one in held if one.name.subject != name.subject]
        if not others:
            twins = (other for other in self._by_content[fact.sha256] if subject_of(other) not in ("", name.subject))
            others = sorted(twins)
        if others:
            why = f"It is byte for byte {others[0]}: one of the two lies in the wrong person's folder."
            return Verdict("quarantined", why, _WHOSE, True, others[0])
        return self._second(held[0]) if held else None

    def _second(self, first: Held) -> Verdict:
        told = f"It is byte for byte {first}, which was taken before."
        if not {str(first), f"sub-{first.name.subject}/{first.file}"}.isdisjoint(self.seen):
            return Verdict("duplicate", told, copy_of=str(first))
        remedy = f"If that one's place was wrong, delete {first.name.folder} in the study; this one is taken then."
        return Verdict("duplicate", told, remedy, True, str(first))

    def _age(self, path: str) -> str:
        hours = (self.now - self.fact(path).same_since) / 3600
        return f"{hours:.0f} h" if hours < 72 else f"{hours / 24:.0f} days"


_MEANWHILE = "It was changed or taken away while it was looked at."
_WHOSE = (
    "Find out whose it is; take the wrong one out of the inbox and, if it was taken, delete its session in the study."
)


def rested(fact: Fact, now: float, settle_s: float) -> bool:
    """Whether a file has not changed for the time to settle, by our own looks or by the system's own record."""
    return now - fact.same_since >= settle_s or now - fact.mark.changed_ns / 1e9 >= settle_s


def read_contents(inbox: Path, seen: Iterable[Seen], ledger: Ledger, *, now: float, settle_s: float) -> None:
    """Take the fingerprint of every file that has come to rest; one that changes meanwhile has not."""
    for one in seen:
        fact = ledger.inbox[one.path]
        if one.sort != "file" or fact.sha256 or not _is_ours(one.path) or not rested(fact, now, settle_s):
            continue
        try:
            fact.sha256, fact.trouble = sha256_of(inbox / one.path), ""
            mark = mark_of(inbox / one.path)
        except FileNotFoundError:
            mark = None
        except OSError as error:
            fact.trouble = f"It cannot be read ({error.strerror})."
            continue
        if mark != one.mark:
            fact.sha256, fact.same_since = "", now
            fact.mark = mark or fact.mark


def _is_ours(path: str) -> bool:
    return path.startswith("sub-") or "/" not in path


def subject_of(path: str) -> str:
    """The person in whose folder of the inbox a file lies; empty outside."""
    first = path.split("/", 1)[0]
    return first.removeprefix("sub-") if first.startswith("sub-") else ""


def _begins(before: Path, fact: Fact) -> bool:
    """Whether a file is the beginning of another and no more."""
    try:
        if not 0 < fact.mark.size < before.stat().st_size:
            return False
        digest = hashlib.sha256()
        left = fact.mark.size
        with before.open("rb") as file:
            while left and (piece := file.read(min(left, 1 << 20))):
                digest.update(piece)
                left -= len(piece)
    except OSError:
        return False
    return digest.hexdigest() == fact.sha256
