"""The judge of foot paths: stride length, and height over the stride, against optics on the same shoe.

Use, after the workflow ran on the study of :mod:`real.foot_mocap`: ``PYTHONPATH=tests python -m real.foot_paths DATA
STUDY RESULTS``.
"""

from __future__ import annotations

import argparse
from collections.abc import Hashable, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from firstrocker.chain import align, analyse_side
from firstrocker.settings import Settings
from firstrocker.signals.read import read_session
from real import foot_mocap
from shared_data import ROOT

FloatArray = NDArray[np.float64]

TURN_DEG = 20.0
"""A stride that turns more is a turn (MEASURES: which strides count)."""
LONGEST_S = 2.0
"""Mid-stances in a row that lie further apart have something other than a stride between them."""


def judge_course(
    ref: foot_mocap.Reference, mid_stance: FloatArray, time: FloatArray, position: FloatArray
) -> pd.DataFrame:
    """Compare a sensor's path with the optical one, stride by stride from mid-stance to mid-stance.

    Heights are taken over the straight line between a stride's two stances, in both paths; the least height is that of
    the reference's dip between its first and last rise, and the compared path's at that same instant, or where there
    is no dip at the instant of greatest forward speed.

    Args:
        ref: :func:`real.foot_mocap.reference` of the walk.
        mid_stance: (k,) s. time: (n,) s. position: (n, 3) m, z up, any heading and place; NaN where unknown.

    Returns:
        One row per pair of instants in a row that can be judged: start_s, end_s, turn_deg, straight,
        length_m, length_reference_m, length_error_mm, peak_mm, peak_error_mm, least_mm, least_error_mm (reference,
        then compared minus reference), dip, course_rms_mm.
    """
    rows = []
    sound = foot_mocap.believable(ref, mid_stance)
    for k, (start, end) in enumerate(pairwise(mid_stance)):
        inside = (ref.time >= start) & (ref.time <= end)
        if not (sound[k] and sound[k + 1] and ref.valid[inside].all() and 0.3 < end - start < LONGEST_S):
            continue
        clock = ref.time[inside]
        own = np.column_stack([np.interp(clock, time, column) for column in position.T])
        if not np.isfinite(own).all():
            continue
        seen = ref.position[inside]
        height, height_seen = over_line(own[:, 2]), over_line(seen[:, 2])
        least, dip = least_place(seen, height_seen)
        length, length_seen = (float(np.hypot(*(p[-1, :2] - p[0, :2]))) for p in (own, seen))
        turn = float(np.degrees(np.diff(np.interp([start, end], ref.time, ref.heading))[0]))
        rows.append(
            {
                "start_s": start,
                "end_s": end,
                "turn_deg": turn,
                "straight": abs(turn) <= TURN_DEG,
                "length_m": length,
                "length_reference_m": length_seen,
                "length_error_mm": 1e3 * (length - length_seen),
                "peak_mm": 1e3 * height_seen.max(),
                "peak_error_mm": 1e3 * (height.max() - height_seen.max()),
                "least_mm": 1e3 * height_seen[least],
                "least_error_mm": 1e3 * (height[least] - height_seen[least]),
                "dip": dip,
                "course_rms_mm": 1e3 * float(np.sqrt(np.mean((height - height_seen) ** 2))),
            }
        )
    return pd.DataFrame(rows)


def courses(sessions: Sequence[Path], data: Path) -> pd.DataFrame:
    """Follow the foot in every walk of the study's sessions and judge its path between the published mid-stances.

    Returns:
        The rows of :func:`judge_course` with walk and set (development, held back).
    """
    parts = []
    settings = Settings()
    for session in sessions:
        given = read_session(session, loggers=ROOT / "config" / "loggers")
        for walk in given.walks:
            label = walk.info.walk
            signals = align(walk, settings=settings)
            foot = analyse_side(given.person, signals, foot_mocap.SIDE, settings=settings).data.foot
            known = np.where(foot.trusted[:, None], foot.position, np.nan)
            mid_stance = foot_mocap.read_walk(data, label).mid_stance
            told = judge_course(foot_mocap.reference(data, label), mid_stance, signals.time, known)
            parts.append(told.assign(walk=label, set=set_name(data, label)))
    return pd.concat(parts, ignore_index=True)


def set_name(data: Path, label: str) -> str:
    """Whether a walk may be tuned on."""
    return "development" if label in foot_mocap.development(data) else "held back"


def over_line(height: FloatArray) -> FloatArray:
    """(n,) height over the straight line between its ends.

    >>> over_line(np.array([1.0, 5.0, 3.0])).tolist()
    [0.0, 3.0, 0.0]
    """
    return np.asarray(height - np.linspace(height[0], height[-1], len(height)))


def least_place(path: FloatArray, height: FloatArray) -> tuple[int, bool]:
    """Index of the mid-swing least height, and whether it is a dip between two rises of at least 2 mm."""
    speed = np.hypot(*np.gradient(path[:, :2], 1.0 / foot_mocap.RATE_HZ, axis=0).T)
    fastest = int(np.argmax(speed))
    peak = int(np.argmax(height))
    if peak < len(height) - 3:
        after = height[peak:]
        drop = int(np.argmax(np.maximum.accumulate(after[::-1])[::-1] - after)) + peak
        if np.max(height[drop:]) - height[drop] > 0.002:
            return drop, True
    return fastest, False


def stance_instant(stride: dict[Hashable, Any]) -> float:
    """s, half-way from foot flat to heel off, but no later than 0.2 s after foot flat: a person may stand there."""
    flat, off = float(stride["foot_flat_s"]), float(stride["heel_off_s"])
    return min((flat + off) / 2, flat + 0.2)


def judge(results: Path, data: Path) -> pd.DataFrame:
    """Stride length of results against the optical path between the same two mid-stances.

    A stride is judged where the next one follows it directly, so that both its stances are told
    (:func:`stance_instant`); the place is the mean over 0.1 s around the instant.

    Returns:
        One row per stride: walk, set (development, held back), start_s, end_s, steady, turn_deg, straight,
        length_m, length_reference_m, length_error_mm.
    """
    rows = []
    for session in ("development", "heldback"):
        path = results / f"sub-{foot_mocap.SUBJECT}" / f"ses-{session}" / "strides.parquet"
        if not path.is_file():
            continue
        for label, strides in pd.read_parquet(path).groupby("walk"):
            ref = foot_mocap.reference(data, str(label))
            ordered = strides.sort_values(["bout", "stride"]).to_dict("records")
            for this, following in pairwise(ordered):
                if not abs(this["next_heel_strike_s"] - following["heel_strike_s"]) <= 1e-3:  # NaN fails too
                    continue
                ends = np.array([stance_instant(stride) for stride in (this, following)])
                if not (np.isfinite(ends).all() and np.isfinite(this["stride_length_m"])):
                    continue
                if not foot_mocap.believable(ref, ends).all():
                    continue
                around = np.linspace(-0.05, 0.05, 11)
                place = [ref.at(instant + around).mean(axis=0) for instant in ends]
                length = float(np.hypot(*(place[1] - place[0])[:2]))
                turn = float(np.degrees(np.diff(np.interp(ends, ref.time, ref.heading))[0]))
                rows.append(
                    {
                        "walk": str(label),
                        "set": set_name(data, str(label)),
                        "start_s": ends[0],
                        "end_s": ends[1],
                        "steady": bool(this["steady"]),
                        "turn_deg": turn,
                        "straight": abs(turn) <= TURN_DEG,
                        "length_m": this["stride_length_m"],
                        "length_reference_m": length,
                        "length_error_mm": 1e3 * (this["stride_length_m"] - length),
                    }
                )
    return pd.DataFrame(rows)


def summary(table: pd.DataFrame, *, by: str, columns: tuple[str, ...]) -> pd.DataFrame:
    """Bias, SD and count of error columns for each value of ``by``."""
    rows = []
    for value, part in table.groupby(by):
        row: dict[str, Any] = {by: value, "strides": len(part)}
        for column in columns:
            error = part[column].dropna()
            row |= {f"{column}_bias": error.mean(), f"{column}_sd": error.std(), f"{column}_worst": error.abs().max()}
        rows.append(row)
    return pd.DataFrame(rows)


def main() -> None:
    """Print how stride lengths and heights compare."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    for name in ("data", "study", "results"):
        parser.add_argument(name, type=Path)
    given = parser.parse_args()
    lengths = judge(given.results, given.data)
    for name, part in (("every", lengths), ("steady", lengths[lengths["steady"]])):
        print(f"\nstride length, {name} stride")
        print(
            summary(part, by="set", columns=("length_error_mm",)).to_string(index=False, float_format="{:.1f}".format)
        )
    heights = courses(sorted(given.study.glob("sub-*/ses-*")), given.data)
    for name, part in (("every", heights), ("dip in mid-swing", heights[heights["dip"]])):
        print(f"\nheight of the sensor over the stride, {name}")
        told = summary(part, by="set", columns=("peak_error_mm", "least_error_mm", "course_rms_mm"))
        print(told.to_string(index=False, float_format="{:.1f}".format))


if __name__ == "__main__":
    main()
