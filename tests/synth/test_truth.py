"""The simulated walks are sound: contacts where the geometry says, nothing through the floor, mirrored alike."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firstrocker.measures import MEASURES
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.truth import truth_of
from firstrocker.synth.walker import Walker, walk

pytestmark = pytest.mark.untraced


@pytest.fixture(scope="module")
def walkers() -> dict[str, Walker]:
    return {kind: walk(gait, seed=11, strides=6, bouts=2, kind=kind) for kind, gait in GAITS.items()}


def test_no_part_of_the_sole_goes_through_the_floor(walkers: dict[str, Walker]) -> None:
    for kind, walker in walkers.items():
        leg = walker.leg()
        # A heel pad alone gives some 10 mm (common practice, no source).
        assert leg.heel_low.min() > -0.010, kind
        # The toes give under a slap; the sole's front may dip by what they and the shoe take up.
        assert min(leg.toe_height.min(), leg.ball_height.min()) > -0.012, kind


def test_events_follow_each_other_and_are_those_meant(walkers: dict[str, Walker]) -> None:
    for kind, walker in walkers.items():
        for swing in truth_of(walker).swings:
            assert swing.heel_off < swing.toe_off < swing.heel_strike <= swing.foot_flat, kind
            assert abs(swing.toe_off - swing.plan.toe_off) < 0.005, kind
            assert abs(swing.heel_strike - swing.plan.heel_strike) < 0.010, kind


def test_the_foot_stands_still_between_foot_flat_and_heel_off(walkers: dict[str, Walker]) -> None:
    for kind, walker in walkers.items():
        leg, swings = walker.leg(), truth_of(walker).swings
        for before, after in pairwise(swings):
            inside = (leg.time > before.foot_flat + 0.08) & (leg.time < after.heel_off - 0.01)
            if inside.any():
                assert np.linalg.norm(leg.foot.velocity[inside], axis=1).max() < 0.02, kind
                assert np.degrees(np.ptp(leg.pitch[inside])) < 0.8, kind


def test_ankle_is_pitch_plus_shank_angle(walkers: dict[str, Walker]) -> None:
    # Identity of the definitions (exact, D).
    for walker in walkers.values():
        leg = walker.leg()
        assert np.array_equal(leg.ankle, leg.pitch + leg.shank_angle)
        assert np.array_equal(leg.ankle_rate, leg.pitch_rate + leg.shank_rate)


def test_normal_gait_lies_in_the_published_bands(walkers: dict[str, Walker]) -> None:
    rows = [r for r in truth_of(walkers["normal"]).strides if r["steady"]]

    def mean(column: str) -> float:
        return float(np.mean([float(r[column]) for r in rows]))

    # Stance 60-62 % of the cycle (several pages, S), here with a person's spread.
    assert 57.0 < mean("stance_percent") < 65.0
    # Minimum toe clearance 1.29 cm, variability about 4 mm (Winter 1992, S).
    assert 7.0 < mean("toe_clearance_min_mm") < 21.0
    # Foot-floor angle at heel strike 18-25 deg (M).
    assert 16.0 < mean("foot_pitch_heel_strike_deg") < 27.0
    # Shank reclined by 20-25 deg at initial contact (Owen, M), about 10 deg at the end of loading.
    assert -27.0 < mean("shank_heel_strike_deg") < -14.0
    # Ankle plantarflexion rate in loading response, peak about 100-150 deg/s (D, M).
    assert 80.0 < mean("slap_rate_deg_s") < 200.0


def test_kinds_differ_in_what_their_names_say(walkers: dict[str, Walker]) -> None:
    def median(kind: str, column: str) -> float:
        rows = [r for r in truth_of(walkers[kind]).strides if r["steady"]]
        return float(np.median([float(r[column]) for r in rows]))

    assert median("slap", "slap_rate_deg_s") > 1.5 * median("normal", "slap_rate_deg_s")
    assert median("too_much_resistance", "ankle_share") < 0.3 < 0.6 < median("slap", "ankle_share")
    assert median("too_much_resistance", "shank_forward_rate_deg_s") > median("slap", "shank_forward_rate_deg_s")
    assert median("toe_drop", "toe_clearance_min_mm") < 10.0
    assert median("forefoot", "foot_pitch_heel_strike_deg") < -3.0
    assert abs(median("flat_contact", "foot_pitch_heel_strike_deg")) < 3.0
    assert median("shuffling", "stride_length_m") < 0.6


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 10**6), kind=st.sampled_from(sorted(GAITS)))
def test_a_mirrored_walker_has_the_same_measures(seed: int, kind: str) -> None:
    left, right = (truth_of(walk(GAITS[kind], seed=seed, side=side, strides=4, bouts=1)) for side in ("left", "right"))
    for a, b in zip(left.strides, right.strides, strict=True):
        assert a["contact"] == b["contact"]
        for measure in MEASURES:
            x, y = float(a[measure.column]), float(b[measure.column])
            assert np.isfinite(x) or measure.column == "ankle_share"
            assert x == pytest.approx(y, abs=1e-6, nan_ok=True), measure.column
