"""Which quiet stretches of a shank were standing, and which sitting, lying on a table or leaning on the other leg.

Whoever walks stood just before the first step and stands just after the last; to get up from a chair takes longer than
to set off, and turns the shank forward over the standing foot and back again, which no first step does. How the shank
leans over the flat foot in walking bounds how it can lean in standing. A rest that passes all of that counts; where
none does, vertical is taken from the flat foot's stances, with an error to match.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, BoolArray, Finding, FloatArray, Side
from firstrocker.motion.rest import Rest, spans_of
from firstrocker.motion.sensor import Sensor
from firstrocker.motion.walked import Bouts

SETTLING = np.radians(10.0)
"""rad by which a standing shank may lean back again before a step or after it; rising turns it by more."""
LATER_S, SWAYING = 5.0, np.radians(3.0)
"""s between a rest and the nearest step of who shifts about before setting off, and rad by which the shank may stray
from that rest until it is near."""
FARTHEST = np.radians(20.0)
"""rad from the shank over the flat foot in walking beyond which no shank stands: simulated walks of all kinds stand
within 9, recorded ones within 9 (two shanks of one person); a crouched walk leans 23 deg forward, who walks so may
stand so too."""
STANCE_LEAN = np.radians(4.0)
"""rad by which the shank leans forward over the flat foot in walking against standing: -1 to 8 deg in simulated walks
of all kinds; 3 and 4 on two recorded shanks of one person, 4 by the joint angles of another."""
STILL_SHARE = 0.8
TURNING_S, TURNING = 0.5, np.radians(1.5)
"""s, and rad of lean over them, from which a shank turns: slow turns pass for rest, for their rate hardly spreads."""
LEAST_S, MOST_S = 0.4, 5.0
"""s of a stretch that count: at least, and at most, those next to walking."""
STANDING_SE = np.radians(0.20), np.radians(0.45)
"""rad by which the shank in standing is off however long it stands, and in one second of it, to be divided by the root
of the seconds; people sway. From memory, no source."""
UNKNOWN_STANDING_SE = np.radians(4.0)  # rad where there was no standing at all
SWAY = np.radians(0.5)
"""rad that a standing shank may lean further at the end of a quiet stretch than at its beginning; beyond, it turns."""
KNOWN, HARDLY = np.radians(1.0), np.radians(2.0)
"""rad, standard errors of standing: up to the first it can contradict another and needs no help of walking, for a shank
that still turns says little; from the second on it is told."""
ALIKE, DIFFERENT = np.radians(3.0), np.radians(4.0)
"""rad between two stretches up to which they agree, and from which it is told."""
NEARLY = 0.7
"""Share of the greatest support that stretches can have with which the earliest is taken: who strapped the sensors on
looked how the person stood then."""


@dataclass(frozen=True)
class Quiet:
    """A quiet stretch of the shank that keeps its lean, over a foot that stands still too.

    span: first and one past last sample. up: (3,) m/s^2 specific force, sensor axes. lean: rad forward from the shank
    over the flat foot in walking. apart: rad from it in any direction. away_s: s to the nearest step, NaN without one
    near. back: rad by which the shank leant back again in between. strays: rad by which it left this lean before that
    step was near. se: rad, of the lean as that of standing.
    """

    span: tuple[int, int]
    up: FloatArray
    lean: float
    apart: float
    away_s: float
    back: float
    strays: float
    se: float

    @property
    def standing(self) -> bool:
        """Whether the person stood."""
        return bool(self.apart <= FARTHEST and self.away_s <= LATER_S and _calm(self.back, self.strays))


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
    sensor: Sensor,
    lean: FloatArray,
    mount: FloatArray,
    bouts: Bouts,
) -> Standing:
    """How the shank's sensor lay in standing.

    Args:
        rest: of the shank.
        still: (n,) True where the foot is.
        sensor: of the shank.
        lean: (n,) rad forward from the shank over the flat foot in walking.
        mount: (3, 3) sensor to shank as it is over the flat foot in walking: its last row is the world's upward axis.
        bouts: of the foot.
    """
    found = quiets(rest, still, sensor, lean, mount, bouts)
    doubtful = sum(one.span[1] - one.span[0] for one in found if not one.standing) / sensor.rate_hz
    stood = [one for one in found if one.standing and one.away_s <= bouts.near_s]
    stood = stood or [one for one in found if one.standing]
    walked = STANDARD_GRAVITY * (np.cos(STANCE_LEAN) * mount[2] + np.sin(STANCE_LEAN) * mount[0])
    if not stood:
        return Standing(walked, UNKNOWN_STANDING_SE, (), doubtful, 0.0)
    leans = np.array([one.lean for one in stood])
    weight = np.array([one.se for one in stood]) ** -2.0
    alike = _alike(leans, weight)
    up = np.average([one.up for one in stood], axis=0, weights=weight * alike)
    middle = np.average(leans, weights=weight * alike)
    # What one stretch is off by the next may be too: many are no surer than the best of them. Those that do not count
    # say still that this person does not always stand alike.
    spread = np.sqrt(np.average((leans - middle) ** 2, weights=weight) / len(leans))
    own = float(np.sqrt(1.0 / weight[alike].max()))
    if own > KNOWN:
        shares = np.array([own, UNKNOWN_STANDING_SE]) ** -2.0
        up, own = np.average([up, walked], axis=0, weights=shares), float(shares.sum() ** -0.5)
    se = float(np.hypot(own, spread))
    spans = tuple(one.span for one, counts in zip(stood, alike, strict=True) if counts)
    sure = weight >= KNOWN**-2.0
    differ = float(np.ptp(leans[sure])) if sure.any() else 0.0
    return Standing(up, float(np.hypot(STANDING_SE[0], se)), spans, doubtful, differ)


def _alike(leans: FloatArray, weight: FloatArray) -> BoolArray:
    """(k,) which stretches agree with the one that most speaks for, the earlier of two that are much alike in that."""
    alike = np.abs(leans[:, None] - leans) <= ALIKE
    support = alike @ weight
    return np.asarray(alike[int(np.argmax(support >= NEARLY * support.max()))])


def quiets(
    rest: Rest,
    still: BoolArray,
    sensor: Sensor,
    lean: FloatArray,
    mount: FloatArray,
    bouts: Bouts,
) -> list[Quiet]:
    """The quiet stretches of a shank, and what tells standing from sitting in each.

    Args:
        rest: of the shank.
        still: (n,) True where the foot is.
        sensor: of the shank.
        lean: (n,) rad forward from the shank over the flat foot in walking.
        mount: (3, 3) sensor to shank as it is over the flat foot in walking.
        bouts: of the foot.
    """
    rate_hz, found = sensor.rate_hz, []
    for first, stop in _steady(rest, lean, rate_hz):
        if still[first:stop].mean() <= STILL_SHARE:
            continue
        near = _next_to_walking((first, stop), bouts, rate_hz)
        gravity = sensor.force(near).mean(axis=1)
        up = gravity / np.linalg.norm(gravity)
        leans = -float(np.arcsin(np.clip(up @ mount[0], -1.0, 1.0)))
        apart = float(np.arccos(np.clip(up @ mount[2], -1.0, 1.0)))
        ways = [
            (away, _back(lean[way]), _strays(lean[farther], leans))
            for way, farther, away in _ways((first, stop), bouts, rate_hz)
            if away <= LATER_S
        ]
        # Of the bout before and the one after, the nearer one that speaks for standing.
        best = min(ways, key=lambda way: (not _calm(*way[1:]), way[0]), default=(np.nan,) * 3)
        third = -(-(near.stop - near.start) // 3)
        turning = float(lean[near.stop - third : near.stop].mean() - lean[near.start : near.start + third].mean())
        turning = max(abs(turning) - SWAY, 0.0)
        sway = STANDING_SE[1] / np.sqrt((near.stop - near.start) / rate_hz)
        found.append(Quiet((first, stop), gravity, leans, apart, *best, float(np.hypot(sway, turning))))
    return found


def _steady(rest: Rest, lean: FloatArray, rate_hz: float) -> list[tuple[int, int]]:
    """The stretches of rests in which the shank does not turn."""
    if not rest.spans:
        return []
    half = max(round(0.5 * TURNING_S * rate_hz), 1)
    # All rests at once, sample by sample: a walk has thousands. No two of them touch.
    first, stop = np.array(rest.spans).T
    length = stop - first
    place = np.arange(length.sum()) + np.repeat(first - np.cumsum(length) + length, length)
    change = lean[np.minimum(place + half, np.repeat(stop - 1, length))]
    change -= lean[np.maximum(place - half, np.repeat(first, length))]
    steady = np.zeros(len(lean), dtype=np.bool_)
    steady[place] = np.abs(change) < TURNING
    return [(a, b) for a, b in spans_of(steady) if b - a >= LEAST_S * rate_hz]


def _next_to_walking(span: tuple[int, int], bouts: Bouts, rate_hz: float) -> slice:
    """The part of a stretch that counts: its end before a bout, its beginning after one, whichever is nearer."""
    first, stop = span
    most = round(MOST_S * rate_hz)
    before, after = bouts.before(stop), bouts.after(first)
    nearer = after is not None and (before is None or after - stop < first - before)
    return slice(max(first, stop - most), stop) if nearer else slice(first, min(stop, first + most))


def _calm(back: float, strays: float) -> bool:
    return bool(back <= SETTLING and strays <= SWAYING)


def _back(lean: FloatArray) -> float:
    """Rad by which a shank leant back from its farthest forward so far."""
    return float((np.maximum.accumulate(lean) - lean).max()) if len(lean) else 0.0


def _strays(lean: FloatArray, usual: float) -> float:
    """Rad by which a shank strays from how it usually leans."""
    return float(np.abs(lean - usual).max()) if len(lean) else 0.0


def _ways(span: tuple[int, int], bouts: Bouts, rate_hz: float) -> list[tuple[slice, slice, float]]:
    """From the bout before to the end of a rest, and from its beginning to the bout after.

    Returns:
        Of each its samples, those between the rest and where a step is near, and s from the rest to the step.
    """
    first, stop = span
    if bouts.holds(first, stop):
        # A stance that lasted: the person stood for a moment, or the shank is slow while the body passes over it.
        return [(slice(first, stop), slice(0, 0), 0.0)] if stop - first > rate_hz else []
    near, ways = round(bouts.near_s * rate_hz), []
    before, after = bouts.before(stop), bouts.after(first)
    if before is not None:
        ways.append((slice(before, stop), slice(before + near, first), (first - before) / rate_hz))
    if after is not None:
        ways.append((slice(first, after), slice(stop, max(after - near, 0)), (after - stop) / rate_hz))
    return ways


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
    if found.se > HARDLY:
        text = (
            "Next to walking the shank was hardly ever still, as if the person did not quite stand; ankle and shank "
            f"angles may be off by {np.degrees(found.se):.1f} deg (standard error). Rates and ranges are not touched."
        )
        return (Finding("standing-doubtful", "warning", text, remedy, segment="shank", side=side),)
    return ()
