"""Which quiet stretches of a shank were standing, and which sitting, lying on a table or leaning on the other leg.

Whoever walks stood just before the first step and stands just after the last; to get up from a chair takes longer than
to set off, and turns the shank forward over the standing foot and back again, which no first step does. How the shank
leans over the flat foot in walking bounds how it can lean in standing. A rest that passes all of that counts; where
none does, vertical is taken from the flat foot's stances, with an error to match.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, BoolArray, Finding, FloatArray, IntArray, Side
from firstrocker.motion.rest import Rest

LEAST_STEPS = 3
"""Steps of one foot, one soon after the other, that nobody makes who only handles a sensor or pulls a foot back."""
PAUSE_TIMES, PAUSE_MORE_S, PAUSE_MOST_S = 2.0, 0.25, 2.5
"""Times the usual stance, s more, and at most so many s, beyond which a foot has paused: as bouts are parted."""
NEAR_S, SETTLING = 1.2, np.radians(10.0)
"""s between a rest and the nearest step within which nobody gets up or sits down, and rad by which the shank may lean
back again meanwhile: rising takes 1.5 to 3 s before the first step. From memory, no source."""
LATER_S, SWAYING = 5.0, np.radians(3.0)
"""The same of somebody who shifts about before setting off: longer, if the shank hardly turns."""
FARTHEST = np.radians(20.0)
"""rad from the shank over the flat foot in walking beyond which no shank stands: simulated walks of all kinds stand
within 9, by the joint angles of one healthy walk 4; of two crouched ones 23, who would stand crouched too."""
STANCE_LEAN = np.radians(4.0)
"""rad by which the shank leans forward over the flat foot in walking against standing: -1 to 8 deg in simulated walks
of all kinds, 4 by the joint angles of a healthy walk."""
STILL_SHARE = 0.8
STANDING_SE = np.radians(0.20), np.radians(0.45)
"""rad by which the shank in standing is off however long it stands, and in one second of it, to be divided by the root
of the seconds; people sway. From memory, no source."""
UNKNOWN_STANDING_SE = np.radians(4.0)  # rad where there was no standing at all
SWAY = np.radians(0.5)
"""rad that a standing shank may lean further at the end of a quiet stretch than at its beginning; beyond, it turns."""
KNOWN = np.radians(1.0)
"""rad, standard error of a stretch up to which it can contradict another: a shank that still turns says little."""
ALIKE, DIFFERENT = np.radians(3.0), np.radians(4.0)
"""rad from the middle of all stretches up to which one counts, and between two from which it is told."""


@dataclass(frozen=True)
class Bouts:
    """Where a foot walked.

    steps: per bout its first and last anchor that a step followed, by number. spans: per bout first and one past last
    samples, from the last rest before the first step to the first after the last.
    """

    steps: tuple[tuple[int, int], ...]
    spans: tuple[tuple[int, int], ...]

    def stances(self, index: IntArray) -> IntArray:
        """The samples of the anchors ``index`` between two steps of a bout; of a bout of one step where that ended."""
        parts = [index[a + 1 : max(b, a + 1) + 1] for a, b in self.steps]
        return np.concatenate([np.empty(0, dtype=np.int64), *parts])

    def within(self, count: int) -> BoolArray:
        """(count,) True within bouts."""
        mask = np.zeros(count, dtype=np.bool_)
        for first, stop in self.spans:
            mask[first:stop] = True
        return mask


def bouts_of(index: IntArray, moved: BoolArray, rate_hz: float) -> Bouts:
    """Steps that follow each other as in walking.

    Args:
        index: (k,) samples of the foot's anchors.
        moved: (k - 1,) whether it stepped between two.
        rate_hz: samples per second.

    Returns:
        Bouts of :data:`LEAST_STEPS` or more; where there are none, the longest there are.
    """
    steps = np.flatnonzero(moved)
    if not len(steps):
        return Bouts((), ())
    stood = (index[steps[1:]] - index[steps[:-1] + 1]) / rate_hz
    usual = float(np.median(stood)) if len(stood) else 0.0
    parts = np.split(steps, np.flatnonzero(stood > min(PAUSE_TIMES * usual + PAUSE_MORE_S, PAUSE_MOST_S)) + 1)
    least = min(LEAST_STEPS, max(map(len, parts)))
    kept = tuple((int(part[0]), int(part[-1])) for part in parts if len(part) >= least)
    return Bouts(kept, tuple((int(index[a]), int(index[b + 1]) + 1) for a, b in kept))


@dataclass(frozen=True)
class Quiet:
    """A quiet stretch of the shank over a foot that stands still too.

    span: first and one past last sample. up: (3,) m/s^2 specific force, sensor axes. lean: rad forward from the shank
    over the flat foot in walking. apart: rad from it in any direction. away_s: s to the nearest step, NaN without one
    near. back: rad by which the shank leant back again in between. se: rad, of the lean as that of standing.
    """

    span: tuple[int, int]
    up: FloatArray
    lean: float
    apart: float
    away_s: float
    back: float
    se: float

    @property
    def standing(self) -> bool:
        """Whether the person stood."""
        near = self.away_s <= NEAR_S and self.back <= SETTLING
        later = self.away_s <= LATER_S and self.back <= SWAYING
        return self.apart <= FARTHEST and (near or later)


@dataclass(frozen=True)
class Standing:
    """How a shank stood.

    up: (3,) m/s^2 specific force in standing, sensor axes. se: rad, its standard error. spans: first and one past last
    samples of the stretches that gave it, none where it was taken from walking. doubtful_s: s that the sensor lay quiet
    and the foot too, and that was not standing or may not have been. differ: rad between the stretches in which the
    person stood.
    """

    up: FloatArray
    se: float
    spans: tuple[tuple[int, int], ...]
    doubtful_s: float
    differ: float


def find_standing(
    rest: Rest,
    still: BoolArray,
    level: FloatArray,
    mount: FloatArray,
    bouts: Bouts,
    rate_hz: float,
) -> Standing:
    """How the shank's sensor lay in standing.

    Args:
        rest: of the shank.
        still: (n,) True where the foot is.
        level: (n, 3) the world's upward axis in sensor axes.
        mount: (3, 3) sensor to shank as it is over the flat foot in walking: its last row is ``level`` there.
        bouts: of the foot.
        rate_hz: samples per second.
    """
    found = quiets(rest, still, level, mount, bouts, rate_hz)
    stood = [one for one in found if one.standing]
    doubtful = sum(one.span[1] - one.span[0] for one in found if not one.standing) / rate_hz
    if not stood:
        up = np.cos(STANCE_LEAN) * mount[2] + np.sin(STANCE_LEAN) * mount[0]
        return Standing(STANDARD_GRAVITY * up, UNKNOWN_STANDING_SE, (), doubtful, 0.0)
    lean = np.array([one.lean for one in stood])
    weight = np.array([one.se for one in stood]) ** -2.0
    alike = np.abs(lean - _weighed_median(lean, weight)) <= ALIKE
    up = np.average([one.up for one in stood], axis=0, weights=weight * alike)
    middle = np.average(lean, weights=weight * alike)
    # Stretches that do not count say still that this person does not always stand alike.
    spread = np.sqrt(np.average((lean - middle) ** 2, weights=weight) / len(lean))
    se = float(np.hypot(np.sqrt(1.0 / weight[alike].sum()), spread))
    spans = tuple(one.span for one, counts in zip(stood, alike, strict=True) if counts)
    sure = weight >= KNOWN**-2.0
    differ = float(np.ptp(lean[sure])) if sure.any() else 0.0
    return Standing(up, float(np.hypot(STANDING_SE[0], se)), spans, doubtful, differ)


def _weighed_median(values: FloatArray, weights: FloatArray) -> float:
    order = np.argsort(values)
    sums = np.cumsum(weights[order])
    return float(values[order[np.searchsorted(sums, 0.5 * sums[-1])]])


def quiets(
    rest: Rest, still: BoolArray, level: FloatArray, mount: FloatArray, bouts: Bouts, rate_hz: float
) -> list[Quiet]:
    """The quiet stretches of a shank, and what tells standing from sitting in each; see :func:`find_standing`."""
    found = []
    for (first, stop), gravity in zip(rest.spans, rest.gravity, strict=True):
        if still[first:stop].mean() <= STILL_SHARE:
            continue
        up = gravity / np.linalg.norm(gravity)
        lean = -float(np.arcsin(np.clip(up @ mount[0], -1.0, 1.0)))
        apart = float(np.arccos(np.clip(up @ mount[2], -1.0, 1.0)))
        ways = [
            (away, _back(_lean(level[a:b], mount)))
            for a, b, away in _ways((first, stop), bouts, rate_hz)
            if away <= LATER_S
        ]
        # Of the bout before and the one after, the one that speaks more for standing.
        best = min(ways, key=lambda way: way[0] / NEAR_S + way[1] / SETTLING, default=(np.nan, np.nan))
        thirds = [part.mean() for part in np.array_split(_lean(level[first:stop], mount), 3)]
        turning = max(abs(float(thirds[2] - thirds[0])) - SWAY, 0.0)
        sway = STANDING_SE[1] / np.sqrt((stop - first) / rate_hz)
        found.append(Quiet((first, stop), gravity, lean, apart, *best, float(np.hypot(sway, turning))))
    return found


def _lean(level: FloatArray, mount: FloatArray) -> FloatArray:
    """(n,) rad forward."""
    return np.asarray(-np.arcsin(np.clip(level @ mount[0], -1.0, 1.0)))


def _back(lean: FloatArray) -> float:
    """Rad by which a shank leant back from its farthest forward so far."""
    return float((np.maximum.accumulate(lean) - lean).max()) if len(lean) else 0.0


def _ways(span: tuple[int, int], bouts: Bouts, rate_hz: float) -> list[tuple[int, int, float]]:
    """From the bout before to the end of a rest, from its beginning to the bout after: samples, and s in between."""
    first, stop = span
    before = [b for _, b in bouts.spans if b <= stop]
    after = [a for a, _ in bouts.spans if a >= first]
    if any(a < first and stop < b for a, b in bouts.spans):
        # A stance that lasted: the person stood for a moment, or the shank is slow while the body passes over it.
        return [(first, stop, 0.0)] if stop - first > rate_hz else []
    ways = [(before[-1], stop, max(first - before[-1], 0) / rate_hz)] if before else []
    return ways + ([(first, after[0], max(after[0] - stop, 0) / rate_hz)] if after else [])


def standing_findings(found: Standing, side: Side) -> tuple[Finding, ...]:
    """What must be said of how a zero was found."""
    remedy = "Let the person stand upright and still for two seconds before the first step and after the last."
    how = (
        f"the shank over the flat foot in walking was taken to lean forward by {np.degrees(STANCE_LEAN):.0f} deg "
        "instead, so ankle and shank angles may be off by several degrees. Rates and ranges are not touched by this"
    )
    if not found.spans and not found.doubtful_s:
        text = f"The shank log holds no quiet standing; {how}."
        return (Finding("no-standing-shank", "warning", text, remedy, segment="shank", side=side),)
    if not found.spans:
        text = (
            f"The shank was quiet for {found.doubtful_s:.0f} s over a foot at rest, but not in standing as far as can "
            "be told: between then and the nearest step it turned as in getting up from a chair or sitting down, or "
            f"leant as no standing shank does, or too long passed; {how}."
        )
        return (Finding("standing-doubtful", "warning", text, remedy, segment="shank", side=side),)
    if found.differ > DIFFERENT:
        text = (
            f"From one standing to another the shank leant by up to {np.degrees(found.differ):.0f} deg differently; "
            "ankle and shank angles count from where most stretches agree, give or take "
            f"{np.degrees(found.se):.1f} deg. Rates and ranges are not touched by this."
        )
        remedy = "Let the person stand on both legs with straight knees; look whether the shank's sensor slipped."
        return (Finding("standing-differs", "warning", text, remedy, segment="shank", side=side),)
    return ()
