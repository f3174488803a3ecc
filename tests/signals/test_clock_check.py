"""What is shown of the clocks is true: laid together, the ankle is one; laid apart, by how much is told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from firstrocker.chain import align
from firstrocker.model import Signal, WalkSignals
from firstrocker.settings import Settings
from firstrocker.signals.clock_check import PIECE_S, check_clock
from firstrocker.synth.trial import trial

pytestmark = pytest.mark.untraced


def aligned(kind: str = "slap", *, offset: float = 0.0, drift: float = 0.0) -> WalkSignals:
    return align(trial(kind, seed=21, shank_offset_s=offset, shank_drift_ppm=drift).logs, settings=Settings())


def late(signal: Signal, samples: int) -> Signal:
    return replace(
        signal,
        acceleration=np.roll(signal.acceleration, samples, axis=0),
        angular_velocity=np.roll(signal.angular_velocity, samples, axis=0),
    )


@pytest.mark.parametrize(("kind", "offset"), [("slap", 1.3), ("hemiparetic", -2.0)])
def test_clocks_laid_together_show_one_ankle(kind: str, offset: float) -> None:
    found = check_clock(aligned(kind, offset=offset, drift=40.0), "left")
    assert found is not None
    assert found.likeness > 0.99
    assert abs(found.left_over) < 0.002
    assert found.scatter < 0.002
    assert len(found.time) == len(found.foot) == len(found.shank) == len(found.before) == round(PIECE_S * 100)
    assert np.corrcoef(found.foot, found.shank)[0, 1] > 0.99
    seen = np.isfinite(found.before)
    assert np.corrcoef(found.foot[seen], found.before[seen])[0, 1] < 0.9


def test_logs_of_one_clock_look_alike_before_and_after() -> None:
    found = check_clock(aligned(), "left")
    assert found is not None
    assert np.allclose(found.before, found.shank, equal_nan=True)


@pytest.mark.parametrize("samples", [-3, 4])
def test_a_lag_that_is_left_is_told(samples: int) -> None:
    walk = aligned()
    signals = tuple(late(one, samples) if one.segment == "shank" else one for one in walk.signals)
    found = check_clock(replace(walk, signals=signals), "left")
    assert found is not None
    assert found.left_over == pytest.approx(samples / walk.rate_hz, abs=0.002)


def test_nothing_to_look_at_without_a_shank() -> None:
    walk = aligned()
    alone = replace(walk, signals=tuple(one for one in walk.signals if one.segment == "foot"))
    assert check_clock(alone, "left") is None
    assert check_clock(walk, "right") is None
