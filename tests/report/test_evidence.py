"""How far a session can be trusted: told from what was kept, with everything that the pictures need."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np

from firstrocker.chain import analyse
from firstrocker.layout import SessionName
from firstrocker.model import Log
from firstrocker.report.evidence import trust
from firstrocker.settings import Settings
from firstrocker.steps.evidence import evidence_record
from firstrocker.synth.trial import Trial, trial

QUALITY = {
    "versions": {"firstrocker": "0.1.0"},
    "settings": {"signals": {"rate_hz": None}, "gait": {"turn_deg": 20.0}},
    "inputs": {"b.csv": "22", "a.csv": "11"},
}


def record_of(walk: Trial) -> dict[str, Any]:
    result = analyse(walk.person, [walk.logs], settings=Settings())
    text = json.dumps(evidence_record(SessionName("S1", "1"), result.evidence), allow_nan=False)
    kept: dict[str, Any] = json.loads(text)
    return kept


@cache
def usual() -> str:
    return json.dumps(record_of(trial("slap", seed=31, strides=8, shank_offset_s=1.3, shank_drift_ppm=40.0)))


def test_seats_rest_and_clocks_are_told() -> None:
    found = trust(QUALITY, json.loads(usual()))
    assert [one.segment for one in found.seats] == ["foot", "shank"]
    assert not any(one.doubtful for one in (*found.seats, *found.rests, *found.clocks))
    assert "points forward" in found.seats[0].text
    assert "mm above the ankle" in found.seats[1].text
    (clock,) = found.clocks
    assert clock.text.startswith("its clock was 1.300 s ahead of the foot log's and ran ")
    assert "ppm fast" in clock.text
    assert found.settings == [("gait.turn_deg", "20.0"), ("signals.rate_hz", "none")]
    assert found.inputs == [("a.csv", "11"), ("b.csv", "22")]


def test_pictures_have_what_they_need() -> None:
    found = trust(QUALITY, json.loads(usual()))
    (picture,) = found.clock_pictures
    assert len(picture.time) == len(picture.foot) == len(picture.shank) == len(picture.before) > 100
    assert all(value is not None for value in (*picture.foot, *picture.shank))
    for seat in found.seat_pictures:
        axes = np.array([seat.axes[name] for name in "xyz"])
        assert np.allclose(axes @ axes.T, np.eye(3), atol=1e-3)
        assert np.linalg.det(axes) > 0


def test_what_is_kept_is_small() -> None:
    assert len(usual()) < 20_000


def changed(change: Any) -> dict[str, Any]:
    walk = trial("slap", seed=32, strides=8)
    logs = tuple(change(log) for log in walk.logs.logs)
    return record_of(replace(walk, logs=replace(walk.logs, logs=tuple(log for log in logs if log is not None))))


def test_no_shank_and_no_standing_are_told() -> None:
    def hurried(log: Log) -> Log | None:
        if log.segment == "shank":
            return None
        moving = np.linalg.norm(log.angular_velocity, axis=1) > 1.0
        first, last = np.flatnonzero(moving)[[0, -1]]
        part = slice(first, last)
        rng = np.random.default_rng(0)
        rates = log.angular_velocity[part] + 0.2 * rng.standard_normal((last - first, 3))
        return replace(log, time=log.time[part], acceleration=log.acceleration[part], angular_velocity=rates)

    found = trust(QUALITY, changed(hurried))
    assert found.clocks == []
    assert found.clock_pictures == []
    (rest,) = found.rests
    assert rest.doubtful
    assert "no quiet standing" in rest.text


def test_no_evidence_says_nothing() -> None:
    kept: dict[str, Any] | None
    for kept in (None, {"walks": []}):
        found = trust(QUALITY, kept)
        assert (found.seats, found.rests, found.clocks) == ([], [], [])


def test_doubtful_seats_are_marked() -> None:
    kept = json.loads(usual())
    seat = kept["walks"][0]["sides"][0]["seats"][1]
    seat["planar"] = 0.6
    assert [one.doubtful for one in trust(QUALITY, kept).seats] == [False, True]
    kept["walks"][0]["clocks"][1]["matched"] = False
    (clock,) = trust(QUALITY, kept).clocks
    assert clock.doubtful
    assert "left out" in clock.text
