"""Times from a counter of samples or ticks that may begin anew."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from firstrocker.errors import LogError
from firstrocker.model import Finding, FloatArray
from firstrocker.signals.noticed import counted

SOON_S = 10.0
"""A counter that begins anew sooner than this hides losses that a walk may well have."""
_USUAL_ENDS = (*(2**bits for bits in (8, 10, 12, 14, 15, 16, 20, 24, 31, 32)), *(10**n for n in range(2, 10)))
_FAR = 50


def seconds_of(
    counts: FloatArray, *, per_second: float, wraps_at: int | str, where: str
) -> tuple[FloatArray, list[Finding]]:
    """Times by a counter, so that lost samples become gaps of the right length.

    Args:
        counts: (n,) as read, NaN where a cell was empty.
        per_second: counts per second.
        wraps_at: how many states the counter has; ``found``: told by where it falls back; ``never``.
        where: how to name the log in errors and findings.

    Returns:
        (n,) seconds, NaN where a cell was empty; a loss longer than the counter's whole round cannot be seen.

    Raises:
        LogError: no whole numbers, larger than they may be, or falling back in a way that no round explains.
    """
    fine = np.isfinite(counts)
    values = counts[fine]
    seconds = np.full(len(counts), np.nan)
    if len(values) < 2:
        seconds[fine] = values / per_second
        return seconds, []
    if (values != np.round(values)).any() or np.abs(values).max() > 2**53:
        raise LogError(
            "The counter holds numbers that are not whole.",
            where=where,
            remedy="Check in the logger profile which column counts; times belong under 'columns: time'.",
        )
    falls = np.diff(values) < -np.ptp(values) / 2.0
    if wraps_at == "never" or (wraps_at == "found" and not falls.any()):
        seconds[fine] = values / per_second
        return seconds, []
    states = int(wraps_at) if isinstance(wraps_at, int) else _states(values, falls, where)
    if values.max() > states or values.min() < 0 or np.ptp(values) >= states:
        raise LogError(
            f"The counter runs from {values.min():.0f} to {values.max():.0f}, but is said to begin anew at {states}.",
            where=where,
            remedy="Correct 'wraps_at' in the logger profile, or write 'found'.",
        )
    # A step back by little is a sample out of order, any other a round begun.
    back = min(states // 8, int(per_second))
    steps = np.mod(np.diff(values) + back, states) - back
    seconds[fine] = (values[0] + np.concatenate([[0.0], np.cumsum(steps)])) / per_second
    return seconds, _told(steps, falls, states, per_second, found=wraps_at == "found", where=where)


def rounds_of(counts: FloatArray, last: float, *, states: int | None, per_second: float) -> FloatArray:
    """Part of a counter's values, unrolled: rounds counted on from what was unrolled before.

    Args:
        counts: (n,) as read, NaN where a cell was empty.
        last: the last unrolled value before these, NaN at the beginning.
        states: how many the counter has; None: it never begins anew.
        per_second: counts per second.
    """
    fine = np.isfinite(counts)
    values = counts[fine]
    if states is None or not len(values):
        return np.array(counts)
    back = min(states // 8, int(per_second))
    start = float(values[0]) if np.isnan(last) else last
    steps = np.mod(np.diff(np.concatenate([[start], values])) + back, states) - back
    out = np.full(len(counts), np.nan)
    out[fine] = start + np.cumsum(steps)
    return out


def states_in(parts: Iterable[FloatArray], *, where: str) -> int | None:
    """How many states a counter has that is read in parts; None where it only ever falls back by a restart, or never.

    Raises:
        LogError: it holds no whole numbers.
    """
    last, low, high, usual = np.nan, np.inf, -np.inf, 1.0
    fell: list[FloatArray] = []
    for number, counts in enumerate(parts):
        values = counts[np.isfinite(counts)]
        if not len(values):
            continue
        if (values != np.round(values)).any():
            raise LogError(
                "The counter holds numbers that are not whole.",
                where=where,
                remedy="Check in the logger profile which column counts; times belong under 'columns: time'.",
            )
        low, high = min(low, float(values.min())), max(high, float(values.max()))
        pairs = np.column_stack([np.concatenate([[values[0] if np.isnan(last) else last], values[:-1]]), values])
        fell.append(pairs[pairs[:, 1] < pairs[:, 0]])
        if number == 0:
            rises = np.diff(values)
            usual = float(np.median(rises[rises > 0])) if (rises > 0).any() else 1.0
        last = float(values[-1])
    falls = np.concatenate([np.empty((0, 2)), *fell])
    falls = falls[falls[:, 0] - falls[:, 1] > (high - low) / 2.0]
    if not len(falls):
        return None
    try:
        return states_of(falls[:, 0], falls[:, 1], usual, high - low, high, where)
    except LogError:
        return None


def _states(values: FloatArray, falls: np.ndarray, where: str) -> int:
    """How many states a counter has, by what makes its falls the usual step."""
    steps = np.diff(values)
    usual = float(np.median(steps[steps > 0])) if (steps > 0).any() else 1.0
    return states_of(values[:-1][falls], values[1:][falls], usual, float(np.ptp(values)), float(values.max()), where)


def states_of(before: FloatArray, after: FloatArray, usual: float, span: float, top: float, where: str) -> int:
    """How many states a counter has.

    Args:
        before: (k,) counts from which it fell back, k >= 1.
        after: (k,) counts to which.
        usual: its usual step.
        span: its greatest count less its least.
        top: its greatest count.
        where: how to name the log in errors.

    Raises:
        LogError: no number of states explains the falls.
    """
    steps = after - before
    fitting = [end for end in _USUAL_ENDS if end > span and end >= top]
    missed = [abs(float(np.median(steps)) + end - usual) for end in fitting]
    # A counter may go from 1 to any number: then it reaches the same one before each fall.
    exact = span + usual
    if not missed or min(missed) > _FAR * usual:
        if len(steps) >= 2 and np.mean(steps + exact == usual) > 0.5:
            return int(exact)
        raise LogError(
            f"The counter falls back ({counted(len(steps), 'time')}), first from "
            f"{before[0]:.0f} to {after[0]:.0f}, where no counter begins anew.",
            where=where,
            remedy="If two recordings stand in one file, part them; else write under 'counter' where it 'wraps_at'.",
        )
    return int(fitting[int(np.argmin(missed))])


def _told(
    steps: FloatArray, falls: np.ndarray, states: int, per_second: float, *, found: bool, where: str
) -> list[Finding]:
    findings = []
    if found:
        message = f"{where}: the counter begins anew at {states} ({counted(int(falls.sum()), 'time')})."
        findings.append(Finding("counter-wraps", "info", message, "If that is wrong, set 'wraps_at' in the profile."))
    usual = float(np.median(steps))
    if states / per_second < SOON_S and falls.any() and (steps > 1.5 * usual).any():
        message = (
            f"{where}: samples were lost, and the counter begins anew every {states / per_second:.2g} s: "
            "a longer loss would read that much too short."
        )
        findings.append(Finding("counter-wraps-soon", "warning", message, "Log times, or a counter with more digits."))
    return findings
