"""Stretches of a day in which foot and shank look exchanged, as when both sensors were put on anew."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from firstrocker.day.findings import clock_time
from firstrocker.day.looked import Look
from firstrocker.day.stretches import Prepared
from firstrocker.model import Finding, Side
from firstrocker.signals.exchanged import EXCHANGED_RATIO

NEIGHBOURS = 3


def swapped_looks(looks: Sequence[Look], prepared: Prepared, side: Side) -> tuple[set[int], list[Finding]]:
    """The pieces in which the shank's sensor stands still in every step and the foot's does not, and a finding of them.

    A stretch is judged with its neighbours, for a short one alone may look either way; one that is too short to tell
    goes with the nearest that tells.
    """
    telling = [look for look in looks if np.isfinite(look.swapped)]
    if not telling:
        return set(), []
    ratios = np.array([look.swapped for look in telling])
    around = [ratios[max(k - NEIGHBOURS // 2, 0) : k + NEIGHBOURS // 2 + 1] for k in range(len(ratios))]
    hit = np.array([np.median(np.log(part)) > 0.0 for part in around]) | (ratios > EXCHANGED_RATIO)
    times = np.array([prepared.pieces[look.piece].span[0] for look in telling])
    pieces = set()
    for look in looks:
        nearest = int(np.argmin(np.abs(times - prepared.pieces[look.piece].span[0])))
        if hit[nearest]:
            pieces.add(look.piece)
    if not pieces:
        return pieces, []
    spans = [prepared.pieces[piece].span for piece in sorted(pieces)]
    text = (
        f"{prepared.logs['shank', side].source}: in {len(pieces)} of {len(looks)} stretches of walking, from "
        f"{clock_time(spans[0][0])} to {clock_time(spans[-1][1])}, foot and shank look exchanged on the {side} side, "
        "as if the two sensors had been put on in each other's place. This side is not measured in them."
    )
    remedy = (
        "Mark the sensors for foot and shank; if it was so, cut the logs there and exchange 'segment' in that part."
    )
    finding = Finding(
        "foot-shank-exchanged-since", "warning", text, remedy, None, "shank", side, spans[0][0], spans[-1][1]
    )
    return pieces, [finding]
