"""Whether left and right were exchanged within a day: from some time on each side goes as the other did before."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from firstrocker.day.findings import clock_time
from firstrocker.errors import SignalError
from firstrocker.model import SIDES, FloatArray

TELLING = (
    *("foot_pitch_heel_strike_deg", "foot_pitch_toe_off_deg", "foot_lowering_rate_deg_s", "toe_clearance_min_mm"),
    *("heel_clearance_max_mm", "slap_rate_deg_s", "push_off_rate_deg_s", "stance_percent", "shank_forward_rate_deg_s"),
)
"""Measures that a gait's sides differ by; none that rests on how the shank stood."""
APART = 1.5
"""Standard deviations of strides by which the sides must differ in a measure for it to tell."""
LEAST_TELLING, LEAST_STRIDES = 3, 10
PAUSE_S = 10.0
"""Least time without a stride of either side in which sensors can be put on anew; common practice, no source."""
MOST_PAUSES = 100
"""Pauses that are looked at, spread over the strides."""
SHARE = 0.5
"""Of what the sides changed by, what may be left of it if they are exchanged back."""


def refuse_crossed(strides: pa.Table) -> None:
    """Refuse a day in which left and right look exchanged from some time on: nobody knows which part is right.

    Told by the strides alone, for sensors that changed legs may well sit on them as before. Sides that go alike cannot
    be told apart by this.

    Args:
        strides: of the day, in the schema STRIDES.

    Raises:
        SignalError: ``sides-exchanged-since``.
    """
    at = strides["heel_strike_s"].to_numpy()
    side = np.array(strides["side"].to_pylist())
    known = np.sort(at[np.isfinite(at)])
    pauses = np.flatnonzero(np.diff(known) > PAUSE_S)
    pauses = pauses[:: -(-len(pauses) // MOST_PAUSES) or 1]
    values = np.array([strides[measure].to_numpy().astype(np.float64) for measure in TELLING])
    left_over = [_left_over(values, side, at, known[place] + 1.0) for place in pauses]
    if not left_over or min(left_over) > SHARE:
        return
    place = pauses[int(np.argmin(left_over))]
    raise SignalError(
        f"left and right look exchanged from some time between {clock_time(known[place])} and "
        f"{clock_time(known[place + 1])} on: the left side goes then as the right one did before, and the right one as "
        "the left. Nobody can tell which part is the right one, so the walk is not measured.",
        code="sides-exchanged-since",
        remedy="Find out which part is right; cut the logs there and give each part's logs their own 'side'.",
    )


def _left_over(values: FloatArray, side: FloatArray, at: FloatArray, time: float) -> float:
    """Of the change of both sides from before a time to after it, the share left if they are exchanged back.

    values: (m, k) by measure and stride. Infinite where too little tells.
    """
    kept = exchanged = 0.0
    telling = 0
    for measured in values:
        has = np.isfinite(measured)
        parts = [measured[(side == name) & when & has] for when in (at < time, at >= time) for name in SIDES]
        if min(map(len, parts)) < LEAST_STRIDES:
            continue
        left, right, left_then, right_then = (float(np.median(part)) for part in parts)
        spread = 1.4826 * max(float(np.median(np.abs(part - np.median(part)))) for part in parts)
        if spread == 0.0 or abs(left - right) < APART * spread:
            continue
        telling += 1
        kept += (abs(left_then - left) + abs(right_then - right)) / spread
        exchanged += (abs(left_then - right) + abs(right_then - left)) / spread
    return exchanged / max(kept, 1e-9) if telling >= LEAST_TELLING else float("inf")
