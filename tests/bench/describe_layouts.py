"""How often `firstrocker describe` is right, unsure, or sure and wrong, over made-up layouts of simulated walks.

Run from the repository's top: PYTHONPATH=tests python tests/bench/describe_layouts.py 200
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from firstrocker.errors import FirstrockerError
from firstrocker.signals.describe import describe
from signals.layouts import ASKS, WRONG, any_layout, judge, write


def main(count: int, seed: int) -> int:
    """Print what came of it; the number of proposals that were wrong and sure."""
    rng = np.random.default_rng(seed)
    results: Counter[str] = Counter()
    with TemporaryDirectory() as folder:
        for n in range(count):
            made = any_layout(rng)
            path = Path(folder) / "log.any"
            truth = write(made, path)
            try:
                result, why = judge(describe(path), path, truth)
            except FirstrockerError as error:
                result, why = "refused", str(error)
            results[result] += 1
            if result != "right" and not (result == ASKS and (made.turning == "counts" or "sampling_rate" in why)):
                print(n, result, why, made)
    for result, times in results.most_common():
        print(f"{times:5d} {result}")
    return results[WRONG]


if __name__ == "__main__":
    numbers = [int(one) for one in sys.argv[1:]]
    raise SystemExit(main(numbers[0] if numbers else 100, numbers[1] if len(numbers) > 1 else 1))
