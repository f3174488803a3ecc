"""Every picture of a session's page; the only place from which matplotlib is loaded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pyarrow as pa
from markupsafe import Markup

from firstrocker.report.evidence import Trust
from firstrocker.report.figures.balance import LOWERING, SHANK, SLAP, balance
from firstrocker.report.figures.clocks import clock
from firstrocker.report.figures.courses import courses
from firstrocker.report.figures.looks import looks
from firstrocker.report.figures.moves import LOADED, QUANTITIES, in_loading, over_the_stride
from firstrocker.report.figures.seats import seats
from firstrocker.report.figures.strips import strip
from firstrocker.report.figures.walked import Walked, walked

BESIDE = ("toe_clearance_min_mm", "heel_strike_shock_m_s2", "slap_shock_m_s2")
"""What stands beside the picture that carries the decision."""


@dataclass(frozen=True)
class Strip:
    """A strip and what stands over it."""

    title: str
    picture: Markup


@dataclass(frozen=True)
class Move:
    """How one quantity moves: over the stride, and in loading where that is drawn."""

    label: str
    unit: str
    up: str
    stride: Markup
    loading: Markup | None


@dataclass(frozen=True)
class Clock:
    """How foot and shank lie on one clock in one walk."""

    walk: str
    picture: Markup


@dataclass(frozen=True)
class Pictures:
    """All pictures of one side of a session.

    balance: slap against shank driven forward, None without a shank log. lowering: then, how fast the foot is lowered.
    beside: what stands next to it. moves: how it moves. seats: how the sensors sat. clocks: how the clocks of
    each walk's foot and shank were laid together.
    """

    balance: Markup | None
    lowering: Strip | None
    beside: Sequence[Strip]
    moves: Sequence[Move]
    seats: Markup | None
    clocks: Sequence[Clock]


TITLES = {
    "toe_clearance_min_mm": "Minimum toe clearance",
    "heel_strike_shock_m_s2": "Shock at heel strike",
    "slap_shock_m_s2": "Shock at foot flat (slap)",
    LOWERING: "Foot lowering rate",
}


def draw(
    *,
    strides: pa.Table,
    curves: pa.Table,
    summary: Sequence[Mapping[str, Any]],
    side: str,
    names: Mapping[str, str],
    confidence: float,
    level: str,
    trust: Trust,
) -> Pictures:
    """Draw one side of a session.

    Args:
        strides: rows in the schema STRIDES.
        curves: rows in the schema CURVES.
        summary: rows in the schema SUMMARY.
        side: left or right.
        names: walk -> how it is called.
        confidence: of the means' intervals.
        level: the same as printed, with its space behind.
        trust: what is known of seats and clocks.
    """
    seen = looks([row for row in summary if row["side"] == side], names)
    walks = walked(
        strides,
        summary,
        side=side,
        looks=seen,
        columns=(SLAP, SHANK, LOWERING, *BESIDE),
        confidence=confidence,
    )
    moving = courses(strides, curves, side=side, looks=seen)
    main = balance(walks, level=level)
    return Pictures(
        balance=main,
        lowering=None if main is not None else _strip(walks, LOWERING, level, width=620),
        beside=[found for column in BESIDE if (found := _strip(walks, column, level)) is not None],
        moves=[
            Move(
                quantity.label,
                quantity.unit,
                quantity.up,
                picture,
                in_loading(moving, quantity) if quantity in LOADED else None,
            )
            for quantity in QUANTITIES
            if (picture := over_the_stride(moving, quantity)) is not None
        ],
        seats=seats(trust.seat_pictures, names, side=side),
        clocks=[
            Clock(names.get(one.walk, one.walk), picture)
            for place, one in enumerate(trust.clock_pictures)
            if one.side == side and (picture := clock(one, name=f"clock-{place}")) is not None
        ],
    )


def _strip(walks: Sequence[Walked], column: str, level: str, *, width: float = 300) -> Strip | None:
    picture = strip(walks, column, level=level, width=width)
    return None if picture is None else Strip(TITLES[column], picture)
