"""Loose logs of a person: each day's become the session of that date, as the standing description says."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date

from firstrocker.inbox.home import ABOUT, Home, Named, Place, Standings, session_text
from firstrocker.inbox.sorting import TAKEN, Sorting, Take, Verdict
from firstrocker.layout import SESSION_FILE, SessionName

_PATTERNS = "Mend the file's name, or add a line with its pattern to home.yaml; see config/nightly.md."


@dataclass
class _Walk:
    """The logs of one walk by where the sensor sat: file -> what its name says."""

    home: Home
    places: dict[Place, dict[str, Named]] = field(default_factory=dict)

    @property
    def partners(self) -> set[Place]:
        logs = [named.log for files in self.places.values() for named in files.values()]
        return self.home.partners(logs[0])


def sort_loose(
    sorting: Sorting, subject: str, files: Mapping[str, str], standings: Standings, folders: Collection[SessionName]
) -> None:
    """Sort the loose logs of one person, and bring the sessions that were made from such in step with the description.

    Args:
        sorting: the look.
        subject: whose.
        files: name below the person's folder -> path in the inbox.
        standings: the person's standing descriptions.
        folders: the sessions that lie in the inbox as whole folders.
    """
    days: dict[date, dict[str, Named]] = {}
    for file, path in files.items():
        named = standings.named(file)
        if len(named) == 1:
            days.setdefault(named[0].day, {})[file] = named[0]
            continue
        verdict = sorting.hindrance(path, is_log=False)
        if verdict is None:
            what = "No line of home.yaml has a pattern that fits" if not named else "Several lines of home.yaml fit"
            verdict = Verdict("quarantined", f"{what} {file} and its day.", _PATTERNS, True)
        sorting.say([path], verdict, kind="log")
    made = {name: name.session for name in sorting.shelf.names(subject) if sorting.shelf.text(name).startswith(ABOUT)}
    by_label = {f"{day:%Y%m%d}": day for day in days}
    for label in sorted({*by_label, *made.values()}):
        name = SessionName(subject, label)
        arrived = days.get(by_label[label], {}) if label in by_label else {}
        paths = {file: files[file] for file in arrived}
        if name in folders or (sorting.shelf.files(name) and name not in made):
            why = f"{name.folder} stands as a folder of its own."
            remedy = "Put the log into that folder and its session.yaml, or take the folder away."
            sorting.say(paths.values(), Verdict("quarantined", why, remedy, True), kind="log", session=name)
            continue
        _day(sorting, name, arrived, paths, standings)


def _day(
    sorting: Sorting, name: SessionName, arrived: Mapping[str, Named], paths: Mapping[str, str], standings: Standings
) -> None:
    held = {file: standings.named(file) for file in sorting.shelf.files(name) if file != SESSION_FILE}
    strange = [file for file, named in held.items() if len(named) != 1]
    if strange:
        if paths:
            why = f"home.yaml no longer fits {strange[0]}, which was taken earlier: {name.folder} stays as it was."
            sorting.say(paths.values(), Verdict("quarantined", why, _PATTERNS, True), kind="log", session=name)
        return
    usable = {file: named[0] for file, named in held.items()}
    for file, named in sorted(arrived.items()):
        before = sorting.shelf.path(name, file) if file in held else None
        fresh = not sorting.shelf.has(name, file, sorting.fact(paths[file]).sha256)
        verdict = sorting.hindrance(paths[file], is_log=True, before=before) if fresh else None
        verdict = verdict or (sorting.copy(paths[file], name, file) if fresh else None)
        sorting.say([paths[file]], verdict or TAKEN, kind="log", session=name)
        if verdict is None:
            usable[file] = named
    ready: list[tuple[str, Named]] = []
    for walk in _walks(usable, standings):
        ready += _ready(sorting, name, walk, paths, set(held))
    if ready:
        _take(sorting, name, ready, paths, standings)


def _walks(usable: Mapping[str, Named], standings: Standings) -> list[_Walk]:
    walks: dict[tuple[str, tuple[str, str]], _Walk] = {}
    for file, named in sorted(usable.items()):
        holds = standings.at(named.day)
        if holds is None:
            continue
        walk = walks.setdefault((named.walk, holds[0].worn(named.log)), _Walk(holds[0]))
        walk.places.setdefault(named.place, {})[file] = named
    return list(walks.values())


def _ready(
    sorting: Sorting, name: SessionName, walk: _Walk, paths: Mapping[str, str], held: set[str]
) -> list[tuple[str, Named]]:
    """The logs of a walk that are to be in the session: none while one is missing that may still come."""
    kept: list[tuple[str, Named]] = []
    for place, files in walk.places.items():
        own = [file for file in files if file in held]
        if not own and len({sorting.fact(paths[file]).sha256 for file in files}) == 1:
            own = [next(iter(files))]
        rest = [file for file in files if file not in own[:1]]
        first = own[0] if own else rest[0]
        for file in rest:
            if own and file in paths and _alike(sorting, name, file, first, paths):
                verdict = Verdict("duplicate", f"It is byte for byte {first}.", copy_of=f"{name.folder}/{first}")
            else:
                other = first if file != first else rest[-1]
                why = f"Two different logs of the {place[1]} {place[0]} of one walk: this one and {other}."
                verdict = Verdict("quarantined", why, "Tell them apart with {walk} in the pattern, or keep one.", True)
            if file in paths:
                sorting.say([paths[file]], verdict, kind="log", session=name)
        if own:
            kept.append((own[0], files[own[0]]))
    return kept if _complete(sorting, name, walk, kept, paths, held) else [one for one in kept if one[0] in held]


def _complete(
    sorting: Sorting,
    name: SessionName,
    walk: _Walk,
    kept: list[tuple[str, Named]],
    paths: Mapping[str, str],
    held: set[str],
) -> bool:
    """Whether a walk has all its logs, or has waited long enough for the rest; says so of those that wait."""
    missing = sorted(walk.partners - {named.place for _, named in kept})
    fresh = [paths[file] for file, _ in kept if file in paths and file not in held]
    if not missing or not fresh:
        return True
    told = " and ".join(f"the {side} {segment}" for segment, side in missing)
    if not sorting.long(fresh):
        sorting.say(fresh, Verdict("waiting", f"It waits for the log of {told}."), kind="log", session=name)
        return False
    if not any(named.log.segment == "foot" for _, named in kept):
        why = f"The log of {told} did not come, and without a foot log nothing can be measured."
        sorting.say(fresh, Verdict("quarantined", why, "Send the foot's log.", True), kind="log", session=name)
        return False
    note = Verdict("taken", f"Taken without the log of {told}.", "Send it, and the session is made again.", True)
    sorting.say(fresh, note, kind="log", session=name)
    return True


def _take(
    sorting: Sorting,
    name: SessionName,
    ready: list[tuple[str, Named]],
    paths: Mapping[str, str],
    standings: Standings,
) -> None:
    text = session_text(standings.document(ready[0][1].day, ready))
    shelf = sorting.shelf
    changed = {
        file: paths[file]
        for file, _ in ready
        if file in paths
        and sorting.verdicts[paths[file]].state == "taken"
        and not shelf.has(name, file, sorting.fact(paths[file]).sha256)
    }
    sha256 = hashlib.sha256(text.encode()).hexdigest()
    if not changed and shelf.has(name, SESSION_FILE, sha256):
        return
    sorting.takes.append(Take(name, changed, text))
    shelf.put(name, SESSION_FILE, sha256)
    for file, path in changed.items():
        shelf.put(name, file, sorting.fact(path).sha256)


def _alike(sorting: Sorting, name: SessionName, file: str, first: str, paths: Mapping[str, str]) -> bool:
    there = sorting.fact(paths[first]).sha256 if first in paths else sorting.shelf.files(name).get(first)
    return sorting.fact(paths[file]).sha256 == there
