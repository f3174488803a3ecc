"""An hour of two logs at 100 Hz, from text to strides: against parsing alone, and against a filter of ``ahrs``.

    python tests/bench/hour.py          # or with a number of minutes
    python tests/bench/hour.py 60 memory

The hour is a simulated walk of some minutes with standing before and after, repeated. Times are the processor's, of one
core, imports left out on all sides (among them pandas, which pyarrow imports when it is first handed a number; but not
what the analysis imports on the way). Memory is the greatest resident size of the process less that after the imports.
The plain loop is ``plain_strides.py``: from the same text to strides with their length, events, toe height and slap,
and to nothing else.

With ``memory``: the course of it leg by leg, in MB above that after the imports; the peak lies in the leg whose highest
is the highest. Its times are not told, for telling memory takes time.
"""

from __future__ import annotations

import csv
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

TESTS = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(TESTS))

from firstrocker.synth.gaits import GAITS  # noqa: E402
from firstrocker.synth.sensors import ORDINARY  # noqa: E402
from firstrocker.synth.trial import log_pair  # noqa: E402
from firstrocker.synth.walker import walk  # noqa: E402
from workflow.small_study import HEADER, SESSION, WALK  # noqa: E402

RUNS = 9
LEAST_SHOWN, LEAST_BYTES = 0.003, 1e6
"""Share of the whole time, and change of memory, from which a leg has a line of its own."""
MEMORY = """
import re
from pathlib import Path

def told(what):
    return 1024 * int(re.search(rf"{what}:\\s+(\\d+)", Path("/proc/self/status").read_text())[1])

def start():
    Path("/proc/self/clear_refs").write_text("5")  # the peak so far is forgotten: it may be a parent's
    return told("VmRSS")
"""
PARSE = """
import sys
import time
import pyarrow as pa, pyarrow.csv as pc
before = time.process_time()
tables = [pc.read_csv(path, read_options=pc.ReadOptions(use_threads=False)) for path in sys.argv[1:]]
print(time.process_time() - before, sum(table.nbytes for table in tables))
"""
OURS = (
    MEMORY
    + """
import inspect, sys, time
from collections import Counter
import firstrocker.chain as chain, firstrocker.signals.text, pandas, scipy.ndimage, scipy.interpolate, vqf
from firstrocker.settings import Settings
from firstrocker.signals.read import read_session

# The legs are what the chain takes from the other folders.
OTHERS = ("firstrocker.signals.", "firstrocker.motion.", "firstrocker.gait.")
LEGS = [name for name, leg in vars(chain).items() if inspect.isfunction(leg) and leg.__module__.startswith(OTHERS)]
spent = Counter()
course = []

def timed(name, leg):
    def run(*given, **named):
        before = time.process_time()
        found = leg(*given, **named)
        spent[name] += time.process_time() - before
        return found
    return run

def watched(name, leg):
    def run(*given, **named):
        course.append(("between", told("VmHWM"), start()))
        found = leg(*given, **named)
        course.append((name, told("VmHWM"), start()))
        return found
    return run

watch = sys.argv[2:] == ["memory"]
wrapped = watched if watch else timed
for name in LEGS:
    setattr(chain, name, wrapped(name, getattr(chain, name)))
memory, before = start(), time.process_time()
given = wrapped("read_session", read_session)(Path(sys.argv[1]), loggers=Path(sys.argv[1]))
found = chain.analyse(given.person, given.handed_over(), settings=Settings())
used = time.process_time() - before
peak = told("VmHWM") - memory
if watch:
    for name, highest, after in (*course, ("between", told("VmHWM"), told("VmRSS"))):
        print(name, highest - memory, after - memory)
    sys.exit()
import hashlib, pyarrow as pa
sink = pa.BufferOutputStream()
with pa.ipc.new_stream(sink, found.strides.schema) as stream:
    stream.write_table(found.strides)
print(used, peak, len(found.strides), hashlib.sha256(sink.getvalue()).hexdigest()[:12])
spent["else"] = used - spent.total()
for name, seconds in spent.most_common():
    print(name, seconds)
"""
)
PLAIN = (TESTS / "bench" / "plain_strides.py").read_text(encoding="utf-8")


def write_hour(folder: Path, minutes: float) -> list[Path]:
    """A session of one long walk; its two logs."""
    folder.mkdir(parents=True)
    text = SESSION.format(subject=folder.parent.name.removeprefix("sub-"))
    (folder / "session.yaml").write_text(text + WALK.format(walk="a", condition="condition: unbraced"))
    walker = walk(GAITS["slap"], seed=1, strides=20, bouts=4, standing_s=3.0)
    logs = []
    for log in log_pair(walker, "left", ORDINARY, 1):
        rows = np.column_stack([log.time, log.acceleration, log.angular_velocity])
        length = rows[-1, 0] - rows[0, 0] + 0.01
        times = int(np.ceil(minutes * 60 / length))
        long = np.concatenate([rows + np.r_[number * length, np.zeros(6)] for number in range(times)])
        path = folder / f"a_{log.segment}.csv"
        with path.open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            writer.writerow(HEADER)
            writer.writerows([[f"{value:.5f}" for value in row] for row in long])
        logs.append(path)
    return logs


def told(code: str, *arguments: Path | str) -> list[str]:
    """What a process that runs the code prints."""
    own = os.environ | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    done = subprocess.run([sys.executable, "-c", code, *map(str, arguments)], env=own, capture_output=True, text=True)
    if done.returncode:
        raise SystemExit(done.stderr)
    return done.stdout.split()


def show_memory(session: Path) -> None:
    """Print how high memory rose in each leg, and how high it stood after it; legs that changed nothing left out."""
    rows = told(OURS, session, "memory")
    print(f"{'leg':18} {'highest':>8} {'after':>8}  MB above start")
    before = 0.0
    for name, highest, after in zip(rows[::3], rows[1::3], rows[2::3], strict=True):
        if max(abs(float(number) - before) for number in (highest, after)) > LEAST_BYTES:
            print(f"{name:18} {int(highest) / 1e6:8.0f} {int(after) / 1e6:8.0f}")
        before = float(after)


def main() -> None:
    """Print the three times and their ratios, the memory, and a hash of the strides."""
    minutes = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    with tempfile.TemporaryDirectory(prefix="firstrocker-") as place:
        session = Path(place) / "sub-P01" / "ses-1"
        logs = write_hour(session, minutes)
        if sys.argv[2:] == ["memory"]:
            show_memory(session)
            return
        # In turn, for a shared machine is now quicker and now slower: each pair of neighbours has a ratio of its own.
        runs = [(told(PARSE, *logs), told(OURS, session)) for _ in range(RUNS)]
        plain = told(PLAIN, *logs)
    ratios = sorted(float(ours[0]) / float(parsed[0]) for parsed, ours in runs)
    parsed, ours = (sorted(several, key=lambda run: float(run[0]))[RUNS // 2] for several in zip(*runs, strict=True))
    parse, size, chain, peak = float(parsed[0]), float(parsed[1]), float(ours[0]), float(ours[1])
    print(f"{minutes:.0f} minutes of two logs: {ours[2]} strides, sha256 {ours[3]}")
    print(
        f"parsing with pyarrow {parse:.2f} s; to strides {chain:.2f} s, that is {ratios[RUNS // 2]:.1f} times as long "
        f"({ratios[0]:.1f} to {ratios[-1]:.1f} in {RUNS} runs):"
    )
    legs = [(name, float(seconds)) for name, seconds in zip(ours[4::2], ours[5::2], strict=True)]
    small = sum(seconds for _, seconds in legs if seconds < LEAST_SHOWN * chain)
    for name, seconds in (*(leg for leg in legs if leg[1] >= LEAST_SHOWN * chain), ("legs below", small)):
        print(f"  {name:18} {seconds:6.2f} s  {100 * seconds / chain:3.0f} %")
    print(f"memory above start {peak / 1e6:.0f} MB, parsed table {size / 1e6:.0f} MB: {peak / size:.1f} times")
    print(
        f"pandas, a filter of ahrs and a loop {float(plain[0]):.1f} s, {float(plain[0]) / chain:.0f} times as long; "
        f"{plain[1]} strides, {float(plain[2]):.2f} m long on average"
    )


if __name__ == "__main__":
    main()
