"""How sessions are put together for a cluster, and what their jobs may take."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstrocker.grouping import (
    Jobs,
    cohort_memory_mb,
    cohort_minutes,
    courses_minutes,
    expected_seconds,
    in_jobs,
    megabytes,
)
from firstrocker.layout import SessionName, part_ends


@given(st.lists(st.floats(0.1, 1e4), max_size=60), st.integers(1, 20), st.floats(1.0, 1e4))
def test_every_session_is_in_one_job_and_none_lasts_longer_than_it_must(
    seconds: list[float], most: int, target: float
) -> None:
    jobs = in_jobs(list(range(len(seconds))), seconds, most=most, target_s=target)
    assert [place for job in jobs for place in job] == list(range(len(seconds)))
    for job in jobs:
        assert 1 <= len(job) <= most
        assert len(job) == 1 or sum(seconds[place] for place in job) <= target * (1 + 1e-9)
    for job, following in pairwise(jobs):
        lasting = sum(seconds[place] for place in (*job, following[0]))
        assert len(job) == most or lasting > target * (1 - 1e-9)  # no two jobs could have been one


def jobs(*sizes: float) -> Jobs:
    return Jobs({SessionName(f"P{place:02}", "1"): size for place, size in enumerate(sizes)})


def test_short_sessions_share_a_job_and_a_day_has_one_of_its_own() -> None:
    mixed = jobs(*[1.0] * 50, 1600.0, 1.0)
    ends = [part_ends(part) for part in mixed.parts(most=200, target_s=600.0)]
    assert [(first.subject, last.subject) for first, last in ends] == [("P00", "P49"), ("P50", "P50"), ("P51", "P51")]


def test_limits_grow_with_the_logs_and_with_every_attempt() -> None:
    both = jobs(2.0, 400.0)
    short, long_ = "P00_1-P00_1", "P01_1-P01_1"
    assert both.minutes(long_, 4, 1) * 60 > 2 * expected_seconds(400.0)
    assert both.minutes(short, 4, 1) < both.minutes(long_, 4, 1)
    assert both.memory_mb(short, 4, 1) < both.memory_mb(long_, 4, 1)
    for needs in (both.minutes, both.memory_mb):
        assert needs(long_, 4, 2) == 2 * needs(long_, 4, 1)
    assert Jobs({}).minutes(short, 1, 1) == 10
    assert both.memory_mb(short, 1, 1) > 594  # what a job of one process was seen to take
    assert both.memory_mb(short, 4, 1) < 4 * both.memory_mb(short, 1, 1)  # it is started once


def test_the_cohorts_limits_grow_with_the_sessions(tmp_path: Path) -> None:
    for number in range(300):
        (tmp_path / f"sub-P{number}" / "ses-1").mkdir(parents=True)
    assert (cohort_minutes(tmp_path, 1), cohort_memory_mb(tmp_path, 2)) == (13, 2600)
    assert cohort_minutes(tmp_path / "not made yet", 1) == 10
    assert (courses_minutes(tmp_path, 1), courses_minutes(tmp_path, 2)) == (15, 30)


def test_sizes_are_those_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "motion").mkdir()
    (tmp_path / "a.csv").write_bytes(b"x" * 1000)
    (tmp_path / "motion" / "b.tsv").write_bytes(b"x" * 500)
    (tmp_path / "gone").symlink_to(tmp_path / "nowhere")
    assert megabytes(tmp_path) == pytest.approx(1.5e-3)
    assert megabytes(tmp_path / "nowhere") == 0.0
