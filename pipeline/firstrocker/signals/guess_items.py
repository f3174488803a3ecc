"""What was found out of an unknown log, as entries of a profile, each with how sure it is and why."""

from __future__ import annotations

from typing import Any

from firstrocker.signals.description import Item, Sure
from firstrocker.signals.guess_clock import Clock
from firstrocker.signals.guess_sensors import AGAINST, CLEAR, Sensor
from firstrocker.signals.strict import Problem


def sensor_entries(sensor: Sensor, clock: Clock, *, header: bool) -> dict[str, Any]:
    """The profile's entries for a sensor and its clock; None where nobody knows the value."""
    columns: dict[str, Any] = {} if clock.kind != "time" else {"time": _named(str(clock.column), header)}
    columns["acceleration"] = [_named(name, header) for name in sensor.acceleration]
    columns["angular_velocity"] = [_named(name, header) for name in sensor.angular_velocity]
    units = {} if clock.kind == "counter" else {"time": clock.entries["unit"]}
    units |= {"acceleration": sensor.acceleration_unit, "angular_velocity": sensor.turning_unit}
    entries: dict[str, Any] = {"columns": columns, "units": units}
    if sensor.acceleration_scale != 1.0 or sensor.turning_scale != 1.0:
        entries["scale"] = {"acceleration": sensor.acceleration_scale, "angular_velocity": sensor.turning_scale}
    counter = clock.entries.get("counter")
    if isinstance(counter, dict):
        entries["counter"] = counter | {"column": _named(str(counter["column"]), header)}
    if "sampling_rate_hz" in clock.entries:
        entries["sampling_rate_hz"] = clock.entries["sampling_rate_hz"]
    return entries


def sensor_items(sensor: Sensor, *, header: bool) -> list[Item]:
    """How sure each entry about a sensor is."""
    ratio = sensor.order_ratio
    a_sure: Sure = sensor.acceleration_sure
    w_sure: Sure = "high" if ratio is not None and ratio >= CLEAR else "fair"
    if ratio is not None and ratio < AGAINST:
        w_sure = "low"
    if not sensor.named:
        a_sure = "fair" if a_sure == "high" and w_sure != "high" else a_sure
        w_sure = "low" if ratio is None else w_sure
        a_sure = "low" if ratio is None else a_sure
    a_why = "Their names say so, and gravity is in them at rest." if sensor.named else "Gravity is in them at rest."
    w_why = "Their names say so" if sensor.named else "They turn gravity as the acceleration feels it"
    if ratio is None:
        w_why += "; nothing tells their order and signs."
    elif ratio >= CLEAR:
        w_why += ", and in this order and with these signs they turn gravity best."
    elif ratio >= AGAINST:
        w_why += "; another order or sign would turn gravity about as well."
    else:
        w_why += ", but with another order or sign they turn gravity far better."
    items = [
        Item("columns.acceleration", [_named(n, header) for n in sensor.acceleration], a_sure, a_why),
        Item("columns.angular_velocity", [_named(n, header) for n in sensor.angular_velocity], w_sure, w_why),
        Item("units.acceleration", sensor.acceleration_unit, sensor.acceleration_sure, sensor.acceleration_why),
        Item("units.angular_velocity", sensor.turning_unit, sensor.turning_sure, sensor.turning_why, _other(sensor)),
    ]
    if sensor.acceleration_scale != 1.0:
        items.append(
            Item("scale.acceleration", sensor.acceleration_scale, sensor.acceleration_sure, sensor.acceleration_why)
        )
    if sensor.turning_scale != 1.0:
        items.append(
            Item("scale.angular_velocity", sensor.turning_scale, sensor.turning_sure, sensor.turning_why, sensor.scales)
        )
    return items


def sensor_problems(sensor: Sensor) -> list[Problem]:
    """What must be settled before the sensor can be read."""
    problems = []
    if not sensor.gravity:
        problems.append(
            Problem(
                "columns.acceleration",
                "The acceleration vanishes at rest: gravity has been taken off, or these are other columns.",
                "Export the acceleration as the sensor measured it.",
            )
        )
    if sensor.turning_scale is None:
        some = ", ".join(f"{one:g}" for one in sensor.scales[:4])
        problems.append(
            Problem(
                "scale.angular_velocity",
                f"What one count is worth in deg/s cannot be told from a log{f' (perhaps {some})' if some else ''}.",
                "Look it up in the sensor's manual, and write it there.",
            )
        )
    if sensor.order_ratio is not None and sensor.order_ratio < AGAINST:
        problems.append(
            Problem(
                "columns.angular_velocity",
                "Turned back by the angular velocity, the acceleration does not stay upright, but with other axes or "
                "signs it does.",
                "Check that x, y and z of both are the sensor's own, and that neither had its sign changed.",
            )
        )
    return problems


def clock_problems(clock: Clock) -> list[Problem]:
    """What must be settled before the samples can be timed."""
    if clock.rate_hz is not None:
        return []
    what = "Nothing in the file tells how many samples the sensor gave per second."
    return [Problem("sampling_rate_hz", what, "Write what the logger was set to.")]


def _named(name: str, header: bool) -> str | int:
    return name if header else int(name)


def _other(sensor: Sensor) -> tuple[str, ...]:
    if sensor.turning_sure == "high":
        return ()
    return ("rad/s",) if sensor.turning_unit == "deg/s" else ("deg/s",)
