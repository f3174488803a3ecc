"""How often a wrong label is asked about, and a right one: ``python tests/bench/hazard_rates.py [sessions]``.

Run with ``tests`` on the path. Simulated sessions: people do not walk so.
"""

from __future__ import annotations

import sys
from collections import Counter

from report.hazard_sessions import AFFECTED, tuning_session, two_sided_session

EXCHANGED = {
    "as walked": {},
    "unbraced and soft exchanged": {"a": "b", "b": "a"},
    "unbraced and medium exchanged": {"a": "c", "c": "a"},
    "unbraced and firm exchanged": {"a": "d", "d": "a"},
    "soft and medium exchanged": {"b": "c", "c": "b"},
    "medium and firm exchanged": {"c": "d", "d": "c"},
    "soft and firm exchanged": {"b": "d", "d": "b"},
}


def main(sessions: int) -> None:
    asked: Counter[tuple[str, str]] = Counter()
    for seed in range(sessions):
        session = tuning_session(300 + 10 * seed)
        for title, labels in EXCHANGED.items():
            found = session.relabelled(labels).hazards()
            asked.update((title, code) for code in ("swapped", "order", "sign") if found[code].state == "ask")
    for title in EXCHANGED:
        print(
            f"{title:32}"
            + "".join(f"{code} {asked[title, code]}/{sessions}  " for code in ("swapped", "order", "sign"))
        )
    states: Counter[tuple[str, str, str]] = Counter()
    each = max(sessions // 2, 1)
    for kind in AFFECTED:
        for seed in range(each):
            session = two_sided_session(kind, 500 + seed)
            states[kind, "right", session.hazards()["side"].state] += 1
            states[kind, "wrong", session.other_side().hazards()["side"].state] += 1
        for said in ("right", "wrong"):
            told = "  ".join(f"{s} {states[kind, said, s]}" for s in ("ask", "nothing found", "cannot be told"))
            print(f"{kind:16} side said {said} ({each}): {told}", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 12)
