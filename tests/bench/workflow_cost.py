"""What the workflow costs: many short sessions by Snakemake against the same in one process per core.

Both are timed in one run of this script, one after the other, and twice where the machine is unsteady:

    python tests/bench/workflow_cost.py 1000 2        # sessions, cores
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(TESTS))

from workflow.runs import command, environment, fingerprints  # noqa: E402
from workflow.small_study import write_session  # noqa: E402

DISTINCT = 8
PLAIN = """
import sys
from pathlib import Path
from firstrocker.settings import Settings
from firstrocker.steps.report import make_report
from firstrocker.steps.strides import make_strides
from firstrocker.steps.study import make_study

loggers, results = Path(sys.argv[1]), Path(sys.argv[2])
for session in map(Path, sys.argv[3:]):
    out = results / session.parent.name / session.name
    make_strides(session, out, settings=Settings(), loggers=loggers)
    make_study(out, settings=Settings())
    make_report(out, settings=Settings())
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


def by_hand(place: Path, sessions: list[Path], cores: int) -> float:
    """Seconds for one process per core that imports everything once, and one for the cohort."""
    start = time.perf_counter()
    own = environment() | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    loggers = str(TESTS.parent / "config" / "loggers")
    shares = [list(map(str, sessions[core::cores])) for core in range(cores)]
    runs = [
        subprocess.Popen([sys.executable, "-c", PLAIN, loggers, "plain", *share], cwd=place, env=own)
        for share in shares
        if share
    ]
    if any(run.wait() for run in runs):
        raise SystemExit("the plain run failed")
    subprocess.run([sys.executable, "-c", COHORT, "study", "plain"], cwd=place, env=own, check=True)
    return time.perf_counter() - start


def by_workflow(place: Path) -> float:
    """Seconds for the documented command."""
    start = time.perf_counter()
    with (place / "run.log").open("w") as log:
        subprocess.run(
            command("--config", "study=study", "results=results"),
            cwd=place,
            env=environment(),
            stdout=log,
            stderr=subprocess.STDOUT,
            check=True,
        )
    return time.perf_counter() - start


def main() -> None:
    """Print both times, their ratio, and whether the results are the same."""
    count, cores = int(sys.argv[1]), int(sys.argv[2])
    place = Path(tempfile.mkdtemp(prefix="firstrocker-"))
    try:
        sessions = [path.relative_to(place) for path in write_study(place / "study", count)]
        environment()
        plain, workflow = by_hand(place, sessions, cores), by_workflow(place)
        again = by_workflow(place)
        same = fingerprints(place / "plain") == fingerprints(place / "results")
        print(f"{count} sessions on {cores} cores (load {os.getloadavg()[0]:.1f})")
        print(f"one process per core {plain:.1f} s, workflow {workflow:.1f} s, ratio {workflow / plain:.2f}")
        print(f"a second run, nothing to do: {again:.1f} s; results {'the same' if same else 'DIFFER'}")
    finally:
        shutil.rmtree(place, ignore_errors=True)


if __name__ == "__main__":
    main()
