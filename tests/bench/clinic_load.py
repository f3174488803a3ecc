"""The clinic's page under load: N uploads at once in seconds and megabytes, and a session's way from run to report.

``python tests/bench/clinic_load.py 20``
"""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from web.served import Server, Visitor
from web.small_session import WORN, parts


def family(process: int) -> Iterator[int]:
    """A process and all that it started."""
    yield process
    for task in Path(f"/proc/{process}/task").glob("*/children"):
        for child in task.read_text().split():
            yield from family(int(child))


def megabytes(process: int) -> dict[str, float]:
    """Resident memory of a process and its children, by what they are."""
    held: dict[str, float] = {}
    for number in family(process):
        try:
            lines = Path(f"/proc/{number}/status").read_text().splitlines()
        except OSError:
            continue
        resident = next((int(line.split()[1]) / 1024 for line in lines if line.startswith("VmRSS")), 0.0)
        held["server" if number == process else "others"] = held.get("server" if number == process else "others", 0.0)
        held["server" if number == process else "others"] += resident
    return held


def walks(strides: int) -> dict[str, bytes]:
    """Four invented walks of both segments, as a known logger writes them."""
    from firstrocker.synth.study import _write_session, demo_sessions

    with TemporaryDirectory() as folder:
        _write_session(Path(folder), demo_sessions()[0], seed=7, strides=strides)
        return {path.name: path.read_bytes() for path in Path(folder).rglob("*.csv")}


def worn() -> dict[str, str]:
    """Their details."""
    filled = dict(WORN)
    for number, (letter, label, resistance) in enumerate((("c", "medium", "60"), ("d", "firm", "70")), 3):
        filled |= {f"walk{number}": letter, f"condition{number}": "braced", f"label{number}": label}
        filled |= {f"resistance{number}": resistance, f"unit{number}": "Shore A"}
    return filled


def main(uploads: int) -> None:
    """Measure and print."""
    files = walks(20)
    size = sum(map(len, files.values())) / 1e6
    with TemporaryDirectory() as folder:
        server = Server(Path(folder) / "clinic").start()
        assert server.process is not None
        number = server.process.pid
        visitor = server.account("load")
        sessions = []
        for n in range(uploads):
            session = visitor.new_session(f"P{n}")
            visitor.post(f"{session}/details", **worn(), go="on")
            sessions.append(session)
        most: dict[str, float] = {}
        over = threading.Event()

        def watch() -> None:
            while not over.wait(0.05):
                for who, held in megabytes(number).items():
                    most[who] = max(most.get(who, 0.0), held)

        watching = threading.Thread(target=watch)
        watching.start()
        print(f"before: {megabytes(number)}")
        began = time.monotonic()

        def hand_in(session: str) -> float:
            one = Visitor(server.address)
            one.client.cookies.update(visitor.client.cookies)
            one.get(f"{session}/logs")
            one.upload(f"{session}/logs", parts(files))
            assert "Before it can run" not in one.page
            return time.monotonic() - began

        with ThreadPoolExecutor(uploads) as at_once:
            done = list(at_once.map(hand_in, sessions))
        told = f"{uploads} uploads of {len(files)} logs, {size:.1f} MB each"
        print(f"{told}: first {min(done):.1f} s, last {max(done):.1f} s")
        print(f"most resident, MB: {most}")
        visitor.get(f"{sessions[0]}/logs")
        began = time.monotonic()
        visitor.post(f"{sessions[0]}/run")
        visitor.wait_for_report(sessions[0])
        print(f"from run to report, four walks of 40 strides: {time.monotonic() - began:.1f} s")
        over.set()
        watching.join()
        server.stop()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
