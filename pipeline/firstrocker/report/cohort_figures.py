"""The cohort page's pictures: each person's change, and whole curves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pyarrow as pa
from markupsafe import Markup
from matplotlib.axes import Axes

from firstrocker.measures import BY_COLUMN
from firstrocker.model import FloatArray
from firstrocker.report.figures.svg import BODY, INK, PAPER, RULE, SOFT, TONE, sheet
from firstrocker.report.numbers import unit_of
from firstrocker.study.curves import paired

Row = Mapping[str, Any]

FEW = 40
"""Up to so many people each has a line and a name; of more, their distribution is drawn."""

_POINTS = 200
"""Points of a distribution's line at most, so that a picture does not grow with people."""

CURVE_LABELS = {
    "foot_pitch_deg": ("Foot pitch", "\u00b0"),
    "ankle_deg": ("Ankle", "\u00b0"),
    "shank_deg": ("Shank-to-vertical", "\u00b0"),
    "toe_height_mm": ("Toe height", "mm"),
}


def changes_picture(column: str, people: Sequence[Row], effect: Row) -> Markup:
    """A line per person from unbraced to braced, sorted by change; beside it the changes and the effect over them.

    Args:
        column: the measure.
        people: its rows of the schema PEOPLE on one leg.
        effect: its row of the schema EFFECTS.
    """
    measure = BY_COLUMN[column]
    unit = unit_of(measure)
    rows = sorted(people, key=lambda row: (row["difference"], row["subject"]))
    few = len(rows) <= FEW
    with sheet(f"change{list(BY_COLUMN).index(column)}", 640, 88 + 20 * len(rows) if few else 260) as drawn:
        ((left, right),) = drawn.grid(1, 2, sharey=True, width_ratios=(3, 2))
        right.axvline(0.0, color=INK, linewidth=0.8)
        if effect["ci_low"] is not None:
            right.axvspan(effect["ci_low"], effect["ci_high"], color=TONE, alpha=0.18, linewidth=0)
        right.axvline(effect["difference"], color=TONE, linewidth=1.6, linestyle="--")
        if few:
            _each(left, right, rows)
        else:
            _spread(left, right, rows)
        left.set_xlabel(f"{measure.label}{', ' + unit if unit else ''}")
        right.set_xlabel("braced minus unbraced")
        how = "person by person" if few else f"{len(rows):,} people"
        return drawn.svg(f"{measure.label}, {how}", "Unbraced, braced and the change between them.")


def _each(left: Axes, right: Axes, rows: Sequence[Row]) -> None:
    """A line per person."""
    y = np.arange(len(rows))
    low, high, change = (np.array([row[key] for row in rows]) for key in ("unbraced", "braced", "difference"))
    left.hlines(y, low, high, color=SOFT, linewidth=1.0)
    left.plot(low, y, "o", color=TONE, markerfacecolor=PAPER, markersize=5.0)
    left.plot(high, y, "o", color=TONE, markersize=5.0)
    left.set_yticks(y, [row["subject"] for row in rows])
    left.set_ylim(-0.8, len(rows) - 0.2)
    right.hlines(y, 0.0, change, color=SOFT, linewidth=1.0)
    right.plot(change, y, "D", color=INK, markersize=4.0)


def _spread(left: Axes, right: Axes, rows: Sequence[Row]) -> None:
    """What share of people lies below a value, and below a change."""
    share = np.linspace(0.0, 100.0, min(len(rows), _POINTS))
    low, high, change = (
        np.percentile([row[key] for row in rows], share) for key in ("unbraced", "braced", "difference")
    )
    left.plot(low, share, color=INK, linestyle="--", linewidth=1.2)
    left.plot(high, share, color=TONE, linewidth=1.8)
    left.set_ylabel("% of people below")
    left.set_ylim(0, 100)
    right.plot(change, share, color=INK, linewidth=1.4)


def curves_picture(spm: Sequence[Row], people: pa.Table) -> Markup:
    """Per curve: each person's difference, the means, and the t curve with its threshold.

    Args:
        spm: rows of the schema SPM on the affected leg.
        people: rows of the schema COHORT_CURVES.
    """
    shown = [name for name in CURVE_LABELS if any(row["curve"] == name for row in spm)]
    with sheet("curves", 736, 180 * len(shown) + 30) as drawn:
        axes = drawn.grid(len(shown), 3, sharex=True)
        for panels, name in zip(axes, shown, strict=True):
            rows = [row for row in spm if row["curve"] == name]
            percent = np.array([row["percent"] for row in rows])
            stretches = _stretches(rows)
            label, unit = CURVE_LABELS[name]
            means, differences, t = panels
            means.plot(percent, [row["unbraced"] for row in rows], color=INK, linestyle="--", linewidth=1.2)
            means.plot(percent, [row["braced"] for row in rows], color=TONE, linewidth=1.8)
            means.set_ylabel(f"{label}, {unit}")
            lines = _differences(people, name)
            if len(lines) <= FEW:
                for line in lines:
                    differences.plot(percent, line, color=SOFT, alpha=0.6, linewidth=0.6)
            else:
                for ends in ((5, 95), (25, 75)):
                    differences.fill_between(
                        percent, *np.percentile(lines, ends, axis=0), color=SOFT, alpha=0.25, linewidth=0
                    )
            differences.plot(percent, [row["difference"] for row in rows], color=TONE, linewidth=1.8)
            differences.axhline(0.0, color=INK, linewidth=0.8)
            if rows[0]["t"] is not None:
                t.plot(percent, [row["t"] for row in rows], color=INK, linewidth=1.2)
                for sign in (-1, 1):
                    t.axhline(sign * rows[0]["threshold"], color=TONE, linestyle=":", linewidth=1.2)
                t.axhline(0.0, color=RULE, linewidth=0.8)
            else:
                t.text(0.5, 0.5, "too few people", ha="center", va="center", transform=t.transAxes, color=SOFT)
                t.set_yticks([])
            for first, last in stretches:
                for panel in panels:
                    panel.axvspan(first - 0.5, last + 0.5, color=TONE, alpha=0.15, linewidth=0)
            for panel in panels:
                panel.set_xlim(0, 100)
        for panel, title in zip(axes[0], ("unbraced (dashed), braced", "braced minus unbraced", "t"), strict=True):
            panel.set_title(title, fontsize=BODY, loc="left")
        for panel in axes[-1]:
            panel.set_xlabel("% of stride")
        return drawn.svg("Along the stride", "Mean curves, differences and t, from 0 to 100 % of the stride.")


def _stretches(rows: Sequence[Row]) -> list[tuple[int, int]]:
    """First and last percent of every stretch over the threshold."""
    found: dict[int, list[int]] = {}
    for row in rows:
        if row["cluster"] is not None:
            found.setdefault(row["cluster"], []).append(row["percent"])
    return [(min(one), max(one)) for one in found.values()]


def _differences(people: pa.Table, name: str) -> FloatArray:
    """(people, 101) each one's braced less unbraced curve on the affected leg, where both are known."""
    unbraced, braced = paired(people, "affected", name)
    return braced - unbraced
