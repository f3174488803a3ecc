"""One run at a time, and no job that outlives its run; nothing to unlock, however a run ended."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from firstrocker.errors import SettingsError
from firstrocker.guard import BusyError, begin_run, hold
from workflow.kills import processes_in, wait_for

RUN = """
import subprocess, sys, time
from pathlib import Path
from firstrocker.errors import SettingsError
from firstrocker.guard import begin_run
begin_run(Path("results"), place=Path("."))
if len(sys.argv) > 1:
    subprocess.Popen([sys.executable, "-c", sys.argv[1]])
    while not Path("working").exists():
        time.sleep(0.01)
Path("begun").touch()
time.sleep(100)
"""
BEGIN = """
import sys
from pathlib import Path
from firstrocker.errors import SettingsError
from firstrocker.guard import begin_run
begin_run(Path(sys.argv[1]), place=Path(sys.argv[2]))
"""
JOB = """
import time
from pathlib import Path
from firstrocker.errors import SettingsError
from firstrocker.guard import live_within
live_within(Path("results"))
Path("working").touch()
for _ in range(2000):
    time.sleep(0.05)
    Path("working").write_text(str(time.time()))
"""


@contextmanager
def run(place: Path, *job: str) -> Iterator[subprocess.Popen[bytes]]:
    running = subprocess.Popen([sys.executable, "-c", RUN, *job], cwd=place)
    try:
        deadline = time.monotonic() + 30
        while not (place / "begun").exists():
            assert time.monotonic() < deadline
            assert running.poll() is None
            time.sleep(0.02)
        yield running
    finally:
        running.kill()
        running.wait()


def begin(place: Path, *, results: str = "results", directory: str = "") -> None:
    """Begin a run in a process of its own, which then ends; its last words are raised again."""
    done = subprocess.run(
        [sys.executable, "-c", BEGIN, results, directory], cwd=place, capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise BusyError(done.stderr.strip().splitlines()[-1])


@pytest.mark.parametrize(("results", "directory"), [("results", "."), ("results", "other"), ("others", ".")])
def test_a_second_run_in_the_same_place_is_told(tmp_path: Path, results: str, directory: str) -> None:
    with run(tmp_path) as first:
        with pytest.raises(BusyError, match=rf"another run is at work here \(process {first.pid}\)"):
            begin(tmp_path, results=results, directory=directory)
        begin(tmp_path, results="others", directory="other")


def test_who_has_it_is_told_with_the_machine_where_that_is_another(tmp_path: Path) -> None:
    lock = hold(tmp_path / "lock", tmp_path, "Wait.")
    try:
        with pytest.raises(BusyError, match=rf"\(process {os.getpid()}\)\. Wait\."):
            hold(tmp_path / "lock", tmp_path, "Wait.")
        (tmp_path / "lock").write_text("12 the-other-one\n")
        with pytest.raises(BusyError, match=r"\(process 12 on the-other-one\)"):
            hold(tmp_path / "lock", tmp_path, "Wait.")
    finally:
        os.close(lock)
    os.close(hold(tmp_path / "lock", tmp_path, "Wait."))


def test_results_that_cannot_be_written_are_told(tmp_path: Path) -> None:
    (tmp_path / "results").write_text("a file")
    with pytest.raises(SettingsError, match="nothing can be written there"):
        begin_run(tmp_path / "results", place=tmp_path)


def test_a_run_that_was_killed_holds_nothing(tmp_path: Path) -> None:
    with run(tmp_path) as first:
        (tmp_path / ".snakemake" / "locks").mkdir(parents=True)
        (tmp_path / "results" / ".made" / "parts").mkdir()
        os.kill(first.pid, signal.SIGKILL)
        first.wait()
        begin(tmp_path)
    assert not (tmp_path / ".snakemake" / "locks").exists()
    assert not (tmp_path / "results" / ".made" / "parts").exists()


def test_a_job_ends_with_its_run_and_is_waited_for(tmp_path: Path) -> None:
    with run(tmp_path, JOB) as first:
        os.kill(first.pid, signal.SIGKILL)
        first.wait()
        begin(tmp_path)
        last = (tmp_path / "working").read_text()
        time.sleep(0.2)
        assert (tmp_path / "working").read_text() == last


def test_jobs_that_do_not_end_are_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import firstrocker.guard as guard

    monkeypatch.setattr(guard, "PATIENCE_S", 0.3)
    with run(tmp_path / ".", JOB) as first:
        (tmp_path / "other").mkdir()
        os.kill(first.pid, signal.SIGSTOP)  # neither gone nor at work: its job goes on
        with pytest.raises(BusyError):
            begin_run(tmp_path / "results", place=tmp_path / "other")
        os.kill(first.pid, signal.SIGCONT)


STARTER = """
import os, subprocess, sys, time
from firstrocker.errors import SettingsError
from firstrocker.guard import started_here
child = subprocess.Popen([sys.executable, "-c", sys.argv[1]], env=started_here(os.environ), start_new_session=True)
print(child.pid, flush=True)
time.sleep(100)
"""
STARTED = """
import time
from firstrocker.errors import SettingsError
from firstrocker.guard import end_with_starter
end_with_starter()
open("working", "w").close()
time.sleep(100)
"""


def test_a_run_ends_with_who_started_it(tmp_path: Path) -> None:
    line = [sys.executable, "-c", STARTER, STARTED]
    with subprocess.Popen(line, cwd=tmp_path, stdout=subprocess.PIPE, text=True) as starter:
        assert starter.stdout is not None
        child = int(starter.stdout.readline())
        wait_for(lambda: (tmp_path / "working").exists(), seconds=30)
        time.sleep(0.3)
        assert sorted(processes_in(tmp_path)) == sorted([starter.pid, child])
        starter.kill()
        starter.wait()
        wait_for(lambda: processes_in(tmp_path) == [], seconds=10)


STOPPED = """
import signal, subprocess, sys, time
from pathlib import Path
from firstrocker.steps import night
if "nohup" in sys.argv:
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
work = "import time; open('working', 'w').close(); time.sleep(3 if 'nohup' in %r else 100)" % sys.argv
print(*night._run([sys.executable, "-c", work], subprocess.DEVNULL, cache=Path("cache")))
"""


@pytest.mark.parametrize(
    ("number", "more", "told"),
    [
        (signal.SIGTERM, [], "-15 True"),
        (signal.SIGHUP, [], "-15 True"),
        (signal.SIGINT, [], "-15 True"),
        (signal.SIGHUP, ["nohup"], "0 False"),
    ],
)
def test_a_night_that_is_told_to_stop_ends_what_it_started(
    tmp_path: Path, number: signal.Signals, more: list[str], told: str
) -> None:
    line = [sys.executable, "-c", STOPPED, *more]
    with subprocess.Popen(line, cwd=tmp_path, stdout=subprocess.PIPE, text=True) as night:
        wait_for(lambda: (tmp_path / "working").exists(), seconds=30)
        night.send_signal(number)
        said, _ = night.communicate(timeout=30)
    assert said.strip() == told
    assert processes_in(tmp_path) == []
