"""What the workflow costs: many short sessions by Snakemake against the same in one process per core.

Both are timed in one run of this script, one after the other, by the wall and by the processor: on a machine that is
busy with other things the second is the one to trust.

    python tests/bench/workflow_cost.py 1000 2        # sessions, cores
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(TESTS))

from workflow.runs import command, environment, fingerprints  # noqa: E402
from workflow.small_study import write_session  # noqa: E402

DISTINCT = 8
PLAIN = """
import sys
from pathlib import Path
from firstrocker.layout import is_followed_up
from firstrocker.settings import Settings
from firstrocker.steps.letter import make_letter
from firstrocker.steps.report import make_report
from firstrocker.steps.strides import make_strides
from firstrocker.steps.study import make_study

loggers, results = Path(sys.argv[1]), Path(sys.argv[2])
for session in map(Path, sys.argv[3:]):
    out = results / session.parent.name / session.name
    make_strides(session, out, settings=Settings(), loggers=loggers)
    make_study(out, settings=Settings())
    make_report(out, settings=Settings(), follow_up=is_followed_up(session))
    make_letter(out, settings=Settings())
"""
COHORT = """
import sys
from pathlib import Path
from firstrocker.settings import Settings
from firstrocker.steps.cohort import make_cohort

make_cohort(Path(sys.argv[1]), Path(sys.argv[2]), settings=Settings())
"""


def write_study(study: Path, sessions: int) -> list[Path]:
    """A study of that many short sessions; a few are simulated, the others are the same walks of others."""
    made = [write_session(study, f"P{number:05d}", seed=number) for number in range(min(DISTINCT, sessions))]
    for number in range(len(made), sessions):
        folder = study / f"sub-P{number:05d}" / "ses-1"
        shutil.copytree(made[number % DISTINCT], folder)
        text = (folder / "session.yaml").read_text().replace(f"P{number % DISTINCT:05d}", f"P{number:05d}")
        (folder / "session.yaml").write_text(text)
        made.append(folder)
    return made


@dataclass
class Cost:
    """Seconds by the wall, and of the processor in all processes."""

    wall: float = 0.0
    processor: float = 0.0

    def __str__(self) -> str:
        return f"{self.wall:.1f} s ({self.processor:.1f} s of the processor)"


@contextmanager
def measured(cost: Cost) -> Iterator[None]:
    """Add what the processes started within cost."""
    before, used = time.perf_counter(), os.times()
    yield
    now = os.times()
    cost.wall += time.perf_counter() - before
    cost.processor += now.children_user + now.children_system - used.children_user - used.children_system


def alone() -> dict[str, str]:
    """The environment of a process that is to use one core."""
    return environment() | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}


def by_hand(place: Path, sessions: list[Path], cores: int) -> None:
    """One process per core that imports everything once."""
    loggers = str(TESTS.parent / "config" / "loggers")
    shares = [list(map(str, sessions[core::cores])) for core in range(cores)]
    runs = [
        subprocess.Popen([sys.executable, "-c", PLAIN, loggers, "plain", *share], cwd=place, env=alone())
        for share in shares
        if share
    ]
    if sum(run.wait() for run in runs):
        raise SystemExit("the plain run failed")


def by_workflow(place: Path) -> None:
    """The documented command."""
    with (place / "run.log").open("w") as log:
        done = subprocess.run(
            command("--config", "study=study", "results=results"),
            cwd=place,
            env=environment(),
            stdout=log,
            stderr=subprocess.STDOUT,
        )
    if done.returncode:
        raise SystemExit(f"{(place / 'run.log').read_text()[-4000:]}\nkept, with the logs of its jobs: {place}")


def main() -> None:
    """Print both costs, their ratio, and whether the results are the same."""
    count, cores = int(sys.argv[1]), int(sys.argv[2])
    place = Path(tempfile.mkdtemp(prefix="firstrocker-"))
    whole = False
    try:
        sessions = [path.relative_to(place) for path in write_study(place / "study", count)]
        environment()
        plain, cohort, workflow, again = Cost(), Cost(), Cost(), Cost()
        with measured(plain):
            by_hand(place, sessions, cores)
            with measured(cohort):
                subprocess.run([sys.executable, "-c", COHORT, "study", "plain"], cwd=place, env=alone(), check=True)
        with measured(workflow):
            by_workflow(place)
        with measured(again):
            by_workflow(place)
        same = fingerprints(place / "plain") == fingerprints(place / "results")
        print(f"{count} sessions on {cores} cores (load {os.getloadavg()[0]:.1f})")
        print(f"one process per core: {plain}")
        print(f"of it the cohort:     {cohort}")
        print(f"workflow:             {workflow}")
        print(f"ratio:                {workflow.wall / plain.wall:.2f} ({workflow.processor / plain.processor:.2f})")
        print(f"nothing to do:        {again}")
        print(f"results {'the same' if same else 'DIFFER'}")
        whole = same
    finally:
        if whole:
            shutil.rmtree(place, ignore_errors=True)


if __name__ == "__main__":
    main()
