"""How names of a Motion-BIDS dataset read: entities of files, tracked points, units, axes.

The standard: Brain Imaging Data Structure, motion (from version 1.9 on), https://bids-specification.readthedocs.io.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from firstrocker.model import Condition, Segment, Setting, Side

FOLDER = "motion"
_FOOT: Segment = "foot"
_SHANK: Segment = "shank"
SEGMENT_WORDS: Mapping[str, Segment] = MappingProxyType(
    dict.fromkeys(("foot", "feet", "shoe", "instep"), _FOOT)
    | dict.fromkeys(("shank", "tibia", "lowerleg", "shin", "calf"), _SHANK)
)
SIDE_WORDS: Mapping[str, Side] = MappingProxyType({"left": "left", "l": "left", "right": "right", "r": "right"})
TIME_UNITS = MappingProxyType({"s": "s", "ms": "ms", "us": "us", "µs": "us", "ns": "ns"})
ACCELERATION_UNITS = MappingProxyType({"m/s^2": "m/s^2", "m/s²": "m/s^2", "m/s2": "m/s^2", "g": "g", "mg": "mg"})
RATE_UNITS = MappingProxyType({"rad/s": "rad/s", "deg/s": "deg/s", "°/s": "deg/s"})
_AXES = MappingProxyType({"A": "forward", "P": "forward", "L": "left", "R": "left", "S": "up", "I": "up"})
_PLUS = "ALS"
_WORD = re.compile(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])")


@dataclass(frozen=True)
class MotionLabels:
    """What a dataset's labels mean.

    walks: ``acq-`` or ``task-`` label -> condition and setting of the brace; None: not a walk to be measured. points:
    tracked point as ``channels.tsv`` spells it -> segment and side; None: passed over. affected_side: by subject.
    """

    walks: Mapping[str, tuple[Condition, Setting | None] | None] = field(default_factory=dict)
    points: Mapping[str, tuple[Segment, Side] | None] = field(default_factory=dict)
    affected_side: Mapping[str, Side] = field(default_factory=dict)


def entities(name: str) -> dict[str, str]:
    """Entities of a file's name, in order; the suffix stands under ``suffix``.

    >>> entities("sub-P01_task-walk_tracksys-imu_motion.tsv")
    {'sub': 'P01', 'task': 'walk', 'tracksys': 'imu', 'suffix': 'motion'}
    """
    *pairs, suffix = name.split(".", 1)[0].split("_")
    parted = (pair.partition("-") for pair in pairs)
    return {key: label for key, dash, label in parted if dash} | {"suffix": suffix}


def applies(name: str, to: Mapping[str, str]) -> bool:
    """Whether a file higher up holds for a file with the entities ``to``: it names none that differs.

    >>> applies("task-walk_motion.json", entities("sub-P01_task-walk_tracksys-imu_motion.tsv"))
    True
    """
    return all(to.get(key) == label for key, label in entities(name).items() if key != "suffix")


def place_of(point: str, known: Mapping[str, tuple[Segment, Side] | None]) -> tuple[Segment, Side] | None:
    """The segment and side of a tracked point, None for another part of the body.

    >>> place_of("LeftFoot", {}), place_of("tibia_R", {}), place_of("left thigh", {})
    (('foot', 'left'), ('shank', 'right'), None)
    """
    if point in known:
        return known[point]
    words = [word.lower() for word in _WORD.findall(point)]
    text = "".join(words)
    segment = next((part for word, part in SEGMENT_WORDS.items() if word in text), None)
    sides = {SIDE_WORDS[word] for word in words if word in SIDE_WORDS}
    sides |= {side for name in ("left", "right") for side in [SIDE_WORDS[name]] if name in text}
    return (segment, sides.pop()) if segment is not None and len(sides) == 1 else None


def axes_of(spatial: object) -> dict[str, str] | None:
    """A profile's axes from ``SpatialAxes``, None where they say nothing of all three directions of the body.

    >>> axes_of("RAS")
    {'left': '-x', 'forward': '+y', 'up': '+z'}
    """
    if not isinstance(spatial, str) or len(spatial) != 3:
        return None
    letters = spatial.upper()
    axes = {
        _AXES[letter]: f"{'+' if letter in _PLUS else '-'}{axis}"
        for letter, axis in zip(letters, "xyz", strict=True)
        if letter in _AXES
    }
    return axes if len(axes) == 3 else None


def spatial_axes(matrix: object) -> str | None:
    """``SpatialAxes`` of a signed permutation (3, 3) that takes sensor to segment coordinates, None for others.

    >>> spatial_axes([[0, 1, 0], [-1, 0, 0], [0, 0, 1]])
    'RAS'
    """
    letters = ("AP", "LR", "SI")
    spelt = ["", "", ""]
    for row, both in zip(matrix, letters, strict=True):  # type: ignore[call-overload]
        for axis, value in enumerate(row):
            if value:
                spelt[axis] = both[0] if value > 0 else both[1]
    return "".join(spelt) if all(spelt) else None
