"""The settings against each other in sentences: ties, what is beaten, what is traded, what to walk next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from firstrocker.measures import BY_COLUMN
from firstrocker.report.numbers import decimals_of, interval, number, with_unit
from firstrocker.study.forecast import POWER, Further, Outlook
from firstrocker.study.weighed import Apart, Beaten, Candidate, Choice, Trade

LITTLE = 0.1
"""Fewer comparisons than this that a further walk is expected to make clear are not worth naming it."""

CAVEAT = (
    "A forecast takes the differences found for the true ones, strides to scatter as they did, and further strides to "
    f"come in bouts like those walked; \u201cwould\u201d means in at least {round(100 * POWER)} of 100 such walks. It "
    "is no promise."
)


@dataclass(frozen=True)
class ChoiceWords:
    """Sentences on the settings, each list possibly empty.

    tied: pairs that no measure tells apart. beaten: braced settings that another beats in everything. behind: those
    clearly worse than another in something and clearly better in nothing, where that is not all. trades: pairs each of
    which is clearly better in something. next_walk: which further walk would tell most, None where nothing is open.
    outlook: what it would take, open comparison by comparison: those that some walking would settle first, slap and the
    shank before the others, the least walking first. caveat: to stand with both.
    """

    names: Mapping[str, str]
    tied: Sequence[str]
    beaten: Sequence[str]
    behind: Sequence[str]
    trades: Sequence[str]
    next_walk: str | None
    outlook: Sequence[str]
    caveat: str = CAVEAT


def candidate_names(choice: Choice) -> dict[str, str]:
    """How each candidate is called: by its setting, with resistance or walk where that is not enough."""
    names: dict[str, str] = {}
    plain = {one.key: _plain(one) for one in choice.candidates}
    for one in choice.candidates:
        name = plain[one.key]
        twins = [other for other in choice.candidates if plain[other.key] == name]
        if len(twins) > 1:
            told = one.resistance is not None and len({twin.resistance for twin in twins}) == len(twins)
            name += f" ({one.resistance:g})" if told else f" (walk {' and '.join(one.walks)})"
        names[one.key] = name
    return names


def choice_words(choice: Choice) -> ChoiceWords:
    """Everything that is said of one side's settings. A setting is never called the best: see the trades."""
    names = candidate_names(choice)
    braced = {one.key for one in choice.candidates if one.condition == "braced"}
    losing = [one for one in choice.beaten if one.key in braced]
    whole = {(one.key, one.by) for one in losing if one.whole}
    return ChoiceWords(
        names=names,
        tied=[_tie(choice, a, b, names) for a, b in choice.tied],
        beaten=[_beaten(choice, one, names) for one in losing if one.whole],
        behind=[_behind(choice, one, names) for one in losing if (one.key, one.by) not in whole],
        trades=[_trade(choice, one, names) for one in choice.trades if {one.first, one.second} <= braced],
        next_walk=_next_walk(choice, names),
        outlook=_outlooks(choice, names),
    )


def listed(parts: Sequence[str]) -> str:
    """Words joined as in speech.

    >>> listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"])
    ('a', 'a and b', 'a, b and c')
    """
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}" if parts else ""


def label_of(column: str) -> str:
    """A measure's label within a sentence."""
    label = BY_COLUMN[column].label
    return label[0].lower() + label[1:]


def capital(text: str) -> str:
    """The text with its first letter large."""
    return text[:1].upper() + text[1:]


def _plain(one: Candidate) -> str:
    return one.setting or ("braced" if one.condition == "braced" else "unbraced")


def _of(choice: Choice, first: str, second: str, column: str) -> Apart:
    return next(one for one in choice.pair(first, second) if one.measure == column)


def _amount(one: Apart, key: str) -> str:
    """How much higher or lower ``key`` is than the other, with the interval."""
    row = _seen_from(one, key)
    measure, decimals = BY_COLUMN[one.measure], decimals_of(row)
    way = "higher" if row["difference"] > 0 else "lower"
    size = with_unit(number(abs(row["difference"]), decimals), measure)
    return f"{label_of(one.measure)} {size} {way} ({with_unit(interval(row), measure)})"


def _seen_from(one: Apart, key: str) -> Mapping[str, Any]:
    """The row with ``key`` as the other."""
    if key == one.second:
        return one.row
    turned = {"difference": -one.row["difference"], "ci_low": -one.row["ci_high"], "ci_high": -one.row["ci_low"]}
    verdict = {"higher": "lower", "lower": "higher"}.get(one.row["verdict"], one.row["verdict"])
    return {**one.row, **turned, "verdict": verdict}


def _tie(choice: Choice, first: str, second: str, names: Mapping[str, str]) -> str:
    rows = choice.pair(first, second)
    spans = [
        f"{label_of(one.measure)} ({with_unit(interval(one.row), BY_COLUMN[one.measure])})" for one in rows if one.known
    ]
    few = [label_of(one.measure) for one in rows if not one.known]
    more = f" Not compared, for want of strides: {listed(few)}." if few else ""
    return (
        f"{capital(names[first])} and {names[second]} are tied: these strides tell them apart in none of "
        f"{listed(spans)}.{more}"
    )


def _beaten(choice: Choice, one: Beaten, names: Mapping[str, str]) -> str:
    worse = listed([_amount(_of(choice, one.key, one.by, column), one.key) for column in one.worse])
    text = f"{capital(names[one.key])} is beaten by {names[one.by]} in everything measured here: {worse}"
    if not one.even:
        return text + "."
    text += f"; in {listed([label_of(column) for column in one.even])} its mean is no better."
    room = [_room(_of(choice, one.key, one.by, column), one.key) for column in one.even]
    room = [part for part in room if part]
    return text + (f" Their intervals still allow it {listed(room)}." if room else "")


def _room(one: Apart, key: str) -> str:
    """How much better ``key`` may yet be, as in "up to 3 mm more toe clearance"; empty where it cannot be."""
    gain = one.gain(key)
    if gain is None or gain[1] <= 0:
        return ""
    measure = BY_COLUMN[one.measure]
    return f"up to {with_unit(number(gain[1], measure.decimals), measure)} {one.good} {label_of(one.measure)}"


def _behind(choice: Choice, one: Beaten, names: Mapping[str, str]) -> str:
    worse = listed([_amount(_of(choice, one.key, one.by, column), one.key) for column in one.worse])
    text = f"{capital(names[one.key])} against {names[one.by]}: {worse}; clearly better in nothing"
    if one.ahead:
        text += f", though its mean is better in {listed([label_of(column) for column in one.ahead])}"
    if one.unknown:
        text += f"; not compared, for want of strides: {listed([label_of(column) for column in one.unknown])}"
    return text + "."


def _trade(choice: Choice, one: Trade, names: Mapping[str, str]) -> str:
    gains = listed([_amount(_of(choice, one.first, one.second, c), one.second) for c in one.second_better])
    costs = listed([_amount(_of(choice, one.first, one.second, c), one.second) for c in one.first_better])
    return f"{capital(names[one.second])} against {names[one.first]}: {gains}, but {costs}."


def _next_walk(choice: Choice, names: Mapping[str, str]) -> str | None:
    if not choice.next_walks:
        return None
    first = choice.next_walks[0]
    name = names[first.key]
    walk = "unbraced walk" if name == "unbraced" else f"walk with {name}"
    if first.settled - first.now < LITTLE:
        return f"No single further walk of {first.strides} strides would be likely to make clear what is still open."
    if first.open == 1:
        chance = f"with a chance of some {round(first.settled, 1):.0%} it would make clear the comparison still open"
    else:
        chance = (
            f"of the {first.open} comparisons still open in which it has a part, it would be expected to make "
            f"{number(first.settled, 1)} clear"
        )
    return (
        f"One more {walk}, of {first.strides} strides that count, would tell most: {chance}, if differences are as "
        "large as they look."
    )


def _outlooks(choice: Choice, names: Mapping[str, str]) -> list[str]:
    """Open comparisons between braced settings in the running; of a single one, with unbraced walking."""
    running = set(choice.running)
    keys = running if len(running) > 1 else {one.key for one in choice.candidates}
    open_ones = [
        one
        for one in choice.apart
        if one.outlook is not None and {one.first, one.second} <= keys and running & {one.first, one.second}
    ]
    axes = set(choice.measures[:2])
    order = sorted(open_ones, key=lambda one: (_walking(one) == float("inf"), one.measure not in axes, _walking(one)))
    return [outlook_words(choice, one, names) for one in order]


def _walking(one: Apart) -> float:
    further = None if one.outlook is None else one.outlook.further
    return float("inf") if further is None else further.walks * further.strides


def outlook_words(choice: Choice, one: Apart, names: Mapping[str, str]) -> str:
    """What it would take to tell two candidates apart in one measure, or to say that they are the same."""
    outlook = one.outlook
    counts = [choice.candidate(key).counts[one.measure] for key in (one.first, one.second)]
    pair = f"{names[one.first]} and {names[one.second]}"
    strides = f"{counts[0]} strides each" if counts[0] == counts[1] else f"{counts[0]} and {counts[1]} strides"
    head = f"{BY_COLUMN[one.measure].label}: {pair} cannot be told apart with {strides}"
    if outlook is None or outlook.kind == "too few" or one.row["difference"] is None:
        return f"{head}: there are too few to say how many it would take."
    measure = BY_COLUMN[one.measure]
    difference = with_unit(number(one.row["difference"], decimals_of(one.row), signed=True), measure)
    if_so = f"if they differ by what was found ({difference})"
    if outlook.further is None:
        text = f"{head}{_out_of_reach(outlook, difference)}"
    elif outlook.kind == "strides":
        text = f"{head}; some {outlook.further.strides} more with each would, {if_so}."
    else:
        why = (
            "no number of strides in one more walk would, for each walk carries an error of its own; " * outlook.shared
        )
        text = f"{head}; {why}some {_walks(outlook.further)} with each would, {if_so}."
    if outlook.same is not None and outlook.margin is not None and outlook.kind != "strides":
        margin = with_unit(number(outlook.margin, measure.decimals), measure)
        text += f" Some {_walks(outlook.same)} with each would show that they differ by no more than {margin}, if so."
    return text


def _out_of_reach(outlook: Outlook, difference: str) -> str:
    if outlook.kind == "too small":
        return (
            f", and no number of strides would: what was found ({difference}) is less than the measurement's own error "
            "leaves open."
        )
    return f"; what was found ({difference}) is so little that it would take more walking than can be asked for."


def _walks(further: Further) -> str:
    if further.walks == 1:
        return f"{further.strides} more strides"
    return f"{further.walks} more walks of {further.strides} strides"
