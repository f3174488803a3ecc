"""How wrong the measures are: the whole analysis on simulated walks whose truth is known.

Of every four walks in a row two are of a left leg and two of a right one, one each that turns towards that leg and one
that turns away from it. The seeds used here (from :data:`HELD_BACK` on) were not used to choose methods.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

import numpy as np

from firstrocker.chain import analyse
from firstrocker.measures import BY_COLUMN, MEASURES
from firstrocker.model import SIDES, FloatArray
from firstrocker.settings import Settings
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.sensors import CHEAP, ORDINARY, Quality
from firstrocker.synth.trial import Trial, trial
from firstrocker.synth.walker import U_TURN, U_TURN_AWAY

HELD_BACK = 1_200_000
"""First seed of the walks used for judging; lower seeds may be used while developing."""
WALKS = 12
"""Walks of each kind in the accuracy table: fewer draw too few sensors to tell a spread that is common to a walk."""
EVENTS = ("heel_strike_s", "foot_flat_s", "heel_off_s", "toe_off_s")
MATCH_S = 0.25  # s within which a found heel strike is the true one
SMALL_RATE = 40.0  # deg/s below which a percentage says nothing; such strides are judged in deg/s elsewhere

Row = Mapping[str, Any]


@dataclass(frozen=True)
class Outcome:
    """Strides of one kind of gait: pairs of (true, found) rows, strides missed and invented, findings that warn."""

    kind: str
    pairs: tuple[tuple[Row, Row], ...]
    missed: int
    extra: int
    findings: int

    @property
    def steady(self) -> list[tuple[Row, Row]]:
        """The pairs that count on both sides."""
        return [(t, f) for t, f in self.pairs if t["steady"] and f["steady"]]

    def errors(self, column: str) -> FloatArray:
        """Found minus true of steady strides: ms for events, else the table's unit; NaN where either has none.

        Peak rates are given in percent of the true rate.
        """
        scale = 1000.0 if column in EVENTS else 1.0
        rate = column.endswith("deg_s")
        out = []
        for true, found in self.steady:
            if found[column] is None or true[column] != true[column]:
                out.append(np.nan)
            elif not rate:
                out.append(scale * (found[column] - true[column]))
            elif true[column] < SMALL_RATE:
                out.append(np.nan)
            else:
                out.append(100.0 * (found[column] - true[column]) / true[column])
        return np.array(out)

    def coverage(self, column: str) -> float:
        """Share of true values within 1.96 standard errors of the found ones; NaN where there is none."""
        inside = [
            abs(found[column] - true[column]) <= 1.96 * found[f"{column}_se"]
            for true, found in self.steady
            if found[column] is not None and found[f"{column}_se"] is not None and true[column] == true[column]
        ]
        return float(np.mean(inside)) if inside else float("nan")


def judge(walk: Trial, settings: Settings) -> Outcome:
    """Analyse one walk and pair its strides with the true ones."""
    result = analyse(walk.person, (walk.logs,), settings=settings)
    found = result.strides.to_pylist()
    used: set[int] = set()
    pairs: list[tuple[Row, Row]] = []
    for true in walk.truth.strides:
        near = [
            (abs(row["heel_strike_s"] - float(true["heel_strike_s"])), k)
            for k, row in enumerate(found)
            if k not in used and row["heel_strike_s"] is not None
        ]
        if near and min(near)[0] < MATCH_S:
            used.add(min(near)[1])
            pairs.append((true, found[min(near)[1]]))
    missed = len(walk.truth.strides) - len(pairs)
    warned = sum(finding.severity != "info" for finding in result.findings)
    return Outcome(walk.kind, tuple(pairs), missed, len(found) - len(used), warned)


def gather(outcomes: Iterable[Outcome]) -> Outcome:
    """Several walks of one kind as one outcome."""
    all_of = list(outcomes)
    return Outcome(
        all_of[0].kind,
        tuple(pair for o in all_of for pair in o.pairs),
        sum(o.missed for o in all_of),
        sum(o.extra for o in all_of),
        sum(o.findings for o in all_of),
    )


def judging_seeds(kind: str, walks: int) -> range:
    """Seeds held back for a kind of gait; no two kinds share a person or a sensor."""
    first = HELD_BACK + 1000 * list(GAITS).index(kind)
    return range(first, first + walks)


def way_of(seed: int) -> dict[str, Any]:
    """Side and turns of a walk as :func:`firstrocker.synth.trial.trial` takes them: all four ways in every four seeds.

    >>> [(way_of(seed)["side"], way_of(seed)["turns"][0].degrees) for seed in range(4)]
    [('left', 180.0), ('right', 180.0), ('left', -180.0), ('right', -180.0)]
    """
    return {"side": SIDES[seed % 2], "turns": (U_TURN if seed % 4 < 2 else U_TURN_AWAY,)}


def judge_kind(
    kind: str, *, seeds: Iterable[int], settings: Settings | None = None, quality: Quality = ORDINARY, **how: Any
) -> Outcome:
    """Several walks of one kind, :func:`way_of` each seed; ``how`` goes to :func:`firstrocker.synth.trial.trial`."""
    settings = settings or Settings()
    return gather(judge(trial(kind, seed=seed, quality=quality, **way_of(seed) | how), settings) for seed in seeds)


CONDITIONS: Mapping[str, Mapping[str, Any]] = MappingProxyType(
    {
        "ordinary, 100 Hz": {},
        "50 Hz": {"quality": replace(ORDINARY, rate_hz=50.0)},
        "200 Hz": {"quality": replace(ORDINARY, rate_hz=200.0)},
        "cheap sensors": {"quality": CHEAP},
        "3 % of samples lost": {"quality": replace(ORDINARY, lost=0.03)},
        "clocks 2 s and 100 ppm apart": {"shank_offset_s": 2.0, "shank_drift_ppm": 100.0},
        "half a second of standing": {"standing_s": 0.5},
        "sensors that rock by some 10 deg/s in stance": {"rock_deg": 0.35},
        "straps that ring at 30 Hz": {"ring_hz": 30.0},
        "filters 6 ms late": {"quality": replace(ORDINARY, delayed=True)},
        "half the speed: strides 1.4 times as long in time, as much shorter": {"times_slower": 1.4},
        "a quarter of the speed: twice as long in time, half as long": {"times_slower": 2.0},
    }
)
CONDITION_KINDS, SLOW_KINDS = ("normal", "slap", "shuffling"), ("toe_drop", "hemiparetic", "no_heel_rise")


def accuracy_table(*, walks: int = WALKS, processes: int = 1) -> str:
    """The accuracy of every event and measure per kind of gait, and what worse conditions cost, as Markdown.

    Args:
        walks: simulated walks of each kind, of two bouts of 12 strides with a U-turn each.
        processes: how many walks are judged at a time.
    """
    asked: list[tuple[str, str, dict[str, Any]]] = [("", kind, {}) for kind in GAITS]
    asked += [(name, kind, dict(how)) for name, how in CONDITIONS.items() for kind in _kinds_of(how)]
    tasks = [(kind, seed, how) for _, kind, how in asked for seed in judging_seeds(kind, walks)]
    with ProcessPoolExecutor(processes) as pool:
        judged = list(pool.map(_judge_seed, tasks, chunksize=4))
    found = [gather(judged[k * walks : (k + 1) * walks]) for k in range(len(asked))]
    kinds = {kind: outcome for (name, kind, _), outcome in zip(asked, found, strict=True) if not name}
    costs = {
        wanted: gather([outcome for (name, _, _), outcome in zip(asked, found, strict=True) if name == wanted])
        for wanted in CONDITIONS
    }
    lines = [
        "# Accuracy on simulated walks",
        "",
        f"{walks} walks of each kind, each of another person with other sensors, of ordinary quality at 100 Hz, put on "
        "at any angle; as many of the right leg as of the left, as many that turn towards it as away; steady strides "
        "only; none of these walks was used to choose methods. Found minus true: mean +- "
        "standard deviation; in brackets the share of true values within 1.96 of the standard errors given. **Beating "
        "numbers that were measured on people against optics with numbers measured on simulated walks is a different "
        "claim.**",
        "",
        *_strides_table(kinds),
        "",
        *_measure_table(kinds),
        "",
        "## What worse conditions cost",
        "",
        f"The same for {', '.join(CONDITION_KINDS)} together, slower walks for {', '.join(SLOW_KINDS)}.",
        "",
    ]
    return "\n".join([*lines, *_strides_table(costs), "", *_measure_table(costs), ""])


def _kinds_of(condition: Mapping[str, Any]) -> tuple[str, ...]:
    return SLOW_KINDS if "times_slower" in condition else CONDITION_KINDS


def _judge_seed(task: tuple[str, int, dict[str, Any]]) -> Outcome:
    kind, seed, how = task
    return judge(trial(kind, seed=seed, **way_of(seed) | how), Settings())


def _strides_table(outcomes: Mapping[str, Outcome]) -> list[str]:
    rows = ["| walks | true strides | missed | invented | steady and compared |", "|---|---|---|---|---|"]
    for name, o in outcomes.items():
        total = len(o.pairs) + o.missed
        rows.append(f"| {name} | {total} | {o.missed} | {o.extra} | {len(o.steady)} |")
    return rows


def _measure_table(outcomes: Mapping[str, Outcome]) -> list[str]:
    columns = [*EVENTS, *[m.column for m in MEASURES if m.has_se]]
    rows = [
        "| event or measure | unit | " + " | ".join(outcomes) + " |",
        "|---|---|" + "---|" * len(outcomes),
    ]
    for column in columns:
        unit = "ms" if column in EVENTS else "%" if column.endswith("deg_s") else BY_COLUMN[column].unit
        factor = 1000.0 if column in ("stride_length_m", "walking_speed_m_s") else 1.0
        unit = {"m": "mm", "m/s": "mm/s"}.get(unit, unit) if factor > 1.0 else unit
        cells = [_cell(o, column, factor) for o in outcomes.values()]
        rows.append(f"| {column.replace('_', ' ')} | {unit} | " + " | ".join(cells) + " |")
    return rows


def _cell(outcome: Outcome, column: str, factor: float) -> str:
    errors = factor * outcome.errors(column)
    errors = errors[np.isfinite(errors)]
    if len(errors) < 3:
        return "-"
    digits = 2 if column == "ankle_share" else 1
    text = f"{errors.mean():+.{digits}f} +- {errors.std(ddof=1):.{digits}f}"
    if column in EVENTS:
        return text
    return f"{text} ({100.0 * outcome.coverage(column):.0f})"
