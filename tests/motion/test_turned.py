"""Which way a person turns does not decide where a segment's forward axis is found."""

import numpy as np
import pytest

from firstrocker.model import FloatArray, Segment, Side
from firstrocker.motion.sensor import Sensor
from firstrocker.motion.turned import straightness, turned
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.plan import Turn
from firstrocker.synth.sensors import PERFECT, Mounting, record
from firstrocker.synth.walker import U_TURN, U_TURN_AWAY, Walker, walk
from motion.walked import SEATED, Walked, follow, signal_of


def followed(kind: str, *turns: Turn, strides: int = 10, side: Side = "left") -> Walked:
    walker = walk(GAITS[kind], seed=7, strides=strides, bouts=1, turns=turns, side=side)
    logs = {segment: record(walker, segment, side, Mounting(offset), PERFECT, seed=1) for segment, offset in SEATED}
    return follow(walker, signal_of(logs["foot"]), signal_of(logs["shank"]), 100.0)


def forward_off(walked: Walked, segment: Segment) -> float:
    """deg by which the axis found lies off the segment's own, whose axes are its sensor's here."""
    seat = walked.foot.mounting.matrix if segment == "foot" else walked.shank.mounting.matrix
    return float(np.degrees(np.arctan2(seat[1, 0], seat[0, 0])))


@pytest.mark.parametrize("kind", ["normal", "toe_drop", "forefoot", "shuffling"])
@pytest.mark.parametrize("segment", ["foot", "shank"])
def test_a_turn_moves_no_axis(kind: str, segment: Segment) -> None:
    on, towards, away = (forward_off(followed(kind, *t), segment) for t in ((), (U_TURN,), (U_TURN_AWAY,)))
    # Were all strides to count alike, inner and outer feet would lie 1.8 to 4 deg apart, shanks 0.5 to 1.9.
    # Ten strides with three of a turn, which count a fortieth, leave up to 0.3 of it.
    assert towards == pytest.approx(away, abs=0.4)
    assert towards == pytest.approx(on, abs=0.5)


def test_who_only_turns_has_axes_too() -> None:
    # Ten strides round a circle of three: none of them is straight, and all of them count.
    circle = Turn(after_strides=0.0, degrees=600.0, over_strides=11.0)
    found = followed("normal", circle)
    assert np.abs(np.diff(found.foot.heading[found.foot.anchors])).max() > np.radians(40.0)
    assert abs(forward_off(found, "foot")) < 6.0
    assert found.foot.mounting.planar > 0.9


def test_measures_are_those_of_the_leg_whichever_way_it_turns() -> None:
    inner, outer = (followed("toe_drop", turn) for turn in (U_TURN, U_TURN_AWAY))
    pairs = [(a, b) for a, b in zip(inner.rows, outer.rows, strict=True) if a["steady"] and b["steady"]]
    assert len(pairs) > 3
    for column, within in (
        ("toe_clearance_min_mm", 0.3),
        ("slap_rate_deg_s", 1.0),
        ("foot_pitch_heel_strike_deg", 0.1),
    ):
        apart = np.mean([a[column] - b[column] for a, b in pairs])
        assert abs(apart) < within, column


def test_turning_is_told_from_stance_to_stance() -> None:
    half = np.radians([0.0, 15.0, -30.0, 170.0]) / 2.0
    upright = np.array([np.cos(half), 0.0 * half, 0.0 * half, np.sin(half)])
    assert np.degrees(turned(upright)) == pytest.approx([15.0, -45.0, -160.0])  # the shorter way round


def test_each_stretch_of_a_walk_has_its_own_weight() -> None:
    walker: Walker = walk(GAITS["normal"], seed=3, strides=4, bouts=1)
    sensor = Sensor(
        signal_of(record(walker, "foot", "left", Mounting(SEATED[0][1]), PERFECT, seed=1)), 100.0, 1.0, np.zeros(3)
    )
    where = np.ones(len(sensor), dtype=np.bool_)
    where[50:60] = False
    parts = [slice(0, 120), slice(120, 400), slice(400, len(sensor))]
    weight: FloatArray = np.array([1.0, 0.25, 3.0])
    rates = [sensor.turning(part).compress(where[part], axis=1) for part in parts]
    alone = sum(w * (rate @ rate.T) for w, rate in zip(weight, rates, strict=True))
    assert sensor.scatter(where, np.array([120, 400]), weight) == pytest.approx(alone)
    assert straightness(np.zeros(5)) == pytest.approx(np.ones(7))
