"""A shank log that is not this leg's in this walk is never taken for it: better no ankle than a wrong one."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from firstrocker.model import Log, Segment, Side, WalkSignals
from firstrocker.signals.clocks import align_walk
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.sensors import FOOT_SEAT, ORDINARY, SHANK_SEAT, Mounting, random_seat, record
from firstrocker.synth.walker import Walker, walk

pytestmark = pytest.mark.untraced

UNSET_CLOCK_S = 5000.0


@cache
def walker(gait: str, seed: int, *, turning: bool = True) -> Walker:
    return walk(GAITS[gait], seed=seed, both=True) if turning else walk(GAITS[gait], seed=seed, both=True, turns=())


def sensor(of: Walker, segment: Segment, side: Side, *, seed: int, clock_s: float = 0.0) -> Log:
    seat = FOOT_SEAT if segment == "foot" else SHANK_SEAT
    mounting = Mounting(seat, random_seat(np.random.default_rng(seed)))
    return record(of, segment, side, mounting, replace(ORDINARY, clock_offset_s=clock_s), seed=seed)


def aligned(foot: Log, shank: Log) -> WalkSignals:
    return align_walk([foot, shank], walk="a", rate_hz=None, max_bridge_s=0.05, max_offset_s=10.0)


def refused(walk_signals: WalkSignals) -> list[str]:
    """Codes of the warnings about the shank, which must be gone from the signals."""
    assert walk_signals.find("foot", "left") is not None
    assert walk_signals.find("shank", "left") is None
    assert not walk_signals.clocks[-1].matched
    warnings = [f for f in walk_signals.findings if f.severity == "warning"]
    assert all(f.segment == "shank" and f.remedy for f in warnings)
    return [f.code for f in warnings]


@pytest.mark.parametrize("turning", [True, False])
@pytest.mark.parametrize("gait", ["normal", "brisk"])
def test_the_other_legs_shank_half_a_stride_off_is_refused(gait: str, turning: bool) -> None:
    both = walker(gait, 1, turning=turning)
    foot = sensor(both, "foot", "left", seed=1)
    right = replace(sensor(both, "shank", "right", seed=2, clock_s=UNSET_CLOCK_S), side="left")
    assert refused(aligned(foot, right)) == ["clocks-never-match"]
    own = aligned(foot, sensor(both, "shank", "left", seed=2, clock_s=UNSET_CLOCK_S))
    assert own.find("shank", "left") is not None


def test_a_second_sensor_on_a_weak_foot_is_not_taken_for_the_shank() -> None:
    both = walker("hemiparetic", 1)
    second = replace(sensor(both, "foot", "left", seed=2), segment="shank")
    assert refused(aligned(sensor(both, "foot", "left", seed=1), second)) == ["shank-turns-as-foot"]
