"""Walks recorded by markers and force plates: what their files say, and the virtual sensors made from them."""

from __future__ import annotations

from typing import get_args

import numpy as np
import pytest
from scipy.integrate import cumulative_trapezoid
from scipy.spatial.transform import Rotation

from firstrocker.model import STANDARD_GRAVITY, Side
from firstrocker.motion.frames import elevation, elevation_rate
from outside import rigid, virtual_walk, walk_markers
from outside.marker_files import crossings, read_columns, read_trc
from shared_data import DATA, needs

FOLDER = DATA / "walk_markers"
pytestmark = needs("walk_markers")

EVERY = [(name, side) for name in walk_markers.RECORDINGS for side in get_args(Side)]


@pytest.mark.parametrize(
    ("side", "contact", "off"),
    [("r", [0.266, 1.411], [1.024, 2.168]), ("l", [0.836], [1.590])],
)
def test_force_plates_give_contact(side: str, contact: list[float], off: list[float]) -> None:
    """The right foot's instants are those the data's README gives; the left's were read off the plate here."""
    forces = read_columns(FOLDER / "grf_walk.mot")
    rise, fall = crossings(forces.time, forces.column[f"ground_force_{side}_vy"], walk_markers.THRESHOLD_N)
    assert rise == pytest.approx(contact, abs=1.1e-3)
    assert fall == pytest.approx(off, abs=1.1e-3)


@pytest.mark.parametrize(("start", "end", "peak"), [(0.26, 0.40, 270.0), (1.40, 1.55, 230.0)])
def test_plantarflexion_after_contact_read_off_the_markers(start: float, end: float, peak: float) -> None:
    """Near 270 and 230 deg/s, as the data's README gives it: the plainest reading, two lines between markers."""
    markers = read_trc(FOLDER / "markers_walk.trc")
    foot = markers.position["R.Toe"] - markers.position["R.Heel"]
    shank = markers.position["R.Knee"] - markers.position["R.Ankle"]
    pitch = np.arctan2(foot[:, 2], np.hypot(foot[:, 0], foot[:, 1]))
    ankle = np.degrees(pitch + np.arctan2(shank[:, 0], shank[:, 2]))
    rate = np.gradient(ankle, markers.time)
    near = (markers.time >= start) & (markers.time <= end)
    assert -rate[near].min() == pytest.approx(peak, abs=6.0)


def test_times_are_counted_from_frames() -> None:
    time = read_trc(FOLDER / "subject01_walk1.trc").time
    assert np.ptp(np.diff(time)) < 1e-9
    assert 1.0 / np.diff(time).mean() == pytest.approx(60.0)


@pytest.mark.parametrize(("name", "side"), EVERY)
def test_feet_and_shanks_are_nearly_rigid(name: str, side: Side) -> None:
    trial = walk_markers.read_trial(FOLDER, name, side)
    assert max(trial.fit_m) < 0.006
    assert 0.25 < trial.toe[0] < 0.33
    assert abs(trial.toe[1]) < 0.10
    height = np.interp(trial.still_s, trial.time, trial.toe_marker[:, 2])
    place = rigid.point_path(trial.foot, trial.toe + np.array([0.0, 0.0, height]), trial.time)
    assert np.median(np.linalg.norm(place - trial.toe_marker, axis=1)) < 0.01


@pytest.mark.parametrize(("name", "side"), EVERY)
def test_virtual_walk_is_a_walk(name: str, side: Side) -> None:
    trial = walk_markers.read_trial(FOLDER, name, side)
    walk = virtual_walk.walk(trial, strides=4, rate_hz=200.0)
    foot, shank = walk.logs
    still = walk.time < 2.9
    for log in (foot, shank):
        assert np.linalg.norm(log.acceleration[still], axis=1) == pytest.approx(STANDARD_GRAVITY, abs=1e-3)
        assert np.abs(log.angular_velocity[still]).max() < 1e-6
        assert np.isfinite(log.acceleration).all()
        assert np.abs(log.acceleration).max() < 80.0
    assert 1.35 < walk.advance_m < 1.5
    assert len(walk.contact) == len(walk.off) == 4
    assert np.all(walk.off < walk.contact)
    swing = walk.contact - walk.off
    assert np.all((swing > 0.33) & (swing < 0.48))
    pitch = np.degrees(np.interp(walk.contact, walk.time, walk.foot_pitch))
    assert np.all((pitch > 15.0) & (pitch < 35.0))
    mid_stance = (walk.contact[:-1] + walk.off[1:]) / 2.0
    assert np.abs(np.degrees(np.interp(mid_stance, walk.time, walk.foot_pitch))).max() < 6.0


@pytest.mark.parametrize("segment", [0, 1])
def test_the_sensors_tell_the_motion_that_was_put_in(segment: int) -> None:
    """Strapdown integration by the trapezium, from standing through one stride: turning, path and place at its end."""
    trial = walk_markers.read_trial(FOLDER, "markers_walk", "right")
    mounting = Rotation.from_euler("xyz", [0.4, -1.1, 2.0]).as_matrix()
    walk = virtual_walk.walk(trial, strides=1, rate_hz=1000.0, rest_s=0.2, mounting=mounting)
    log, pose = walk.logs[segment], walk.poses[segment]
    point = (walk_markers.FOOT_POINT, trial.shank_point)[segment]
    step = 1e-3
    place, rotation = pose(walk.time)
    angle = (log.angular_velocity[1:] + log.angular_velocity[:-1]) / 2.0 * step
    turned = [Rotation.from_matrix(rotation[0] @ mounting)]
    for part in Rotation.from_rotvec(angle):
        turned.append(turned[-1] * part)
    seen = np.array([r.as_matrix() for r in turned])
    assert np.abs(seen - rotation @ mounting).max() < 5e-4
    force = np.einsum("nij,nj->ni", seen, log.acceleration) - np.array([0.0, 0.0, STANDARD_GRAVITY])
    velocity = cumulative_trapezoid(force, dx=step, axis=0, initial=0)
    path = cumulative_trapezoid(velocity, dx=step, axis=0, initial=0)
    truth = place + rotation @ point
    assert np.abs(path - (truth - truth[0])).max() < 2e-3
    assert np.linalg.norm(path[-1, :2]) == pytest.approx(walk.advance_m, abs=0.08)


def test_the_packages_rate_is_the_angles_derivative() -> None:
    trial = walk_markers.read_trial(FOLDER, "markers_walk", "left")
    time = trial.time[10:-10]
    _, rotation = trial.foot(time)
    before, after = (elevation(trial.foot(time + shift)[1][:, 2].T) for shift in (-1e-3, 1e-3))
    assert elevation_rate(rotation[:, 2].T, rigid.angular_rate(trial.foot, time).T) == pytest.approx(
        (after - before) / 2e-3, abs=2e-3
    )


@pytest.mark.parametrize(("contact", "peak"), [(0.2668, 270.0), (1.4112, 230.0)])
def test_rigid_segments_keep_the_plantarflexion_after_contact(contact: float, peak: float) -> None:
    trial = walk_markers.read_trial(FOLDER, "markers_walk", "right")
    time = np.arange(contact, contact + 0.13, 0.002)
    rate = np.zeros(len(time))
    for pose, sign in ((trial.foot, 1.0), (trial.shank, -1.0)):
        rate += sign * elevation_rate(pose(time)[1][:, 2].T, rigid.angular_rate(pose, time).T)
    assert np.degrees(-rate.min()) == pytest.approx(peak, rel=0.10)
