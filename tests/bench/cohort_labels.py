"""How often the cohort asks about labels that are right, and about exchanged ones.

Use: ``python tests/bench/cohort_labels.py [draws]``. Per number of people and size of the change, in standard
deviations of what people's own changes differ by: studies in 100 in which anyone is asked about; and those in which the
one person with unbraced and braced exchanged is. Then the same of legs, the other leg not changing. One measure; a page
looks at four. Simulated, normal.
"""

from __future__ import annotations

import sys

import numpy as np
import pyarrow as pa

from firstrocker import tables
from firstrocker.study.mislabelled import turned_round


def asked(affected: np.ndarray, other: np.ndarray, labels: str) -> set[str]:
    """Whom one study asks about."""
    rows = [
        {"subject": str(place), "leg": leg, "measure": "slap_rate_deg_s", "difference": float(value)}
        for leg, values in (("affected", affected), ("other", other))
        for place, value in enumerate(values)
    ]
    found = turned_round(pa.Table.from_pylist(rows, schema=tables.PEOPLE))
    return {one.subject for one in found if one.labels == labels}


def main(draws: int) -> None:
    """Print the table."""
    print(
        f"{'people':>6}{'size':>6}"
        + "".join(f"{name:>24}" for name in ("conditions: right", "exchanged", "legs: right", "exchanged"))
    )
    for people in (6, 8, 12, 30):
        for size in (0.5, 1.0, 2.0, 3.0, 5.0):
            rng = np.random.default_rng(people)
            counts = np.zeros(4)
            for _ in range(draws):
                affected, other = size + rng.standard_normal(people), rng.standard_normal(people)
                turned = np.concatenate([[-affected[0]], affected[1:]])
                sides = np.concatenate([other[:1], affected[1:]]), np.concatenate([affected[:1], other[1:]])
                counts += [
                    bool(asked(affected, other, "conditions")),
                    "0" in asked(turned, other, "conditions"),
                    bool(asked(affected, other, "legs")),
                    "0" in asked(*sides, "legs"),
                ]
            print(f"{people:6}{size:6.1f}" + "".join(f"{100 * share:24.1f}" for share in counts / draws), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
