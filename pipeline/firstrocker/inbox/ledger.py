"""What the intake remembers from night to night, in one file of the study; lost, it is found out again."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from firstrocker.files import compact_json, write_text
from firstrocker.inbox.look import Seen
from firstrocker.mark import Mark

VERSION = 1


@dataclass
class Fact:
    """What is known of one file of the inbox.

    first_seen, same_since: seconds since 1970, of the path and of this mark. sha256: of the content, empty until read.
    half, readable: why it seems cut off, empty where it does not or has not been looked at, and whether it can be used.
    state, state_since: what the last look made of it. trouble: why it could not be read.
    """

    mark: Mark
    first_seen: float
    same_since: float
    sha256: str = ""
    half: str = ""
    readable: bool = True
    checked: bool = False
    trouble: str = ""
    state: str = ""
    state_since: float = 0.0


@dataclass
class Ledger:
    """Facts by path in the inbox; and (mark, SHA-256) by path in the study."""

    inbox: dict[str, Fact] = field(default_factory=dict)
    study: dict[str, tuple[Mark, str]] = field(default_factory=dict)

    def see(self, seen: list[Seen], now: float) -> None:
        """Bring the facts in step with the inbox; of a file that changed all but its arrival is forgotten.

        What was seen later than now was seen while the machine's clock was wrong, and counts as seen now: else a file
        would wait, and nobody be told, until the clock gets there again.
        """
        facts: dict[str, Fact] = {}
        for one in seen:
            known = self.inbox.get(one.path)
            if known is None:
                facts[one.path] = Fact(one.mark, now, now)
            elif known.mark != one.mark:
                facts[one.path] = Fact(
                    one.mark, known.first_seen, now, state=known.state, state_since=known.state_since
                )
            else:
                facts[one.path] = known
            fact = facts[one.path]
            fact.first_seen, fact.same_since = min(fact.first_seen, now), min(fact.same_since, now)
            fact.state_since = min(fact.state_since, now)
        self.inbox = facts

    @classmethod
    def load(cls, path: Path) -> Ledger:
        """The ledger of the last look; an empty one where there is none or it cannot be read."""
        try:
            data = json.loads(path.read_text(encoding="utf-8"))
            if data["version"] != VERSION:
                return cls()
            return cls(
                {name: _fact(fact) for name, fact in data["inbox"].items()},
                {name: (Mark(*mark), str(sha256)) for name, (mark, sha256) in data["study"].items()},
            )
        except (OSError, ValueError, TypeError, KeyError):
            return cls()

    def save(self, path: Path) -> None:
        """Write the ledger, whole or not at all."""
        inbox = {name: asdict(fact) for name, fact in self.inbox.items()}
        study = {name: [list(asdict(mark).values()), sha256] for name, (mark, sha256) in self.study.items()}
        write_text(path, compact_json({"version": VERSION, "inbox": inbox, "study": study}))


def _fact(data: Mapping[str, Any]) -> Fact:
    return Fact(**{**data, "mark": Mark(**data["mark"])})
