"""The whole chain on a study folder or on logs at hand, and how a test says that a leg of it is not there yet."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path

import pandas as pd
import pytest

from firstrocker.model import Log, Person, Status, WalkInfo, WalkLogs
from firstrocker.settings import Settings
from shared_data import ROOT

LEGS = ("firstrocker.chain", "firstrocker.signals.read", "firstrocker.signals.clocks", "firstrocker.steps.strides")
MISSING = [leg for leg in LEGS if find_spec(leg) is None]

needs_chain = pytest.mark.skipif(bool(MISSING), reason=f"not there yet: {', '.join(MISSING)}")


def analyse_sessions(sessions: Sequence[Path], results: Path) -> dict[str, Status]:
    """Analyse session folders as the workflow's step does; the status of each by its place in the study."""
    from firstrocker.steps.strides import make_strides

    statuses: dict[str, Status] = {}
    for session in sessions:
        name = f"{session.parent.name}/{session.name}"
        out = results / name
        out.mkdir(parents=True)
        statuses[name] = make_strides(session, out, settings=Settings(), loggers=ROOT / "config" / "loggers")
    return statuses


def strides_of(person: Person, logs: Sequence[Log]) -> pd.DataFrame:
    """The strides of one walk."""
    from firstrocker.chain import analyse

    walk = WalkLogs(WalkInfo("a", "unbraced"), tuple(logs))
    result = analyse(person, [walk], settings=Settings())
    assert result.status != "rejected", result.findings
    return result.strides.to_pandas()
