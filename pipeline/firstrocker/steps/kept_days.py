"""What is kept of a person's days, in a file: days in brief, what they were read from, sessions, limits."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, astuple, dataclass, field, replace
from pathlib import Path
from typing import Any

import pyarrow as pa

from firstrocker.files import read_table, write_table
from firstrocker.layout import MADE
from firstrocker.mark import mark_if_there
from firstrocker.study.day_series import SLAPS, DayBrief, Leg
from firstrocker.study.days import DayValue

_TEXT, _WHOLE, _REAL = pa.string(), pa.int64(), pa.float64()
_VALUE = (("n", _WHOLE), ("bouts", _WHOLE), ("value", _REAL), ("spread", _REAL), ("se", _REAL), ("reason", _TEXT))
_LEG = (("side", _TEXT), ("condition", _TEXT), ("setting", _TEXT), ("resistance", _REAL))
SCHEMA = pa.schema([("day", _WHOLE), *_LEG, ("slap_n", _WHOLE), ("measure", _TEXT), ("limit", _REAL), *_VALUE])
FILES = ("strides.parquet", "quality.json", "wear.parquet")


@dataclass(frozen=True)
class SessionFacts:
    """What is known of a session.

    mark: of what it was read from. made: whether it has results. side: the affected one. feet: side and seconds worn of
    each foot's log.
    """

    mark: str
    made: bool
    side: str | None
    feet: Sequence[tuple[str, float | None]] | None


def results_mark(folder: Path) -> str:
    """What changes when a session's results do: sizes and times of the files that are read."""
    marks = (mark_if_there(folder / name) for name in FILES)
    return " ".join("-" if mark is None else "{}:{}".format(*mark.size_and_time) for mark in marks)


def kept_folder(results: Path) -> Path:
    """Where a file for each person lies."""
    return results / MADE / "days"


@dataclass
class Kept:
    """One person's. sessions: by label. changed: whether there is something to save."""

    path: Path
    recipe: str
    sessions: dict[str, SessionFacts] = field(default_factory=dict)
    changed: bool = False
    _days: dict[int, dict[Leg, DayBrief]] = field(default_factory=dict)
    _marks: dict[int, str] = field(default_factory=dict)
    _limits: dict[str, tuple[str, float]] = field(default_factory=dict)

    @classmethod
    def load(cls, results: Path, subject: str, recipe: str) -> Kept:
        """What was kept; nothing where there is no such file, or one by another recipe."""
        kept = cls(kept_folder(results) / f"sub-{subject}.parquet", recipe)
        try:
            table = read_table(kept.path)
            told = json.loads(table.schema.metadata[b"kept"])
            if told["recipe"] != recipe:
                return kept
            kept.sessions = {label: SessionFacts(*facts) for label, facts in told["sessions"].items()}
            kept._limits = {leg: (mark, limit) for leg, (mark, limit) in told["limits"].items()}
            kept._marks = {int(day): mark for day, mark in told["marks"].items()}
            kept._days = {day: {} for day in kept._marks}
            for row in table.to_pylist():
                kept._read(row)
        except (OSError, ValueError, KeyError, TypeError, pa.ArrowException):
            return cls(kept.path, recipe)
        return kept

    def _read(self, row: Mapping[str, Any]) -> None:
        leg = Leg(*(row[name] for name, _ in _LEG))
        before = self._days[row["day"]].get(leg, DayBrief(row["day"], {}, row["slap_n"]))
        value = DayValue(*(row[name] for name, _ in _VALUE))
        if row["measure"] == SLAPS:
            brief = replace(before, slaps={**before.slaps, row["limit"]: value})
        else:
            brief = replace(before, values={**before.values, row["measure"]: value})
        self._days[row["day"]][leg] = brief

    def day(self, day: int, mark: str, make: Callable[[], dict[Leg, DayBrief]]) -> Mapping[Leg, DayBrief]:
        """A day in brief, as it was kept if its results are still those of ``mark``, or made."""
        if self._marks.get(day) != mark:
            self._days[day], self._marks[day], self.changed = make(), mark, True
        return self._days[day]

    def put(self, leg: Leg, brief: DayBrief) -> None:
        """Keep a day of a leg with more than it had."""
        self._days[brief.day][leg] = brief
        self.changed = True

    def limit(self, leg: Leg, mark: str, make: Callable[[], float]) -> float:
        """What a slap is for a leg, kept for the days of ``mark`` or made."""
        key = json.dumps(astuple(leg))
        known = self._limits.get(key)
        if known is None or known[0] != mark:
            known = self._limits[key] = mark, make()
            self.changed = True
        return known[1]

    def save(self, days: Iterable[int], labels: Iterable[str]) -> None:
        """Write what holds of these days and sessions, if anything has changed."""
        days, labels = set(days), set(labels)
        if not self.changed and days == set(self._marks) and labels == set(self.sessions):
            return
        rows = [row for day in sorted(days) for leg, brief in self._days[day].items() for row in _rows(leg, brief)]
        columns = [pa.array([row[one.name] for row in rows], one.type, from_pandas=False) for one in SCHEMA]
        told = {
            "recipe": self.recipe,
            "sessions": {label: astuple(self.sessions[label]) for label in sorted(labels)},
            "limits": self._limits,
            "marks": {day: self._marks[day] for day in sorted(days)},
        }
        table = pa.Table.from_arrays(columns, schema=SCHEMA.with_metadata({"kept": json.dumps(told)}))
        write_table(self.path, table)


def _rows(leg: Leg, brief: DayBrief) -> list[dict[str, Any]]:
    keys = {"day": brief.day, **asdict(leg), "slap_n": brief.slap_n}
    rows = [keys | {"measure": measure, "limit": None} | asdict(value) for measure, value in brief.values.items()]
    return rows + [keys | {"measure": SLAPS, "limit": limit} | asdict(value) for limit, value in brief.slaps.items()]
