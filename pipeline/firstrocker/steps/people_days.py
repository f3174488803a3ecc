"""A person's days from their sessions' results: of strides only those are read that are new, the rest was kept.

Kept is a small file per person below ``results/.made``: every day in brief, with what it was read from. Deleted, it is
made anew from all strides; the tables over days are the same bytes either way.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from firstrocker.files import read_json, read_table, sha256_of_json
from firstrocker.layout import SessionName
from firstrocker.steps.kept_days import Kept, SessionFacts, kept_folder, results_mark
from firstrocker.study.day_series import (
    CLEARANCE,
    SLAP,
    SPEED,
    DayBrief,
    Leg,
    LegBriefs,
    Marking,
    StrideDay,
    baseline_of,
    brief_of,
    own_limit,
    slaps_of,
)
from firstrocker.study.trend import Person
from firstrocker.tables import STRIDES

_KEYS = ("side", "condition", "setting", "resistance")
_COLUMNS = [*_KEYS, "walk", "bout", SLAP, CLEARANCE, f"{CLEARANCE}_se", SPEED, "toe_clearance_kind"]


def read_person(
    subject: str, sessions: Sequence[tuple[int, SessionName]], results: Path, *, how: Marking, recipe: str
) -> Person:
    """One person's sessions, each with its day, from their results; of one that failed only the day counts.

    Args:
        subject: who.
        sessions: of the person.
        results: the results folder.
        how: settings of the marking.
        recipe: fingerprint of settings and code; what was kept by another is passed over.
    """
    kept = Kept.load(results, subject, recipe)
    facts = {name: _facts(results / name.folder, kept, name) for _, name in sessions}
    made = [name for name in sorted(facts) if facts[name].made]
    side = next((facts[name].side for name in made if facts[name].side is not None), None)
    by_day: dict[int, list[SessionName]] = {}
    for day, name in sorted(sessions):
        by_day.setdefault(day, []).append(name)
    reader = _Strides(results, {day: [one for one in names if facts[one].made] for day, names in by_day.items()})
    legs: dict[Leg, list[DayBrief]] = {}
    worn: dict[int, float | None] = {}
    marks: dict[int, str] = {}
    for day, arrived in by_day.items():
        marks[day] = sha256_of_json([[name.session, facts[name].mark] for name in reader.names[day]])[:16]
        for leg, brief in kept.day(day, marks[day], lambda: _briefs(reader, day, how)).items():  # noqa: B023
            legs.setdefault(leg, []).append(brief)
        hours = [worn_hours(facts[name], side) for name in arrived]
        worn[day] = None if None in hours else sum(one for one in hours if one is not None)
    told = {leg: _with_slaps(leg, briefs, reader, kept, marks, how) for leg, briefs in legs.items()}
    kept.save(set(by_day), {name.session for name in facts})
    return Person(subject, sorted(by_day), dict(sorted(told.items(), key=_order)), worn, side)


def forget_others(results: Path, people: Collection[str]) -> None:
    """Remove what was kept of anybody who is not among the people any more."""
    for path in kept_folder(results).glob("sub-*.parquet"):
        if path.stem.removeprefix("sub-") not in people:
            path.unlink(missing_ok=True)


def _briefs(reader: _Strides, day: int, how: Marking) -> dict[Leg, DayBrief]:
    return {leg: brief_of(strides, how=how) for leg, strides in reader.of(day).items()}


def _with_slaps(
    leg: Leg, briefs: Sequence[DayBrief], reader: _Strides, kept: Kept, marks: Mapping[int, str], how: Marking
) -> LegBriefs:
    """A leg's days with their shares of slaps; strides are read of days that were not yet held against this limit."""
    limit = how.slap
    if limit is None:
        first = baseline_of(briefs, how=how)
        if not first:
            return LegBriefs(briefs, None)
        mark = sha256_of_json([[one.day, marks[one.day]] for one in first])[:16]
        limit = kept.limit(leg, mark, lambda: own_limit([reader.of(one.day)[leg] for one in first], how=how))
    found = []
    for one in briefs:
        if one.slap_n >= how.least and limit not in one.slaps:
            one = replace(one, slaps={limit: slaps_of(reader.of(one.day)[leg], limit)})
            kept.put(leg, one)
        found.append(one)
    return LegBriefs(found, limit)


class _Strides:
    """The strides of a person's days, read when they are asked for."""

    def __init__(self, results: Path, names: Mapping[int, Sequence[SessionName]]) -> None:
        self.names = names
        self._results = results
        self._read: dict[int, Mapping[Leg, StrideDay]] = {}

    def of(self, day: int) -> Mapping[Leg, StrideDay]:
        """A day's strides by leg."""
        if day not in self._read:
            self._read[day] = stride_days(day, [self._results / name.folder for name in self.names[day]])
        return self._read[day]


def _facts(folder: Path, kept: Kept, name: SessionName) -> SessionFacts:
    """What is to be known of a session beside its strides."""
    mark = results_mark(folder)
    if (known := kept.sessions.get(name.session)) is not None and known.mark == mark:
        return known
    quality, wear = folder / "quality.json", folder / "wear.parquet"
    made = quality.is_file()
    side = read_json(quality)["affected_side"] if made else None
    feet: list[tuple[str, float | None]] | None = None
    if wear.is_file():
        feet = [(row["side"], row["worn_s"]) for row in read_table(wear).to_pylist() if row["segment"] == "foot"]
    kept.sessions[name.session] = SessionFacts(mark, made, side, feet)
    kept.changed = True
    return kept.sessions[name.session]


def stride_days(day: int, folders: Sequence[Path]) -> Mapping[Leg, StrideDay]:
    """The strides that count of one day, by leg.

    Args:
        day: its number.
        folders: the day's sessions in the results.
    """
    import pyarrow.parquet as pq

    parts = [STRIDES.empty_table().select(_COLUMNS).append_column("session", pa.array([], pa.int64()))]
    for session, folder in enumerate(folders):
        steady = [("steady", "=", True)]
        part = pq.read_table(
            folder / "strides.parquet", columns=_COLUMNS, filters=steady, memory_map=False, partitioning=None
        )
        parts.append(part.append_column("session", pa.array([session] * part.num_rows, pa.int64())))
    strides = pa.concat_tables(parts).combine_chunks()
    keys = list(zip(*(strides[name].to_pylist() for name in _KEYS), strict=True))
    bouts = _numbered(zip(*(strides[name].to_pylist() for name in ("session", "walk", "bout")), strict=True))
    numbers = {
        name: strides[name].to_numpy(zero_copy_only=False).astype(np.float64)
        for name in (SLAP, CLEARANCE, f"{CLEARANCE}_se", SPEED)
    }
    under = strides["toe_clearance_kind"].is_valid().to_numpy() & np.isnan(numbers[CLEARANCE])
    which = _numbered(keys)
    found = {}
    for key in dict.fromkeys(keys):
        mine = np.flatnonzero(which == which[keys.index(key)])
        values = {name: column[mine] for name, column in numbers.items()}
        found[Leg(*key)] = StrideDay(day, bouts[mine], values, under[mine])
    return found


def worn_hours(session: SessionFacts, side: str | None) -> float | None:
    """Hours for which the foot's sensor of a side was worn in a session; None where that cannot be told.

    Args:
        session: what is known of it.
        side: left or right; None takes the side that was worn longer.
    """
    rows = [row for row in session.feet or () if side in (None, row[0])]
    sums: dict[str, float] = {}
    for own, seconds in rows:
        if seconds is None:
            return None
        sums[own] = sums.get(own, 0.0) + seconds / 3600.0
    return max(sums.values(), default=None)


def _numbered(keys: Any) -> Any:
    """(n,) a number for each, the same for the same key."""
    numbers: dict[Any, int] = {}
    return np.array([numbers.setdefault(key, len(numbers)) for key in keys], dtype=np.int64)


def _order(item: tuple[Leg, Any]) -> tuple[str, str, str, float]:
    leg = item[0]
    return leg.side or "", leg.condition or "", leg.setting or "", leg.resistance or 0.0
