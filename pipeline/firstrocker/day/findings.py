"""What hundreds of stretches have to say, said once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import pyarrow as pa
import pyarrow.compute as pc

from firstrocker.gait.findings import spoilt_strides
from firstrocker.model import SIDES, Finding, Severity

RARE = 0.05
"""Share of the stretches up to which a warning about a stretch is told and does not flag the session."""
NOT_OF_A_DAY = ("no-walking", "no-steady-stride", "strides-left-out", "sides-not-aligned", "clocks-aligned")
"""What a single stretch may well have to say of itself, and what is said anew of the whole day."""


@dataclass(frozen=True)
class Noticed:
    """A finding of the stretch that began at ``start_s`` on the walk's clock."""

    finding: Finding
    start_s: float


def clock_time(seconds: float) -> str:
    """Hours, minutes and seconds.

    >>> clock_time(3725.4)
    '1:02:05'
    """
    whole = int(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def said_once(noticed: Iterable[Noticed], *, stretches: int) -> list[Finding]:
    """Findings of single stretches, one per code and sensor: the first in its own words, and how often.

    Args:
        noticed: in the order of the stretches.
        stretches: how many there are with walking in them.
    """
    groups: dict[tuple[str, str | None, str | None], list[Noticed]] = {}
    for one in noticed:
        if one.finding.code not in NOT_OF_A_DAY:
            groups.setdefault((one.finding.code, one.finding.segment, one.finding.side), []).append(one)
    return [_once(group, stretches) for group in groups.values()]


def _once(group: Sequence[Noticed], stretches: int) -> Finding:
    first = group[0]
    places = len({one.start_s for one in group})
    severity: Severity = "info"
    if any(one.finding.severity != "info" for one in group) and places > RARE * stretches:
        severity = "warning"
    text = (
        f"In {places} of {max(stretches, places)} stretches of walking, first in the one that began at "
        f"{clock_time(first.start_s)} (times that follow count from there): {first.finding.message}"
    )
    return replace(first.finding, severity=severity, message=text, start_s=first.start_s, end_s=None)


def of_the_day(strides: pa.Table, walk: str) -> list[Finding]:
    """What all strides of a day say together, side by side."""
    found = []
    for side in SIDES:
        mine = strides.filter(pc.equal(strides["side"], side))
        if not len(mine):
            continue
        counting = pc.sum(mine["steady"]).as_py()
        spoilt = pc.sum(pc.equal(mine["left_out"], "quality")).as_py()
        if not counting:
            found.append(
                Finding(
                    "no-steady-stride",
                    "warning",
                    f"None of the {len(mine)} strides of the day counts: each is the first or last of its bout, in a "
                    "turn, in a bout that is too short, or spoilt by a fault of the signal.",
                    "Let the person walk at least ten strides straight ahead now and then.",
                    walk,
                    side=side,
                )
            )
        if spoilt:
            found.append(replace(spoilt_strides(spoilt, len(mine)), walk=walk, side=side))
    return found
