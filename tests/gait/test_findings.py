"""What the strides say of themselves."""

import numpy as np

from firstrocker.gait.errors import Errors
from firstrocker.gait.findings import clearance_findings, stride_findings
from firstrocker.gait.table import stride_rows
from firstrocker.synth.sensors import ORDINARY
from motion.walked import analysed


def test_a_toe_under_the_ground_is_no_clearance() -> None:
    made = analysed("toe_drop", quality=ORDINARY)
    assert clearance_findings(made.rows) == ()
    # The same walk, the ruler misread by 12 cm: the tip of the shoe would pass through the floor.
    foot = made.data.foot
    foot.toe_height[:] += 0.12 * np.sin(foot.pitch) - 0.02
    rows = stride_rows({}, made.strides, made.data, Errors(made.data))
    (finding,) = clearance_findings(rows)
    assert finding.code == "toe-below-ground"
    assert "under the ground" in finding.message
    assert all(row["toe_clearance_min_mm"] is None for row in rows)
    assert all(row["toe_clearance_min_mm_se"] is None for row in rows)
    assert all(row["heel_clearance_max_mm"] is not None for row in rows)


def test_a_walk_too_short_says_so() -> None:
    made = analysed("normal", strides=2)
    assert len(made.strides) < 4
    (finding,) = stride_findings(made.strides)
    assert finding.code == "no-steady-stride"
    assert not any(row["steady"] for row in made.rows)


def test_a_fault_of_the_signal_leaves_its_stride_out() -> None:
    made = analysed("normal", strides=8)
    middle = round(made.strides[3].swing.toe_off)
    made.foot.trusted[middle] = False
    from firstrocker.gait.bouts import find_strides
    from firstrocker.gait.events import find_swings

    strides = find_strides(
        made.foot, find_swings(made.foot), pause_s=2.5, turn=np.radians(20.0), stairs_m=0.1, min_bout_strides=4
    )
    assert "quality" in {s.left_out for s in strides}
    assert "strides-left-out" in {f.code for f in stride_findings(strides)}
