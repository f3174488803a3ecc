"""The cohort page's pictures: each person's change, and whole curves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from markupsafe import Markup

from firstrocker.measures import BY_COLUMN
from firstrocker.report.figures.svg import BODY, INK, PAPER, RULE, SOFT, TONE, sheet
from firstrocker.report.numbers import unit_of

Row = Mapping[str, Any]

NAMED = 40
"""More people than this stand too close for their names."""

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
    y = np.arange(len(rows))
    low, high, change = (np.array([row[key] for row in rows]) for key in ("unbraced", "braced", "difference"))
    size = 5.0 if len(rows) <= NAMED else 2.5
    with sheet(f"change{list(BY_COLUMN).index(column)}", 640, 88 + 20 * min(len(rows), NAMED)) as drawn:
        ((left, right),) = drawn.grid(1, 2, sharey=True, width_ratios=(3, 2))
        left.hlines(y, low, high, color=SOFT, linewidth=1.0)
        left.plot(low, y, "o", color=TONE, markerfacecolor=PAPER, markersize=size, label="unbraced")
        left.plot(high, y, "o", color=TONE, markersize=size, label="braced")
        left.set_yticks(y if len(rows) <= NAMED else [], [row["subject"] for row in rows] if len(rows) <= NAMED else [])
        left.set_ylim(-0.8, len(rows) - 0.2)
        left.set_xlabel(f"{measure.label}{', ' + unit if unit else ''}")
        right.axvline(0.0, color=INK, linewidth=0.8)
        if effect["ci_low"] is not None:
            right.axvspan(effect["ci_low"], effect["ci_high"], color=TONE, alpha=0.18, linewidth=0)
        right.axvline(effect["difference"], color=TONE, linewidth=1.6, linestyle="--")
        right.hlines(y, 0.0, change, color=SOFT, linewidth=1.0)
        right.plot(change, y, "D", color=INK, markersize=0.8 * size)
        right.set_xlabel("braced minus unbraced")
        return drawn.svg(f"{measure.label}, person by person", "Unbraced, braced and the change between them.")


def curves_picture(spm: Sequence[Row], people: Sequence[Row]) -> Markup:
    """Per curve: each person's difference, the means, and the t curve with its threshold.

    Args:
        spm: rows of the schema SPM on one leg.
        people: rows of the schema COHORT_CURVES on the same leg.
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
            for line in _differences(people, name):
                differences.plot(percent, line, color=SOFT, alpha=0.45, linewidth=0.6)
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


def _differences(people: Sequence[Row], name: str) -> list[np.ndarray]:
    """Each person's braced less unbraced curve, where both are known."""
    found: dict[str, dict[str, list[float]]] = {}
    for row in people:
        if row[name] is not None:
            found.setdefault(row["subject"], {}).setdefault(row["condition"], []).append(row[name])
    return [np.subtract(one["braced"], one["unbraced"]) for one in found.values() if len(one) == 2]
