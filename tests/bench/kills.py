"""Runs killed at random moments, in every way there is, and started again: is the end the same?

    python tests/bench/kills.py 30          # kills

Each is killed at a moment drawn evenly over the length of an undisturbed run, looked at for half files, and started
again with the same command.
"""

from __future__ import annotations

import random
import shutil
import sys
import tempfile
import time
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(TESTS))

from workflow.kills import PATHS, WAYS, halves, kill, start  # noqa: E402
from workflow.runs import fingerprints, snakemake  # noqa: E402
from workflow.small_study import write_session  # noqa: E402

PEOPLE = ("P01", "P02", "P03", "P04")


def main() -> None:
    """Print how each kill ended, and how many came to another end."""
    kills = int(sys.argv[1])
    draw = random.Random(1)  # noqa: S311
    place = Path(tempfile.mkdtemp(prefix="firstrocker-"))
    try:
        for seed, person in enumerate(PEOPLE):
            write_session(place / "study", person, seed=seed, walks="a")
        before = time.perf_counter()
        if snakemake(place, *PATHS).status:
            raise SystemExit("the undisturbed run failed")
        length, undisturbed = time.perf_counter() - before, fingerprints(place / "results")
        print(f"an undisturbed run: {length:.1f} s, {len(undisturbed)} results", flush=True)
        wrong = 0
        for number in range(kills):
            way = list(WAYS)[number % len(WAYS)]
            shutil.rmtree(place / "results")
            shutil.rmtree(place / ".snakemake")
            run, moment = start(place), draw.uniform(0, length)
            time.sleep(moment)
            ended = run.poll() is not None
            kill(run, way)
            broken, there = halves(place / "results"), len(fingerprints(place / "results"))
            again = snakemake(place, *PATHS)
            same = fingerprints(place / "results") == undisturbed
            left = list((place / "results").rglob("*.part"))
            good = not broken and again.status == 0 and same and not left
            wrong += not good
            print(
                f"{number + 1:3d} {way} after {moment:.1f} s, {there} results there"
                f"{' (had ended)' if ended else ''}: {'the same end' if good else 'ANOTHER END'}",
                *broken,
                *left,
                flush=True,
            )
            if not good:
                print(again.text)
        print(f"{kills} kills, {wrong} came to another end")
        raise SystemExit(1 if wrong else 0)
    finally:
        shutil.rmtree(place, ignore_errors=True)


if __name__ == "__main__":
    main()
