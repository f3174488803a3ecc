"""From the settings to what the labels of a Motion-BIDS dataset mean."""

from __future__ import annotations

from firstrocker.model import Condition, Setting
from firstrocker.settings import Settings
from firstrocker.settings_bids import Worn, segment_and_side
from firstrocker.signals.motion_names import MotionLabels


def motion_labels(settings: Settings) -> MotionLabels:
    """The section bids, as the readers take it."""
    bids = settings.bids
    return MotionLabels(
        walks={label: _meaning(worn) for label, worn in bids.walks.items()},
        points={point: segment_and_side(place) for point, place in bids.tracked_points.items()},
        affected_side=bids.affected_side,
    )


def _meaning(worn: Worn) -> tuple[Condition, Setting | None] | None:
    condition = worn.condition_worn
    if condition is None:
        return None
    return condition, None if worn.label is None else Setting(worn.label, worn.resistance, worn.unit)
