"""Jobs of a real Slurm that die: what a user sees, what is kept, and whether the same command comes to the same end.

    PATH=.venv/bin:$PATH python tests/bench/slurm_faults.py                  # all; see slurm_nodes.py for what it needs
    PATH=.venv/bin:$PATH python tests/bench/slurm_faults.py cancelled node   # some

Two nodes, short sessions in jobs of some. Each case breaks something once a session of a running job is made, and tells
how the run ended and what it said. Then the same command is given again where the first did not come through. Held in
every case: what was made before the fault is not made again, no other session's results change, and in the end
everything is what a local run makes, byte for byte.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(TESTS))

from bench.slurm_nodes import (  # noqa: E402
    Slurm,
    asked,
    code_path,
    command,
    compare,
    jobs,
    on_slurm,
    run,
    study_of,
    wait_until,
)
from workflow.runs import edited_package, package  # noqa: E402

SESSIONS, PER_JOB = 8, 4
SOON = ("--slurm-init-seconds-before-status-checks", "5")
LIMIT_S = 600.0
TOLD = re.compile(
    r"SLURM-job|failed|P0\d+.*:|rejected|Error|error:|sessions failed|Trying to restart|again|waiting|left"
)
BUG = """
import os
_whole = make_strides

def make_strides(source, out, **given):
    if os.environ.get("BROKEN") and source.parent.name == "sub-P00001":
        raise ZeroDivisionError("a bug in one session")
    if os.environ.get("BROKEN") and source.parent.name == "sub-P00006":
        os.kill(os.getpid(), 9)
    _whole(source, out, **given)
"""


@dataclass
class Case:
    """One run on the cluster that something befalls.

    place: the folder of all cases. name: of the results. slurm: the nodes. options: more arguments of Snakemake.
    """

    place: Path
    name: str
    slurm: Slurm
    options: tuple[str, ...] = ()
    per_job: int = PER_JOB
    code: Path | None = None
    kept: dict[Path, int] = field(default_factory=dict)

    @property
    def results(self) -> Path:
        return self.place / self.name

    @property
    def line(self) -> list[str]:
        return on_slurm(self.place, self.name, *SOON, *self.options, config=(f"sessions_per_job={self.per_job}",))

    def begin(self) -> subprocess.Popen[bytes]:
        """Start the run."""
        with (self.place / f"{self.name}.out").open("ab") as out:
            return subprocess.Popen(
                self.line, env=code_path(self.code or package().parent), stdout=out, stderr=subprocess.STDOUT
            )

    def start(self) -> subprocess.Popen[bytes]:
        """Start the run, and wait until some session of a running job is made."""
        going = self.begin()
        wait_until(lambda: bool(self.made()) and bool(running()), "a session that is made", LIMIT_S)
        self.kept = self.made()
        return going

    def made(self) -> dict[Path, int]:
        """When the results of each whole session were written."""
        whole = (self.results / ".made").glob("sub-*/ses-1.json")
        tables = [self.results / path.parent.name / "ses-1" / "letter.html" for path in whole]
        return {path: path.stat().st_mtime_ns for path in tables if path.exists()}

    def end(self, going: subprocess.Popen[bytes]) -> int:
        """Wait for the end of the run, and tell how it ended and what it said."""
        status = going.wait(LIMIT_S)
        print(f"  status {status}, {len(self.made())} sessions made")
        for line in dict.fromkeys((self.place / f"{self.name}.out").read_text().splitlines()):
            if TOLD.search(line) and not line.startswith(("Job ", "    ", "Command", "  Command")):
                print(f"  | {line.strip()[:230]}")
        return status

    def again(self) -> bool:
        """Give the same command again; whether it came through, and nothing whole was made again."""
        self.options, before = (), self.made()
        status = run(self.line, self.place / f"{self.name}-again.out", package=self.code or package().parent)
        after = self.made()
        remade = [path.parts[-3] for path, time in before.items() if after.get(path) != time]
        print(f"  again: status {status}, {len(after) - len(before)} sessions made, made anew: {remade or 'none'}")
        return status == 0 and not remade

    def kept_is_kept(self) -> bool:
        """Whether what was made before the fault is as it was."""
        now = self.made()
        changed = [path.parts[-3] for path, time in self.kept.items() if now.get(path) != time]
        print(f"  made before the fault: {len(self.kept)}, of them made anew: {changed or 'none'}")
        return not changed


def running() -> list[dict[str, str]]:
    """The jobs on sessions that are at work."""
    return [job for job in jobs() if job["JobState"] == "RUNNING" and "rule_sessions" in job.get("Comment", "")]


def job_of(case: Case) -> dict[str, str]:
    """The running job that a made session belongs to."""
    made = min(case.kept).parts[-3].removeprefix("sub-")
    ends = ((job, re.findall(r"(P\d+)_1", job["Comment"])) for job in running())
    return next((job for job, (first, last) in ends if first <= made <= last), running()[0])


def cancelled(case: Case) -> bool:
    """A job is cancelled by hand, and so is the one that takes its place: the run ends, the rest is kept."""
    going = case.start()
    part = job_of(case)["Comment"]
    for _ in range(2):
        wait_until(lambda: any(job["Comment"] == part for job in running()), "the job", LIMIT_S)
        for job in running():
            if job["Comment"] == part:
                asked("scancel", job["JobId"])
        wait_until(lambda: not any(job["Comment"] == part for job in running()), "its end", LIMIT_S)
    return case.end(going) == 1 and case.kept_is_kept() and case.again()


def time_limit(case: Case) -> bool:
    """A job hangs until its time is over, a minute: the second attempt goes on."""
    going = case.start()
    stuck = job_of(case)
    asked("scontrol", "update", f"JobId={stuck['JobId']}", "TimeLimit=1")
    case.slurm.freeze(stuck["NodeList"])
    return case.end(going) == 0 and case.kept_is_kept()


def memory(case: Case) -> bool:
    """Jobs are given less memory than a session takes."""
    case.options = ("--set-resources", "sessions:mem_mb=150")
    return case.end(case.begin()) == 1 and case.again()


def node(case: Case) -> bool:
    """A node loses its power: its job goes to the other one."""
    going = case.start()
    lost = job_of(case)["NodeList"]
    case.slurm.cut_power(lost)
    status = case.end(going)
    case.slurm.restart_node(lost)
    return status == 0 and case.kept_is_kept()


def node_not_requeued(case: Case) -> bool:
    """The same where the cluster does not put jobs back into its queue: Snakemake gives it again."""
    case.options = ("--slurm-no-requeue",)
    return node(case)


def deaf(case: Case) -> bool:
    """A node's slurmd dies and its job does not: the same sessions are made in two places at a time."""
    going = case.start()
    lost = job_of(case)["NodeList"]
    case.slurm.deafen(lost)
    status = case.end(going)
    case.slurm.restart_node(lost)
    return status == 0 or case.again()


def bug(case: Case) -> bool:
    """A session in the middle of a job meets a bug, one of the other job takes its process with it."""
    case.code = edited_package(case.place / "edited", "steps/strides.py", extra=BUG).parent
    os.environ["BROKEN"] = "yes"
    status = case.end(case.start())
    del os.environ["BROKEN"]
    return status == 1 and len(case.made()) == SESSIONS - 2 and case.again()


def killed(case: Case) -> bool:
    """Snakemake is killed while its jobs run and wait: the same command at once after, and its end."""
    case.per_job = 2
    going = case.start()
    going.kill()
    going.wait()
    first = run(case.line, case.place / "killed-first.out", package=package().parent)
    lines = (case.place / "killed-first.out").read_text().splitlines()
    print(f"  at once: status {first}")
    print(*(f"  | {line.strip()[:230]}" for line in lines if TOLD.search(line)), sep="\n")
    if first:
        asked("scancel", "--user=root")
        wait_until(lambda: not asked("squeue", "-h"), "the queue", LIMIT_S)
        return case.again()
    return True


CASES: dict[str, Callable[[Case], bool]] = {
    case.__name__: case for case in (cancelled, time_limit, memory, node, node_not_requeued, deaf, bug, killed)
}


def main() -> int:
    """Run the cases asked for, all without arguments."""
    wanted = sys.argv[1:] or list(CASES)
    good = True
    with study_of(SESSIONS) as place:
        (place / "study" / "sub-P00002" / "ses-1" / "a_foot.csv").unlink()  # a user's mistake: rejected in every case
        run(command(place, "local", "--cores", "1"), place / "local.out", package=package().parent)
        with Slurm(place, 2) as slurm:
            for name in wanted:
                print(f"{name}: {CASES[name].__doc__}", flush=True)
                whole = CASES[name](Case(place, name, slurm))
                whole &= compare(place, "local", name)
                good &= whole
                print(f"  {'as it should be' if whole else 'NOT AS IT SHOULD BE'}", flush=True)
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
