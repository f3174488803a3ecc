"""What counts as a slap, and what as a scuff or near-scuff, stride by stride.

**Slap.** Nobody has published a slap rate above which a drop foot slaps, and people, shoes and braces differ by more
than a person's good day from their bad one. So the person is the measure: a stride is called a slap where its slap rate
exceeds what nine of ten strides of the person's own first days stayed under, on that side, in that condition and
setting. One stride in ten is then a slap by definition; what is watched is whether it becomes more. A study that has a
limit of its own can set it. Common practice, no source.

**Scuff or near-scuff.** A toe that brushes the ground leaves no trace in the measures that would tell it from a heel
strike that comes early, and no recording with known scuffs was at hand to learn one from. What can be said is that the
toe passed so low that it may have touched: its clearance, and that plus the error of the measurement, lie under a
height. 5 mm is the mean of healthy walkers less two of their standard deviations (12.9 and about 4 mm: Winter 1992,
abstract seen). How near to the ground is near is a setting. A low pass is not proof of a touch.
"""

from __future__ import annotations

import numpy as np

from firstrocker.model import BoolArray, FloatArray
from firstrocker.study.days import weighted_quantile

SURE = 1.645
"""Standard errors that are put on top of a clearance: 19 of 20 strides called low are then low."""
MOST_SE_MM = 3.0
"""A toe whose height is known no better than this is not called low, whatever it reads: above it, half of the height
that is asked about is error. From memory, no source."""
MOST_UNDER = 0.2
"""Share of strides with the toe under the ground, above which the sensor does not sit where it is said to."""


def slap_limit(days: list[FloatArray], *, quantile: float) -> float:
    """The slap rate above which a stride of this person is a slap, deg/s.

    Args:
        days: slap rates of the baseline, (n,) per day without NaN; every day weighs the same.
        quantile: share of strides that are to lie below.
    """
    return weighted_quantile(days, quantile)


def low_passes(clearance: FloatArray, error: FloatArray, *, near_mm: float) -> BoolArray:
    """(n,) whether the toe passed within ``near_mm`` of the ground, error allowed for; mm, no NaN."""
    return np.asarray(clearance + SURE * error < near_mm)


def why_no_low_passes(clearance: FloatArray, error: FloatArray, under: BoolArray) -> str:
    """Why a day's low passes cannot be counted, empty where they can.

    Args:
        clearance: (n,) mm, NaN where there is none.
        error: (n,) its standard error.
        under: (n,) whether the toe came out so far under the ground that no clearance is given.
    """
    has = np.isfinite(clearance) & np.isfinite(error)
    if under.sum() > MOST_UNDER * len(under):
        return (
            f"in {int(under.sum())} of {len(under)} strides the toe came out under the ground: the sensor sits "
            "elsewhere on the shoe than is said"
        )
    if not has.any():
        return "no toe clearance"
    typical = float(np.median(error[has]))
    if typical > MOST_SE_MM:
        return f"the toe's height is known to {typical:.1f} mm only: measure with a ruler where the sensor sits"
    return ""
