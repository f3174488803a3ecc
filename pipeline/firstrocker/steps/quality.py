"""quality.json: whether a session's results can be trusted, and everything that was noticed about its input."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from importlib.metadata import version
from platform import python_version
from typing import TYPE_CHECKING, Any

from firstrocker import __version__
from firstrocker.files import sha256_of_json
from firstrocker.layout import SessionName
from firstrocker.model import Finding, Side, Status, WalkInfo
from firstrocker.tables import SCHEMA_VERSION

if TYPE_CHECKING:
    import pyarrow as pa

_LIBRARIES = ("ahrs", "numpy", "pyarrow", "scipy", "vqf")
NO_STRIDES = Finding(
    "no-strides",
    "error",
    "No stride was found in any walk of this session.",
    "Look at the other findings, and at whether these logs are of walking.",
)
"""Why a session is rejected where nothing else says so: a rejection always has a reason."""

_ORDER: tuple[Status, ...] = ("ok", "flagged", "rejected")


def quality_record(
    name: SessionName,
    *,
    affected_side: Side | None,
    status: Status,
    findings: Iterable[Finding],
    walks: Sequence[WalkInfo],
    strides: pa.Table,
    settings: dict[str, Any],
    inputs: Mapping[str, str | None],
) -> dict[str, Any]:
    """The content of quality.json.

    Args:
        name: the session's labels.
        affected_side: as the session file says; None where it could not be read.
        status: what the analysis says of the session; warnings among the findings can make it worse, never better.
        findings: everything noticed, in any order, repeats allowed.
        walks: what the session file says of each walk.
        strides: the session's strides, counted per walk and side.
        settings: the settings the strides depend on, as plain data.
        inputs: label of a file -> its SHA-256; None where it could not be read.
    """
    noticed = sorted(set(findings), key=_place)
    verdict = worst(status, noticed)
    if verdict == "rejected" and not any(finding.severity == "error" for finding in noticed):
        noticed.insert(0, NO_STRIDES)
    return {
        "schema_version": SCHEMA_VERSION,
        "versions": {"firstrocker": __version__, "python": python_version()} | {n: version(n) for n in _LIBRARIES},
        "subject": name.subject,
        "session": name.session,
        "affected_side": affected_side,
        "status": verdict,
        "settings": settings,
        "settings_sha256": sha256_of_json(settings),
        "inputs": dict(sorted(inputs.items())),
        "findings": [asdict(finding) for finding in noticed],
        "walks": [_walk_record(walk, strides) for walk in walks],
    }


def worst(status: Status, findings: Iterable[Finding]) -> Status:
    """The worse of a status and what the findings call for.

    >>> worst("ok", [Finding("gap", "warning", "A gap.")])
    'flagged'
    >>> worst("ok", [Finding("session-file", "error", "No walks.")])
    'rejected'
    """
    called_for: list[Status] = [status]
    for finding in findings:
        if finding.severity == "error" and finding.walk is None:
            called_for.append("rejected")
        elif finding.severity != "info":
            called_for.append("flagged")
    return max(called_for, key=_ORDER.index)


def _walk_record(walk: WalkInfo, strides: pa.Table) -> dict[str, Any]:
    """Strides found, steady and left out by reason, for each side of one walk."""
    sides: dict[str, dict[str, Any]] = {}
    columns = (strides[name].to_pylist() for name in ("walk", "side", "steady", "left_out"))
    for stride_walk, side, steady, left_out in zip(*columns, strict=True):
        if stride_walk != walk.walk:
            continue
        count = sides.setdefault(side, {"strides": 0, "steady": 0, "left_out": {}})
        count["strides"] += 1
        count["steady"] += int(bool(steady))
        if left_out:
            count["left_out"][left_out] = count["left_out"].get(left_out, 0) + 1
    setting = None if walk.setting is None else asdict(walk.setting)
    return {"walk": walk.walk, "condition": walk.condition, "setting": setting, "sides": sides}


def _place(finding: Finding) -> tuple[str, ...]:
    """Sorting key: the session's own findings first, then by walk, sensor, time and code."""
    start = "" if finding.start_s is None else f"{finding.start_s:020.6f}"
    return (finding.walk or "", finding.segment or "", finding.side or "", start, finding.code, finding.message)
