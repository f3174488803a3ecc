"""Which sessions go into one job of a cluster: as many as last some minutes, and what the job then needs.

Times and memory are expectations from the size of a session's files, on the high side. Measured on a busy machine with
two cores: short sessions of text (0.6 MB: 1.9 s of a processor, ``tests/bench/workflow_cost.py 80 1``), an hour of
walking (46 MB: 8.3 s to the letter, 382 MB), and a job of one process on a real Slurm (up to 594 MB, with the two
Snakemakes that it is started by, ``tests/bench/slurm_faults.py``); a cluster's machines differ.
"""

from __future__ import annotations

import os
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TypeVar

from firstrocker.layout import SessionName, find_sessions, part_ends, part_name

SESSION_S, PER_MB_S = 2.0, 0.4
JOB_MB, PROCESS_MB, PER_MB_MB = 500, 500, 3.0
"""Of what starts a job, of a process that makes sessions, and for each megabyte of the largest session's files."""

Item = TypeVar("Item")


def megabytes(session: Path) -> float:
    """Of all files in a session's folder of the study; 0 where there is none."""
    found = 0
    for folder, _, names in os.walk(session):
        for name in names:
            try:
                found += os.stat(os.path.join(folder, name)).st_size
            except OSError:
                continue
    return found / 1e6


def expected_seconds(size_mb: float) -> float:
    """Of one processor, from logs to report."""
    return SESSION_S + PER_MB_S * size_mb


def in_jobs(items: Sequence[Item], seconds: Sequence[float], *, most: int, target_s: float) -> list[list[Item]]:
    """The items in their order, put together until a job has ``most`` of them or would last longer than ``target_s``.

    >>> in_jobs("abcde", [1, 1, 5, 1, 1], most=2, target_s=3)
    [['a', 'b'], ['c'], ['d', 'e']]
    """
    jobs: list[list[Item]] = []
    room = 0.0
    for item, lasts in zip(items, seconds, strict=True):
        if not jobs or len(jobs[-1]) >= most or lasts > room:
            jobs.append([])
            room = target_s
        jobs[-1].append(item)
        room -= lasts
    return jobs


def of_part(names: Sequence[SessionName], part: str) -> Sequence[SessionName]:
    """Those of sorted names that a part holds. There may be thousands of parts: none looks through all names.

    >>> of_part([SessionName("P1", "1"), SessionName("P2", "1"), SessionName("P3", "1")], "P2_1-P9_1")
    [SessionName(subject='P2', session='1'), SessionName(subject='P3', session='1')]
    """
    first, last = part_ends(part)
    return names[bisect_left(names, first) : bisect_right(names, last)]


@dataclass(frozen=True)
class Jobs:
    """What the jobs of a cluster need. sizes: megabytes of each session that is to be made, sorted; empty on one
    machine, where nothing is asked.
    """

    sizes: Mapping[SessionName, float]

    @classmethod
    def of(cls, study: Path, to_make: Iterable[SessionName]) -> Jobs:
        """The jobs that make these sessions."""
        return cls({name: megabytes(study / name.folder) for name in to_make})

    def parts(self, *, most: int, target_s: float) -> list[str]:
        """The names of the parts that the sessions fall into, one job each."""
        lasting = [expected_seconds(size) for size in self.sizes.values()]
        pieces = in_jobs(list(self.sizes), lasting, most=most, target_s=target_s)
        return [part_name(piece[0], piece[-1]) for piece in pieces]

    def minutes(self, part: str, threads: int, attempt: int) -> int:
        """The time limit of a part: four times what is expected and ten minutes, more at every attempt."""
        lasting = [expected_seconds(size) for size in self._sizes_of(part)]
        expected = max(sum(lasting) / max(threads, 1), max(lasting, default=0.0))
        return attempt * (10 + int(4 * expected / 60))

    def memory_mb(self, part: str, threads: int, attempt: int) -> int:
        """The memory of a part, more at every attempt."""
        largest = max(self._sizes_of(part), default=0.0)
        return attempt * (JOB_MB + max(threads, 1) * (PROCESS_MB + int(PER_MB_MB * largest)))

    def _sizes_of(self, part: str) -> list[float]:
        return [self.sizes[name] for name in of_part(self._names, part)]

    @cached_property
    def _names(self) -> list[SessionName]:
        return list(self.sizes)


def courses_minutes(study: Path, attempt: int) -> int:
    """The time limit of the pages of people with several sessions, more at every attempt.

    They are made in one process: a person of 14 short sessions took 3.5 s of a processor, two of them for the start.
    """
    return attempt * (10 + len(find_sessions(study)[0]) // 60)


def cohort_minutes(study: Path, attempt: int) -> int:
    """The time limit of the cohort, more at every attempt; 20 s of a processor were measured for 1,000 sessions."""
    return attempt * (10 + len(find_sessions(study)[0]) // 100)


def cohort_memory_mb(study: Path, attempt: int) -> int:
    """The memory of the cohort, more at every attempt; 500 MB were measured for 1,000 sessions."""
    return attempt * (1000 + len(find_sessions(study)[0]))
