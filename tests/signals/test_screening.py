"""Where there may be walking in a long log: no walking is lost, and what surely is none is passed over."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstrocker.model import FloatArray, Log
from firstrocker.settings import Settings
from firstrocker.signals.cutting import cut
from firstrocker.signals.digest import Digest, digest
from firstrocker.signals.restarts import Rows
from firstrocker.signals.screen import Span, cut_at, merged, pieces, share_within, walking_spans
from firstrocker.synth.pastimes import PASTIMES
from firstrocker.synth.trial import trial
from real import annotated_feet as feet
from shared_data import DATA, needs

DAY = Settings().day
TURNING = float(np.radians(DAY.turning_deg_s))


def brief(time: FloatArray, force: FloatArray, turn: FloatArray) -> Digest:
    rows = Rows(time, np.column_stack([force, turn]))
    return digest([rows], acceleration_scale=1.0, angular_velocity_scale=1.0, where="x")


def of_log(log: Log) -> Digest:
    return brief(log.time, log.acceleration, log.angular_velocity)


def spans(log: Digest) -> list[Span]:
    return walking_spans(log, turning=TURNING, pad_s=0.5)


@pytest.mark.parametrize("kind", ["shuffling", "hemiparetic", "no_heel_rise", "brisk"])
def test_every_simulated_stride_is_kept(kind: str) -> None:
    made = trial(kind, seed=21, strides=8, bouts=1)
    foot = next(log for log in made.logs.logs if log.segment == "foot")
    events = np.array([[row["heel_strike_s"], row["next_heel_strike_s"]] for row in made.truth.strides], dtype=float)
    assert share_within(events.ravel(), spans(of_log(foot))) == 1.0


@needs("annotated_feet")
@pytest.mark.parametrize("subject", [1, 3, 7])
def test_every_annotated_stride_is_kept(subject: int) -> None:
    """Contacts of healthy people; all 8 by tests/bench/day.py. A single step after ten seconds is no stride."""
    folder = DATA / "annotated_feet"
    for walk in feet.WALKS:
        known = feet.read_annotation(folder, subject, walk)
        for side in feet.SIDES:
            table = np.loadtxt(feet.log_path(folder, subject, walk, side), skiprows=2)
            log = brief(table[:, 0] / feet.RATE_HZ, table[:, 1:4], table[:, 4:7])
            contacts = known.contact[side]
            strides = np.flatnonzero(np.diff(contacts) < 3.0)
            kept = spans(log)
            assert share_within(contacts[strides], kept) == share_within(contacts[strides + 1], kept) == 1.0


@pytest.mark.parametrize("what", ["sit", "pedal", "sleep", "lie"])
def test_what_is_no_walking_is_passed_over(what: str) -> None:
    """Invented pastimes; setting off and stopping to pedal may look like steps."""
    made = PASTIMES[what](np.random.default_rng(4), 120.0)
    force, turn = made.readings["foot"]
    log = brief(np.arange(len(force)) / 100.0, force, turn)
    assert sum(stop - first for first, stop in spans(log)) < 0.25 * 120.0
    assert not any(first < 60.0 < stop for first, stop in spans(log))


def test_lying_beside_a_walk_is_cut_off() -> None:
    """Who gets up from bed and walks: the foot in bed tells nothing of the sole's level."""
    made = trial("normal", seed=3, strides=6, bouts=1)
    foot = made.logs.logs[0]
    lying = np.tile([9.8, 0.0, 0.0], (600, 1)) @ np.linalg.qr(np.random.default_rng(2).normal(size=(3, 3)))[0]
    force = np.concatenate([lying, foot.acceleration])
    turn = np.concatenate([np.zeros((600, 3)), foot.angular_velocity])
    time = np.arange(len(force)) / 100.0
    found = walking_spans(brief(time, force, turn), turning=TURNING, pad_s=5.0)
    assert found
    assert found[0][0] >= 6.0 - 1e-9
    strikes = np.array([float(row["heel_strike_s"]) + 6.0 for row in made.truth.strides])
    assert share_within(strikes, found) == 1.0


TIMES = st.floats(0.0, 100.0)
SPANS = st.lists(st.tuples(TIMES, TIMES).map(lambda pair: (min(pair), max(pair))), max_size=8)


@given(SPANS)
def test_merged_spans_cover_the_same_and_lie_apart(given_spans: list[Span]) -> None:
    found = merged(given_spans)
    probe = np.linspace(0.0, 100.0, 501)

    def inside(some: list[Span]) -> list[bool]:
        return [any(a <= time <= b for a, b in some) for time in probe]

    assert inside(given_spans) == inside(found)
    assert all(a[1] < b[0] for a, b in itertools.pairwise(found))


@given(SPANS, st.lists(TIMES, max_size=4))
def test_no_span_holds_a_time_it_is_cut_at(given_spans: list[Span], times: list[float]) -> None:
    for first, stop in cut_at(merged(given_spans), times):
        assert not any(first < time < stop for time in times)


@settings(max_examples=30, deadline=None)
@given(SPANS, st.lists(st.integers(1, 1999), max_size=10))
def test_cutting_gives_the_same_rows_however_the_log_is_parted(given_spans: list[Span], cuts: list[int]) -> None:
    time = np.asarray(np.arange(2000) * 0.05)
    time[[40, 41]] = time[[41, 40]]
    values = np.arange(12_000.0).reshape(2000, 6)
    ends = [0, *sorted(set(cuts)), 2000]
    parts = [Rows(time[a:b], values[a:b]) for a, b in itertools.pairwise(ends)]
    found = dict(cut(parts, given_spans))
    for number, (first, stop) in enumerate(given_spans):
        inside = (time >= first) & (time <= stop)
        if not inside.any():
            assert number not in found
            continue
        assert np.array_equal(found[number].time, time[inside])
        assert np.array_equal(found[number].values, values[inside])


@settings(max_examples=50, deadline=None)
@given(st.floats(10.0, 3000.0), st.integers(0, 2**31))
def test_pieces_share_out_a_stretch_and_none_is_too_long(length: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    energy = np.where(np.repeat(rng.random(301) < 0.1, 100), 0.1, 50.0)
    none = np.empty((0, 3), dtype=np.float32)
    log = Digest(0.0, np.full(30_100, 10), energy.astype(np.float32), energy.astype(np.float32), none, none[:, 0], none)
    found = pieces((5.0, 5.0 + length), log, longest_s=200.0)
    assert found[0][1][0] == 5.0
    assert found[-1][1][1] == 5.0 + length
    for whole, own in found:
        assert whole[1] - whole[0] <= 200.0 + 1e-6
        assert whole[0] <= own[0] < own[1] <= whole[1]
    assert all(a[1][1] == b[1][0] for a, b in itertools.pairwise(found))
