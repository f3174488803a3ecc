"""The reading of optical paths, on a foot whose path, clock and lever are known."""

from __future__ import annotations

import numpy as np
import pytest

from real import optics

RATE = 200.0


def walking_foot(seconds: float = 20.0) -> tuple[optics.FloatArray, optics.FloatArray, optics.FloatArray]:
    """Time, position (n, 3) and rotation (n, 3, 3) of something that swings, turns, pitches and rolls like a foot."""
    time = np.arange(0.0, seconds, 1.0 / RATE)
    phase = 2.0 * np.pi * 0.8 * time
    yaw, pitch = 0.3 * time, 0.5 * np.sin(phase) + 0.2 * np.sin(2 * phase)
    zero, one = np.zeros_like(time), np.ones_like(time)
    about_y = np.array([[np.cos(pitch), zero, np.sin(pitch)], [zero, one, zero], [-np.sin(pitch), zero, np.cos(pitch)]])
    roll = 0.2 * np.sin(phase + 1.0)
    about_x = np.array([[one, zero, zero], [zero, np.cos(roll), -np.sin(roll)], [zero, np.sin(roll), np.cos(roll)]])
    rotation = (
        np.array([optics.turned(angle) for angle in yaw]) @ np.moveaxis(about_y, 2, 0) @ np.moveaxis(about_x, 2, 0)
    )
    along = time + 0.15 * np.sin(phase)
    position = np.column_stack([np.cos(0.3 * time) * along, np.sin(0.3 * time) * along, 0.05 * np.cos(2 * phase)])
    return time, position, rotation


def body_rate(rotation: optics.FloatArray) -> optics.FloatArray:
    spin = np.swapaxes(rotation, 1, 2) @ np.gradient(rotation, 1.0 / RATE, axis=0)
    return np.column_stack([spin[:, 2, 1], spin[:, 0, 2], spin[:, 1, 0]])


def test_alignment_finds_clock_turn_and_lever() -> None:
    time, position, rotation = walking_foot()
    lever, yaw, lag = np.array([0.02, 0.005, -0.04]), 0.7, 0.0065
    acceleration = np.gradient(np.gradient(position, 1.0 / RATE, axis=0), 1.0 / RATE, axis=0) + optics.GRAVITY
    force = np.einsum("nji,nj->ni", rotation, acceleration)
    point = (position + rotation @ lever) @ optics.turned(yaw).T
    point = np.column_stack([np.interp(time - lag, time, column) for column in point.T])
    found = optics.align(rotation, force, body_rate(rotation), point, np.ones(len(time), dtype=bool), RATE)
    assert found.lag_s == pytest.approx(lag, abs=5e-4)
    assert found.yaw == pytest.approx(yaw, abs=0.01)
    assert np.abs(found.lever - lever).max() < 0.003
    assert found.residual < 0.05 * found.signal


def test_mirrored_optics_do_not_fit() -> None:
    _, position, rotation = walking_foot()
    acceleration = np.gradient(np.gradient(position, 1.0 / RATE, axis=0), 1.0 / RATE, axis=0) + optics.GRAVITY
    force = np.einsum("nji,nj->ni", rotation, acceleration)
    every = np.ones(len(position), dtype=bool)
    mirrored = optics.align(rotation, force, body_rate(rotation), position * [1.0, -1.0, 1.0], every, RATE)
    assert mirrored.residual > 0.3 * mirrored.signal


def test_held_and_swapped_points_are_told_and_short_ones_bridged() -> None:
    _, position, _ = walking_foot()
    faulty = position.copy()
    faulty[1000:1060] = faulty[1000]  # lost for 0.3 s, held
    faulty[2000:2002] += [0.0, 0.0, 0.05]  # another marker for 10 ms
    path, valid = optics.clean(faulty, RATE)
    assert not valid[1005:1055].any()
    assert valid[1995:2008].all()
    assert np.abs(path - position)[valid].max() < 0.002
    assert valid.mean() > 0.95


def test_quaternions_as_matrices() -> None:
    half = np.sqrt(0.5)
    (quarter,) = optics.matrices(np.array([[half, 0.0, 0.0, half]]))
    assert np.allclose(quarter, optics.turned(np.pi / 2))
