"""Walks are worked on in pieces: where one ends changes nothing."""

import numpy as np
import pytest

from firstrocker.motion import sensor
from firstrocker.synth.sensors import ORDINARY
from motion.walked import Walked, analysed


def made() -> Walked:
    return analysed("slap", seed=5, quality=ORDINARY, strides=12)


def test_the_size_of_pieces_does_not_matter(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = made()
    assert len(whole.foot.still) < sensor.PIECE, "the walk is no longer one piece"
    monkeypatch.setattr(sensor, "PIECE", 150)
    parted = made()
    for one, other, names in (
        (
            whole.foot,
            parted.foot,
            "pitch pitch_rate roll heading position velocity toe_height heel_height shock tilt_se",
        ),
        (whole.shank, parted.shank, "angle rate roll shock arm tilt_se"),
    ):
        for name in names.split():
            assert np.allclose(getattr(one, name), getattr(other, name), rtol=1e-8, atol=1e-9), name
    assert whole.foot.rest.spans == parted.foot.rest.spans
    assert whole.foot.anchors.tolist() == parted.foot.anchors.tolist()
    for row, same in zip(whole.rows, parted.rows, strict=True):
        assert row["ankle_heel_strike_deg"] == pytest.approx(same["ankle_heel_strike_deg"], abs=1e-7)
