"""A heel that grazes the ground and is lifted again has touched; one that passes over it has not."""

import numpy as np
import pytest

from firstrocker.settings import Settings
from firstrocker.synth.trial import trial
from firstrocker.synth.validate import judge

pytestmark = pytest.mark.untraced

GRAZING = (620_002, 620_013, 620_019, 904_005, 904_019, 55_002)


def test_contact_is_the_first_touch() -> None:
    """Of these walks five have a stride that grazes; in others the heel passes 2.5 to 5 mm over the ground first.

    A heel's height is known to half a millimetre: one that passes at 2.5 mm may be taken for one that touches at 2.0.
    """
    errors = np.concatenate(
        [judge(trial("flat_contact", seed=seed), Settings()).errors("heel_strike_s") for seed in GRAZING]
    )
    assert len(errors) == 78
    assert np.count_nonzero(np.abs(errors) > 15.0) <= 1
