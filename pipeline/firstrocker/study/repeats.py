"""What a walk differs from its own repeat: two walks of one condition and setting in one session."""

from __future__ import annotations

import numpy as np

from firstrocker.model import FloatArray
from firstrocker.study.dependence import WalkFit, sampling_variance
from firstrocker.study.strides import WalkStrides

Key = tuple[str, str | None, float | None]


def setting_key(walk: WalkStrides) -> Key:
    """Condition, setting and resistance: walks that agree in all three are repeats of each other."""
    return walk.condition, walk.setting, walk.resistance


def repeat_variance(walks: list[WalkStrides], fits: list[WalkFit], grid: FloatArray, *, min_strides: int) -> FloatArray:
    """Variance between repeated walks beyond what their strides explain.

    The squared spread of the means of walks of one condition and setting about their mean, pooled over such groups,
    minus the sampling variance their strides explain already. Measurement error that is new with each walk is in the
    spread too, so it errs on the wide side.

    Args:
        walks: one session's walks of one side.
        fits: theirs, in the same order.
        grid: (G, m) weights of the nodes.
        min_strides: walks with fewer strides of a measure are left out.

    Returns:
        (m,), never below 0; 0 where no condition and setting was walked twice.
    """
    m = grid.shape[1]
    groups: dict[Key, list[int]] = {}
    for place, walk in enumerate(walks):
        groups.setdefault(setting_key(walk), []).append(place)
    squares, explained, freedom = np.zeros(m), np.zeros(m), np.zeros(m)
    for places in groups.values():
        if len(places) < 2:
            continue
        mean = np.stack([fits[place].mean for place in places])
        sampling = np.stack([sampling_variance(fits[place], grid) for place in places])
        usable = np.stack([fits[place].n >= min_strides for place in places]) & np.isfinite(sampling)
        count = usable.sum(axis=0)
        centre = np.where(usable, mean, 0.0).sum(axis=0) / np.maximum(count, 1)
        more = np.maximum(count - 1, 0)
        squares += np.where(usable, (mean - centre) ** 2, 0.0).sum(axis=0) * (more > 0)
        explained += np.where(usable, sampling, 0.0).sum(axis=0) / np.maximum(count, 1) * more
        freedom += more
    spread = np.where(freedom > 0, (squares - explained) / np.maximum(freedom, 1), 0.0)
    return np.asarray(np.maximum(spread, 0.0), dtype=np.float64)
