"""quality.json: sorted, repeatable, and never a rejection without a reason."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest

from firstrocker import tables
from firstrocker.files import sha256_of
from firstrocker.layout import SessionName
from firstrocker.model import Finding, Setting, Status, WalkInfo
from firstrocker.steps.quality import quality_record, worst

WALKS = (WalkInfo("a", "unbraced"), WalkInfo("b", "braced", Setting("soft", 50.0, "Shore A")))


def record(
    findings: list[Finding], *, status: Status = "ok", rows: list[dict[str, Any]] | None = None
) -> dict[str, Any]:
    return quality_record(
        SessionName("P01", "1"),
        affected_side="left",
        status=status,
        findings=findings,
        walks=WALKS,
        strides=pa.Table.from_pylist(rows or [], schema=tables.STRIDES),
        settings={"gait": {"turn_deg": 20.0}},
        inputs={},
    )


GAP = Finding(
    "gap", "warning", "A gap.", "Record again.", walk="b", segment="foot", side="left", start_s=12.0, end_s=13.0
)
EARLIER = Finding(
    "gap", "warning", "A gap.", "Record again.", walk="b", segment="foot", side="left", start_s=2.0, end_s=3.0
)
NOTE = Finding("axes", "info", "Axes were found.", walk="a")
NO_FILE = Finding("session-file", "error", "There is none.", "Write one.")
LOST = Finding("log-unreadable", "error", "It is not text.", "Export it again.", walk="a")


def test_findings_are_sorted_and_told_once() -> None:
    one, other = record([GAP, NOTE, EARLIER, GAP]), record([EARLIER, GAP, NOTE])
    assert json.dumps(one) == json.dumps(other)
    assert [(f["walk"], f["start_s"]) for f in one["findings"]] == [("a", None), ("b", 2.0), ("b", 12.0)]


@pytest.mark.parametrize(
    ("status", "findings", "expected"),
    [
        ("ok", [], "ok"),
        ("ok", [NOTE], "ok"),
        ("ok", [GAP], "flagged"),
        ("ok", [LOST], "flagged"),
        ("ok", [NO_FILE], "rejected"),
        ("rejected", [NOTE], "rejected"),
        ("flagged", [], "flagged"),
    ],
)
def test_status_is_the_worst_of_all(status: Status, findings: list[Finding], expected: Status) -> None:
    assert worst(status, findings) == expected
    assert record(findings, status=status)["status"] == expected


def test_a_rejection_always_says_why() -> None:
    errors = [f for f in record([NOTE], status="rejected")["findings"] if f["severity"] == "error"]
    assert [finding["code"] for finding in errors] == ["no-strides"]
    assert len(record([NO_FILE], status="rejected")["findings"]) == 1


def test_strides_are_counted_by_walk_and_side() -> None:
    def stride(walk: str, side: str, left_out: str) -> dict[str, Any]:
        return {"walk": walk, "side": side, "steady": not left_out, "left_out": left_out}

    rows = [
        stride("a", "left", "first"),
        stride("a", "left", ""),
        stride("a", "left", "first"),
        stride("a", "right", ""),
    ]
    walks = record([], rows=rows)["walks"]
    assert [walk["walk"] for walk in walks] == ["a", "b"]
    assert walks[0]["sides"] == {
        "left": {"strides": 3, "steady": 1, "left_out": {"first": 2}},
        "right": {"strides": 1, "steady": 1, "left_out": {}},
    }
    assert walks[1]["sides"] == {}
    assert walks[1]["setting"] == {"label": "soft", "resistance": 50.0, "unit": "Shore A"}


def test_settings_and_inputs_are_fingerprinted(tmp_path: Path) -> None:
    log = tmp_path / "a.csv"
    log.write_bytes(b"abc")
    made = quality_record(
        SessionName("P01", "1"),
        affected_side=None,
        status="ok",
        findings=[],
        walks=[],
        strides=tables.STRIDES.empty_table(),
        settings={"b": 1, "a": 2},
        inputs={"a.csv": sha256_of(log), "b.csv": None},
    )
    # SHA-256 of "abc" as published in FIPS 180-2, appendix B.1 (from memory).
    assert made["inputs"] == {
        "a.csv": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
        "b.csv": None,
    }
    assert len(made["settings_sha256"]) == 64
    assert set(made["versions"]) >= {"firstrocker", "numpy", "pyarrow", "python", "scipy", "vqf"}
