"""The simulated sensors read what their place, their strap and their faults make them read."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.spatial.transform import Rotation

from firstrocker.model import STANDARD_GRAVITY, FloatArray, Log
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.sensors import CHEAP, FOOT_SEAT, ORDINARY, PERFECT, Mounting, Quality, ideal, record
from firstrocker.synth.walker import Walker, walk

SEAT = Rotation.from_euler("xyz", [20.0, -60.0, 130.0], degrees=True)
LACED = Mounting(FOOT_SEAT)


@pytest.fixture(scope="module")
def walker() -> Walker:
    return walk(GAITS["slap"], seed=4, strides=4, bouts=1)


def foot_log(walker: Walker, quality: Quality = PERFECT, mounting: Mounting = LACED) -> Log:
    return record(walker, "foot", "left", mounting, quality, seed=1)


def test_a_standing_sensor_reads_gravity_in_its_own_axes(walker: Walker) -> None:
    log = record(walker, "foot", "left", Mounting(FOOT_SEAT, SEAT.as_matrix()), PERFECT, seed=1)
    standing = log.time < walker.standing[0][1] - 0.3
    up = SEAT.apply([0.0, 0.0, STANDARD_GRAVITY])
    # The standing foot creeps by some tenths of a degree.
    assert np.abs(log.acceleration[standing] - up).max() < 0.15
    assert np.degrees(np.abs(log.angular_velocity[standing])).max() < 3.0


def test_time_stamps_are_those_of_the_sensors_clock(walker: Walker) -> None:
    quality = replace(PERFECT, clock_offset_s=5.0, clock_drift_ppm=200.0)
    log = record(walker, "foot", "left", LACED, quality, seed=1, start_s=0.25)
    assert log.time[0] == 5.0
    elapsed = (log.time - 5.0) / (1.0 + 200e-6)
    assert np.allclose(elapsed, np.arange(log.time.size) / 100.0, atol=1e-9)
    plain = record(walker, "foot", "left", LACED, PERFECT, seed=1)
    # A quarter of a second is 25 samples: the same instants are read.
    assert np.allclose(log.acceleration[:100], plain.acceleration[25:125], atol=1e-9)


def test_lost_samples_leave_the_ends_and_the_rest_as_they_were(walker: Walker) -> None:
    whole, holed = foot_log(walker, ORDINARY), foot_log(walker, replace(ORDINARY, lost=0.05))
    assert 0.05 <= 1.0 - holed.time.size / whole.time.size < 0.06
    assert (holed.time[0], holed.time[-1]) == (whole.time[0], whole.time[-1])
    kept = np.isin(whole.time, holed.time)
    assert np.array_equal(whole.acceleration[kept], holed.acceleration)
    shaken = foot_log(walker, replace(ORDINARY, jitter_s=0.002))
    assert np.diff(shaken.time).min() > 0.0
    assert np.std(np.diff(shaken.time)) > 0.002


def test_a_sensor_does_not_read_beyond_its_range(walker: Walker) -> None:
    wide, narrow = (
        foot_log(walker, replace(PERFECT, gyro_range=2000.0)),
        foot_log(walker, replace(CHEAP, gyro_range=200.0)),
    )
    assert np.degrees(np.abs(wide.angular_velocity)).max() > 250.0
    assert np.degrees(np.abs(narrow.angular_velocity)).max() == pytest.approx(200.0)


def test_faults_are_as_large_as_said() -> None:
    walker = walk(GAITS["normal"], seed=1, strides=1, bouts=1)
    rest = slice(0, 250)
    biases, noises = [], []
    for seed in range(40):
        log = record(walker, "foot", "left", LACED, CHEAP, seed=seed)
        perfect = record(walker, "foot", "left", LACED, PERFECT, seed=seed)
        fault = np.degrees(log.angular_velocity - perfect.angular_velocity)[rest]
        biases.append(fault.mean(axis=0))
        noises.append(fault.std(axis=0))
    # 120 draws give the standard deviation to some 7 %; three times that is allowed.
    assert np.std(biases) == pytest.approx(CHEAP.gyro_bias, rel=0.2)
    assert np.mean(noises) == pytest.approx(CHEAP.gyro_noise, rel=0.1)


def test_a_causal_filter_comes_late_and_the_other_does_not(walker: Walker) -> None:
    fine = np.degrees(ideal(walker.leg(), "foot", FOOT_SEAT)[1][:, 1])

    def lag(quality: Quality) -> float:
        log = foot_log(walker, quality)
        read = np.degrees(log.angular_velocity[:, 1])
        shifts = np.arange(-0.02, 0.0201, 0.0005)
        misfits = [np.sum((read - np.interp(log.time - s, walker.time, fine)) ** 2) for s in shifts]
        return float(shifts[int(np.argmin(misfits))])

    assert abs(lag(PERFECT)) <= 0.0005
    # A second-order Butterworth filter delays slow signals by sqrt(2) / (2 pi f) (its transfer function, D): 5.6 ms.
    assert lag(replace(PERFECT, delayed=True)) == pytest.approx(np.sqrt(2) / (2 * np.pi * 40.0), abs=0.001)


def test_a_strap_rings_as_a_mass_on_a_spring_does(walker: Walker) -> None:
    # The strap is integrated as a differential equation of its own, x'' = -2 z w (x' - b') - w^2 (x - b).
    frequency, damping = 30.0, 0.2
    w = 2 * np.pi * frequency
    base = ideal(walker.leg(), "foot", FOOT_SEAT)[0][:, 2] - STANDARD_GRAVITY
    strike = walker.leg().swings[1].heel_strike
    begin, end = strike - 0.1, strike + 0.3

    def swing(t: float, y: FloatArray) -> list[float]:
        stretch, rate = y
        return [rate, -np.interp(t, walker.time, base) - 2 * damping * w * rate - w * w * stretch]

    times = np.linspace(begin, end, 401)
    answer = solve_ivp(
        swing, (begin, end), [-np.interp(begin, walker.time, base) / w**2, 0.0], t_eval=times, max_step=1e-3
    )
    expected = -2 * damping * w * answer.y[1] - w * w * answer.y[0]
    wide = replace(PERFECT, rate_hz=1000.0, bandwidth=10.0)
    log = foot_log(walker, wide, Mounting(FOOT_SEAT, ring_hz=frequency, ring_damping=damping))
    read = np.interp(times, log.time, log.acceleration[:, 2]) - STANDARD_GRAVITY
    # The beginning is at rest in the equation and is not in the log: its memory is gone after 50 ms.
    settled = times > begin + 0.08
    assert np.abs(read - expected)[settled].max() < 0.03 * np.abs(expected).max()
    assert np.abs(expected - np.interp(times, walker.time, base)).max() > 0.1 * np.abs(expected).max()


def test_a_rocking_sensor_turns_gravity_as_it_turns_itself(walker: Walker) -> None:
    wide = replace(PERFECT, rate_hz=1000.0, bandwidth=10.0)
    log = foot_log(walker, wide, Mounting(FOOT_SEAT, rock_deg=0.35))
    standing = slice(0, int(1000 * (walker.standing[0][1] - 0.3)))
    loose = foot_log(walker, wide, Mounting(FOOT_SEAT, rock_deg=5.0))
    force, rate = loose.acceleration[standing], loose.angular_velocity[standing]
    # A resting world seen from a turning frame: df/dt = -w x f (kinematics, D).
    turning = np.gradient(force, 0.001, axis=0)
    assert np.abs(turning + np.cross(rate, force))[2:-2].max() < 0.05 * np.abs(turning).max()
    assert np.degrees(np.median(np.linalg.norm(log.angular_velocity[standing], axis=1))) < 3.0
    firm = foot_log(walker, wide)
    swings = walker.leg().swings
    stances = [(log.time > a.resting) & (log.time < b.heel_off) for a, b in pairwise(swings)]
    spin = np.degrees(np.linalg.norm(log.angular_velocity, axis=1))[np.any(stances, axis=0)]
    still = np.degrees(np.linalg.norm(firm.angular_velocity, axis=1))[np.any(stances, axis=0)]
    # As restless as feet in the open recordings, which turn by 5 to 45 deg/s in mid-stance.
    assert 5.0 < np.median(spin) < 20.0
    assert np.median(still) < 3.0
