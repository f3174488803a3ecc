"""Differences within people, gathered across people."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import Any

import numpy as np
import pyarrow as pa
from scipy.special import stdtrit

from firstrocker import tables
from firstrocker.measures import MEASURES
from firstrocker.model import Side

MIN_PEOPLE = 3
"""Fewer people than this give no interval; from memory, no source."""


def effects(
    comparisons: pa.Table, affected: Mapping[tuple[str, str], Side], *, confidence: float, contrast: str = "braced"
) -> pa.Table:
    """How a measure differs from unbraced walking, on average over people.

    Each person counts once, with the mean of the differences of all of their sessions; how sure a single difference is
    plays no part. The interval is Student's for a mean of independent values (Student, 1908): it takes people as drawn
    from many and their differences as roughly normal, which a handful of people cannot show.

    Args:
        comparisons: rows in the schema COMPARISON, of all sessions.
        affected: (subject, session) -> affected side; sessions not in it are left out.
        confidence: level of the interval, in (0, 1).
        contrast: the condition set against ``unbraced``.

    Returns:
        Rows in the schema EFFECTS: per leg (``affected`` or ``other``) and measure. ``sd`` is that between people and
        null for one person; the interval is null below :data:`MIN_PEOPLE`.
    """
    found: dict[tuple[str, str], dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    columns = ("subject", "session", "side", "measure", "reference", "other", "difference")
    for subject, session, side, measure, reference, other, difference in zip(
        *(comparisons[name].to_pylist() for name in columns), strict=True
    ):
        if (reference, other) == ("unbraced", contrast) and difference is not None and (subject, session) in affected:
            leg = "affected" if side == affected[subject, session] else "other"
            found[leg, measure][subject].append(difference)
    rows = [
        _row(leg, measure.column, measure.unit, contrast, found[leg, measure.column], confidence)
        for leg in ("affected", "other")
        for measure in MEASURES
        if (leg, measure.column) in found
    ]
    return pa.Table.from_pylist(rows, schema=tables.EFFECTS)


def _row(
    leg: str, measure: str, unit: str, contrast: str, people: Mapping[str, list[float]], confidence: float
) -> dict[str, Any]:
    values = np.array([np.mean(people[subject]) for subject in sorted(people)])
    n, mean = len(values), float(np.mean(values))
    sd = float(np.std(values, ddof=1)) if n > 1 else None
    half = None if sd is None or n < MIN_PEOPLE else float(stdtrit(n - 1, 0.5 + confidence / 2) * sd / np.sqrt(n))
    return {
        "leg": leg,
        "measure": measure,
        "unit": unit,
        "reference": "unbraced",
        "other": contrast,
        "people": n,
        "sessions": sum(map(len, people.values())),
        "difference": mean,
        "sd": sd,
        "ci_low": None if half is None else mean - half,
        "ci_high": None if half is None else mean + half,
    }
