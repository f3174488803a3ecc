"""Days of four logs at 100 Hz: memory, processor time by the hours, and strides against the truth.

    python tests/bench/day.py              # 6, 12 and 24 h from Parquet, 24 h from text: half an hour of one core
    python tests/bench/day.py parquet 6 12 24
    python tests/bench/day.py csv 6

The days are invented (``synth/day.py``): one person at home, a third of the time night, walks of 3 to 40 strides
between sitting, fidgeting, pedalling and being driven; clocks 20 to 80 ppm fast or slow that wander besides, one logger
that begins anew, sensors put on again otherwise at midday and laid on the table for a sixth of the time. Numbers
measured on them are not numbers measured on people. The files (3 GB of text for a day) are removed afterwards.
"""

from __future__ import annotations

import itertools
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pyarrow.compute as pc
import pyarrow.parquet as pq

from firstrocker.model import SIDES, FloatArray, Segment, Side
from firstrocker.synth.day import Clock, Day, Faults, Stroll, plan_day, strolls
from firstrocker.synth.day_logs import write_day
from firstrocker.synth.pastimes import RATE_HZ

STRIDES_PER_HOUR = 4000 / 24
CLOCKS: dict[tuple[Segment, Side], Clock] = {
    ("foot", "left"): Clock(12.0, 20.0, 10.0),
    ("shank", "left"): Clock(3.0, -60.0, 15.0),
    ("foot", "right"): Clock(15.5, 80.0, 10.0),
    ("shank", "right"): Clock(11.0, -20.0, -15.0),
}
STOPPED_S = 40.0
RUN = """
import resource, sys, time
from pathlib import Path
from firstrocker.settings import Settings
from firstrocker.steps.letter import make_letter
from firstrocker.steps.report import make_report
from firstrocker.steps.strides import make_strides
from firstrocker.steps.study import make_study
source, out, settings = Path(sys.argv[1]), Path(sys.argv[2]), Settings()
def used():
    own, children = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return time.process_time(), (own.ru_maxrss + children.ru_maxrss) / 1024
begun = time.process_time()
make_strides(source, out, settings=settings, loggers=source)
strides, most = used()
make_study(out, settings=settings)
make_report(out, settings=settings, follow_up=False)
make_letter(out, settings=settings)
done, most_of_all = used()
print(strides - begun, most, done - begun, most_of_all)
"""


def main() -> None:
    """Write days, make each a session, and print what that took and what was found."""
    wanted = [("parquet", 6.0), ("parquet", 12.0), ("parquet", 24.0), ("csv", 24.0)]
    if len(sys.argv) > 1:
        wanted = [(sys.argv[1], float(hours)) for hours in sys.argv[2:]]
    walks = strolls("slap", seed=50)
    times: dict[float, float] = {}
    for suffix, hours in wanted:
        with tempfile.TemporaryDirectory(prefix="firstrocker-day-", dir=os.environ.get("BENCH_DIR")) as place:
            folder, out = Path(place) / "study" / "sub-D1" / "ses-1", Path(place) / "results" / "sub-D1" / "ses-1"
            day = plan_day(walks, hours=hours, strides=round(STRIDES_PER_HOUR * hours), seed=3)
            faults = Faults(
                clocks=CLOCKS,
                restart=(("shank", "right"), 0.6 * day.duration_s, STOPPED_S),
                remount_at=seated_after(day, walks, 0.5 * day.duration_s),
            )
            write_day(folder, day, walks, faults, seed=9, suffix=suffix)
            size = sum(path.stat().st_size for path in folder.glob(f"*.{suffix}"))
            own = os.environ | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
            done = subprocess.run(
                [sys.executable, "-c", RUN, str(folder), str(out)], env=own, capture_output=True, text=True
            )
            if done.returncode:
                raise SystemExit(done.stderr)
            took, most, all_took, most_of_all = (float(value) for value in done.stdout.split())
            print(f"{day.duration_s / 3600:.1f} h of four logs from {suffix}, {size / 1e6:.0f} MB:")
            print(f"  to strides {took:.0f} s of processor time, at most {most:.0f} MB of memory")
            print(f"  with summary, report and letter {all_took:.0f} s, {most_of_all:.0f} MB")
            compare(out, day, faults)
            if suffix == wanted[0][0]:
                times[day.duration_s / 3600] = took
            shutil.rmtree(folder)
    hours_run = sorted(times)
    for one, two in itertools.pairwise(hours_run):
        print(f"{two / one:.2f} times the hours took {times[two] / times[one]:.2f} times the time")


def seated_after(day: Day, walks: list[Stroll], time: float) -> float:
    """When the first sitting after a time begins, s: sensors are put on anew there."""
    at = 0.0
    for what, amount in day.parts:
        if at > time and what == "sit":
            return round(at, 2)
        at += len(walks[int(amount)]) / RATE_HZ if what == "walk" else amount
    return at


def on_first_foot(times: FloatArray) -> FloatArray:
    """True times on the walk's clock."""
    clock = CLOCKS["foot", "left"]
    return clock.shows(times) - float(clock.shows(np.zeros(1))[0])


def shifts(true: FloatArray, begins: FloatArray, reach_s: float = 1.5) -> FloatArray:
    """By how much each true heel strike's walk is dated off, s: as most of its strides say."""
    out = np.zeros(len(true))
    walks = np.concatenate([[0], np.cumsum(np.diff(true) > 4.0)])
    for walk in np.unique(walks):
        mine = true[walks == walk]
        tried = [begin - mine[0] for begin in begins if abs(begin - mine[0]) < reach_s]
        tried += [begin - mine[-1] for begin in begins if abs(begin - mine[-1]) < reach_s]
        fits = [sum(np.nanmin(np.abs(begins - time - shift)) < 0.03 for time in mine) for shift in tried]
        if fits:
            most = max(fits)
            out[walks == walk] = min((s for s, fit in zip(tried, fits, strict=True) if fit == most), key=abs)
    return out


def compare(out: Path, day: Day, faults: Faults) -> None:
    """Print the strides found against the true ones, and wear against the truth."""
    strides = pq.read_table(out / "strides.parquet")
    for side in SIDES:
        true = on_first_foot(day.strides[side])
        mine = strides.filter(pc.equal(strides["side"], side)).to_pandas()
        begins, ends = (mine[name].to_numpy(dtype=float) for name in ("heel_strike_s", "next_heel_strike_s"))
        # How the other foot's clock lies is known to a second or so: each walk is laid on its own.
        shift = np.zeros(len(true)) if side == "left" else shifts(true[:, 0], begins)
        near = np.array([int(np.nanargmin(np.abs(begins - time))) for time in true[:, 0] + shift])
        found = np.abs(begins[near] - true[:, 0] - shift) < 0.1
        off = 1000.0 * (begins[near] - true[:, 0])[found]
        lengths = 1000.0 * ((ends - begins)[near] - (true[:, 1] - true[:, 0]))[found]
        ankle = mine["ankle_heel_strike_deg"].notna().to_numpy()[near][found].mean()
        print(
            f"  {side}: {found.sum()} of {len(true)} strides found ({100 * found.mean():.2f} %), "
            f"{len(mine) - len(set(near[found]))} that were none, {int(mine['steady'].sum())} steady; heel strike "
            f"{np.median(off):+.1f} +- {np.std(off):.1f} ms, stride time {np.nanmean(lengths):+.2f} +- "
            f"{np.nanstd(lengths):.2f} ms, ankle in {100 * ankle:.1f} %"
        )
    wear = pq.read_table(out / "wear.parquet").to_pandas()
    off_s = sum(stop - first for first, stop in day.off)
    for row in wear.itertuples():
        stopped = STOPPED_S if faults.restart is not None and (row.segment, row.side) == faults.restart[0] else 0.0
        true_s = day.duration_s - off_s - stopped
        print(
            f"  {row.side} {row.segment}: recorded {row.recorded_s / 3600:.2f} h, worn {row.worn_s / 3600:.2f} h "
            f"(truth {true_s / 3600:.2f}), walked {row.walking_s / 3600:.2f} h"
        )


if __name__ == "__main__":
    main()
