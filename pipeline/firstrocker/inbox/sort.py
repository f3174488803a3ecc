"""Every file of an inbox to where it belongs: session folders, loose logs, standing descriptions, what is astray."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from firstrocker.files import sha256_if_there
from firstrocker.inbox.home import NAME, Standings, load_home
from firstrocker.inbox.look import READABLE, UNREADABLE
from firstrocker.inbox.sort_loose import sort_loose
from firstrocker.inbox.sort_sessions import sort_session
from firstrocker.inbox.sorting import TAKEN, Sorting, Verdict
from firstrocker.layout import LABEL, LABEL_RULE, SessionName
from firstrocker.signals.session import SessionFileError

_SIDECAR = re.compile(r"participants\.tsv|.*motion\.json|.*channels\.(?:tsv|json)")
"""Files of a Motion-BIDS dataset that hold for sessions below them."""
_WHERE = "Put it into the person's folder sub-<label>, or into a session's, sub-<label>/ses-<label>."


@dataclass
class _Person:
    sessions: dict[SessionName, dict[str, str]] = field(default_factory=dict)
    homes: dict[str, str] = field(default_factory=dict)
    loose: dict[str, str] = field(default_factory=dict)


def sort(sorting: Sorting) -> list[str]:
    """Give every file of the inbox its verdict, and name the sessions that are to be taken.

    Returns:
        paths of files that hold for many sessions and are new or changed, to be taken as they are.
    """
    people: dict[str, _Person] = {}
    sidecars: list[str] = []
    for path in sorting.seen:
        parts = path.split("/")
        subject = parts[0].removeprefix("sub-")
        if _SIDECAR.fullmatch(parts[-1]) and (len(parts) == 1 or (len(parts) == 2 and parts[0].startswith("sub-"))):
            sidecars.append(path)
        elif len(parts) == 1 or not parts[0].startswith("sub-"):
            _astray(sorting, path, "It lies outside every person's folder.")
        elif not re.fullmatch(LABEL, subject):
            _astray(sorting, path, f"{parts[0]} is no person's folder: {LABEL_RULE}.")
        elif len(parts) > 2 and parts[1].startswith("ses-"):
            session = parts[1].removeprefix("ses-")
            if re.fullmatch(LABEL, session):
                files = people.setdefault(subject, _Person()).sessions.setdefault(SessionName(subject, session), {})
                files["/".join(parts[2:])] = path
            else:
                _astray(sorting, path, f"{parts[1]} is no session's folder: {LABEL_RULE}.")
        else:
            person = people.setdefault(subject, _Person())
            (person.homes if len(parts) == 2 and NAME.fullmatch(parts[1]) else person.loose)["/".join(parts[1:])] = path
    for subject, person in sorted(people.items()):
        for name, files in sorted(person.sessions.items()):
            sort_session(sorting, name, files)
        _sort_person(sorting, subject, person)
    return [path for path in sidecars if _sidecar(sorting, path)]


def _sort_person(sorting: Sorting, subject: str, person: _Person) -> None:
    standings = _standings(sorting, subject, person)
    if standings is not None:
        sort_loose(sorting, subject, person.loose, standings, person.sessions.keys())
        return
    for path in person.loose.values():
        verdict = sorting.hindrance(path, is_log=False)
        if verdict is None or verdict.state == "arrived":
            verdict = _without_home(sorting, subject, path, told=bool(person.homes))
        sorting.say([path], verdict, kind="log")


def _without_home(sorting: Sorting, subject: str, path: str, *, told: bool) -> Verdict:
    if told:
        return Verdict("waiting", f"It waits for sub-{subject}/home.yaml, which cannot be used yet.")
    why = f"It waits for sub-{subject}/home.yaml, the standing description that tells what it is."
    if not sorting.long([path]):
        return Verdict("waiting", why)
    remedy = "Write one, see config/nightly.md; or put the log into a session's folder with a session.yaml."
    return Verdict("quarantined", why, remedy, True)


def _standings(sorting: Sorting, subject: str, person: _Person) -> Standings | None:
    """The person's standing descriptions; None where there is none, or one cannot be used yet."""
    homes = []
    for path in person.homes.values():
        verdict = sorting.hindrance(path, is_log=False)
        if verdict is None:
            try:
                homes.append(load_home(sorting.inbox / path, subject=subject, where=path))
            except SessionFileError as error:
                remedy = "Mend it in the inbox; until then the person's loose logs wait."
                verdict = Verdict("quarantined", str(error), remedy, True)
        sorting.say([path], verdict or TAKEN, kind="home")
    if not homes or len(homes) < len(person.homes):
        return None
    return Standings(tuple(sorted(homes, key=lambda home: home[0])))


def _sidecar(sorting: Sorting, path: str) -> bool:
    verdict = sorting.hindrance(path, is_log=False)
    sorting.say([path], verdict or TAKEN, kind="sidecar")
    return verdict is None and sha256_if_there(sorting.study / path) != sorting.fact(path).sha256


def _astray(sorting: Sorting, path: str, why: str) -> None:
    verdict = sorting.hindrance(path, is_log=False)
    if verdict is None or verdict.state == "arrived" or sorting.seen[path].sort == "strange":
        reason = sorting.seen[path].why or why
        verdict = Verdict("quarantined", reason, READABLE if reason.startswith(UNREADABLE) else _WHERE, True)
    sorting.say([path], verdict)
