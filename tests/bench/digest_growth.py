"""What the tables over days cost in the morning, as a study grows: with what was kept of former days, and without.

    PYTHONPATH=tests python tests/bench/digest_growth.py 50 30     # people, days

Invented strides (``synth/months.py``), written as sessions' results. Processor times of one run on one core each: all
read anew; one day more of everybody, the others kept; nothing new. The tables are held to be the same bytes.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from pathlib import Path

from firstrocker.layout import MADE
from firstrocker.settings import Settings
from firstrocker.steps.digest import make_digest
from firstrocker.steps.trend import make_trend
from study.home import label, person, stride_rows, write_day


def took(place: Path) -> tuple[float, float, dict[str, bytes]]:
    """Seconds of the processor for the tables and for the page, and what was written."""
    study, results = place / "study", place / "results"
    begun = time.process_time()
    make_trend(study, results, settings=Settings())
    between = time.process_time()
    make_digest(study, results, settings=Settings())
    done = time.process_time()
    files = {path.name: path.read_bytes() for path in sorted((results / "nightly").iterdir())}
    return between - begun, done - between, files


def main() -> None:
    """Print the times and their ratios."""
    people, days = int(sys.argv[1]), int(sys.argv[2])
    with tempfile.TemporaryDirectory(prefix="firstrocker-") as name:
        place = Path(name)
        strides = 0
        last = []
        for number in range(people):
            lived, worn = person(days, number)
            for day in lived:
                strides += day.n
                one = (place, f"P{number:03d}", label(day.day), [stride_rows(day, {})], worn[day.day])
                if day.day < days - 1:
                    write_day(*one[:4], worn_h=one[4])
                else:
                    last.append(one)
        took(place)
        for one in last:
            write_day(*one[:4], worn_h=one[4])
        new, page, first = took(place)
        nothing, _, second = took(place)
        shutil.rmtree(place / "results" / MADE / "days")
        anew, _, third = took(place)
        print(f"{people} people, {days} days, {strides} strides")
        print(f"all read anew {anew:.1f} s, one day more {new:.1f} s, nothing new {nothing:.1f} s")
        print(f"the page, made each night of its tables and every quality.json: {page:.1f} s")
        print(f"one day more takes {new / anew:.2f} of all read anew, nothing new {nothing / anew:.2f}")
        print("the same bytes" if first == second == third else "THEY DIFFER")


if __name__ == "__main__":
    main()
