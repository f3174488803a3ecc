"""What the cohort costs for many people: seconds and peak memory, and the size of its page.

Use: ``python tests/bench/cohort_size.py [people] [strides]``; default 1,000 people, 40 strides a walk.

The sessions' tables are **invented**: one session a person, four walks (unbraced twice, braced softly and firmly), both
legs, curves of sines; nothing of them was walked. Ten people have a second session, every twentieth session is flagged
and every fiftieth rejected. They are written into a temporary folder and gathered by the step itself, in a process of
its own, whose peak memory is told. Reading is from the page cache.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from firstrocker import tables
from firstrocker.files import write_table
from firstrocker.measures import MEASURES
from firstrocker.model import FloatArray
from firstrocker.settings import Settings
from firstrocker.steps.cohort import make_cohort

WALKS = (
    ("a", "unbraced", None, None),
    ("b", "braced", "soft", 50.0),
    ("c", "braced", "firm", 70.0),
    ("d", "unbraced", None, None),
)
SIDES = ("left", "right")
PERCENT = np.arange(101)


def column(schema: pa.Schema, name: str, values: Any, rows: int) -> pa.Array:
    """A column of the schema's type; one value is that of every row."""
    if isinstance(values, (str, float, int, type(None))):
        return pa.array([values] * rows, type=schema.field(name).type)
    return pa.array(values, type=schema.field(name).type)


def table(schema: pa.Schema, rows: int, given: dict[str, Any]) -> pa.Table:
    """A table of so many rows; columns that are not given are null."""
    return pa.table([column(schema, name, given.get(name), rows) for name in schema.names], schema=schema)


def session_tables(rng: np.random.Generator, subject: str, session: str, strides: int) -> dict[str, pa.Table]:
    """One invented session."""
    found: dict[str, list[pa.Table]] = {"strides": [], "curves": [], "summary": []}
    level, change = rng.normal(0, 1, len(MEASURES)), rng.normal(-1, 1, len(MEASURES))
    for walk, condition, setting, resistance in WALKS:
        for side in SIDES:
            head: dict[str, Any] = {"subject": subject, "session": session, "walk": walk, "condition": condition}
            head |= {"side": side, "setting": setting, "resistance": resistance}
            braced = (condition == "braced") * (1.0 if side == "left" else 0.2)
            means = 20.0 + level + braced * change + 0.3 * rng.standard_normal(len(MEASURES))
            values = means + rng.standard_normal((strides, len(MEASURES)))
            numbered = {"bout": [0] * strides, "stride": list(range(strides)), "steady": [True] * strides}
            measured = {m.column: column_ for m, column_ in zip(MEASURES, values.T, strict=True)}
            found["strides"].append(table(tables.STRIDES, strides, head | numbered | {"left_out": ""} | measured))
            found["curves"].append(_curves(rng, head, strides, braced * float(change[0])))
            found["summary"].append(_summary(head, values))
    made = {name: pa.concat_tables(parts) for name, parts in found.items()}
    return made | {"comparison": _comparison(subject, session, change)}


def _curves(rng: np.random.Generator, head: dict[str, Any], strides: int, shift: float) -> pa.Table:
    rows = strides * len(PERCENT)
    course = 20.0 * np.sin(2 * np.pi * PERCENT / 100) + shift + rng.normal(0, 1, (strides, 1))
    given = {name: course.ravel() for name in tables.CURVES.names if name.endswith(("_deg", "_mm", "_deg_s"))}
    numbered = {"bout": [0] * rows, "stride": np.repeat(np.arange(strides), len(PERCENT))}
    return table(
        tables.CURVES, rows, head | numbered | {"percent": np.tile(PERCENT, strides), "steady": [True] * rows} | given
    )


def _summary(head: dict[str, Any], values: FloatArray) -> pa.Table:
    given = {
        "measure": [m.column for m in MEASURES],
        "unit": [m.unit for m in MEASURES],
        "n": [len(values)] * len(MEASURES),
    }
    given |= {"mean": values.mean(axis=0), "sd": values.std(axis=0), "median": np.median(values, axis=0)}
    given["se"] = values.std(axis=0) / np.sqrt(len(values))
    return table(tables.SUMMARY, len(MEASURES), head | given)


def _comparison(subject: str, session: str, change: FloatArray) -> pa.Table:
    names = [walk for walk, *_ in WALKS]
    pairs = [("unbraced", "braced")] + [(f"walk:{a}", f"walk:{b}") for k, a in enumerate(names) for b in names[k + 1 :]]
    rows = [
        {"subject": subject, "session": session, "side": side, "measure": m.column, "unit": m.unit}
        | {"reference": low, "other": high, "n_reference": 20, "n_other": 20, "difference": float(change[k])}
        | {"ci_low": float(change[k]) - 0.5, "ci_high": float(change[k]) + 0.5, "smallest_real_change": 0.4}
        | {"verdict": "lower" if change[k] < -0.5 else "higher" if change[k] > 0.5 else "no clear change"}
        for side in SIDES
        for low, high in pairs
        for k, m in enumerate(MEASURES)
    ]
    return pa.Table.from_pylist(rows, schema=tables.COMPARISON)


def quality(number: int, strides: int) -> dict[str, Any]:
    """What quality.json says of an invented session."""
    status = "rejected" if number % 50 == 49 else "flagged" if number % 20 == 19 else "ok"
    finding = {"code": "invented", "severity": "error" if status == "rejected" else "warning", "walk": None}
    finding |= {"message": "An invented finding.", "remedy": "None is needed."}
    sides = {side: {"strides": strides, "steady": strides} for side in SIDES}
    walks = [
        {"walk": walk, "sides": sides, "setting": {"unit": "Shore A"} if resistance else None}
        for walk, _, _, resistance in WALKS
    ]
    known = status != "rejected"
    return {
        "status": status,
        "findings": [] if status == "ok" else [finding],
        "affected_side": "left" if known else None,
        "walks": walks if known else [],
    }


def write(place: Path, people: int, strides: int) -> None:
    """A study and results of so many invented people."""
    rng = np.random.default_rng(1)
    for number in range(people):
        subject = f"P{number:04}"
        for session in ("1", "2") if number < 10 else ("1",):
            (place / "study" / f"sub-{subject}" / f"ses-{session}").mkdir(parents=True)
            folder = place / "results" / f"sub-{subject}" / f"ses-{session}"
            folder.mkdir(parents=True)
            record = quality(number, strides)
            (folder / "quality.json").write_text(json.dumps(record))
            made = session_tables(rng, subject, session, strides)
            for name, content in made.items():
                write_table(folder / f"{name}.parquet", content if record["walks"] else content.slice(0, 0))


def main(people: int, strides: int) -> None:
    """Write, gather in a process of its own, and tell."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        write(place, people, strides)
        subprocess.run([sys.executable, __file__, "--gather", folder], check=True)
        for file in sorted((place / "results" / "cohort").iterdir()):
            print(f"{file.name:24}{file.stat().st_size / 1e3:12,.0f} kB")


def gather(place: Path) -> None:
    """The step itself, timed."""
    begin, start = time.process_time(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    make_cohort(place / "study", place / "results", settings=Settings())
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{time.process_time() - begin:.1f} s of processor; peak {peak:,.0f} MB, {start:,.0f} MB of it before the work"
    )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--gather"]:
        gather(Path(sys.argv[2]))
    else:
        given = [int(one) for one in sys.argv[1:]]
        main(*(given + [1000, 40][len(given) :]))
