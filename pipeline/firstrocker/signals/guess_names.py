"""What the names of columns tell: which quantity, which axis, which unit. Names are hints; data decide."""

from __future__ import annotations

import re
from dataclasses import dataclass

Kind = str
"""``acceleration``, ``angular_velocity``, ``other``, or empty where the name says nothing."""

_KINDS: tuple[tuple[str, str], ...] = (
    (
        "other",
        r"quat|euler|roll|pitch|yaw|heading|temp|press|baro|alti|mat\b|mat\[|volt|batt|heart|humid|light|\bpos|\bvel_",
    ),
    ("other", r"lin\w*[ _-]?acc|user[ _-]?acc|free[ _-]?acc|grav"),
    ("other", r"mag|compass|(?:^|[^a-z])[mbq][ _-]?[xyzw0-3](?:$|[^a-z])"),
    ("angular_velocity", r"gyr|ang\w*[ _-]?(?:vel|rate)|omega|rot\w*[ _-]?rate|turn[ _-]?rate"),
    ("angular_velocity", r"(?:^|[^a-z])[gw][ _-]?[xyz123](?:$|[^a-z0-9])"),
    ("acceleration", r"acc|beschl|specific[ _-]?force|(?:^|[^a-z])[af][ _-]?[xyz123](?:$|[^a-z0-9])"),
)
_UNITS: tuple[tuple[str, str], ...] = (
    ("mdeg/s", r"\bmdps\b|mdeg/s"),
    ("deg/s", r"deg(?:rees?)?\s*(?:/|_per_|per)\s*s|°\s*/\s*s|\bdps\b|deg_s\b"),
    ("rad/s", r"rad\s*(?:/|_per_|per)\s*s|rad_s\b"),
    ("m/s^2", r"m\s*/\s*s\s*(?:\^|\*\*)?\s*[2²]|m[ .]?s\^?-2|m_s2|mps2|m/s/s"),
    ("mg", r"(?:^|[^a-z])mg(?:$|[^a-z])"),
    ("g", r"[\[(_ ]g[\])]?\s*$"),
    ("ms", r"(?:^|[^a-z])(?:ms|msec|millis\w*)(?:$|[^a-z])"),
    ("us", r"(?:^|[^a-z])(?:us|usec|[µμ]s|micros\w*)(?:$|[^a-z])"),
    ("ns", r"(?:^|[^a-z])(?:ns|nsec|nanos\w*)(?:$|[^a-z])"),
    ("s", r"(?:^|[^a-z/])(?:s|sec|secs|seconds?)[\])]?\s*$"),
)
TIME = r"time|zeit|stamp|clock|uhr|epoch|(?:^|[^a-z])t(?:$|[^a-z])|(?:^|[^a-z])(?:ms|us|ns|sec)(?:$|[^a-z])"
COUNTER = r"count|packet|sampl|index|idx|frame|seq|(?:^|[^a-z])(?:n|nr|no|i|row|tick|ticks)(?:$|[^a-z])"
SENSOR = r"sensor|device|imu|node|unit|\bid\b|_id\b|segment|side|placement|location|position|name|mac|serial"


@dataclass(frozen=True)
class Named:
    """What a name says: the kind of quantity, the axis (0, 1, 2; None), the unit, and the name without the axis."""

    kind: Kind
    axis: int | None
    unit: str
    key: str


def kind_of(name: str) -> Kind:
    """The kind of quantity a name speaks of, empty where it says nothing.

    >>> kind_of("Gyr_X"), kind_of("ay"), kind_of("Mag_Z"), kind_of("7")
    ('angular_velocity', 'acceleration', 'other', '')
    """
    lower = re.sub(r"(?<=[a-z])(?=[XYZ](?:$|[^a-z]))", "_", name).lower()
    return next((kind for kind, pattern in _KINDS if re.search(pattern, lower)), "")


def unit_of(name: str) -> str:
    """The unit a name carries, empty where none.

    >>> unit_of("acc x [m/s^2]"), unit_of("time (ms)"), unit_of("gx (°/s)"), unit_of("ax")
    ('m/s^2', 'ms', 'deg/s', '')
    """
    lower = name.lower()
    return next((unit for unit, pattern in _UNITS if re.search(pattern, lower)), "")


def read_name(name: str) -> Named:
    """Everything a name says.

    >>> read_name("Acc_Y (g)").axis, read_name("wz").axis, read_name("temperature").axis
    (1, 2, None)
    """
    bare = re.sub(r"[\[(].*?[\])]|m/s\^?[2²]|deg/s|rad/s", "", name).strip()
    found = re.search(r"([xyzXYZ])(?=[^a-zA-Z]*$)", bare) or re.search(r"(?:^|[^a-zA-Z])([xyzXYZ])(?=[^a-zA-Z])", bare)
    axes = "xyz"
    if found is None:
        found, axes = re.search(r"([123])(?=[^0-9]*$)", bare), "123"
    kind = kind_of(name)
    if found is None or (kind == "other" and re.search(r"quat|temp", name.lower())):
        return Named(kind, None, unit_of(name), bare.lower())
    key = (bare[: found.start(1)] + "*" + bare[found.end(1) :]).lower()
    return Named(kind, axes.index(found.group(1).lower()), unit_of(name), key)


def stem_of(key: str) -> str:
    """A group's key without the words that tell acceleration from angular velocity: what both share of one sensor.

    >>> stem_of("foot_acc_*") == stem_of("foot_gyr_*"), stem_of("a*") == stem_of("g*")
    (True, True)
    """
    bare = re.sub(
        r"angular[ _-]?velocity|ang\w*[ _-]?vel\w*|acceleration|accel\w*|acc|gyroscope|gyro|gyr|omega", "~", key
    )
    return re.sub(r"(?<![a-z])[agwf](?=[ _-]?\*)", "~", bare)
