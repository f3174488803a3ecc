"""How well repeated measurements agree: SEM, detectable change, intraclass correlation, limits of agreement."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtri, ndtri, stdtrit

from firstrocker.model import FloatArray


@dataclass(frozen=True)
class Bounded:
    """A number with its interval."""

    value: float
    ci_low: float
    ci_high: float


@dataclass(frozen=True)
class Intraclass:
    """Intraclass correlations of single measurements (Shrout & Fleiss 1979).

    agreement: ICC(2,1), occasions drawn from many: a shift of all people between occasions counts as error.
    consistency: ICC(3,1), these occasions only: it does not.
    """

    agreement: Bounded
    consistency: Bounded
    people: int
    occasions: int


@dataclass(frozen=True)
class Agreement:
    """Bland and Altman's limits: where 95 % of the differences of two measurements of one thing lie."""

    bias: Bounded
    sd: float
    lower: Bounded
    upper: Bounded
    n: int


def sem_from_icc(sd: float, icc: float) -> float:
    """Standard error of measurement, sd * sqrt(1 - icc) (Weir 2005, from memory); NaN for an icc outside 0 to 1."""
    return float(sd * np.sqrt(1.0 - icc)) if 0.0 <= icc <= 1.0 else float("nan")


def sem_from_differences(differences: FloatArray) -> float:
    """Standard error of measurement from the differences of two measurements each: their SD / sqrt(2).

    A shift common to all is left out, as in ICC(3,1). NaN under two differences.
    """
    d = differences[np.isfinite(differences)]
    return float(d.std(ddof=1) / np.sqrt(2.0)) if len(d) > 1 else float("nan")


def minimal_detectable_change(sem: float, *, confidence: float = 0.95) -> float:
    """The change that pairs of measurements of something unchanged stay under: 1.96 * sqrt(2) * SEM (Weir 2005)."""
    return float(ndtri(0.5 + confidence / 2.0) * np.sqrt(2.0) * sem)


def intraclass_correlation(table: FloatArray, *, confidence: float = 0.95) -> Intraclass:
    """Both intraclass correlations of people measured on several occasions.

    The intervals are those of Shrout & Fleiss (1979), by the F distribution; ICC(2,1)'s is approximate.

    Args:
        table: (n people, k occasions); people with a NaN are left out.
        confidence: of the intervals.

    Returns:
        the correlations, all NaN under two people or two occasions or where nothing varies.
    """
    x = table[np.isfinite(table).all(axis=1)]
    n, k = x.shape
    if n < 2 or k < 2 or np.ptp(x) == 0:
        nothing = Bounded(np.nan, np.nan, np.nan)
        return Intraclass(nothing, nothing, n, k)
    people = k * float(x.mean(axis=1).var(ddof=1))
    occasions = n * float(x.mean(axis=0).var(ddof=1))
    residuals = x - x.mean(axis=1, keepdims=True) - x.mean(axis=0) + x.mean()
    error = float((residuals**2).sum()) / ((n - 1) * (k - 1))
    tail = (1.0 - confidence) / 2.0

    consistency = (people - error) / (people + (k - 1) * error)
    freedom = (n - 1) * (k - 1)
    if error > 0:
        low = people / error / fdtri(n - 1, freedom, 1.0 - tail)
        high = people / error * fdtri(freedom, n - 1, 1.0 - tail)
        third = Bounded(consistency, float((low - 1) / (low + k - 1)), float((high - 1) / (high + k - 1)))
    else:
        third = Bounded(consistency, np.nan, np.nan)

    agreement = (people - error) / (people + (k - 1) * error + k * (occasions - error) / n)
    low, high = _agreement_interval(agreement, people, occasions, error, n, k, tail)
    return Intraclass(Bounded(agreement, low, high), third, n, k)


def bland_altman(one: FloatArray, other: FloatArray, *, confidence: float = 0.95, multiple: float = 1.96) -> Agreement:
    """Limits of agreement of two measurements, one minus other (Bland & Altman 1986).

    Args:
        one: (n,).
        other: (n,), pairs with a NaN left out.
        confidence: of the intervals of bias and limits; a limit's standard error is about s * sqrt(3 / n).
        multiple: of the standard deviation; the paper itself used 2.

    Returns:
        the limits; all NaN under two pairs.
    """
    d = one - other
    d = d[np.isfinite(d)]
    n = len(d)
    if n < 2:
        nothing = Bounded(np.nan, np.nan, np.nan)
        return Agreement(nothing, np.nan, nothing, nothing, n)
    bias, sd = float(d.mean()), float(d.std(ddof=1))
    t = float(stdtrit(n - 1, 0.5 + confidence / 2.0))
    of_bias, of_limit = t * sd / np.sqrt(n), t * sd * np.sqrt(3.0 / n)

    def bounded(value: float, half: float) -> Bounded:
        return Bounded(float(value), float(value - half), float(value + half))

    return Agreement(
        bias=bounded(bias, of_bias),
        sd=sd,
        lower=bounded(bias - multiple * sd, of_limit),
        upper=bounded(bias + multiple * sd, of_limit),
        n=n,
    )


def _agreement_interval(
    icc: float, people: float, occasions: float, error: float, n: int, k: int, tail: float
) -> tuple[float, float]:
    """Shrout & Fleiss's interval of ICC(2,1), with Satterthwaite's degrees of freedom."""
    if error <= 0:
        return float("nan"), float("nan")
    ratio = occasions / error
    base = n * (1 + (k - 1) * icc) - k * icc
    numerator = (k - 1) * (n - 1) * (k * icc * ratio + base) ** 2
    denominator = (n - 1) * (k * icc * ratio) ** 2 + base**2
    freedom = numerator / denominator
    high_f = fdtri(n - 1, freedom, 1.0 - tail)
    low_f = fdtri(freedom, n - 1, 1.0 - tail)
    rest = k * occasions + (k * n - k - n) * error
    low = n * (people - high_f * error) / (high_f * rest + n * people)
    high = n * (low_f * people - error) / (rest + n * low_f * people)
    return float(low), float(high)
