"""Logs in made-up layouts of every kind, and a judge of what is proposed to read them by."""

from __future__ import annotations

import gzip
import io
import zipfile
from dataclasses import dataclass
from functools import cache
from itertools import permutations, product
from pathlib import Path
from typing import Any

import numpy as np

from firstrocker.model import FloatArray, Log
from firstrocker.signals.description import Description
from firstrocker.signals.profiles import LoggerProfile
from firstrocker.signals.readers import read_log
from firstrocker.synth.sensors import ORDINARY
from firstrocker.synth.trial import trial

KINDS = ("normal", "slap", "shuffling", "hemiparetic", "brisk")
GRAVITY = 9.80665
NAMES: dict[str, tuple[str, list[str], list[str]]] = {
    "short": ("t", ["ax", "ay", "az"], ["gx", "gy", "gz"]),
    "omega": ("time", ["a_x", "a_y", "a_z"], ["w_x", "w_y", "w_z"]),
    "long": ("Timestamp", ["Accelerometer X", "Accelerometer Y", "Accelerometer Z"], ["Gyro X", "Gyro Y", "Gyro Z"]),
    "units": (
        "time [{t}]",
        ["Acc_X [{a}]", "Acc_Y [{a}]", "Acc_Z [{a}]"],
        ["Gyr_X [{w}]", "Gyr_Y [{w}]", "Gyr_Z [{w}]"],
    ),
    "digits": ("clock", ["acc1", "acc2", "acc3"], ["gyr1", "gyr2", "gyr3"]),
    "axis first": ("time_{t}", ["x_accel", "y_accel", "z_accel"], ["x_gyro", "y_gyro", "z_gyro"]),
    "none": ("", [], []),
}
TIMES = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9}
ACCELERATION = {"m/s^2": 1.0, "g": GRAVITY, "mg": GRAVITY / 1000, "counts": GRAVITY / 4096, "fine": GRAVITY / 16384}
TURNING = {"rad/s": 1.0, "deg/s": np.pi / 180, "counts": np.pi / 180 / 16.384}


@dataclass(frozen=True)
class Made:
    """How a file is laid out."""

    kind: str = "normal"
    seed: int = 1
    segments: tuple[str, ...] = ("foot",)
    rate_hz: float = 100.0
    names: str = "short"
    delimiter: str = ","
    decimal: str = "."
    clock: str = "ms"
    acceleration: str = "g"
    turning: str = "deg/s"
    above: tuple[str, ...] = ()
    units_row: bool = False
    extras: tuple[str, ...] = ()
    shuffled: bool = False
    by_rows: bool = False
    encoding: str = "utf-8"
    end: str = "\n"
    packed: str = ""


@cache
def walk(kind: str, seed: int, rate_hz: float) -> tuple[Log, Log]:
    """A simulated foot and shank."""
    from dataclasses import replace

    logs = trial(kind, seed=seed, quality=replace(ORDINARY, rate_hz=rate_hz), strides=8).logs.logs
    return logs[0], logs[1]


def any_layout(rng: np.random.Generator) -> Made:
    """A layout drawn at random from all there are."""

    def one(*of: Any) -> Any:
        return of[int(rng.integers(len(of)))]

    delimiter, decimal = one((",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), ("|", "."), ("  ", "."))
    names = one(*NAMES, "short", "long")
    segments = one(("foot",), ("foot",), ("shank",), ("foot", "shank"))
    clock = one("s", "ms", "us", "ns", "epoch ms", "iso8601", "counter", "counter 256", "none")
    above = one((), (), ("# made up",), ("Recorded by nobody", "Rate: 100 Hz", ""), ("Sampling rate [Hz]; 100",))
    spaced = delimiter == "  "
    return Made(
        kind=one(*KINDS),
        seed=int(rng.integers(1, 4)),
        segments=segments if names != "none" or len(segments) == 1 else segments[:1],
        rate_hz=one(100.0, 100.0, 50.0, 128.0, 200.0) if not above or above[0][0] == "#" else 100.0,
        names=one("short", "omega", "digits", "none") if spaced else names,
        delimiter=delimiter,
        decimal=decimal,
        clock="ms" if spaced and clock == "iso8601" else clock,
        acceleration=one(*ACCELERATION, "g", "m/s^2"),
        turning=one("rad/s", "deg/s", "deg/s", "rad/s", "counts"),
        above=above if not spaced else (),
        units_row=bool(rng.random() < 0.15) and names != "none" and not spaced,
        extras=tuple(x for x in ("temperature", "mag", "quat", "battery", "button") if rng.random() < 0.3),
        shuffled=bool(rng.random() < 0.25) and names != "none",
        by_rows=bool(rng.random() < 0.5),
        encoding=one("utf-8", "utf-8", "utf-8-sig", "utf-16"),
        end=one("\n", "\r\n"),
        packed=one("", "", "gz", "zip"),
    )


def write(made: Made, path: Path) -> dict[str, Log]:
    """Write a file in a layout; the true logs in it by segment."""
    logs = {log.segment: log for log in walk(made.kind, made.seed, made.rate_hz) if log.segment in made.segments}
    n = min(len(log.time) for log in logs.values())
    rng = np.random.default_rng(made.seed)
    by_rows = made.by_rows and len(logs) > 1
    tables = [
        _cells(made, log, n, rng, prefix="" if by_rows or len(logs) == 1 else f"{log.segment}_")
        for log in logs.values()
    ]
    if by_rows:
        names = ["sensor", *tables[0][0]]
        rows = [[f"unit{k}", *cells[r]] for r in range(n) for k, (_, cells) in enumerate(tables)]
    else:
        names = tables[0][0] + (
            tables[1][0][1:] if len(tables) > 1 and made.clock != "none" else tables[-1][0][: 99 * (len(tables) - 1)]
        )
        skip = 1 if made.clock != "none" else 0
        rows = [[*tables[0][1][r], *(tables[1][1][r][skip:] if len(tables) > 1 else [])] for r in range(n)]
    if made.shuffled:
        order = rng.permutation(len(names))
        names, rows = [names[k] for k in order], [[row[k] for k in order] for row in rows]
    lines = [*made.above]
    if made.names != "none":
        lines.append(made.delimiter.join(names))
        if made.units_row:
            lines.append(made.delimiter.join(["[-]"] * len(names)))
    lines += [made.delimiter.join(row) for row in rows]
    content = (made.end.join(lines) + made.end).encode(made.encoding)
    if made.packed == "gz":
        content = gzip.compress(content, 1)
    elif made.packed == "zip":
        kept = io.BytesIO()
        with zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("log.csv", content)
        content = kept.getvalue()
    path.write_bytes(content)
    return {
        segment: Log(log.segment, log.side, log.time[:n], log.acceleration[:n], log.angular_velocity[:n])
        for segment, log in logs.items()
    }


def _cells(made: Made, log: Log, n: int, rng: np.random.Generator, prefix: str) -> tuple[list[str], list[list[str]]]:
    scheme = "short" if made.names == "none" else made.names
    time_name, a_names, w_names = NAMES[scheme]
    fill = {"t": made.clock if made.clock in TIMES else "ms", "a": made.acceleration, "w": made.turning}
    whole = made.acceleration in ("counts", "fine"), made.turning == "counts"
    felt = log.acceleration[:n] / ACCELERATION[made.acceleration]
    turning = log.angular_velocity[:n] / TURNING[made.turning]
    columns: list[tuple[str, list[str]]] = []
    clock = _clock(made, log.time[:n] - log.time[0])
    if clock is not None:
        columns.append(("packet" if made.clock.startswith("counter") else time_name.format(**fill), clock))
    columns += [
        (prefix + name.format(**fill), _texts(v, whole[0], made)) for name, v in zip(a_names, felt.T, strict=True)
    ]
    if "temperature" in made.extras:
        columns.append(
            (
                prefix + "temperature",
                _texts(24 + 0.3 * np.sin(np.arange(n) / 900) + 0.02 * rng.standard_normal(n), False, made),
            )
        )
    columns += [
        (prefix + name.format(**fill), _texts(v, whole[1], made)) for name, v in zip(w_names, turning.T, strict=True)
    ]
    if "mag" in made.extras:
        course = np.cumsum(log.angular_velocity[:n, 2]) / made.rate_hz
        field = np.column_stack(
            [0.4 * np.cos(course), 0.4 * np.sin(course), 0.8 + 0 * course]
        ) + 0.004 * rng.standard_normal((n, 3))
        columns += [(prefix + f"mag_{axis}", _texts(v, False, made)) for axis, v in zip("xyz", field.T, strict=True)]
    if "quat" in made.extras:
        half = np.cumsum(log.angular_velocity[:n, 1]) / made.rate_hz / 2
        four = np.column_stack(
            [np.cos(half), 0 * half + 0.01 * rng.standard_normal(n), np.sin(half), 0.01 * rng.standard_normal(n)]
        )
        columns += [(prefix + f"quat_{axis}", _texts(v, False, made)) for axis, v in zip("wxyz", four.T, strict=True)]
    if "battery" in made.extras:
        columns.append((prefix + "battery", [str(98 - k // 2000) for k in range(n)]))
    if "button" in made.extras:
        columns.append((prefix + "button", [str(int(rng.random() < 0.3)) for _ in range(n)]))
    return [name for name, _ in columns], [list(row) for row in zip(*(cells for _, cells in columns), strict=True)]


def _texts(values: FloatArray, whole: bool, made: Made) -> list[str]:
    if whole:
        return [f"{value:.0f}" for value in values]
    digits = 7 if np.abs(values).max() < 50 else 4
    return [f"{value:.{digits}f}".replace(".", made.decimal) for value in values]


def _clock(made: Made, seconds: FloatArray) -> list[str] | None:
    if made.clock == "none":
        return None
    if made.clock == "iso8601":
        stamps = np.datetime64("2026-03-02T10:15:30") + np.round(seconds * 1e6).astype("timedelta64[us]")
        return [str(stamp) for stamp in stamps]
    if made.clock.startswith("counter"):
        states = 256 if made.clock.endswith("256") else 65536
        return [str(int(k)) for k in np.round(seconds * made.rate_hz + 7) % states]
    if made.clock == "epoch ms":
        return [str(int(k)) for k in 1_772_000_000_000 + np.round(seconds * 1000)]
    if made.clock == "s":
        return [f"{k:.5f}".replace(".", made.decimal) for k in seconds]
    return [str(int(k)) for k in np.round(seconds / TIMES[made.clock])]


RIGHT, ASKS, UNSURE, WRONG = "right", "asks", "wrong but said to be unsure", "wrong and sure"
TURNS = [
    np.diag(signs) @ np.eye(3)[list(order)]
    for order in permutations(range(3))
    for signs in product((1.0, -1.0), repeat=3)
]
TURNS = [turn for turn in TURNS if np.linalg.det(turn) > 0]
"""Names of axes may be turned as long as both sensors' are turned alike: the walk tells how a sensor sits."""


def judge(described: Description, path: Path, truth: dict[str, Log]) -> tuple[str, str]:
    """Whether a proposal reads the file as it is; if not, whether it said that it was unsure of what is wrong."""
    every = (described, *described.others)
    results = [_judge_one(one, path, truth) for one in every]
    if len(every) != len(truth):
        results.append((UNSURE if described.doubtful else WRONG, f"{len(every)} sensors found"))
    order = (WRONG, UNSURE, ASKS, RIGHT)
    return min(results, key=lambda one: order.index(one[0]))


def _judge_one(one: Description, path: Path, truth: dict[str, Log]) -> tuple[str, str]:
    sure = {item.key: item.sure for item in one.items}
    if one.problems:
        missing = not one.profile.get("columns")
        return ASKS, f"{'no sensor' if missing else ''} {[problem.key for problem in one.problems]}"
    profile = LoggerProfile.model_validate(one.profile)
    log, _ = read_log(path, profile=profile, segment="foot", side="left", where="a")
    best = (UNSURE, "no rows alike")
    for true in truth.values():
        faults = _faults(log, true)
        doubted = [key for key in faults if any(sure.get(item, "high") != "high" for item in _ITEMS[key])]
        result = (RIGHT, "") if not faults else (UNSURE if len(doubted) == len(faults) else WRONG, f"{faults} {sure}")
        if result[0] == RIGHT:
            return result
        best = result
    return best


_ITEMS = {
    "time": ("columns.time", "units.time", "counter.column", "sampling_rate_hz"),
    "acceleration": ("columns.acceleration", "units.acceleration", "scale.acceleration", "delimiter", "decimal"),
    "angular velocity": ("columns.angular_velocity", "units.angular_velocity", "scale.angular_velocity", "decimal"),
}


def _faults(log: Log, true: Log) -> list[str]:
    if abs(len(log.time) - len(true.time)) > 3:
        return ["time", "acceleration", "angular velocity"]
    n = min(len(log.time), len(true.time))
    seconds, right = log.time[:n] - log.time[0], true.time[:n] - true.time[0]
    faults = [] if np.abs(seconds - right).max() < 0.02 + 0.002 * right[-1] else ["time"]
    for turn in TURNS:
        a = np.abs(log.acceleration[:n] @ turn.T - true.acceleration[:n]).max() < 0.08 * np.abs(true.acceleration).max()
        w = np.abs(log.angular_velocity[:n] @ turn.T - true.angular_velocity[:n]).max()
        if a and w < 0.02 * np.abs(true.angular_velocity).max():
            return faults
    a = np.abs(log.acceleration[:n] - true.acceleration[:n]).max() < 0.08 * np.abs(true.acceleration).max()
    return [*faults, *([] if a else ["acceleration"]), "angular velocity"]
