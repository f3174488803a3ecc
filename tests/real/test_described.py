"""A look at open recordings as their authors published them: the profile found reads them as they are.

Data: ``../shared/data/annotated_feet`` and ``../shared/data/shank_foot_orientation``, described in
``real/annotated_feet.py`` and ``outside/shank_foot_orientation.py``; units and rate as published.
"""

from __future__ import annotations

import numpy as np
import pytest

from firstrocker.errors import LogError
from firstrocker.signals.describe import describe
from firstrocker.signals.profiles import LoggerProfile
from firstrocker.signals.readers import read_log
from structure.tree import REPOSITORY

DATA = REPOSITORY.parent / "shared" / "data"

pytestmark = pytest.mark.skipif(not DATA.is_dir(), reason="../shared/data is absent")


@pytest.mark.untraced
@pytest.mark.parametrize("name", ["1-1_lf", "2-3_rf", "3-2_lf", "4-3_rf", "6-1_lf", "7-2_rf", "8-2_lf"])
def test_a_published_foot_is_read_with_what_was_found(name: str) -> None:
    path = DATA / "annotated_feet" / f"{name}.txt"
    described = describe(path)
    assert described.usable
    log, _ = read_log(
        path, profile=LoggerProfile.model_validate(described.profile), segment="foot", side="left", where=name
    )
    table = np.loadtxt(path, skiprows=2)
    same = np.isin(np.round(table[:, 0]), np.round(log.time * 100))
    # Rows that repeat the one before while the foot moves are left out: 5 in the worst of the 48 files.
    assert len(table) - 6 < same.sum() == len(log.time)
    np.testing.assert_array_equal(log.acceleration, table[same, 1:4])
    np.testing.assert_array_equal(log.angular_velocity, table[same, 4:7])
    sure = {item.key: item.sure for item in described.items}
    assert sure["units.acceleration"] == sure["units.angular_velocity"] == sure["counter.column"] == "high"


def test_a_recording_without_gyroscope_is_not_made_one() -> None:
    path = next((DATA / "shank_foot_orientation").glob("MT_*.txt"))
    described = describe(path)
    assert not described.usable
    assert described.problems[0].key == "columns"


@pytest.mark.parametrize("name", ["grf_walk.mot", "markers_walk.trc", "normal_gait.mot", "coordinates.sto"])
def test_tables_of_other_things_are_no_log(name: str) -> None:
    try:
        described = describe(DATA / "walk_markers" / name)
    except LogError:
        return
    assert not described.usable or described.doubtful
