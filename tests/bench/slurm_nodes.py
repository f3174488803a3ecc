"""The workflow on a real Slurm of one or more nodes, and whether its results are those of a local run, byte for byte.

    apt-get install munge slurmctld slurmd slurm-client                   # Debian's packages
    pip install snakemake-executor-plugin-slurm
    PATH=.venv/bin:$PATH python tests/bench/slurm_nodes.py                # as root, for slurmd starts the jobs
    PATH=.venv/bin:$PATH python tests/bench/slurm_nodes.py 2 144 sessions_per_job=36

munged, slurmctld and slurmd run as plain processes in a temporary folder, with ports and a key of their own, and end
with the script; only Slurm's configuration has to lie where a job looks for it, in /etc/slurm. Debian's slurmd wants a
host name of its own, so each gets one, and a list of processes of its own, by namespaces of the kernel (``unshare``):
all of a node can be ended at once, as by a power cut. All nodes share this machine's cores, each one a part of them,
and its disk, which stands for the file system that every node of a cluster sees. With KEEP set the folder stays.

The arguments are nodes, short sessions, and how these are put into jobs: as on a real cluster where nothing is said.
Without any, five sessions go two to a job on one node, so that there are several jobs soon. ``slurm_faults.py`` has
jobs that are cancelled, run out of time or memory, or lose their node.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from types import TracebackType
from typing import Self

import psutil

TESTS = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(TESTS))

from bench.workflow_cost import write_study  # noqa: E402
from workflow.runs import REPOSITORY, fingerprints  # noqa: E402

CONFIGURED = Path("/etc/slurm/slurm.conf")
PROFILE = REPOSITORY / "config" / "profiles" / "slurm"
CONF = """\
ClusterName=bench
SlurmctldHost={host}
SlurmUser=root
AuthType=auth/munge
AuthInfo=socket={place}/munge/socket
CredType=cred/munge
SlurmctldPort=16817
SlurmctldPidFile={place}/slurmctld.pid
SlurmdPidFile={place}/slurmd.%n.pid
StateSaveLocation={place}/state
SlurmdSpoolDir={place}/spool.%n
SlurmctldLogFile={place}/slurmctld.log
SlurmdLogFile={place}/slurmd.%n.log
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
JobAcctGatherType=jobacct_gather/linux
JobAcctGatherFrequency=task=1
JobAcctGatherParams=OverMemoryKill
SelectType=select/cons_tres
SelectTypeParameters=CR_Core_Memory
ReturnToService=2
MinJobAge=3600
KillWait=5
SlurmdTimeout={patience_s}
PartitionName=all Nodes=ALL Default=YES MaxTime=INFINITE State=UP
"""
NODE = "NodeName={name} NodeHostname={name} NodeAddr=127.0.0.1 Port={port} CPUs={cores} RealMemory={memory}\n"
START_NODE = "hostname {name} && mount -t proc proc /proc && slurmd -D & while true; do sleep 1000; done"
"""The shell stays: the first process of a list clears away what others leave, and its end is that of all."""
LIMIT_S = 60.0


class Slurm:
    """A Slurm of some nodes, up from ``with`` to its end.

    place: the folder that it lives in. nodes: how many. patience_s: how long a silent node counts as alive.
    """

    def __init__(self, place: Path, nodes: int, *, patience_s: int = 30) -> None:
        self.place, self.names = place, [f"node{number}" for number in range(1, nodes + 1)]
        self._patience_s = patience_s
        self._running: dict[str, subprocess.Popen[bytes]] = {}
        self._stack = ExitStack()

    def __enter__(self) -> Self:
        with ExitStack() as stack:
            self._start(stack)
            self._stack = stack.pop_all()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._stack.close()

    def _start(self, stack: ExitStack) -> None:
        if CONFIGURED.exists() or CONFIGURED.is_symlink():
            raise SystemExit(f"{CONFIGURED} is there: this machine has a Slurm of its own, which is not touched")
        signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(128 + number))  # so that all is taken down
        munge = self.place / "munge"
        munge.mkdir(mode=0o711)
        (self.place / "state").mkdir()
        (munge / "key").write_bytes(os.urandom(1024))
        (munge / "key").chmod(0o400)
        (self.place / "slurm.conf").write_text(self._configuration())
        CONFIGURED.parent.mkdir(exist_ok=True)
        CONFIGURED.symlink_to(self.place / "slurm.conf")
        stack.callback(CONFIGURED.unlink)
        stack.callback(self._end)
        files = {"socket": "socket", "pid-file": "pid", "seed-file": "seed", "log-file": "log", "key-file": "key"}
        options = [f"--{option}={munge / name}" for option, name in files.items()]
        self._launch("munged", ["munged", "--foreground", "--force", *options])
        wait_until(lambda: (munge / "socket").exists(), "munged")
        self._launch("slurmctld", ["slurmctld", "-D"])
        for name in self.names:
            self.start_node(name)
        self.wait_for_nodes()

    def _configuration(self) -> str:
        memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") * 9 // 10 // 2**20 // len(self.names)
        share = max(1, (os.cpu_count() or 1) // len(self.names))
        nodes = [
            NODE.format(name=name, port=16818 + number, cores=share, memory=memory)
            for number, name in enumerate(self.names)
        ]
        host = socket.gethostname().split(".")[0]
        return CONF.format(host=host, place=self.place, patience_s=self._patience_s) + "".join(nodes)

    def _launch(self, name: str, command: list[str]) -> None:
        with (self.place / f"{name}.out").open("ab") as out:
            self._running[name] = subprocess.Popen(command, stdout=out, stderr=out)

    def start_node(self, name: str) -> None:
        """Start a node that is not up."""
        apart = ["unshare", "--uts", "--pid", "--mount", "--fork", "--kill-child"]
        (self.place / f"spool.{name}").mkdir(exist_ok=True)
        self._launch(name, [*apart, "bash", "-c", START_NODE.format(name=name)])

    def wait_for_nodes(self) -> None:
        """Wait until every node is there and has nothing to do."""
        idle = ["idle"] * len(self.names)
        wait_until(lambda: asked("sinfo", "-h", "-N", "-o", "%T").split() == idle, "the nodes")

    def deafen(self, name: str) -> None:
        """End a node's slurmd, and not the jobs that it has started."""
        for process in psutil.Process(self._running[name].pid).children(recursive=True):
            if process.name() == "slurmd":
                process.kill()

    def freeze(self, name: str) -> None:
        """Stop whatever makes sessions on a node, so that its job never ends."""
        for process in psutil.Process(self._running[name].pid).children(recursive=True):
            if "worker" in process.cmdline():
                process.suspend()

    def cut_power(self, name: str) -> None:
        """End a node with all that runs on it, without a word."""
        self._running[name].send_signal(signal.SIGKILL)
        self._running.pop(name).wait()

    def restart_node(self, name: str) -> None:
        """Start a node anew, ended or not, and wait until all are there."""
        if name in self._running:
            self.cut_power(name)
        self.start_node(name)
        self.wait_for_nodes()

    def _end(self) -> None:
        subprocess.run(["scancel", "--user=root"], check=False, timeout=LIMIT_S)
        for process in reversed(self._running.values()):
            process.terminate() if process.args[0] != "unshare" else process.kill()  # type: ignore[index]
            process.wait()


def wait_until(true: Callable[[], bool], what: str, limit_s: float = LIMIT_S) -> None:
    """Wait for something to come true."""
    deadline = time.monotonic() + limit_s
    while not true():
        if time.monotonic() > deadline:
            raise SystemExit(f"waited in vain for {what}")
        time.sleep(0.2)


def asked(*command: str) -> str:
    """What a command answers; empty where it fails."""
    return subprocess.run(command, capture_output=True, text=True, check=False).stdout


def jobs() -> list[dict[str, str]]:
    """Every job that Slurm still knows, by Slurm's own names of what is told of it."""
    told = asked("scontrol", "show", "job", "--oneliner").splitlines()
    return [dict(re.findall(r"(\w+)=(\S*)", line)) for line in told if line.startswith("JobId=")]


def told_jobs() -> str:
    """A line for each job: where, how it ended, how long it took."""
    wanted = (
        "JobId",
        "JobState",
        "NodeList",
        "NumCPUs",
        "MinMemoryNode",
        "TimeLimit",
        "RunTime",
        "Restarts",
        "Comment",
    )
    return "\n".join(" ".join(f"{name}={job.get(name, '')}" for name in wanted) for job in jobs())


def at_once(rule: str = "sessions") -> int:
    """How many jobs of a rule ran at the same time at the most."""
    spans = [(job["StartTime"], job["EndTime"]) for job in jobs() if f"rule_{rule}" in job.get("Comment", "")]
    return max((sum(start <= begun < end for start, end in spans) for begun, _ in spans), default=0)


def command(place: Path, results: str, *arguments: str, config: tuple[str, ...] = ()) -> list[str]:
    """The command line of a run with a working directory of its own."""
    (place / f"{results}-run").mkdir(exist_ok=True)
    return [
        *(sys.executable, "-m", "snakemake", "--snakefile", str(REPOSITORY / "Snakefile")),
        *("--directory", str(place / f"{results}-run"), *arguments),
        *("--config", f"study={place / 'study'}", f"results={place / results}", *config),
    ]


def on_slurm(place: Path, results: str, *arguments: str, config: tuple[str, ...] = ()) -> list[str]:
    """The command line of a run on the cluster, one core a job: the nodes here have no four."""
    return command(place, results, "--profile", str(PROFILE), "--set-threads", "sessions=1", *arguments, config=config)


def code_path(package: Path = REPOSITORY / "pipeline") -> dict[str, str]:
    """The environment of a run with the code of a folder."""
    beside = os.environ.get("PYTHONPATH", "")
    return os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, (str(package), beside)))}


def run(line: list[str], log: Path, *, package: Path = REPOSITORY / "pipeline") -> int:
    """Run a command line, what it says into a file; its status."""
    with log.open("w") as out:
        return subprocess.run(
            line, env=code_path(package), stdout=out, stderr=subprocess.STDOUT, check=False
        ).returncode


def compare(place: Path, one: str, other: str) -> bool:
    """Whether two results folders hold the same bytes; says so."""
    first, second = fingerprints(place / one), fingerprints(place / other)
    same = first == second
    print(f"{len(first)} results in {one}, {len(second)} in {other}: {'the same bytes' if same else 'THEY DIFFER'}")
    return same


@contextmanager
def study_of(sessions: int) -> Iterator[Path]:
    """A temporary folder with a study of short sessions; it stays where KEEP is set."""
    place = Path(tempfile.mkdtemp(prefix="firstrocker-slurm-"))
    place.chmod(0o755)
    try:
        write_study(place / "study", sessions)
        yield place
    finally:
        if os.environ.get("KEEP"):
            print(f"kept: {place}")
        else:
            shutil.rmtree(place, ignore_errors=True)


def main() -> int:
    """Run locally and on the cluster, and compare."""
    given = sys.argv[1:] or ["1", "5", "sessions_per_job=2"]
    nodes, sessions, grouped = int(given[0]), int(given[1]), tuple(given[2:])
    with study_of(sessions) as place:
        with Slurm(place, nodes):
            print(asked("sinfo", "-N", "-l"))
            begun = time.monotonic()
            if run(on_slurm(place, "slurm", config=grouped), place / "slurm.out"):
                raise SystemExit((place / "slurm.out").read_text())
            print(
                f"{sessions} sessions by Slurm: {time.monotonic() - begun:.0f} s\n{told_jobs()}\nat once: {at_once()}"
            )
            again = asked(*on_slurm(place, "slurm", "--dry-run", config=grouped))
            print("again: nothing to be done" if "Nothing to be done" in again else again)
        begun = time.monotonic()
        if run(command(place, "local", "--cores", str(os.cpu_count())), place / "local.out"):
            raise SystemExit((place / "local.out").read_text())
        print(f"the same locally: {time.monotonic() - begun:.0f} s")
        return 0 if compare(place, "local", "slurm") else 1


if __name__ == "__main__":
    sys.exit(main())
