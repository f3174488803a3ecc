"""Both feet of eight healthy people, 24 walks with hand-checked foot events: as a study, and as a judge of results.

Data: ``../shared/data/annotated_feet``, "A Reference Data Set for the Study of Healthy Subject Gait with Inertial
Measurements Units", https://www.ipol.im/pub/art/2023/497/, files unchanged, AGPL-3.0 (licence text beside them). Read,
never copied into the repository. 100 Hz, m/s^2, rad/s; each walk about 2 x 10 m with a U-turn, standing at both ends.

What the files mean, as found by measuring them:

* An annotation is a pair of ``PacketCounter`` values (foot off, contact), not of rows: rows are missing where the
  counter jumps (by 2 to 12); it never wraps or repeats. Walk 7-1 has annotations past its last row, none past its last
  count.
* The counter is real time: the stride times of walk 3-3, which lost 5 % of its samples, scatter by 2 samples when
  counted by it and by 11 when counted in rows. Left and right share it; logs start at count 0, 1 or 2.
* So ``time = PacketCounter / 100 Hz``; results count seconds from the first sample of the left log, named first.
* Each foot's first event is a foot off that no contact precedes, so no stride holds it: it is not asked for.
* Some files annotate steps outside ``TrialBoundaries``; those are neither asked for nor held against anyone.

The people walked without braces; ``affected_side`` says left only because a session file must name a side.

Use: ``PYTHONPATH=tests python -m real.annotated_feet make DATA STUDY`` and, after the workflow ran on STUDY,
``PYTHONPATH=tests python -m real.annotated_feet judge DATA RESULTS``.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import yaml
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

RATE_HZ = 100.0
SESSION = "1"
SUBJECTS = (1, 2, 3, 4, 5, 6, 7, 8)
DEVELOPMENT = (1, 2, 3, 4)
"""Whoever tunes may look at these; the others only judge."""
WALKS = (1, 2, 3)
SIDES = {"left": ("lf", "LeftFootEvents"), "right": ("rf", "RightFootEvents")}
WINDOW_S = 0.15
"""A found event may lie this far from an annotated one, or half-way to the next of its kind where that is nearer."""

PROFILE: dict[str, Any] = {
    "columns": {
        "time": "time_s",
        "acceleration": ["Acc_X", "Acc_Y", "Acc_Z"],
        "angular_velocity": ["Gyr_X", "Gyr_Y", "Gyr_Z"],
    },
    "units": {"time": "s", "acceleration": "m/s^2", "angular_velocity": "rad/s"},
    "delimiter": "\t",
    "skip_rows": 1,
    "axes": "unknown",
}


@dataclass(frozen=True)
class Annotation:
    """What the hand-checked file says of one walk, s since the left log's first sample.

    foot_off, contact: by side, (n,) each. trial, turn: first and last instant.
    """

    foot_off: dict[str, FloatArray]
    contact: dict[str, FloatArray]
    trial: tuple[float, float]
    turn: tuple[float, float]


def subject_label(subject: int) -> str:
    """The label a subject has in the study."""
    return f"F{subject}"


def log_path(data: Path, subject: int, walk: int, side: str) -> Path:
    """A published log."""
    return data / f"{subject}-{walk}_{SIDES[side][0]}.txt"


def make_study(data: Path, study: Path, *, subjects: tuple[int, ...] = SUBJECTS) -> list[Path]:
    """Write a study folder: one session per subject with its three walks, both feet each.

    The published lines are kept but for their first field, the packet counter, which becomes seconds.

    Returns:
        The session folders.
    """
    sessions = []
    for subject in subjects:
        folder = study / f"sub-{subject_label(subject)}" / f"ses-{SESSION}"
        folder.mkdir(parents=True)
        walks = []
        for walk in WALKS:
            logs = []
            for side in SIDES:
                name = f"{walk}_{side}_foot.txt"
                (folder / name).write_text(in_seconds(log_path(data, subject, walk, side).read_text()))
                logs.append({"segment": "foot", "side": side, "file": name, "logger": "packets"})
            walks.append({"walk": str(walk), "condition": "unbraced", "logs": logs})
        session = {
            "subject": subject_label(subject),
            "session": SESSION,
            "affected_side": "left",
            "loggers": {"packets": PROFILE},
            "walks": walks,
        }
        (folder / "session.yaml").write_text(yaml.safe_dump(session, sort_keys=False))
        sessions.append(folder)
    return sessions


def in_seconds(text: str) -> str:
    """A published log with its packet counter as seconds.

    >>> in_seconds("rate\\nPacketCounter\\tAcc_X\\n0.0\\t9.8\\n3.0\\t9.7\\n")
    'rate\\ntime_s\\tAcc_X\\n0.00\\t9.8\\n0.03\\t9.7\\n'
    """
    preamble, header, *lines = text.splitlines()
    converted = [preamble, header.replace("PacketCounter", "time_s", 1)]
    for line in lines:
        count, rest = line.split("\t", 1)
        converted.append(f"{float(count) / RATE_HZ:.2f}\t{rest}")
    return "\n".join(converted) + "\n"


def read_annotation(data: Path, subject: int, walk: int) -> Annotation:
    """The annotations of one walk on the clock of its results."""
    with log_path(data, subject, walk, "left").open() as file:
        first_count = float(next(line for number, line in enumerate(file) if number == 2).split("\t", 1)[0])
    raw = json.loads((data / f"{subject}-{walk}.json").read_text())

    def seconds(counts: Any) -> FloatArray:
        return (np.asarray(counts, dtype=np.float64) - first_count) / RATE_HZ

    pairs = {side: np.asarray(raw[key]) for side, (_, key) in SIDES.items()}
    trial, turn = seconds(raw["TrialBoundaries"]), seconds(raw["UTurnBoundaries"])
    return Annotation(
        foot_off={side: seconds(pair[:, 0]) for side, pair in pairs.items()},
        contact={side: seconds(pair[:, 1]) for side, pair in pairs.items()},
        trial=(float(trial[0]), float(trial[1])),
        turn=(float(turn[0]), float(turn[1])),
    )


def read_strides(results: Path, subject: int) -> pd.DataFrame:
    """The subject's strides.parquet, walk as a number."""
    strides = pd.read_parquet(results / f"sub-{subject_label(subject)}" / f"ses-{SESSION}" / "strides.parquet")
    return strides.assign(walk=strides["walk"].astype(int))


def match(annotated: FloatArray, found: FloatArray, window: float = WINDOW_S) -> list[tuple[int, int]]:
    """Pairs (annotated, found), nearest first, none used twice.

    An annotated event takes what lies within ``window``, or within half the way to its neighbour if that is less.

    >>> [(int(i), int(j)) for i, j in match(np.array([1.0, 2.0]), np.array([0.98, 1.04, 2.3]))]
    [(0, 0)]
    """
    if len(annotated) == 0 or len(found) == 0:
        return []
    step = np.diff(annotated, prepend=-np.inf, append=np.inf)
    reach = np.minimum(window, np.minimum(step[:-1], step[1:]) / 2)
    distance = np.abs(annotated[:, None] - found[None, :])
    pairs: list[tuple[int, int]] = []
    for i, j in sorted(zip(*np.nonzero(distance <= reach[:, None]), strict=True), key=lambda ij: distance[ij]):
        if i not in {p[0] for p in pairs} and j not in {p[1] for p in pairs}:
            pairs.append((i, j))
    return sorted(pairs)


def events(results: Path, data: Path, *, subjects: tuple[int, ...] = SUBJECTS) -> pd.DataFrame:
    """Every event asked for or found, one row each.

    Columns: subject, walk, side, event (heel strike, foot off), annotated_s, found_s (NaN where there is none),
    error_s = found - annotated, in_turn.
    """
    rows: list[dict[str, Any]] = []
    for subject in subjects:
        strides = read_strides(results, subject)
        for walk in WALKS:
            annotation = read_annotation(data, subject, walk)
            for side in SIDES:
                mine = strides[(strides["walk"] == walk) & (strides["side"] == side)]
                place = {"subject": subject, "walk": walk, "side": side}
                heel = mine[["heel_strike_s", "next_heel_strike_s"]].to_numpy().ravel()
                contact, foot_off = annotation.contact[side], annotation.foot_off[side]
                rows += _compare(place | {"event": "heel strike"}, contact, heel, contact, annotation)
                toe = mine["toe_off_s"].to_numpy()
                rows += _compare(place | {"event": "foot off"}, foot_off, toe, foot_off[1:], annotation)
    return pd.DataFrame(rows)


def _compare(
    place: dict[str, Any], known: FloatArray, got: FloatArray, asked: FloatArray, annotation: Annotation
) -> list[dict[str, Any]]:
    found = np.unique(np.round(got[np.isfinite(got)], 4))
    pairs = match(known, found)
    partner = dict(pairs)
    (start, end), turn = annotation.trial, annotation.turn
    rows = []
    for i, instant in enumerate(known):
        if start <= instant <= end and (i in partner or instant in asked):
            at = found[partner[i]] if i in partner else np.nan
            rows.append({"annotated_s": instant, "found_s": at, "error_s": at - instant})
    used = {j for _, j in pairs}
    for j, instant in enumerate(found):
        if start <= instant <= end and j not in used:
            rows.append({"annotated_s": np.nan, "found_s": instant, "error_s": np.nan})
    for row in rows:
        at = row["annotated_s"] if np.isfinite(row["annotated_s"]) else row["found_s"]
        row["in_turn"] = bool(turn[0] <= at <= turn[1])
    return [place | row for row in rows]


def judge(results: Path, data: Path, *, subjects: tuple[int, ...] = SUBJECTS, turns: bool = True) -> pd.DataFrame:
    """Heel strikes and foot offs per subject, then over the development subjects and over those held back.

    Args:
        results: a results folder. data: folder of the set. subjects: whom to judge.
        turns: whether events within the annotated U-turns count too.

    Returns:
        columns who, event, annotated, found (and matched), missed, extra, bias_ms, sd_ms, median_ms, worst_ms (of found
        - annotated), and turn_steady: strides counted as steady of which more than half lies in the annotated U-turn.
    """
    table = events(results, data, subjects=subjects)
    table = table if turns else table[~table["in_turn"]]
    steady = {subject: steady_in_turn(results, data, subject) for subject in subjects}
    groups: list[tuple[str, tuple[int, ...]]] = [(subject_label(s), (s,)) for s in subjects]
    held_back = tuple(s for s in SUBJECTS if s not in DEVELOPMENT)
    for name, members in (("development", DEVELOPMENT), ("held back", held_back)):
        if set(members) <= set(subjects):
            groups.append((name, members))
    rows = []
    for who, members in groups:
        for event in ("heel strike", "foot off"):
            part = table[table["subject"].isin(members) & (table["event"] == event)]
            error = part["error_s"].dropna() * 1e3
            rows.append(
                {
                    "who": who,
                    "event": event,
                    "annotated": int(part["annotated_s"].notna().sum()),
                    "found": len(error),
                    "missed": int((part["annotated_s"].notna() & part["found_s"].isna()).sum()),
                    "extra": int(part["annotated_s"].isna().sum()),
                    "bias_ms": float(error.mean()),
                    "sd_ms": float(error.std()),
                    "median_ms": float(error.median()),
                    "worst_ms": float(error.abs().max()),
                    "turn_steady": sum(steady[s] for s in members),
                }
            )
    return pd.DataFrame(rows)


def steady_in_turn(results: Path, data: Path, subject: int) -> int:
    """Strides counted as steady though more than half of them lies in the annotated U-turn."""
    strides = read_strides(results, subject)
    count = 0
    for walk in WALKS:
        start, end = read_annotation(data, subject, walk).turn
        mine = strides[(strides["walk"] == walk) & strides["steady"].astype(bool)]
        first, last = mine["heel_strike_s"].to_numpy(), mine["next_heel_strike_s"].to_numpy()
        inside = np.minimum(last, end) - np.maximum(first, start)
        count += int((inside > (last - first) / 2).sum())
    return count


def main() -> None:
    """Make the study or judge results."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("task", choices=("make", "judge"))
    parser.add_argument("data", type=Path)
    parser.add_argument("folder", type=Path, help="the study to make, or the results to judge")
    given = parser.parse_args()
    if given.task == "make":
        make_study(given.data, given.folder)
    else:
        for turns, title in ((True, "every event"), (False, "outside the U-turns")):
            print(f"\n{title}")
            told = judge(given.folder, given.data, turns=turns)
            print(told.to_string(index=False, float_format="{:.1f}".format))


if __name__ == "__main__":
    main()
