"""Days in which sensors are taken off and put on otherwise: is it told, what is told for nothing, are numbers right?

    python tests/bench/put_on_anew.py                  # all kinds of gait, some 25 minutes of one core
    python tests/bench/put_on_anew.py slap,normal 2    # kinds, days of each

Invented days of some ten minutes (``synth/day.py``): walks of 5 to 10 strides between sitting, the sensors on a table
in the middle, and then on again as each row says. A row counts the days on which the finding came that was to come,
those on which one came of a sensor that sat as before, and by how much the medians of the affected side after the
change are off those of the same day without it, in the worst day. Numbers measured on invented days are not numbers
measured on people.
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow.parquet as pq
from scipy.spatial.transform import Rotation

from firstrocker.model import SIDES, FloatArray, Segment, Side
from firstrocker.settings import load_settings
from firstrocker.steps.strides import make_strides
from firstrocker.synth.day import SENSORS, Clock, Day, Faults, Remount, Stroll, strolls
from firstrocker.synth.day_logs import write_day
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.pastimes import RATE_HZ

LOGGERS = Path(__file__).resolve().parents[2] / "config" / "loggers"
FOOT, SHANK, OTHER_FOOT, OTHER_SHANK = SENSORS
CLOCKS: dict[tuple[Segment, Side], Clock] = {
    FOOT: Clock(12.0, 20.0),
    SHANK: Clock(11.0, -60.0),
    OTHER_FOOT: Clock(12.5, 80.0),
    OTHER_SHANK: Clock(13.0, -20.0),
}
MEASURES = ("ankle_heel_strike_deg", "foot_pitch_heel_strike_deg", "shank_mid_stance_deg", "toe_clearance_min_mm")
ANEW, SWAPPED, CROSSED = "sensor-put-on-anew", "foot-shank-exchanged-since", "sides-exchanged-since"
TOLD = (ANEW, SWAPPED, CROSSED, "sensor-remounted", "sensor-slipped", "sensor-fell-off")


def about(axis: str, degrees: float) -> FloatArray:
    """(3, 3), a turn about a segment's axis."""
    return np.asarray(Rotation.from_euler(axis, degrees, degrees=True).as_matrix())


def anyhow(seed: int) -> dict[tuple[Segment, Side], FloatArray]:
    """All sensors turned anyhow."""
    turns = Rotation.random(len(SENSORS), random_state=seed).as_matrix()
    return dict(zip(SENSORS, turns, strict=True))


CASES: Mapping[str, tuple[str, Mapping[str, Any]]] = {
    "as before": ("", {}),
    "foot, 180 deg about the upright": (ANEW, {"turned": {FOOT: about("z", 180)}}),
    "foot, 30 deg about the upright": (ANEW, {"turned": {FOOT: about("z", 30)}}),
    "foot, tilted by 20 deg": (ANEW, {"turned": {FOOT: about("y", 20)}}),
    "shank, 180 deg about its length": (ANEW, {"turned": {SHANK: about("z", 180)}}),
    "shank, 30 deg about its length": (ANEW, {"turned": {SHANK: about("z", 30)}}),
    "shank, 15 deg about its length": (ANEW, {"turned": {SHANK: about("z", 15)}}),
    "shank, tilted by 12 deg": (ANEW, {"turned": {SHANK: about("y", 12)}}),
    "shank, tilted by 6 deg": (ANEW, {"turned": {SHANK: about("y", 6)}}),
    "shank, tilted by 3 deg": (ANEW, {"turned": {SHANK: about("y", 3)}}),
    "all four anyhow": (ANEW, {"turned": anyhow(3)}),
    "foot and shank exchanged": (SWAPPED, {"exchanged": ((FOOT, SHANK),)}),
    "left and right exchanged": (CROSSED, {"exchanged": ((FOOT, OTHER_FOOT), (SHANK, OTHER_SHANK))}),
}


def plan(walks: list[Stroll], seed: int) -> tuple[Day, float]:
    """A day of two halves, and when sensors are put on anew, s."""
    rng = np.random.default_rng(seed)

    def half() -> list[tuple[str, float]]:
        """Six walks between sitting."""
        pairs = [(("walk", float(rng.integers(len(walks)))), ("sit", float(rng.integers(12, 25)))) for _ in range(6)]
        return [part for pair in pairs for part in pair]

    before = [("sit", 20.0), *half(), ("sit", 15.0), ("lie", 20.0)]
    at, found = 0.0, {side: list[FloatArray]() for side in SIDES}
    anew = 0.0
    parts = [*before, ("sit", 15.0), *half()]
    for number, (what, amount) in enumerate(parts):
        anew = at if number == len(before) else anew
        if what == "walk":
            for side in SIDES:
                found[side].append(walks[int(amount)].strides[side] + at)
            at += len(walks[int(amount)]) / RATE_HZ
        else:
            at += amount
    return Day(tuple(parts), {side: np.concatenate(found[side]) for side in SIDES}, (), at), anew


def made(gait: str, case: Mapping[str, Any], seed: int) -> tuple[set[tuple[str, str, str]], Any]:
    """Findings as (code, segment, side), and the affected side's strides after the change, as a pandas frame."""
    walks = strolls(gait, seed=seed, lengths=(5, 7, 10))
    day, anew = plan(walks, seed)
    faults = Faults(clocks=CLOCKS, remounts=(Remount(anew - 0.1, **case),) if case else ())
    with tempfile.TemporaryDirectory(prefix="firstrocker-") as place:
        folder, out = Path(place) / "sub-D1" / "ses-1", Path(place) / "out"
        write_day(folder, day, walks, faults, seed=seed)
        make_strides(folder, out, settings=load_settings({"day": {"whole_up_to_s": 60.0}}), loggers=LOGGERS)
        findings = json.loads((out / "quality.json").read_text())["findings"]
        strides = pq.read_table(out / "strides.parquet").to_pandas()
    told = {(f["code"], f["segment"] or "", f["side"] or "") for f in findings if f["code"] in TOLD}
    return told, strides[(strides["side"] == "left") & (strides["heel_strike_s"] > anew)]


def main() -> None:
    """Print a row for each way of putting sensors on."""
    kinds = sys.argv[1].split(",") if len(sys.argv) > 1 else list(GAITS)
    each = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    days = [(gait, 50 + 7 * number) for gait in kinds for number in range(each)]
    plain: dict[tuple[str, int], Any] = {}
    for name, (wanted, case) in CASES.items():
        found = false = 0
        off = dict.fromkeys(MEASURES, 0.0)
        for key in days:
            told, strides = made(key[0], case, key[1])
            touched = {(s, d) for s, d in [*case.get("turned", {}), *sum(case.get("exchanged", ()), ())]}
            found += any(code == wanted and (not segment or (segment, side) in touched) for code, segment, side in told)
            false += any(segment and (segment, side) not in touched for _, segment, side in told)
            plain.setdefault(key, strides)
            for measure in MEASURES if len(strides) else ():
                change = abs(float(strides[measure].median() - plain[key][measure].median()))
                off[measure] = max(off[measure], change) if np.isfinite(change) else off[measure]
        numbers = ", ".join(f"{measure} {value:.1f}" for measure, value in off.items())
        print(f"{name}: told {found} of {len(days)}, told for nothing {false}; off by {numbers}", flush=True)


if __name__ == "__main__":
    main()
