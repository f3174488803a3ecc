"""What the strides say of themselves."""

import numpy as np

from firstrocker import tables
from firstrocker.gait.bouts import find_strides
from firstrocker.gait.events import find_swings
from firstrocker.gait.findings import clearance_findings, stride_findings
from firstrocker.gait.table import curves_table, strides_table, traces
from firstrocker.synth.sensors import ORDINARY
from motion.walked import NOBODY, analysed


def test_a_toe_under_the_ground_is_no_clearance() -> None:
    made = analysed("toe_drop", quality=ORDINARY)
    assert clearance_findings(strides_table(NOBODY, made.strides, made.data)) == ()
    # The same walk, the ruler misread by 12 cm: the tip of the shoe would pass through the floor.
    foot = made.data.foot
    foot.toe_height[:] += 0.12 * np.sin(foot.pitch) - 0.02
    strides = strides_table(NOBODY, made.strides, made.data)
    (finding,) = clearance_findings(strides)
    assert finding.code == "toe-below-ground"
    assert "under the ground" in finding.message
    assert strides["toe_clearance_min_mm"].null_count == len(strides) > 0
    assert strides["toe_clearance_min_mm_se"].null_count == len(strides)
    assert strides["heel_clearance_max_mm"].null_count == 0


def test_a_walk_too_short_says_so() -> None:
    made = analysed("normal", strides=2)
    assert len(made.strides) < 4
    (finding,) = stride_findings(made.strides)
    assert finding.code == "no-steady-stride"
    assert not any(row["steady"] for row in made.rows)


def test_a_single_step_is_no_stride() -> None:
    made = analysed("normal", strides=3)
    step = find_swings(made.foot).those(np.arange(1))
    strides = find_strides(made.foot, step, pause_s=2.5, turn=np.radians(20.0), stairs_m=0.1, min_bout_strides=4)
    rows = strides_table(NOBODY, strides, made.data)
    assert rows.schema == tables.STRIDES
    assert len(rows) == len(strides) == 0
    assert len(curves_table(NOBODY, strides, traces(strides, made.data))) == 0
    assert clearance_findings(rows) == ()
    assert [finding.code for finding in stride_findings(strides)] == ["no-steady-stride"]


def test_a_fault_of_the_signal_leaves_its_stride_out() -> None:
    made = analysed("normal", strides=8)
    middle = round(made.strides.swing.toe_off[3])
    made.foot.trusted[middle] = False
    strides = find_strides(
        made.foot, find_swings(made.foot), pause_s=2.5, turn=np.radians(20.0), stairs_m=0.1, min_bout_strides=4
    )
    assert "quality" in strides.left_out
    assert "strides-left-out" in {f.code for f in stride_findings(strides)}
