"""Events are those of the sole's points, found here from poses alone: rotation matrix, position, shape, bend."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstrocker.model import FloatArray
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.truth import truth_of
from firstrocker.synth.walker import Leg, walk

pytestmark = pytest.mark.untraced

DEEPEST = 0.010  # m: what pad, shoe and toes may give; some 10 mm for a heel pad alone (common practice, no source)


def lowest_points(leg: Leg) -> tuple[FloatArray, FloatArray]:
    """(n,) height of the lowest point of the rounded heel, and of the forefoot: the sole from the ball to the tip."""
    shape = leg.shape
    back = np.linspace(0.0, np.pi / 2, 91)
    heel = np.column_stack([-shape.heel_radius * np.sin(back), 0 * back, shape.heel_radius * (1 - np.cos(back))])
    up = leg.foot.rotation[:, 2, :]
    base = leg.foot.position[:, 2]
    rear = (base[:, None] + up @ heel.T).min(axis=1)
    along = np.linspace(0.0, shape.toes, 10)
    toes = np.stack(
        [shape.ball + along * np.cos(leg.toe_bend)[:, None], along * np.sin(leg.toe_bend)[:, None]], axis=-1
    )
    reach = base[:, None] + up[:, :1] * toes[..., 0] + up[:, 2:] * toes[..., 1]
    return rear, reach.min(axis=1)


@pytest.mark.parametrize("kind", sorted(GAITS))
def test_events_are_where_the_soles_points_touch_and_leave(kind: str) -> None:
    walker = walk(GAITS[kind], seed=21, strides=5, bouts=1, both=True)
    for leg in walker.legs.values():
        rear, front = lowest_points(leg)
        low = np.minimum(rear, front)
        time = leg.time
        swings = truth_of(walker, leg).swings
        for swing in swings:
            flying = (time > swing.toe_off + 0.001) & (time < swing.heel_strike - 0.001)
            assert low[flying].min() > 0.0
            loaded = (time > swing.heel_strike + 0.001) & (time < swing.foot_flat + 0.2)
            assert low[loaded].max() < 0.0
            second = front if leg.pitch[np.searchsorted(time, swing.heel_strike)] > 0.0 else rear
            hanging = (time > swing.heel_strike) & (time < swing.foot_flat - 0.001)
            assert not hanging.any() or second[hanging].min() > 0.0
        for before, after in pairwise(swings):
            standing = (time > before.foot_flat + 0.001) & (time < after.heel_off)
            # Both ends stay down up to heel off, but for a rebound of less than a millimetre after a slap.
            assert max(rear[standing].max(), front[standing].max()) < 0.0012
            # The rise has truly begun: two millimetres within 30 ms.
            soon = np.searchsorted(time, [after.heel_off, after.heel_off + 0.045])
            assert rear[soon[1]] - rear[soon[0]] > 0.001
            rolling = (time > after.heel_off + 0.05) & (time < after.toe_off - 0.001)
            assert front[rolling].max() < 0.0


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 10**6), kind=st.sampled_from(sorted(GAITS)))
def test_any_walk_is_finite_in_order_and_above_the_floor(seed: int, kind: str) -> None:
    walker = walk(GAITS[kind], seed=seed, strides=4, bouts=1, both=True)
    for leg in walker.legs.values():
        assert min(part.min() for part in lowest_points(leg)) > -DEEPEST
        for motion in (leg.foot, leg.shank):
            assert all(np.isfinite(v).all() for v in (motion.acceleration, motion.angular_acceleration))
            # Nobody's foot is hit by more than 40 g in walking (common practice, no source).
            assert np.linalg.norm(motion.acceleration, axis=1).max() < 400.0
        # The joint that foot and shank share.
        joint = leg.foot.point(np.array([leg.shape.ankle_forward, 0.0, leg.shape.ankle_up]))
        assert np.array_equal(joint[2], leg.shank.acceleration)
        last = 0.0
        for swing in truth_of(walker, leg).swings:
            assert last < swing.heel_off < swing.toe_off < swing.heel_strike < swing.foot_flat
            last = swing.foot_flat


@pytest.mark.parametrize("kind", ["normal", "slap", "toe_drop", "shuffling"])
def test_a_stopped_point_is_stopped_by_a_real_shock(kind: str) -> None:
    walker = walk(GAITS[kind], seed=8, strides=5, bouts=1)
    leg = walker.leg()
    for swing in truth_of(walker).swings[1:-1]:
        before, after = np.searchsorted(leg.time, [swing.heel_strike, swing.heel_strike + 0.03])
        heel = leg.foot.velocity
        assert 0.08 < -heel[before, 2] < 0.5
        assert 0.1 < np.linalg.norm(heel[before, :2]) < 1.2
        assert np.linalg.norm(heel[after]) < 0.1


def test_nothing_jumps() -> None:
    # A jump in acceleration would make the jerk, as differences give it, grow with the rate.
    for kind in GAITS:
        jerks = []
        for rate in (1000.0, 4000.0):
            leg = walk(GAITS[kind], seed=2, strides=3, bouts=1, fine_rate_hz=rate).leg()
            jerks.append(np.abs(np.diff(leg.foot.acceleration, axis=0)).max() * rate)
        assert jerks[1] < 1.2 * jerks[0], kind
