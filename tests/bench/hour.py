"""An hour of two logs at 100 Hz, from text to strides: against parsing alone, and against a filter of ``ahrs``.

    python tests/bench/hour.py          # or with a number of minutes

The hour is a simulated walk of some minutes with standing before and after, repeated. Times are the processor's, of one
core, imports left out on all sides (but what the analysis imports on the way). Memory is the greatest resident size of
the process less that after the imports. The loop does less than the analysis: a filter and an integration, no strides.
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

RUNS = 3
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
import sys, time
from collections import Counter
import firstrocker.chain as chain, firstrocker.signals.text, scipy.ndimage, scipy.interpolate, vqf
from firstrocker.settings import Settings
from firstrocker.signals.read import read_session

LEGS = ("align", "track_foot", "check_seat", "track_shank", "find_swings", "find_strides", "curves", "side_evidence",
        "strides_table", "curves_table", "walk_evidence")
spent = Counter()

def timed(name, leg):
    def run(*given, **named):
        before = time.process_time()
        found = leg(*given, **named)
        spent[name] += time.process_time() - before
        return found
    return run

for name in LEGS:
    setattr(chain, name, timed(name, getattr(chain, name)))
memory, before = start(), time.process_time()
given = timed("read_session", read_session)(Path(sys.argv[1]), loggers=Path(sys.argv[1]))
found = chain.analyse(given.person, given.walks, settings=Settings())
used = time.process_time() - before
peak = told("VmHWM") - memory
import hashlib, pyarrow as pa
sink = pa.BufferOutputStream()
with pa.ipc.new_stream(sink, found.strides.schema) as stream:
    stream.write_table(found.strides)
print(used, peak, len(found.strides), hashlib.sha256(sink.getvalue()).hexdigest()[:12])
for name, seconds in spent.most_common():
    print(name, seconds)
"""
)
LOOP = """
import sys, time
import numpy as np, pandas as pd
from ahrs.filters import Madgwick
before = time.process_time()
for path in sys.argv[1:]:
    log = pd.read_csv(path)
    turn = Madgwick(gyr=log[["gx", "gy", "gz"]].to_numpy(), acc=log[["ax", "ay", "az"]].to_numpy(), frequency=100.0).Q
    speed = np.zeros(3)
    for (w, x, y, z), force in zip(turn, log[["ax", "ay", "az"]].to_numpy()):
        turned = np.array([[1-2*(y*y+z*z), 2*(x*y-w*z), 2*(x*z+w*y)], [2*(x*y+w*z), 1-2*(x*x+z*z), 2*(y*z-w*x)],
                           [2*(x*z-w*y), 2*(y*z+w*x), 1-2*(x*x+y*y)]]) @ force
        speed = speed + (turned - [0, 0, 9.81]) / 100
print(time.process_time() - before)
"""


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


def told(code: str, *arguments: Path) -> list[str]:
    """What a process that runs the code prints."""
    own = os.environ | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    done = subprocess.run([sys.executable, "-c", code, *map(str, arguments)], env=own, capture_output=True, text=True)
    if done.returncode:
        raise SystemExit(done.stderr)
    return done.stdout.split()


def main() -> None:
    """Print the three times and their ratios, the memory, and a hash of the strides."""
    minutes = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    with tempfile.TemporaryDirectory(prefix="firstrocker-") as place:
        session = Path(place) / "sub-P01" / "ses-1"
        logs = write_hour(session, minutes)
        # In turn and each three times, the quickest counted: whatever else the machine does slows one or the other.
        runs = [(told(PARSE, *logs), told(OURS, session)) for _ in range(RUNS)]
        loop = told(LOOP, *logs)
    parsed, ours = (min(several, key=lambda run: float(run[0])) for several in zip(*runs, strict=True))
    parse, size, chain, peak = float(parsed[0]), float(parsed[1]), float(ours[0]), float(ours[1])
    print(f"{minutes:.0f} minutes of two logs: {ours[2]} strides, sha256 {ours[3]}")
    print(f"parsing with pyarrow {parse:.2f} s; to strides {chain:.2f} s, that is {chain / parse:.1f} times as long:")
    for name, seconds in zip(ours[4::2], ours[5::2], strict=True):
        print(f"  {name:14} {float(seconds):6.2f} s  {100 * float(seconds) / chain:3.0f} %")
    print(f"memory above start {peak / 1e6:.0f} MB, parsed table {size / 1e6:.0f} MB: {peak / size:.1f} times")
    print(f"pandas, a filter of ahrs and a loop {float(loop[0]):.1f} s: {float(loop[0]) / chain:.0f} times slower")


if __name__ == "__main__":
    main()
