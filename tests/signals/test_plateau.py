"""A limit of a calibrated sensor: no two samples are alike there, and still what was beyond is cut off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from firstrocker.model import Log
from firstrocker.signals.checks import at_limit
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.sensors import FOOT_SEAT, ORDINARY, Mounting, record
from firstrocker.synth.walker import walk
from workflow.small_study import STANDING_S, sensors

LIMIT = np.radians(300.0)


@pytest.mark.parametrize("rate_hz", [100.0, 200.0])
@pytest.mark.parametrize("wander", [0.001, 0.003])
def test_a_plateau_that_wanders_is_a_limit(rate_hz: float, wander: float) -> None:
    walker = walk(GAITS["slap"], seed=1, strides=6, bouts=1, turns=())
    log = record(walker, "foot", "left", Mounting(FOOT_SEAT), replace(ORDINARY, rate_hz=rate_hz, steps=0), seed=1)
    assert not at_limit(log).any()
    beyond = (np.abs(log.angular_velocity) >= LIMIT).any(axis=1)
    assert beyond.sum() > 20
    shake = 1.0 + wander * np.random.default_rng(2).uniform(-1.0, 1.0, log.angular_velocity.shape)
    cut = replace(log, angular_velocity=np.clip(log.angular_velocity, -LIMIT, LIMIT) * shake)
    found = at_limit(cut)
    assert not found[:, 0].any()
    assert found[beyond, 1].mean() > 0.95
    # Besides those, only samples within the band below the limit.
    assert (np.abs(cut.angular_velocity[found[:, 1]]).max(axis=1) > 0.98 * LIMIT).all()


def test_one_flat_peak_of_a_short_log_is_no_limit() -> None:
    """Here the extreme happens to be a peak of four samples with steep flanks; nothing was cut off."""
    rows = sensors("slap", 0)["foot"]
    rows = rows[(rows[:, 0] > STANDING_S + 1.0) & (rows[:, 0] < STANDING_S + 6.0)]
    assert not at_limit(Log("foot", "left", rows[:, 0], rows[:, 1:4], rows[:, 4:])).any()


def test_rounded_peaks_of_a_leg_are_no_limit() -> None:
    walker = walk(GAITS["slap"], seed=1, strides=6, bouts=1, turns=())
    log = record(walker, "foot", "left", Mounting(FOOT_SEAT), replace(ORDINARY, rate_hz=400.0), seed=1)
    noise = 0.002 * np.random.default_rng(3).standard_normal((len(log.time), 3))
    for hz in (0.7, 1.0, 3.0, 10.0):
        sway = noise + 8.0 * np.sin(2.0 * np.pi * hz * log.time)[:, None] * np.array([1.0, 0.7, -0.4])
        assert not at_limit(replace(log, angular_velocity=sway))[:, 1].any(), hz


@pytest.mark.parametrize("step", [0.1, 1.0])
def test_peaks_read_in_coarse_steps_are_no_limit(step: float) -> None:
    """A peak that turns slowly puts several samples on the sensor's topmost step, and more on the next ones."""
    walker = walk(GAITS["normal"], seed=2, strides=6, bouts=1, turns=())
    log = record(walker, "shank", "left", Mounting(FOOT_SEAT), replace(ORDINARY, rate_hz=200.0), seed=1)
    coarse = np.radians(step) * np.round(log.angular_velocity / np.radians(step))
    extremes = [values[values >= values.max() - 1e-9] for values in (*coarse.T, *-coarse.T)]
    assert step < 1.0 or max(len(top) for top in extremes) >= 3
    assert not at_limit(replace(log, angular_velocity=coarse))[:, 1].any()
