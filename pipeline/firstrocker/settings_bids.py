"""The settings that say what the labels of a Motion-BIDS dataset mean."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import model_validator

from firstrocker.model import Condition, Segment, Side
from firstrocker.settings_fields import Section, setting

Place = Literal["left foot", "right foot", "left shank", "right shank", "none"]


class Worn(Section):
    """What was worn in the recordings of one label: unbraced, braced with a setting or without, or none to be read."""

    condition: Literal["unbraced", "braced", "none"]
    label: str | None = None
    resistance: float | None = None
    unit: str = ""

    @model_validator(mode="after")
    def _setting_of_a_brace(self) -> Self:
        if self.condition != "braced" and (self.label is not None or self.resistance is not None):
            raise ValueError("only 'braced' can have a label and a resistance of the brace")
        if self.label is None and (self.resistance is not None or self.unit):
            raise ValueError("a resistance needs the label of the brace's setting")
        return self

    @property
    def condition_worn(self) -> Condition | None:
        """None where the label's recordings are not to be read."""
        return None if self.condition == "none" else self.condition


class BidsSettings(Section):
    """How a Motion-BIDS dataset is read as a study; where ``session.yaml`` says it, that counts."""

    walks: dict[str, Worn] = setting(
        {},
        unit="label",
        meaning="What was worn, by acq- or else task- label: {condition: unbraced | braced | none, label: soft, "
        "resistance: 50, unit: Shore A}; none passes the recordings over.",
        why="labels are free; unbraced and braced mean what they say without an entry.",
    )
    tracked_points: dict[str, Place] = setting(
        {},
        unit="name",
        meaning="Segment and side of a tracked point of channels.tsv: left foot, right foot, left shank, right shank, "
        "none.",
        why="names are free; those that hold a side and foot, shoe, shank or tibia need no entry.",
    )
    affected_side: dict[str, Side] = setting(
        {},
        unit="label",
        meaning="Affected side by the subject's label.",
        why="the standard has no place for it; a column affected_side of participants.tsv does as well.",
    )


def segment_and_side(place: Place) -> tuple[Segment, Side] | None:
    """What a tracked point's setting means.

    >>> segment_and_side("left foot")
    ('foot', 'left')
    """
    known: dict[Place, tuple[Segment, Side]] = {
        "left foot": ("foot", "left"),
        "right foot": ("foot", "right"),
        "left shank": ("shank", "left"),
        "right shank": ("shank", "right"),
    }
    return known.get(place)
