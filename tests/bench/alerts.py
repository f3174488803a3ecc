"""How often alerts are false, and how late true ones: ``python tests/bench/alerts.py [people] [first seed]``.

Invented people (``synth/months.py``: every number of it is invented) live at home for 104 days, and every night is
looked at. False alarms: people of whom nothing changes; alerts per 30 days that were watched, with the 95 % interval
that a Poisson count has. Detection: from some day on something changes for good; the share of people with an alert
within 28 days of it, and its median delay in days; people who had an alert before are left out.

Seeds from ``JUDGING`` on are for judging and are the default: rules and limits were chosen on seeds below it.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.stats import chi2

from firstrocker.settings import Settings
from firstrocker.steps.trend import marking_of, watching_of
from firstrocker.study.alerts import Alert, alerts_of
from firstrocker.study.day_series import CLEARANCE, SLAP, Leg, series_of, worn_series
from firstrocker.synth.months import USUAL, Change, Life, Months, live

JUDGING = 100_000
DAYS, AT = 104, 44
KINDS = ("slaps", "clearance", "scuffs", "wear")
LIVES = {
    "usual days": Life(),
    "rough days": Life(rough=1.5),
    "few strides": Life(strides=60.0),
    "sensors that drift three times as much": Life(
        amounts={name: replace(amount, drift=3.0 * amount.drift) for name, amount in USUAL.items()}
    ),
    "every third day without data": Life(missing=0.33),
}
CHANGES: dict[str, tuple[str, Change]] = {}
for _size in (10.0, 20.0, 40.0):
    CHANGES[f"slap rate +{_size:g} deg/s"] = ("slaps", Change(SLAP, _size, AT))
CHANGES["slap rate +40 deg/s grown over 28 days"] = ("slaps", Change(SLAP, 40.0, AT, 28))
for _size in (2.0, 3.0, 5.0):
    CHANGES[f"toe clearance -{_size:g} mm"] = ("clearance", Change(CLEARANCE, -_size, AT))
CHANGES["toe clearance -5 mm grown over 28 days"] = ("clearance", Change(CLEARANCE, -5.0, AT, 28))
for _size in (3.0, 5.0, 8.0):
    CHANGES[f"toe clearance -{_size:g} mm (near-scuffs)"] = ("scuffs", Change(CLEARANCE, -_size, AT))
for _size in (1.5, 3.0, 5.0):
    CHANGES[f"wear time -{_size:g} h"] = ("wear", Change("worn_h", -_size, AT))


def alerts(months: Months) -> tuple[list[Alert], int]:
    """A person's alerts, and the days from the end of the baseline on."""
    settings = Settings()
    series = series_of(Leg("left", "braced"), months.days, how=marking_of(settings))
    baseline = watching_of(settings).baseline
    watched = max(DAYS - months.days[baseline].day, 0) if len(months.days) > baseline else 0
    return alerts_of([*series, worn_series(months.worn_h)], how=watching_of(settings)), watched


def false_alarms(people: int, seed: int, life: Life) -> tuple[dict[str, int], float]:
    """Alerts by kind, and the person-months watched."""
    found = dict.fromkeys(KINDS, 0)
    days = 0
    for person in range(people):
        raised, watched = alerts(live(np.random.default_rng(seed + person), DAYS, life=life))
        days += watched
        for one in raised:
            found[one.kind] += 1
    return found, days / 30.0


def detection(people: int, seed: int, kind: str, change: Change) -> tuple[int, list[int]]:
    """People without an alert before the change, and the delay of those with one within 28 days."""
    quiet, delays = 0, []
    for person in range(people):
        raised, _ = alerts(live(np.random.default_rng(seed + person), AT + 28, life=Life(), change=change))
        mine = [one.day for one in raised if one.kind == kind]
        if not any(day < AT for day in mine):
            quiet += 1
            delays += [min(mine) - AT + 1] if mine else []
    return quiet, delays


def silences(people: int, seed: int) -> tuple[int, float]:
    """Runs of days without data that are told although nothing is broken: days are left out by chance alone."""
    missing = np.random.default_rng(seed).random((people, DAYS)) < Life().missing
    runs = [len(run) for row in missing for run in "".join("x" if one else " " for one in row).split()]
    return sum(run >= Settings().trend.silent_days for run in runs), people * DAYS / 30.0


def rate(count: int, months: float) -> str:
    """Alerts per person-month with the interval of a Poisson count (Garwood 1936), and person-months to one."""
    low = chi2.ppf(0.025, 2 * count) / 2 if count else 0.0
    high = chi2.ppf(0.975, 2 * count + 2) / 2
    to_one = f"one in {months / count:.0f}" if count else "none"
    return f"{count / months:.4f} ({low / months:.4f} to {high / months:.4f}), {to_one}"


def main(arguments: Sequence[str]) -> None:
    """Print both tables."""
    people = int(arguments[0]) if arguments else 300
    seed = int(arguments[1]) if len(arguments) > 1 else JUDGING
    use = "judging" if seed >= JUDGING else "choosing"
    print(f"{people} invented people, seeds from {seed} ({use})\n")
    for name, life in LIVES.items():
        found, months = false_alarms(people, seed, life)
        print(f"false alarms per person-month, {name}, {months:.0f} person-months:")
        for kind in KINDS:
            print(f"  {kind:10} {rate(found[kind], months)}")
        print(f"  {'any':10} {rate(sum(found.values()), months)}", flush=True)
    told, months = silences(20 * people, seed)
    print(f"silent, days left out by chance alone ({100 * Life().missing:g} %): {rate(told, months)}")
    print("\nchange on day 44: share found within 28 days, median delay in days")
    for name, (kind, change) in CHANGES.items():
        quiet, delays = detection(people, seed + 10_000, kind, change)
        late = f"{np.median(delays):.0f}" if delays else "-"
        print(f"  {kind:10} {name:45} {100 * len(delays) / max(quiet, 1):3.0f} %  {late}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
