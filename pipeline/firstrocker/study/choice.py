"""Which settings can be told apart, which is beaten by another, what is traded for what, what to walk next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations, permutations

import numpy as np
import pyarrow as pa

from firstrocker.measures import MEASURES
from firstrocker.study.centres import Plan, Pools, compared_settings, pool_settings
from firstrocker.study.compare import Pair, pairs_of
from firstrocker.study.forecast import Further, foresee, outlooks
from firstrocker.study.measurement import ErrorShares
from firstrocker.study.strides import by_side
from firstrocker.study.weighed import CRITERIA, Apart, Beaten, Candidate, Choice, Good, NextWalk, Trade

NEXT_STRIDES = 30
"""Counted strides of the one further walk whose yield is forecast for each setting; common practice, no source."""

_PLACES = {measure.column: place for place, measure in enumerate(MEASURES)}


def choose(
    strides: pa.Table,
    *,
    side: str,
    confidence: float,
    resamples: int,
    seed: int,
    min_strides: int,
    shares: Mapping[str, ErrorShares] | None = None,
) -> Choice | None:
    """Weigh the settings of one side of one session against each other.

    Walks of one condition, setting and resistance are taken together; where no setting was walked twice, the numbers
    are those of the comparison of walks. Intervals of all pairs of one measure hold together; the measures are not
    corrected for each other.

    Args:
        strides: rows of ``firstrocker.tables.STRIDES`` of one session.
        side: left or right.
        confidence: as in :func:`firstrocker.study.compare.compare`, like all that follow.
        resamples: draws.
        seed: of the draws.
        min_strides: fewer are too few.
        shares: of the measurement's error.

    Returns:
        None where the side has fewer than two candidates or no measure of the criteria.
    """
    plan = Plan(confidence, resamples, seed, min_strides, shares or {})
    found = next((one for one in by_side(strides) if one.side == side), None)
    if found is None:
        return None
    measured = {MEASURES[place].column for place in found.measured}
    chosen = [(next((c for c in one.columns if c in measured), None), one.good) for one in CRITERIA]
    criteria = [(column, good) for column, good in chosen if column is not None]
    pools = pool_settings(found, plan)
    if len(pools.units) < 2 or not criteria:
        return None
    compared = compared_settings(pools, plan)
    columns = [_PLACES[column] for column, _ in criteria]
    candidates = tuple(
        Candidate(
            key=one.label,
            walks=tuple(walk.walk for walk in walks),
            condition=unit.condition,
            setting=unit.setting,
            resistance=unit.resistance,
            means={c: float(one.mean[_PLACES[c]]) for c, _ in criteria if np.isfinite(one.mean[_PLACES[c]])},
            counts={c: int(one.count[_PLACES[c]]) for c, _ in criteria},
        )
        for one, unit, walks in zip(compared, pools.units, pools.walks, strict=True)
    )
    pairs = pairs_of(compared, confidence)
    apart = _apart(pools, plan, pairs, criteria, columns)
    braced = [one.key for one in candidates if one.condition == "braced"]
    beaten = _beaten(apart, [one.key for one in candidates])
    lost = {one.key for one in beaten if one.whole and one.by in braced}
    running = tuple(key for key in braced if key not in lost)
    return Choice(
        side=side,
        measures=tuple(column for column, _ in criteria),
        candidates=candidates,
        apart=tuple(apart),
        tied=tuple((a, b) for a, b in combinations(braced, 2) if _tied(apart, a, b)),
        beaten=tuple(beaten),
        trades=tuple(_trades(apart)),
        running=running,
        next_walks=_next_walks(pools, plan, apart, columns, [one.key for one in candidates], running),
    )


def _apart(
    pools: Pools,
    plan: Plan,
    pairs: list[Pair],
    criteria: list[tuple[str, Good]],
    columns: list[int],
) -> list[Apart]:
    difference = np.stack([pair.difference[columns] for pair in pairs])
    real = np.stack([pair.real_change[columns] for pair in pairs])
    ahead = outlooks(pools, plan, columns, difference, real)
    found: list[Apart] = []
    for p, pair in enumerate(pairs):
        for c, (column, good) in enumerate(criteria):
            row = {"measure": column, "unit": MEASURES[columns[c]].unit} | pair.row(columns[c])
            better = None
            if row["verdict"] in ("higher", "lower"):
                better = pair.other if row["verdict"] == good else pair.reference
            outlook = ahead[p][c] if better is None else None
            found.append(Apart(pair.reference, pair.other, column, good, row, better, outlook))
    return found


def _beaten(apart: Sequence[Apart], keys: Sequence[str]) -> list[Beaten]:
    found: list[Beaten] = []
    for key, by in permutations(keys, 2):
        rows = [one for one in apart if {one.first, one.second} == {key, by}]
        worse = tuple(one.measure for one in rows if one.better == by)
        if not worse or any(one.better == key for one in rows):
            continue
        rest = [(one.measure, one.gain(key)) for one in rows if one.better is None]
        found.append(
            Beaten(
                key=key,
                by=by,
                worse=worse,
                even=tuple(measure for measure, gain in rest if gain is not None and gain[0] <= 0),
                ahead=tuple(measure for measure, gain in rest if gain is not None and gain[0] > 0),
                unknown=tuple(measure for measure, gain in rest if gain is None),
            )
        )
    return found


def _trades(apart: Sequence[Apart]) -> list[Trade]:
    found: list[Trade] = []
    for first, second in dict.fromkeys((one.first, one.second) for one in apart):
        rows = [one for one in apart if (one.first, one.second) == (first, second)]
        mine, theirs = (tuple(one.measure for one in rows if one.better == key) for key in (first, second))
        if mine and theirs:
            found.append(Trade(first, second, mine, theirs))
    return found


def _tied(apart: Sequence[Apart], first: str, second: str) -> bool:
    rows = [one for one in apart if {one.first, one.second} == {first, second}]
    return all(one.better is None for one in rows) and any(one.known for one in rows)


def _next_walks(
    pools: Pools, plan: Plan, apart: Sequence[Apart], columns: list[int], keys: list[str], running: Sequence[str]
) -> tuple[NextWalk, ...]:
    """What one further walk of each candidate would make clear, best first.

    Open are the comparisons between braced candidates that are in the running, or, where there is but one, between it
    and unbraced walking.
    """
    of_interest = set(running) if len(running) > 1 else set(keys)
    order = list(combinations(keys, 2))
    is_open = np.array(
        [
            one.better is None
            and {one.first, one.second} <= of_interest
            and (one.first in running or one.second in running)
            for one in apart
        ]
    ).reshape(len(order), len(columns))
    if not is_open.any():
        return ()
    difference = np.array([_or_nan(one.row["difference"]) for one in apart]).reshape(is_open.shape)
    now = foresee(pools, plan, {}, columns).power(difference)
    found: list[NextWalk] = []
    for place, key in enumerate(keys):
        mine = is_open & np.array([key in pair for pair in order])[:, None]
        if mine.any():
            after = foresee(pools, plan, {place: Further(1, NEXT_STRIDES)}, columns).power(difference)
            yields = (float(np.nansum(np.where(mine, power, 0.0))) for power in (after, now))
            settled, already = yields
            found.append(NextWalk(key, NEXT_STRIDES, settled, already, int(mine.sum())))
    return tuple(sorted(found, key=lambda one: one.now - one.settled))


def _or_nan(value: float | None) -> float:
    return float("nan") if value is None else value
