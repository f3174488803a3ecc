"""Nights killed at random moments while loggers write, and gone on with the next night: is the end the same?

    python tests/bench/night_kills.py 30        # nights that are killed

A file of the inbox is written, in two halves or whole, before every night; every night's processes are all killed by
SIGKILL at a moment drawn from the length of an undisturbed night, early ones more often. At no time may a session of
the study be other than whole; after all has come and one night is left alone, study and results must be those of a
study that nothing disturbed.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import sys
import tempfile
import time
from contextlib import suppress
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(TESTS))

from nightly.inboxes import held  # noqa: E402
from nightly.nights import night, night_line  # noqa: E402
from workflow.kills import halves, start  # noqa: E402
from workflow.runs import fingerprints  # noqa: E402
from workflow.small_study import write_session  # noqa: E402

PEOPLE = ("P01", "P02")


def main() -> None:
    """Print how each kill ended, and whether the end is the same."""
    kills = int(sys.argv[1])
    draw = random.Random(1)  # noqa: S311
    top = Path(tempfile.mkdtemp(prefix="firstrocker-"))
    try:
        whole, place = top / "whole", top / "place"
        for seed, person in enumerate(PEOPLE):
            write_session(whole / "inbox", person, seed=seed, walks="a")
        before = time.perf_counter()
        if night(whole).status:
            raise SystemExit("the undisturbed night failed")
        length = time.perf_counter() - before
        undisturbed = results_of(whole)
        print(f"an undisturbed night: {length:.1f} s, {len(undisturbed)} results", flush=True)
        files = [path.relative_to(whole / "inbox") for path in sorted((whole / "inbox").rglob("*")) if path.is_file()]
        shutil.copytree(whole / "inbox" / "sub-P01", place / "inbox" / "sub-P01")
        wrong = 0
        for number in range(kills):
            file = draw.choice(files)
            content = (whole / "inbox" / file).read_bytes()
            half = content[: draw.randrange(len(content))] if draw.random() < 0.4 else content
            (place / "inbox" / file).parent.mkdir(parents=True, exist_ok=True)
            (place / "inbox" / file).write_bytes(half)
            run, moment = start(place, *night_line()), length * draw.random() ** 2
            time.sleep(moment)
            ended = run.poll() is not None
            kill_family(run.pid)
            run.wait()
            bad = broken(place) + [
                told for told in halves(place / "results") if not told.split(":")[0].endswith(".txt")
            ]
            wrong += bool(bad)
            print(f"{number + 1:3d} {file} after {moment:.1f} s{' (had ended)' if ended else ''}", *bad, flush=True)
        for file in files:
            (place / "inbox" / file).write_bytes((whole / "inbox" / file).read_bytes())
        last = night(place)
        same = results_of(place) == undisturbed and held(place / "study") == held(whole / "study")
        print(f"{kills} nights killed, {wrong} times not all was whole; at the end {'the same' if same else 'OTHERS'}")
        if not same:
            print(last.text)
        raise SystemExit(0 if same and not wrong else 1)
    finally:
        shutil.rmtree(top, ignore_errors=True)


def results_of(place: Path) -> dict[str, str]:
    """Fingerprints of all results but the account of the nights, which tells of hours."""
    return {name: sha for name, sha in fingerprints(place / "results").items() if not name.startswith("nightly/")}


def broken(place: Path) -> list[str]:
    """Sessions of the study that lack what they began with: their three files."""
    folders = sorted((place / "study").glob("sub-*/ses-*"))
    return [str(folder) for folder in folders if len([p for p in folder.iterdir() if p.name[0] != "."]) != 3]


def kill_family(process: int) -> None:
    """Kill a process and all that it started, at once."""
    import psutil

    with suppress(psutil.NoSuchProcess):
        for one in psutil.Process(process).children(recursive=True):
            with suppress(psutil.NoSuchProcess):
                one.kill()
    with suppress(ProcessLookupError):
        os.killpg(process, signal.SIGKILL)


if __name__ == "__main__":
    main()
