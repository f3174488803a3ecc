"""What an alert says: what, since when, how big, on how much, and what may be harmless about it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from firstrocker.report.numbers import number

Row = Mapping[str, Any]

KINDS = {
    "slaps": "slaps more frequent",
    "clearance": "toe clearance lower",
    "scuffs": "more scuffs or near-scuffs",
    "wear": "worn less",
    "silent": "no session",
}
HARMLESS = {
    "slaps": "another shoe, sensors put on otherwise, faster walking, a setting changed but not noted",
    "clearance": "another shoe, the sensor put on otherwise, slower walking, a setting changed but not noted",
    "scuffs": "another shoe, the sensor put on lower, carpet or grass; a low pass is no proof of a touch",
    "wear": "a day off, an illness, charging, a logger that stopped early",
}
"""What to rule out first, by kind. From memory, no source."""

FALSE_ALARMS = {"slaps": "32", "clearance": "97", "scuffs": "more than 300", "wear": "73"}
"""Person-months to one false alarm among invented people of whom nothing changes, with the default settings, as
``tests/bench/alerts.py`` found it on seeds held back for judging; config/alerts.md has intervals and rougher lives."""

MOST_SILENT = 8
"""People without a session that are named."""

_FAST = 0.05  # m/s of another speed that is worth a word: a small change (Perera 2006, as cited, not read in full)


def day_words(day: date) -> str:
    """A day as it is said, without its year.

    >>> day_words(date(2026, 4, 3))
    '3 Apr'
    """
    return f"{day.day} {day:%b}"


def leg_words(row: Row) -> str:
    """Side, condition and setting of a series; empty for what is of the person."""
    if row["side"] is None:
        return ""
    parts = [row["side"], row["condition"], row["setting"]]
    words = " ".join(part for part in parts if part)
    return words if row["resistance"] is None else f"{words} {row['resistance']:g}"


def amount(measure: str, value: float | None, *, signed: bool = False) -> str:
    """A value of a measure of days with its unit; changes of shares are percentage points."""
    if measure in ("slap_share", "low_pass_share"):
        percent = number(None if value is None else 100.0 * value, 0, signed=signed)
        return percent if signed else f"{percent}\u00a0%"
    if measure == "worn_h":
        return f"{number(value, 1, signed=signed)}\u00a0h"
    return f"{number(value, 0 if measure == 'slap_rate_deg_s' else 1, signed=signed)}\u00a0" + (
        "mm" if measure == "toe_clearance_min_mm" else "\u00b0/s"
    )


def alert_sentence(row: Row) -> str:
    """One alert that is not silence, without the person: what, since when, how big, on how much."""
    measure = row["measure"]
    low, high = (amount(measure, row[end], signed=True) for end in ("ci_low", "ci_high"))
    points = " percentage points" if measure in ("slap_share", "low_pass_share") else ""
    strides = "" if row["strides"] is None else f", {row['strides']} strides"
    leg = leg_words(row)
    reached = amount(measure, row["baseline"] + row["change"])
    change = f"{amount(measure, row['change'], signed=True)}{points}, interval {low} to {high}"
    what = f"{KINDS[row['kind']]}{f' ({leg})' if leg else ''} since about {day_words(row['since_day'])}"
    return (
        f"{what}: {reached} against {amount(measure, row['baseline'])} in the baseline of {row['baseline_days']} days "
        f"({change}; {row['days']} days{strides})."
    )


def now_sentence(row: Row) -> str:
    """How the change stands by now, where the alert was not raised by what came in last; empty where it was."""
    if row["new"] or row["change_now"] is None:
        return ""
    measure = row["measure"]
    points = " percentage points" if measure in ("slap_share", "low_pass_share") else ""
    change = f"{amount(measure, row['change_now'], signed=True)}{points}"
    return f"Now, over {row['days']} days: {change} against that baseline."


def harmless_words(row: Row, *, flagged: int = 0) -> str:
    """What to rule out first; what the data themselves say of it stands in front.

    Args:
        row: of the alerts.
        flagged: days of the alert with a flagged session.
    """
    seen = []
    speed = row["speed_change_m_s"]
    if speed is not None and abs(speed) >= _FAST:
        seen.append(f"walked {'faster' if speed > 0 else 'slower'} ({number(speed, 2, signed=True)}\u00a0m/s)")
    if flagged:
        seen.append(f"{flagged} of its days have a flagged session")
    noted = f"Seen: {', '.join(seen)}. " if seen else ""
    return f"{noted}Rule out first: {HARMLESS[row['kind']]}."


def silence_words(rows: Sequence[Row]) -> str:
    """The people without a session, those who were silent longest first, in one sentence; empty without any."""
    if not rows:
        return ""
    longest = sorted(rows, key=lambda row: (row["since_day"], row["subject"]))
    people = [f"{row['subject']} (none from {day_words(row['since_day'])} on, {row['days']} days)" for row in longest]
    more = f" and {len(people) - MOST_SILENT} more" if len(people) > MOST_SILENT else ""
    return f"No session: {', '.join(people[:MOST_SILENT])}{more}."


def rates_sentence(months: float) -> str:
    """How often alerts are false, and of what that is known."""
    told = [f"{KINDS[kind]} {FALSE_ALARMS[kind]}" for kind in FALSE_ALARMS]
    return (
        f"Limits are set for one false alarm of a kind per person in {months:g} months of nightly looks; on simulated "
        "months of invented people (default settings) it was about one in so many person-months: "
        f"{', '.join(told)}. Real days may differ by more."
    )
