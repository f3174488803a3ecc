"""Where in a long log there may be walking: found by how the foot turned, cheaply, and rather too much than too little.

In every swing the foot turns by more than a radian within half a second, in any gait: a tenth of a second whose turning
passes a threshold is part of a movement, and several movements within some seconds may be walking. What only looks like
it, a foot that fidgets or pedals, costs time and does no harm: the analysis asks for steps that lead from one place of
rest to another.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from firstrocker.model import FloatArray
from firstrocker.signals.digest import TENTHS, Digest

Span = tuple[float, float]
"""A first and a last time, s."""

TOGETHER_S = 0.25
"""Tenths of movement closer than this are one movement."""
PAUSE_S = 8.0
"""Movements closer than this belong to one stretch, so that a hesitating step is not cut off."""
LEAST_MOVEMENTS = 2
LONG_S = 1.5
"""One movement this long may be two steps that run together."""
OVERLAP_S = 20.0
"""By how much two pieces of one stretch overlap, where it is too long and nothing in it rests."""
RESTS = 6.0
"""Energy below which a foot may be standing. In 95 of 100 stances of annotated healthy feet some tenth had less than
4.7 (99: 10); a simulated foot that pedals 60 to 80 times a minute never had less than 9."""
WITHOUT_REST_S = 10.0
"""A foot that moves for longer without a tenth of that does not walk, it pedals. A runner's may not rest either."""
LYING = np.radians(35.0)
"""rad by which a foot that stands on the floor is never tilted against its mean in walking; common practice, no
source."""
STANDING = 1.0
"""Energy below which a tenth counts as standing, for where a stretch is best cut."""
STOOD_S = 1.5
LEAST_S = 2.5
"""Less is no log."""


def walking_spans(foot: Digest, *, turning: float, pad_s: float) -> list[Span]:
    """Stretches of a foot's log in which there may be walking, on its own clock from its first sample.

    Args:
        foot: the log in brief.
        turning: rad/s, of a tenth of a second, from which it is part of a movement.
        pad_s: s kept before and after, for standing gives level and bias.

    Returns:
        in order, apart from each other.
    """
    pedalled = [run for run in _runs(foot.energy >= RESTS, 0) if run[1] - run[0] > WITHOUT_REST_S * TENTHS]
    restless = np.zeros(len(foot.energy), dtype=np.bool_)
    for first, stop in pedalled:
        restless[first:stop] = True
    moves = _runs((foot.turning > turning) & ~restless, round(TOGETHER_S * TENTHS))
    spans: list[Span] = []
    for group in _grouped(moves, round(PAUSE_S * TENTHS)):
        longest = max(stop - first for first, stop in group)
        if len(group) >= LEAST_MOVEMENTS or longest >= LONG_S * TENTHS:
            spans.append((group[0][0] / TENTHS - pad_s, group[-1][1] / TENTHS + pad_s))
    last = len(foot.turning) / TENTHS
    whole = merged([(max(first, 0.0), min(stop, last)) for first, stop in spans])
    whole = _without(whole, [(first / TENTHS, stop / TENTHS) for first, stop in pedalled])
    return _without(whole, [other for span in whole for other in _lying(foot, span, turning)])


def _lying(foot: Digest, span: Span, turning: float) -> list[Span]:
    """Where in a stretch the foot lay still far from how it mostly was in it: in bed, with legs crossed."""
    low, high = int(np.floor(span[0])), min(int(np.ceil(span[1])), len(foot.spread))
    tenths = foot.turning[low * TENTHS : high * TENTHS]
    fastest = np.pad(tenths, (0, (high - low) * TENTHS - len(tenths))).reshape(-1, TENTHS).max(axis=1)
    gravity = foot.gravity[low:high].astype(np.float64)
    known = np.isfinite(gravity[:, 0])
    moved = known & (fastest > turning)
    if not moved.any():
        return []
    usual = np.median(gravity[moved], axis=0)
    sizes = np.linalg.norm(gravity, axis=1) * max(float(np.linalg.norm(usual)), 1e-9)
    off = np.arccos(np.clip(gravity @ usual / np.maximum(sizes, 1e-9), -1.0, 1.0))
    # Getting up from it moves the foot: such seconds belong to it while the foot still lies otherwise.
    runs = [run for run in _runs(known & (off > LYING), 0) if not moved[slice(*run)].all()]
    return [(float(low + first), float(low + stop)) for first, stop in runs]


def merged(spans: Sequence[Span]) -> list[Span]:
    """Spans in order, those that touch made one.

    >>> merged([(5.0, 6.0), (0.0, 2.0), (1.0, 3.0)])
    [(0.0, 3.0), (5.0, 6.0)]
    """
    out: list[Span] = []
    for first, stop in sorted(spans):
        if out and first <= out[-1][1]:
            out[-1] = (out[-1][0], max(out[-1][1], stop))
        else:
            out.append((first, stop))
    return out


def _without(spans: Sequence[Span], taken: Sequence[Span]) -> list[Span]:
    """Spans less what lies in others; what is left of under two seconds is dropped."""
    for a, b in taken:
        parts = [part for first, stop in spans for part in ((first, min(stop, a)), (max(first, b), stop))]
        spans = [(first, stop) for first, stop in parts if stop - first > LEAST_S]
    return list(spans)


def cut_at(spans: Sequence[Span], times: Sequence[float], *, apart_s: float = 1.0) -> list[Span]:
    """Spans less ``apart_s`` on both sides of times that none of them may hold."""
    return _without(spans, [(time - apart_s, time + apart_s) for time in times])


def pieces(span: Span, foot: Digest, *, longest_s: float) -> list[tuple[Span, Span]]:
    """A stretch in pieces that are not too long.

    It is cut in the middle of the longest standing of the last third of what may be one piece. Where nobody stands
    there, pieces overlap.

    Args:
        span: on the foot's clock from its first sample.
        foot: the log in brief.
        longest_s: of a piece, s.

    Returns:
        each piece, and the part of it whose strides are its own.
    """
    first, stop = span
    begin = own = first
    out: list[tuple[Span, Span]] = []
    while stop - begin > longest_s:
        low, high = begin + 2.0 * longest_s / 3.0, begin + longest_s
        part = slice(round(low * TENTHS), round(high * TENTHS))
        rests = _runs((foot.energy[part] < STANDING) & (foot.samples[part] > 0), 0)
        rests = [rest for rest in rests if rest[1] - rest[0] >= STOOD_S * TENTHS]
        if rests:
            a, b = max(rests, key=lambda rest: rest[1] - rest[0])
            middle = (part.start + 0.5 * (a + b)) / TENTHS
            out.append(((begin, middle), (own, middle)))
            begin = own = middle
        else:
            middle = high - 0.5 * OVERLAP_S
            out.append(((begin, high), (own, middle)))
            begin, own = high - OVERLAP_S, middle
    out.append(((begin, stop), (own, stop)))
    return out


def share_within(times: FloatArray, spans: Sequence[Span]) -> float:
    """Share of the times (n,) that lie in one of the spans, 1 for none."""
    inside = np.zeros(len(times), dtype=np.bool_)
    for first, stop in spans:
        inside |= (times >= first) & (times <= stop)
    return float(inside.mean()) if len(times) else 1.0


def _runs(mask: np.ndarray, together: int) -> list[tuple[int, int]]:
    """Runs of True as (first, one past last), those at most ``together`` apart made one."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    runs = [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return [(group[0][0], group[-1][1]) for group in _grouped(runs, together)]


def _grouped(runs: list[tuple[int, int]], together: int) -> list[list[tuple[int, int]]]:
    groups: list[list[tuple[int, int]]] = []
    for run in runs:
        if groups and run[0] - groups[-1][-1][1] <= together:
            groups[-1].append(run)
        else:
            groups.append([run])
    return groups
