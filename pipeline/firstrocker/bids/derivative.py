"""A session's strides as events of a derivative dataset: one row per stride, with what was noticed beside it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from firstrocker.bids.dataset import file_stem
from firstrocker.files import write_json, write_text
from firstrocker.measures import BY_COLUMN

if TYPE_CHECKING:
    import pyarrow as pa

_KEYS = ("subject", "session", "walk", "side")
_WORDS: Mapping[str, str] = {
    "onset": "Heel strike that begins the stride, from the first sample of the walk's first foot log; n/a: not found",
    "duration": "Stride time",
    "trial_type": "Always: stride",
    "condition": "What was worn: unbraced or braced",
    "setting": "Label of the brace's setting",
    "resistance": "How much the brace resists plantarflexion, in the unit of the session file",
    "bout": "Number of the bout of walking, from 0",
    "stride": "Number of the stride within the bout, from 0",
    "heel_strike_s": "Heel strike that begins the stride",
    "foot_flat_s": "Foot flat",
    "heel_off_s": "Heel off",
    "toe_off_s": "Toe off",
    "next_heel_strike_s": "Heel strike that ends the stride",
    "contact": "What touched the ground first: heel, flat or forefoot",
    "toe_clearance_kind": "How the least toe clearance was taken: local_minimum or at_peak_speed",
    "steady": "Whether the stride counts in summaries",
    "left_out": "Why it does not: first, last, turn, stairs, slope, short_bout or quality",
    "ground": "What the foot went over: level, up or down (a ramp), stairs_up, stairs_down or unknown",
}


def write_session(out: Path, strides: pa.Table, quality: Mapping[str, Any]) -> None:
    """The events of one session, a file per walk and side; a rejected session has none.

    Args:
        out: the dataset's folder.
        strides: the session's strides.parquet.
        quality: its quality.json.
    """
    subject, session = str(quality["subject"]), str(quality["session"])
    folder = out / f"sub-{subject}" / f"ses-{session}" / "motion"
    rows = strides.to_pylist()
    for walk, side in sorted({(row["walk"], row["side"]) for row in rows}):
        stem = file_stem(subject, session, f"{side}foot", acq=walk)
        own = [row for row in rows if (row["walk"], row["side"]) == (walk, side)]
        names = [name for name in strides.column_names if name not in _KEYS]
        lines = ["\t".join(["onset", "duration", "trial_type", *names])]
        lines += ["\t".join(_cells(row, names)) for row in own]
        write_text(folder / f"{stem}_events.tsv", "\n".join(lines) + "\n")
        write_json(folder / f"{stem}_events.json", _described(names) | _noticed(quality, walk, side))


def _cells(row: Mapping[str, Any], names: list[str]) -> list[str]:
    onset, end = row["heel_strike_s"], row["next_heel_strike_s"]
    duration = None if onset is None or end is None else end - onset
    return [_cell(onset), _cell(duration), "stride", *(_cell(row[name]) for name in names)]


def _cell(value: object) -> str:
    if value is None or value == "":
        return "n/a"
    if isinstance(value, bool):
        return "true" if value else "false"
    return repr(value) if isinstance(value, float) else str(value)


def _described(names: list[str]) -> dict[str, Any]:
    told: dict[str, Any] = {}
    for name in ("onset", "duration", "trial_type", *names):
        base = name.removesuffix("_se")
        measure = BY_COLUMN.get(base)
        if measure is not None:
            of = "" if base == name else "One standard error of the measurement: "
            told[name] = {"Description": f"{of}{measure.label}", "Units": measure.unit}
        else:
            told[name] = {"Description": _WORDS[name]}
            if name in ("onset", "duration") or name.endswith("_s"):
                told[name]["Units"] = "s"
    return told


def _noticed(quality: Mapping[str, Any], walk: str, side: str) -> dict[str, Any]:
    """The session's status, the brace's setting with its unit, and every finding that touches this side of the walk."""
    findings = [
        {key: finding[key] for key in ("code", "severity", "message")}
        for finding in quality["findings"]
        if finding["walk"] in (None, walk) and finding["side"] in (None, side)
    ]
    setting = next((one["setting"] for one in quality["walks"] if one["walk"] == walk), None)
    return {"SessionStatus": quality["status"], "BraceSetting": setting or "n/a", "Findings": findings}
