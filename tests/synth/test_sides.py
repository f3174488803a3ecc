"""Walks are judged of both legs and turning both ways; which way a person turns changes nothing else about them."""

import numpy as np
import pytest

from firstrocker.model import Side
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.trial import trial
from firstrocker.synth.validate import WALKS, judging_seeds, way_of
from firstrocker.synth.walker import U_TURN, U_TURN_AWAY, walk


@pytest.mark.parametrize("kind", GAITS)
def test_all_four_ways_are_judged_as_often(kind: str) -> None:
    ways = [(way["side"], way["turns"]) for way in map(way_of, judging_seeds(kind, WALKS))]
    assert {way: ways.count(way) for way in ways} == {
        (side, (turn,)): WALKS // 4 for side in ("left", "right") for turn in (U_TURN, U_TURN_AWAY)
    }


@pytest.mark.parametrize("seed", range(4))
def test_a_seed_tells_side_and_turn(seed: int) -> None:
    way = way_of(seed)
    walked = trial("slap", seed=seed, strides=9, bouts=1, **way)
    side: Side = way["side"]
    leg = walked.walker.leg()
    assert walked.person.affected_side == leg.side == side
    assert {log.side for log in walked.logs.logs} == {side}
    heading = np.unwrap(np.arctan2(leg.foot.rotation[:, 1, 0], leg.foot.rotation[:, 0, 0]))
    turned = np.degrees(heading[-1] - heading[0])
    leftward = (side == "left") == (way["turns"] == (U_TURN,))
    assert turned == pytest.approx(180.0 if leftward else -180.0, abs=10.0)


def test_the_person_is_the_same_whichever_way_it_turns() -> None:
    towards, away = (trial("toe_drop", seed=5, strides=10, bouts=1, turns=(t,)) for t in (U_TURN, U_TURN_AWAY))
    for a, b in zip(towards.truth.strides, away.truth.strides, strict=True):
        assert a["left_out"] == b["left_out"]
        for column in ("heel_strike_s", "foot_flat_s", "toe_off_s", "foot_pitch_heel_strike_deg", "slap_rate_deg_s"):
            assert a[column] == pytest.approx(b[column], rel=1e-3), column
    straight = [(a, b) for a, b in zip(towards.truth.strides, away.truth.strides, strict=True) if a["steady"]]
    assert all(a["stride_length_m"] == pytest.approx(b["stride_length_m"], rel=0.01) for a, b in straight)


def test_a_right_leg_that_turns_away_is_a_left_one_mirrored() -> None:
    left, right = (
        walk(GAITS["slap"], seed=5, side=side, strides=8, turns=(U_TURN_AWAY,)) for side in ("left", "right")
    )
    a, b = left.leg().foot, right.leg().foot
    assert np.allclose(a.position * [1.0, -1.0, 1.0], b.position)
    assert np.allclose(a.angular_velocity * [-1.0, 1.0, -1.0], b.angular_velocity)
