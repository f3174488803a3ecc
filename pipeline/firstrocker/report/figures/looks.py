"""How each walk looks, alike in every picture: its shape tells it apart where colour does not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from firstrocker.report.figures.svg import PAPER, WALK

_SHAPES = ("o", "^", "s", "D", "v", "P")
_DASHES: tuple[tuple[float, ...], ...] = ((), (7, 2), (2.5, 2), (7, 2, 2, 2), (1, 2), (10, 3))
LONGEST = 18
"""Letters of a name that a picture shows."""


@dataclass(frozen=True)
class Look:
    """name: what it is called in pictures. colour: a role. shape: a matplotlib marker. dashes: () is a whole line."""

    name: str
    colour: str
    shape: str
    fill: str
    dashes: tuple[float, ...]

    @property
    def line(self) -> tuple[float, tuple[float, ...] | None]:
        """As matplotlib's linestyle."""
        return (0, self.dashes or None)


def looks(walks: Sequence[Mapping[str, Any]], names: Mapping[str, str]) -> dict[str, Look]:
    """Walk -> its look; walks of one condition and setting look alike.

    Args:
        walks: each with walk, condition and setting (a label or None), in session order; several rows of one walk
            count once.
        names: walk -> how it is called.
    """
    kinds: dict[tuple[str, str | None], int] = {}
    found: dict[str, Look] = {}
    for walk in walks:
        if walk["walk"] in found:
            continue
        kind = (walk["condition"], walk["setting"])
        braced = sum(condition == "braced" for condition, _ in kinds)
        place = kinds.setdefault(kind, 0 if kind[0] == "unbraced" else 1 + braced % (len(WALK) - 1))
        colour = WALK[place]
        fill = colour if place else PAPER
        name = shortened(names.get(walk["walk"], walk["walk"]))
        found[walk["walk"]] = Look(name, colour, _SHAPES[place], fill, _DASHES[place])
    return found


def shortened(name: str) -> str:
    """A name of at most :data:`LONGEST` letters on one line.

    >>> shortened("medium, left in the cupboard")
    'medium, left in t…'
    """
    name = " ".join(name.split())
    return name if len(name) <= LONGEST else name[: LONGEST - 1] + "\u2026"
