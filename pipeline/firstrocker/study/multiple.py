"""Many questions asked at once: which answers still stand."""

from __future__ import annotations

import numpy as np

from firstrocker.model import FloatArray

LEADING = ("toe_clearance_min_mm", "slap_rate_deg_s", "foot_lowering_rate_deg_s", "shank_forward_rate_deg_s")
"""The measures that answer the questions every report asks; all others are further ones."""


def holm(p_values: FloatArray) -> FloatArray:
    """Adjusted p values that keep the chance of any false claim in the family (Holm 1979).

    Chosen over a false discovery rate: a single false claim about a brace can hurt someone, and Holm's holds however
    the measures hang together, as measures of one stride do in both directions.

    Args:
        p_values: (n,) of one family; NaN is none asked.

    Returns:
        (n,), NaN where there was none.
    """
    adjusted = np.full(len(p_values), np.nan)
    asked = np.flatnonzero(np.isfinite(p_values))
    order = asked[np.argsort(p_values[asked], kind="stable")]
    steps = p_values[order] * np.arange(len(order), 0, -1)
    adjusted[order] = np.minimum(np.maximum.accumulate(steps), 1.0)
    return adjusted
