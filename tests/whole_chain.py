"""The whole chain on a study folder or on logs at hand."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pandas as pd

from firstrocker.chain import analyse
from firstrocker.model import Log, Person, Status, WalkInfo, WalkLogs
from firstrocker.settings import Settings
from firstrocker.steps.strides import make_strides
from shared_data import ROOT


def analyse_sessions(sessions: Sequence[Path], results: Path) -> dict[str, Status]:
    """Analyse session folders as the workflow's step does; the status of each by its place in the study."""
    statuses: dict[str, Status] = {}
    for session in sessions:
        name = f"{session.parent.name}/{session.name}"
        out = results / name
        out.mkdir(parents=True)
        statuses[name] = make_strides(session, out, settings=Settings(), loggers=ROOT / "config" / "loggers")
    return statuses


def strides_of(person: Person, logs: Sequence[Log]) -> pd.DataFrame:
    """The strides of one walk."""
    walk = WalkLogs(WalkInfo("a", "unbraced"), tuple(logs))
    result = analyse(person, [walk], settings=Settings())
    assert result.status != "rejected", result.findings
    return result.strides.to_pandas()
