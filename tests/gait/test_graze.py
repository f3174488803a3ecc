"""A heel that grazes the ground and is lifted again has touched; one that passes over it has not."""

import numpy as np
import pytest

from firstrocker.settings import Settings
from firstrocker.synth.trial import trial
from firstrocker.synth.validate import judge


@pytest.mark.parametrize("seed", [620_002, 620_019])
def test_contact_is_the_first_touch(seed: int) -> None:
    """Among these walks' strides some graze, and others pass 2 to 5 mm over the ground before the foot comes down."""
    errors = judge(trial("flat_contact", seed=seed), Settings()).errors("heel_strike_s")
    assert len(errors) > 8
    assert np.abs(errors).max() < 15.0
