"""What must not matter does not: how a sensor is turned, which side, when, which unit of time."""

from typing import Any

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from firstrocker.measures import MEASURES
from firstrocker.model import Segment
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.sensors import ORDINARY, PERFECT, Mounting, record
from firstrocker.synth.walker import walk
from motion.walked import SEATED, Walked, analysed, follow, signal_of


@pytest.fixture(scope="module")
def plain() -> Walked:
    return analysed()


def same(a: list[dict[str, Any]], b: list[dict[str, Any]], tolerance: float) -> None:
    assert len(a) == len(b) > 3
    for x, y in zip(a, b, strict=True):
        assert x["contact"] == y["contact"]
        assert x["left_out"] == y["left_out"]
        for name in ("heel_strike_s", "foot_flat_s", "heel_off_s", "toe_off_s"):
            assert x[name] == pytest.approx(y[name], abs=1e-3 * tolerance), name
        for measure in MEASURES:
            size = max(abs(x[measure.column] or 0.0), 1.0)
            assert x[measure.column] == pytest.approx(y[measure.column], abs=tolerance * size), measure.column


@pytest.mark.parametrize("turn", [(170.0, 20.0, -60.0), (-90.0, 45.0, 120.0), (5.0, 0.0, 180.0)])
def test_turning_a_sensor_on_its_segment_changes_no_measure(plain: Walked, turn: tuple[float, float, float]) -> None:
    seats: dict[Segment, Any] = {
        "foot": Rotation.from_euler("xyz", turn, degrees=True).as_matrix(),
        "shank": Rotation.from_euler("zyx", turn, degrees=True).as_matrix(),
    }
    # Principal axes and least squares turn with the sensor exactly; the filter does to some thousandths of a degree.
    same(plain.rows, analysed(seats=seats).rows, 2e-3)


def test_left_mirrored_is_right(plain: Walked) -> None:
    same(plain.rows, analysed(side="right").rows, 1e-6)


def test_waiting_longer_before_the_walk_shifts_only_times(plain: Walked) -> None:
    walker = plain.walker
    shift = 1.0
    later = [
        record(walker, segment, "left", Mounting(offset), PERFECT, seed=1, start_s=shift) for segment, offset in SEATED
    ]
    moved = follow(walker, signal_of(later[0]), signal_of(later[1]), 100.0)
    for a, b in zip(plain.rows, moved.rows, strict=True):
        assert b["heel_strike_s"] == pytest.approx(a["heel_strike_s"] - shift, abs=0.002)
        # A second less of standing moves the standing posture by its sway, and nothing else by more.
        for measure in MEASURES:
            size = max(abs(a[measure.column] or 0.0), 1.0)
            assert b[measure.column] == pytest.approx(a[measure.column], abs=0.03 * size + 0.5), measure.column


def test_identities_hold_exactly(plain: Walked) -> None:
    # Shank angle = ankle - foot pitch, for angles and rates (exact, D); zero on a flat foot under a vertical shank.
    ankle, rate, shank_rate = plain.data.ankle, plain.data.ankle_rate, plain.data.shank_rate
    assert ankle is not None
    assert rate is not None
    assert shank_rate is not None
    assert np.array_equal(ankle, plain.foot.pitch + plain.shank.angle)
    assert np.array_equal(rate, plain.data.pitch_rate + shank_rate)


def test_a_walk_in_two_parts_has_the_same_strides() -> None:
    walker = walk(GAITS["slap"], seed=4, strides=6, bouts=2)
    logs = [record(walker, segment, "left", Mounting(offset), ORDINARY, seed=3) for segment, offset in SEATED]
    whole = follow(walker, signal_of(logs[0]), signal_of(logs[1]), 100.0)
    middle = round(50.0 * sum(walker.standing[1]))
    parts = []
    for piece in (slice(0, middle), slice(middle, None)):
        signals = [
            type(s)(
                s.segment, s.side, s.acceleration[piece], s.angular_velocity[piece], s.valid[piece], s.saturated[piece]
            )
            for s in map(signal_of, logs)
        ]
        parts.append(follow(walker, signals[0], signals[1], 100.0))
    assert len(whole.rows) == sum(len(part.rows) for part in parts)
    found = [row for part in parts for row in part.rows]
    for a, b in zip(whole.rows, found, strict=True):
        assert a["stride_time_s"] == pytest.approx(b["stride_time_s"], abs=0.004)
        assert a["stride_length_m"] == pytest.approx(b["stride_length_m"], abs=0.01)
        assert a["toe_clearance_min_mm"] == pytest.approx(b["toe_clearance_min_mm"], abs=2.0)
        assert a["foot_pitch_heel_strike_deg"] == pytest.approx(b["foot_pitch_heel_strike_deg"], abs=0.4)
