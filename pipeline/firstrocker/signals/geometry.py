"""Where the foot sensor sits on the shoe: from the ruler, else from the shoe, else from what people measure on average.

Sources, with their marks: the shoe size rules, the last being 10 to 20 mm longer than the foot, and the proportions of
the body (Winter after Drillis & Contini 1966) are from memory; the EU step (Paris point, 6.67 mm) and the UK and US
step (barleycorn, 8.47 mm) were seen; mondopoint is the foot's length in mm (ISO 9407:2019). That an outsole is some
10 mm longer than the last, and where a sensor on the laces sits, are common practice without a source. Estimates
therefore carry wide standard errors, and every one of them is a finding.
"""

from __future__ import annotations

from math import hypot

from firstrocker.model import Finding, FootGeometry
from firstrocker.signals.session import SessionFile, Shoe, ShoeSystem

_INCH = 25.4
_PARIS_POINT = 20.0 / 3.0
_BARLEYCORN = _INCH / 3.0
_LAST_OVER_FOOT = (15.0, 3.0)  # mm, se: 10 to 20 mm, evenly spread; from memory
_OUTSOLE_OVER_LAST = (10.0, 6.0)  # mm, se; common practice, no source
_POPULATION_FOOT = (0.152 * 1700.0, 18.0)  # mm, se: 0.152 of a stature of 1.70 m, spread of adults; from memory
_RULER = 3.0  # mm, se of a length read off a ruler beside a worn shoe; common practice, no source
_TO_TOE_SHARE = (0.52, 0.06)  # of the outsole, se: a sensor on the laces; common practice, no source
_ABOVE_GROUND = (75.0, 15.0)  # mm, se: a sensor on the laces; common practice, no source


def foot_geometry(session: SessionFile) -> tuple[FootGeometry, tuple[Finding, ...]]:
    """The foot sensor's place on the shoe, in metres, with a standard error for each length.

    Args:
        session: its ``foot_sensor`` and ``shoe`` are used; either may be missing.

    Returns:
        the geometry, and one finding ``geometry-estimated`` that names what was estimated: a warning where the toe
        clearance depends on it, else for information.
    """
    sensor = session.foot_sensor
    to_toe = None if sensor is None else sensor.to_toe_mm
    above = None if sensor is None else sensor.above_ground_mm
    outsole, outsole_se, outsole_from = _outsole(session.shoe)
    if outsole_from == "average" and to_toe is not None and to_toe > 0.8 * outsole:
        outsole, outsole_se = to_toe / _TO_TOE_SHARE[0], to_toe * _TO_TOE_SHARE[1] / _TO_TOE_SHARE[0] ** 2
    findings = []
    if to_toe is not None and to_toe >= outsole:
        findings.append(
            Finding(
                "geometry-contradiction",
                "warning",
                f"The foot sensor is said to sit {to_toe:.0f} mm behind the tip of a sole that is "
                f"{outsole:.0f} mm long: it would sit behind the heel. The distance to the toe was used as given, the "
                "heel's place was estimated from it.",
                "Measure both again, shoe on: sensor's centre to the tip of the outsole, and the whole outsole.",
            )
        )
        outsole, outsole_se = to_toe / _TO_TOE_SHARE[0], to_toe * _TO_TOE_SHARE[1] / _TO_TOE_SHARE[0] ** 2
        outsole_from = "ruler"
    toe, toe_se = (to_toe, _RULER) if to_toe is not None else _share(outsole, outsole_se)
    if to_toe is not None:
        heel_se = hypot(outsole_se, _RULER)
    else:
        heel_se = hypot((1.0 - _TO_TOE_SHARE[0]) * outsole_se, _TO_TOE_SHARE[1] * outsole)
    height, height_se = (above, _RULER) if above is not None else _ABOVE_GROUND
    guessed = []
    if to_toe is None:
        guessed.append(f"the sensor's distance to the tip of the shoe ({_give_or_take(toe, toe_se)})")
    if above is None:
        guessed.append(f"the sensor's height over the floor ({_give_or_take(height, height_se)})")
    if outsole_from == "size" and session.shoe is not None:
        shown = f"{session.shoe.system} size {session.shoe.size:g}"
        guessed.append(f"the length of the outsole ({_give_or_take(outsole, outsole_se)}, from {shown})")
    elif outsole_from == "average":
        guessed.append(f"the length of the outsole ({_give_or_take(outsole, outsole_se)}, an adult's average)")
    if guessed:
        findings.append(_estimated(guessed, matters=to_toe is None or above is None))
    geometry = FootGeometry(
        to_toe=toe / 1000.0,
        to_heel=(outsole - toe) / 1000.0,
        above_ground=height / 1000.0,
        to_toe_se=toe_se / 1000.0,
        to_heel_se=heel_se / 1000.0,
        above_ground_se=height_se / 1000.0,
        measured=to_toe is not None and above is not None,
    )
    return geometry, tuple(findings)


def last_length(size: float, system: ShoeSystem) -> tuple[float, float]:
    """Length of the last and its standard error, mm, from a shoe size; from memory, good to about one size.

    >>> [round(last_length(s, n)[0]) for s, n in ((42, "EU"), (8, "UK"), (9, "US-men"), (260, "mondopoint"))]
    [280, 279, 279, 275]
    """
    match system:
        case "EU":
            return size * _PARIS_POINT, _PARIS_POINT
        case "UK":
            return (size + 25.0) * _BARLEYCORN, _BARLEYCORN
        case "US-men":
            return (size + 24.0) * _BARLEYCORN, _BARLEYCORN
        case "US-women":
            return (size + 22.5) * _BARLEYCORN, _BARLEYCORN
        case "mondopoint":
            return size + _LAST_OVER_FOOT[0], hypot(5.0, _LAST_OVER_FOOT[1])


def _outsole(shoe: Shoe | None) -> tuple[float, float, str]:
    """Length, standard error (mm) and where they come from: ruler, size or average."""
    if shoe is not None and shoe.outsole_mm is not None:
        return shoe.outsole_mm, _RULER, "ruler"
    if shoe is not None and shoe.size is not None and shoe.system is not None:
        length, se = last_length(shoe.size, shoe.system)
        return length + _OUTSOLE_OVER_LAST[0], hypot(se, _OUTSOLE_OVER_LAST[1]), "size"
    length = _POPULATION_FOOT[0] + _LAST_OVER_FOOT[0] + _OUTSOLE_OVER_LAST[0]
    return length, hypot(_POPULATION_FOOT[1], _LAST_OVER_FOOT[1], _OUTSOLE_OVER_LAST[1]), "average"


def _share(outsole: float, outsole_se: float) -> tuple[float, float]:
    share, share_se = _TO_TOE_SHARE
    return share * outsole, hypot(share * outsole_se, share_se * outsole)


def _give_or_take(length: float, se: float) -> str:
    return f"{length:.0f} mm, give or take {se:.0f}"


def _estimated(guessed: list[str], *, matters: bool) -> Finding:
    effect = (
        "Toe and heel clearance are uncertain by as much; differences between walks are so only where the foot's pitch "
        "differs, provided the sensor stayed where it was."
        if matters
        else "Only the heel's clearance depends on it."
    )
    text = ", ".join(guessed[:-1]) + (" and " if len(guessed) > 1 else "") + guessed[-1]
    return Finding(
        "geometry-estimated",
        "warning" if matters else "info",
        f"Not measured but estimated: {text}. {effect}",
        "Measure with a ruler, shoe on and standing, and write 'foot_sensor: {to_toe_mm: .., above_ground_mm: ..}' and "
        "'shoe: {outsole_mm: ..}' into session.yaml.",
    )
