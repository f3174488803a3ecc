"""Where a log belongs, as its file's name tells it; nothing where the name leaves a doubt."""

from __future__ import annotations

import re
from collections.abc import Collection

from firstrocker.web.details import Details

WORDS = {
    "foot": ("segment", "foot"),
    "shoe": ("segment", "foot"),
    "shank": ("segment", "shank"),
    "tibia": ("segment", "shank"),
    "leg": ("segment", "shank"),
    "left": ("side", "left"),
    "l": ("side", "left"),
    "right": ("side", "right"),
    "r": ("side", "right"),
}


def slot_of(name: str, details: Details, *, taken: Collection[str] = ()) -> str:
    """The slot that a file's name tells of, empty where it does not tell one alone.

    The side may be left out where one side alone wore sensors.

    Args:
        name: as the file was called.
        details: of the session.
        taken: slots that have a log.

    >>> slot_of("b_foot.csv", Details(affected_side="left"))
    'b:left:foot'
    >>> slot_of("walk-a right shank.parquet", Details(affected_side="left", worn="both"))
    'a:right:shank'
    >>> slot_of("recording 7.csv", Details(affected_side="left"))
    ''
    """
    words = [word for word in re.split(r"[^a-z0-9]+", name.rsplit(".", 1)[0].lower()) if word]
    found: dict[str, set[str]] = {"segment": set(), "side": set()}
    for word in words:
        if word in WORDS:
            kind, value = WORDS[word]
            found[kind].add(value)
    walks = {w.walk.lower(): w.walk for w in details.walks}
    # "l" and "r" may be walks' labels too; then they say nothing of the side.
    found["walk"] = {walks[word] for word in words if word in walks}
    if not found["side"] and len(details.sides) == 1:
        found["side"] = set(details.sides)
    if not found["walk"] and len(walks) == 1:
        found["walk"] = set(walks.values())
    if any(len(values) != 1 for values in found.values()) or ({"l", "r"} & set(walks) & set(words)):
        return ""
    (walk,), (side,), (segment,) = found["walk"], found["side"], found["segment"]
    slot = f"{walk}:{side}:{segment}"
    return slot if slot in {one for one, _ in details.slots} and slot not in taken else ""
