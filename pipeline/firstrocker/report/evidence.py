"""How far a session can be trusted, in words and with what the pictures need: from quality.json and evidence.json."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from firstrocker.report.numbers import number

AXES = ("forward", "left", "up")
_GOOD_LIKENESS = 0.94  # as matching itself asks for: signals/match.py


@dataclass(frozen=True)
class Told:
    """One sentence about one sensor of one walk. doubtful: it is something to look at."""

    walk: str
    side: str
    segment: str
    text: str
    doubtful: bool


@dataclass(frozen=True)
class SeatPicture:
    """What a picture of a seat needs: the sensor's own axes by name, each (forward, left, up) of the segment."""

    walk: str
    side: str
    segment: str
    axes: Mapping[str, tuple[float, float, float]]


@dataclass(frozen=True)
class ClockPicture:
    """The ankle's specific force, m/s^2, over a piece of walking: as the foot tells it, as the shank does on the walk's
    clock, and as the shank would by its log's own times (None where it holds nothing then). time in s.
    """

    walk: str
    side: str
    text: str
    time: Sequence[float]
    foot: Sequence[float | None]
    shank: Sequence[float | None]
    before: Sequence[float | None]


@dataclass(frozen=True)
class Trust:
    """All of it. versions, settings and inputs are (name, value) pairs; settings by ``section.name``."""

    seats: Sequence[Told]
    rests: Sequence[Told]
    clocks: Sequence[Told]
    seat_pictures: Sequence[SeatPicture]
    clock_pictures: Sequence[ClockPicture]
    versions: Sequence[tuple[str, str]]
    settings: Sequence[tuple[str, str]]
    inputs: Sequence[tuple[str, str]]


def trust(quality: Mapping[str, Any], evidence: Mapping[str, Any] | None) -> Trust:
    """What can be said of how far a session can be trusted, beside its findings and counts.

    Args:
        quality: the content of quality.json.
        evidence: the content of evidence.json; None where there is none.
    """
    walks = [] if evidence is None else list(evidence.get("walks") or [])
    seats: list[Told] = []
    rests: list[Told] = []
    clocks: list[Told] = []
    seat_pictures: list[SeatPicture] = []
    clock_pictures: list[ClockPicture] = []
    for walk in walks:
        ankles = {side["side"]: side["ankle"] for side in walk["sides"]}
        for side in walk["sides"]:
            for seat in side["seats"]:
                seats.append(_seat_told(walk["walk"], side, seat))
                seat_pictures.append(_seat_picture(walk["walk"], side["side"], seat))
            rests += [_rest_told(walk["walk"], side["side"], rest) for rest in side["rests"]]
        for clock in walk["clocks"]:
            told = _clock_told(walk, clock, ankles.get(clock["side"]))
            if told is None:
                continue
            clocks.append(told)
            ankle = ankles.get(clock["side"])
            if ankle is not None:
                clock_pictures.append(_clock_picture(walk["walk"], clock["side"], told.text, ankle))
    return Trust(
        seats=seats,
        rests=rests,
        clocks=clocks,
        seat_pictures=seat_pictures,
        clock_pictures=clock_pictures,
        versions=sorted((str(k), str(v)) for k, v in dict(quality.get("versions") or {}).items()),
        settings=_flat(quality.get("settings") or {}),
        inputs=sorted((str(k), str(v or "unreadable")) for k, v in dict(quality.get("inputs") or {}).items()),
    )


def _flat(settings: Mapping[str, Mapping[str, Any]]) -> list[tuple[str, str]]:
    return [
        (f"{section}.{name}", "none" if value is None else f"{value}")
        for section, fields in sorted(settings.items())
        for name, value in sorted(fields.items())
    ]


def _seat_told(walk: str, of_side: Mapping[str, Any], seat: Mapping[str, Any]) -> Told:
    side = of_side["side"]
    matrix = np.array(seat["matrix"], dtype=np.float64)
    points = [f"its {_nearest(row)} points {axis}" for axis, row in zip(AXES, matrix, strict=True)]
    text = f"{', '.join(points[:-1])} and {points[-1]}"
    if seat["axes"] == "declared":
        how = "as declared in the logger profile, levelled by gravity"
        return Told(walk, side, seat["segment"], f"{text}; {how}.", doubtful=False)
    planar = float(seat["planar"])
    how = (
        "found from walking: up by gravity on the flat foot or in standing, sideways as the axis about which it turned "
        f"({100 * planar:.0f} % of its turning lies about it; 50 % would be no axis at all)"
    )
    off = of_side["foot_aside_deg"] if seat["segment"] == "foot" else None
    if off is not None:
        way = "left" if off > 0 else "right"
        how += f", forward by where the foot went ({number(abs(off), 0)} deg to the {way} of where it points)"
    arm = seat["above_ankle_mm"]
    if arm is not None:
        how += f"; it sat some {number(arm[2], 0)} mm above the ankle, as the shank's turning over the flat foot tells"
    return Told(walk, side, seat["segment"], f"{text}; {how}.", doubtful=_unclear(seat, off))


def _unclear(seat: Mapping[str, Any], off: float | None) -> bool:
    from firstrocker.gait.evidence import LEAST_PLANAR, MOST_HEADING_OFF

    least = LEAST_PLANAR["foot" if seat["segment"] == "foot" else "shank"]
    return bool(seat["planar"] < least or (off is not None and abs(off) > np.degrees(MOST_HEADING_OFF)))


def _nearest(axis: np.ndarray[Any, np.dtype[np.float64]]) -> str:
    """The sensor axis nearest to a direction given in sensor axes, and how far off it is.

    >>> _nearest(np.array([0.0, -0.966, 0.259]))
    '-y axis (15 deg off)'
    """
    place = int(np.argmax(np.abs(axis)))
    off = np.degrees(np.arccos(min(abs(float(axis[place])) / float(np.linalg.norm(axis)), 1.0)))
    return f"{'+' if axis[place] > 0 else '-'}{'xyz'[place]} axis ({off:.0f} deg off)"


def _seat_picture(walk: str, side: str, seat: Mapping[str, Any]) -> SeatPicture:
    columns = np.array(seat["matrix"], dtype=np.float64).T
    axes = {name: (float(c[0]), float(c[1]), float(c[2])) for name, c in zip("xyz", columns, strict=True)}
    return SeatPicture(walk, side, seat["segment"], axes)


def _rest_told(walk: str, side: str, rest: Mapping[str, Any]) -> Told:
    spans = [(float(a), float(b)) for a, b in rest["spans_s"]]
    if not spans:
        text = "no quiet standing was found; level and bias were taken from walking itself, which is less sure."
        return Told(walk, side, rest["segment"], text, doubtful=True)
    stood = [(float(a), float(b)) for a, b in rest.get("stood_s") or []]
    if rest["used"] and stood:
        text = f"{_times('stood still next to a step', stood)}; this gave the zero of ankle and shank angles"
        besides = sum(b - a for a, b in spans) - sum(b - a for a, b in stood)
        if besides > 1.0:
            text += f". It was quiet for another {besides:.0f} s, as in a chair or far from a step: not used for that"
        return Told(walk, side, rest["segment"], f"{text}.", doubtful=False)
    text = _times("was still", spans)
    if rest["used"]:
        return Told(walk, side, rest["segment"], f"{text}; this gave bias and level.", doubtful=False)
    return Told(walk, side, rest["segment"], f"{text}; its level was not taken from there: see the findings.", True)


def _times(what: str, spans: Sequence[tuple[float, float]]) -> str:
    """How often, for how long, and when first.

    >>> _times("stood still", [(0.0, 2.5), (20.0, 22.0)])
    'stood still 2 times, 4.5 s in all, the first from 0.0 to 2.5 s'
    """
    total = sum(b - a for a, b in spans)
    if len(spans) == 1:
        return f"{what} once, from {spans[0][0]:.1f} to {spans[0][1]:.1f} s"
    return f"{what} {len(spans)} times, {total:.1f} s in all, the first from {spans[0][0]:.1f} to {spans[0][1]:.1f} s"


def _clock_told(walk: Mapping[str, Any], clock: Mapping[str, Any], ankle: Mapping[str, Any] | None) -> Told | None:
    """How a log lies on the walk's clock; None for the log whose clock it is."""
    place = (walk["walk"], clock["side"], clock["segment"])
    first = walk["logs"][0]
    if (clock["segment"], clock["side"]) == (first["segment"], first["side"]):
        return None
    if clock["segment"] == "foot":
        how = "its times were kept" if clock["matched"] else "its first sample was laid on the other foot's"
        return Told(*place, f"two feet share no joint to match them by; {how}, and no measure depends on it.", False)
    if not clock["matched"]:
        return Told(*place, "could not be laid on the foot's clock and was left out.", doubtful=True)
    foot = next((c for c in walk["clocks"] if (c["segment"], c["side"]) == ("foot", clock["side"])), None)
    ahead = 0.0 if foot is None else foot["offset_s"] - clock["offset_s"]
    text = (
        f"its clock was {number(abs(ahead), 3)} s {'ahead of' if ahead > 0 else 'behind'} the foot log's and ran "
        f"{number(abs(clock['drift_ppm']), 0)} ppm {'slow' if clock['drift_ppm'] > 0 else 'fast'}; both were taken off"
    )
    if clock["offset_se_s"] is not None:
        text += f", give or take {1000 * clock['offset_se_s']:.0f} ms"
    if ankle is None:
        return Told(*place, f"{text}. This could not be looked at again.", doubtful=True)
    text += f". On the walk's clock both see the ankle move alike, to a correlation of {ankle['likeness']:.3f}"
    if ankle["left_over_ms"] is not None:
        text += f", with {number(ankle['left_over_ms'], 1, signed=True)} ms left between them"
    if ankle["scatter_ms"] is not None:
        text += f" (from part to part of the walk \u00b1{number(ankle['scatter_ms'], 1)} ms)"
    return Told(*place, text + ".", doubtful=bool(ankle["likeness"] < _GOOD_LIKENESS))


def _clock_picture(walk: str, side: str, text: str, ankle: Mapping[str, Any]) -> ClockPicture:
    return ClockPicture(
        walk, side, text, ankle["time_s"], ankle["foot_m_s2"], ankle["shank_m_s2"], ankle["shank_before_m_s2"]
    )
