"""What part of the measurement's own error averages out over strides, and what part does not.

The ``<measure>_se`` twins give one standard error for each stride. They do not say whether that error is drawn anew
with every stride (noise, drift between two foot flats), is the same for all strides of a walk (how the sensor's axes
were found, the gyroscope's bias and scale, what standing counted as zero), or is the same for all walks of the session
(where the sensor sits on the shoe). The first kind is already in the scatter of the strides and averages out; the
second does not average out; the third does not either, but cancels when two walks of a session are compared.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from firstrocker.measures import MEASURES
from firstrocker.model import FloatArray
from firstrocker.study.strides import WalkStrides


@dataclass(frozen=True)
class ErrorShares:
    """Shares of the measurement's error variance; what is left of 1 is drawn anew with every stride.

    walk: common to the strides of one walk, new with the next walk. session: common to all walks of a session.
    """

    walk: float = 1.0
    session: float = 0.0

    def __post_init__(self) -> None:
        if min(self.walk, self.session) < 0 or self.walk + self.session > 1 + 1e-9:
            raise ValueError("Shares of the error variance lie between 0 and 1 and sum to at most 1.")


WORST_CASE = ErrorShares(walk=1.0, session=0.0)
"""Nothing averages out and nothing cancels: what is assumed of a measure unless its shares were measured."""


def common_variance(walk: WalkStrides, shares: Mapping[str, ErrorShares], *, with_session: bool) -> FloatArray:
    """Variance of a walk's mean that comes from error common to its strides.

    Args:
        walk: the walk; of its ``errors`` the mean square over strides that have a value counts.
        shares: by column name; a measure not named gets :data:`WORST_CASE`.
        with_session: whether what all walks of the session share counts too (for a mean by itself) or not (for a
            difference within the session, where it cancels).

    Returns:
        (m,), 0 where the measure has no standard error (timing and shock have none: their error is not in it).
    """
    squares = np.where(np.isfinite(walk.values), walk.errors**2, np.nan)
    known = np.isfinite(squares)
    mean = np.where(known, squares, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    chosen = [shares.get(measure.column, WORST_CASE) for measure in MEASURES]
    part = np.array([share.walk + (share.session if with_session else 0.0) for share in chosen])
    return np.asarray(part * mean, dtype=np.float64)


def shares_of_errors(errors: FloatArray, *, walk: list[str], session: list[str]) -> ErrorShares:
    """Measure the shares where the errors themselves are known, that is on walks with a known truth.

    Args:
        errors: (n,) measured minus true, one per stride.
        walk: (n,) the walk of each; names need only be unique within a session.
        session: (n,) the session of each.

    Returns:
        the shares, by the expected squares and products of the walks' mean errors; :data:`WORST_CASE` where there
        are not two walks of two strides to tell them by.
    """
    members: dict[tuple[str, str], list[float]] = {}
    for error, *key in zip(errors.tolist(), session, walk, strict=True):
        if np.isfinite(error):
            members.setdefault((key[0], key[1]), []).append(error)
    groups: dict[str, list[FloatArray]] = {}
    for (of_session, _), found in members.items():
        if len(found) >= 2:
            groups.setdefault(of_session, []).append(np.array(found))
    walks = [found for group in groups.values() for found in group]
    if len(walks) < 2:
        return WORST_CASE
    stride_part = float(np.mean([found.var(ddof=1) for found in walks]))
    common = float(np.mean([found.mean() ** 2 - found.var(ddof=1) / len(found) for found in walks]))
    products = [
        float(one.mean() * other.mean())
        for group in groups.values()
        for place, one in enumerate(group)
        for other in group[place + 1 :]
    ]
    common = max(common, 0.0)
    session_part = min(max(float(np.mean(products)), 0.0), common) if products else 0.0
    whole = stride_part + common
    if whole <= 0:
        return WORST_CASE
    return ErrorShares(walk=(common - session_part) / whole, session=session_part / whole)
