"""Rows of comparison.parquet as Hypothesis draws them: any interval, or none, with any verdict."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from firstrocker.tables import VERDICTS


def _row(difference: float, half: float | None, real: float, verdict: str) -> dict[str, Any]:
    return {
        "side": "left",
        "reference": "unbraced",
        "other": "braced",
        "n_reference": 12,
        "n_other": 9,
        "difference": difference,
        "ci_low": None if half is None else difference - half,
        "ci_high": None if half is None else difference + half,
        "smallest_real_change": real,
        "verdict": verdict,
    }


comparison_rows = st.builds(
    _row,
    st.floats(-300, 300),
    st.none() | st.floats(0.001, 300),
    st.floats(0.001, 300),
    st.sampled_from(VERDICTS),
)
