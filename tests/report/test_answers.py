"""The three answers say what the comparison says, with the summary's numbers, and no more."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstrocker.measures import BY_COLUMN
from firstrocker.report.answers import SPEECH, Answer, answer_all
from firstrocker.report.numbers import interval
from firstrocker.report.words import QUESTIONS
from firstrocker.study.compare import compare
from firstrocker.study.summary import summarise
from report.comparison_rows import comparison_rows
from study.made import MadeWalk, drawn, stride_table

NAMES = {"walk:b|braced": "soft", "walk:c|braced": "firm", "walk:a": "unbraced", "walk:b": "soft", "walk:c": "firm"}
NAMES |= {"a": "unbraced", "b": "soft", "c": "firm"}


def made(rng: np.random.Generator, walk: str, slap: float, *, strides: int = 16, shank: bool = True) -> MadeWalk:
    bouts = (strides // 2, strides - strides // 2)
    values = {
        "toe_clearance_min_mm": drawn(rng, bouts, mean=14, sd=3),
        "foot_lowering_rate_deg_s": drawn(rng, bouts, mean=slap + 60, sd=25),
    }
    if shank:
        values["slap_rate_deg_s"] = drawn(rng, bouts, mean=slap, sd=25)
        values["shank_forward_rate_deg_s"] = drawn(rng, bouts, mean=90, sd=12)
    return MadeWalk(walk, bouts, dict(values), "unbraced" if walk == "a" else "braced", NAMES[walk])


def answered(walks: list[MadeWalk]) -> list[Answer]:
    strides: pa.Table = stride_table(walks)
    table = compare(strides, confidence=0.95, resamples=400, seed=1, min_strides=5)
    return answer_all(summarise(strides).to_pylist(), table.to_pylist(), side="left", names=NAMES)


def test_three_answers_in_order() -> None:
    rng = np.random.default_rng(1)
    found = answered([made(rng, "a", 300), made(rng, "b", 180), made(rng, "c", 90)])
    assert [one.title for one in found] == [question.title for question in QUESTIONS]
    toe, slap, shank = found
    assert toe.plain.startswith("No clear change in how far the toe clears the floor: minimum toe clearance 1")
    assert re.fullmatch(
        r"The foot is let down more slowly at the ankle in the brace: slap rate (29|30)\d\u00b0/s unbraced, "
        r"1\d\d\u00b0/s braced, 1\d\d\u00b0/s lower \(interval \u2212\d+ to \u2212\d+\u00b0/s\)\.",
        slap.plain,
    )
    assert shank.plain.startswith("No clear change in how fast the shank is driven forward")
    assert [level.name for level in slap.levels] == ["unbraced", "soft", "firm"]
    assert [level.n for level in slap.levels] == [16, 16, 16]
    assert len(slap.unbraced) == 2
    (between,) = slap.between
    assert re.fullmatch(r"\d+\u00b0/s lower with firm than with soft \(\u2212\d+ to \u2212\d+\u00b0/s\)\.", between)
    assert len(toe.tied) == 1


def test_numbers_before_and_after_differ_by_the_difference() -> None:
    rng = np.random.default_rng(2)
    slap = answered([made(rng, "a", 300), made(rng, "b", 180)])[1]
    before, after, amount = (int(n) for n in re.findall(r"(\d+)\u00b0/s (?:unbraced|braced|lower)", slap.plain))
    assert abs(before - after - amount) <= 1


def test_without_a_shank() -> None:
    rng = np.random.default_rng(3)
    toe, slap, shank = answered([made(rng, "a", 300, shank=False), made(rng, "b", 180, shank=False)])
    assert toe.stand_in == ""
    assert slap.measure == "foot_lowering_rate_deg_s"
    assert "carried down with the shank" in slap.stand_in
    assert slap.plain.startswith("The foot is let down more slowly in the brace: foot lowering rate")
    assert shank.measure is None
    assert shank.plain.startswith("No shank log")


@pytest.mark.parametrize(("walk", "missing"), [("a", "braced"), ("b", "unbraced")])
def test_one_walk_says_what_it_is_and_what_is_missing(walk: str, missing: str) -> None:
    rng = np.random.default_rng(4)
    slap = answered([made(rng, walk, 200)])[1]
    assert slap.plain.endswith(f"No {missing} walk to compare with.")
    assert re.match(r"Slap rate \d+\u00b0/s in ", slap.plain)


def test_too_few_strides_claim_nothing() -> None:
    rng = np.random.default_rng(5)
    slap = answered([made(rng, "a", 300), made(rng, "b", 90, strides=4)])[1]
    assert slap.plain == (
        "Too few strides to say whether the brace changes how fast the foot is let down at the ankle: 16 unbraced, 4 "
        "braced."
    )


@given(comparison_rows, st.sampled_from(sorted(SPEECH)))
def test_plain_words_claim_what_the_verdict_says(row: dict[str, Any], column: str) -> None:
    row = row | {"measure": column}
    level = {"side": "left", "walk": "a", "condition": "unbraced", "measure": column, "mean": 100.0, "se": 2.0, "n": 12}
    place = next(k for k, question in enumerate(QUESTIONS) if column in question.leading)
    plain = answer_all([level], [row], side="left", names={})[place].plain
    speech = SPEECH[column]
    assert plain.startswith(speech.higher) == (row["verdict"] == "higher" and row["ci_low"] is not None)
    assert plain.startswith(speech.lower) == (row["verdict"] == "lower" and row["ci_low"] is not None)
    if row["ci_low"] is not None and row["verdict"] != "too few strides":
        assert interval(row) in plain
        assert BY_COLUMN[column].label.lower() in plain.lower()
    assert not re.search(r"\b(optimal|best|safe|normal|good|bad)\b", plain)
