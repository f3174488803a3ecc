"""The whole analysis against the truth of simulated walks, kind by kind.

The walks were not used while methods were chosen, but looked at before; ``firstrocker validate`` judges on others, and
finds what these four of a kind do not show: of flat contacts one in fifty 70 to 100 ms late. Bounds are this project's
own aims; where an aim lies beside a published figure, see there, which says why the two are different claims.
"""

import numpy as np
import pytest

from firstrocker.synth.gaits import GAITS
from firstrocker.synth.validate import Outcome, judge_kind

pytestmark = pytest.mark.untraced

FIRST, WALKS = 800_000, 4
AT_CONTACT = (
    "heel_strike_s",
    "foot_flat_s",
    "toe_off_s",
    "foot_pitch_heel_strike_deg",
    "ankle_heel_strike_deg",
    "shank_heel_strike_deg",
)
BEYOND = {column: {"hemiparetic"} for column in AT_CONTACT} | {
    "toe_clearance_min_mm": {"hemiparetic"},
    "slap_rate_deg_s": {"shuffling", "no_heel_rise", "hemiparetic"},
    "foot_lowering_rate_deg_s": {"flat_contact", "shuffling", "hemiparetic"},
    "push_off_rate_deg_s": {"shuffling"},
    "shank_forward_rate_deg_s": {"flat_contact", "shuffling", "slap", "hemiparetic"},
}
"""Where the aims below are not reached for certain: a foot that is laid down so softly that its heel goes on sinking
for 70 ms (one walker in some fifty) or is lifted without a push, one that hardly dips in mid-swing, loadings of three
samples, feet whose forward axis is found some degrees off. Of the slap rate's 4 % some 2 to 3 are what a sensor of
100 Hz overshoots a rate that jumps at contact by."""


@pytest.fixture(scope="module")
def outcomes() -> dict[str, Outcome]:
    return {
        kind: judge_kind(kind, seeds=range(first, first + WALKS))
        for kind, first in zip(GAITS, range(FIRST, FIRST + 1000 * len(GAITS), 1000), strict=True)
    }


@pytest.mark.parametrize("kind", sorted(GAITS))
def test_no_stride_is_missed_or_invented(outcomes: dict[str, Outcome], kind: str) -> None:
    assert outcomes[kind].missed == 0
    assert outcomes[kind].extra == 0
    for true, found in outcomes[kind].pairs:
        assert found["left_out"] == true["left_out"] or found["left_out"] == "quality"


@pytest.mark.parametrize(
    ("column", "bias", "spread"),
    [
        ("heel_strike_s", 4.0, 6.0),
        ("foot_flat_s", 8.0, 10.0),
        ("heel_off_s", 12.0, 15.0),
        ("toe_off_s", 6.0, 8.0),
        ("stride_length_m", 0.005, 0.008),
        ("toe_clearance_min_mm", 1.0, 2.5),
        ("heel_clearance_max_mm", 5.0, 6.0),
        ("foot_pitch_heel_strike_deg", 0.5, 1.0),
        ("ankle_heel_strike_deg", 1.0, 1.0),
        ("ankle_foot_flat_deg", 1.0, 1.0),
        ("shank_heel_strike_deg", 1.0, 1.0),
        ("shank_foot_flat_deg", 1.0, 1.0),
        ("slap_rate_deg_s", 4.0, 4.0),
        ("foot_lowering_rate_deg_s", 3.0, 4.0),
        ("push_off_rate_deg_s", 3.0, 4.0),
        ("shank_forward_rate_deg_s", 5.0, 5.0),
    ],
)
@pytest.mark.parametrize("kind", sorted(GAITS))
def test_errors_are_within_the_aims(
    outcomes: dict[str, Outcome], kind: str, column: str, bias: float, spread: float
) -> None:
    errors = outcomes[kind].errors(column)
    errors = errors[np.isfinite(errors)]
    if kind in BEYOND.get(column, ()):
        bias, spread = 2.5 * bias, 2.5 * spread
    if column.endswith("rate_deg_s") and len(errors) < 5:
        pytest.skip("this kind hardly turns there: a share of its rate says nothing")
    assert len(errors) > 15
    assert abs(errors.mean()) < bias, f"{errors.mean():.2f}"
    assert errors.std() < spread, f"{errors.std():.2f}"


def test_standard_errors_cover(outcomes: dict[str, Outcome]) -> None:
    # All kinds together: far too few walks for more than a rough check; `firstrocker validate` says more.
    for column in ("stride_length_m", "toe_clearance_min_mm", "foot_pitch_heel_strike_deg", "ankle_heel_strike_deg"):
        shares = [o.coverage(column) for o in outcomes.values()]
        assert np.mean(shares) > 0.8, column
