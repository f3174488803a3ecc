"""Sentences and numbers: never more than the interval says."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstrocker.measures import MEASURES
from firstrocker.report.numbers import MINUS, decimals_of, interval, number
from firstrocker.report.words import MAIN, compared
from report.comparison_rows import comparison_rows

rows = st.builds(lambda row, measure: row | {"measure": measure.column}, comparison_rows, st.sampled_from(MEASURES))


@given(rows)
def test_a_sentence_claims_what_the_verdict_says(row: dict[str, Any]) -> None:
    sentence = compared(row, {})
    claims = row["verdict"] in ("higher", "lower") and row["ci_low"] is not None
    assert (f" {row['verdict']} in braced walking" in sentence) == claims
    assert any(word in sentence for word in ("higher in", "lower in")) == claims
    if row["verdict"] != "too few strides" and row["ci_low"] is not None:
        assert interval(row) in sentence
    if row["verdict"] == "too few strides":
        assert "(12)" in sentence
        assert "(9)" in sentence


@given(rows)
def test_rounding_never_makes_an_interval_reach_zero(row: dict[str, Any]) -> None:
    if row["ci_low"] is None or min(abs(row["ci_low"]), abs(row["ci_high"])) < 1e-3:
        return
    low, high = interval(row).split(" to ")
    for text, value in ((low, row["ci_low"]), (high, row["ci_high"])):
        printed = float(text.replace(MINUS, "-"))
        if abs(value) >= 0.5 * 10.0 ** -decimals_of(row):
            assert printed * value > 0


@given(st.floats(-1e6, 1e6), st.integers(0, 3))
def test_numbers_are_pythons_with_a_real_minus(value: float, decimals: int) -> None:
    text = number(value, decimals)
    assert "-" not in text
    assert float(text.replace(MINUS, "-")) == float(f"{value:.{decimals}f}")
    assert not text.startswith(MINUS) or value < 0


def test_an_interval_without_zero_that_is_no_real_change_says_both() -> None:
    row = {"measure": "toe_clearance_min_mm", "reference": "walk:a", "other": "walk:b", "n_reference": 9, "n_other": 9}
    row |= {"difference": 3.0, "ci_low": 1.0, "ci_high": 5.0, "smallest_real_change": 4.0, "verdict": "no clear change"}
    sentence = compared(row, {"walk:a": "soft", "walk:b": "firm"})
    assert sentence == (
        "Minimum toe clearance: no clear change from soft to firm. Difference +3\u00a0mm, interval +1 to +5\u00a0mm, "
        "but not greater than the smallest real change of 4\u00a0mm."
    )


def test_main_measures_exist() -> None:
    assert set(MAIN) <= {measure.column for measure in MEASURES}
    assert len(set(MAIN)) == len(MAIN)


@pytest.mark.parametrize(
    ("value", "signed", "text"), [(None, True, "\u2013"), (0.04, True, "0.0"), (1.25, True, "+1.2")]
)
def test_numbers_worth_a_look(value: float | None, signed: bool, text: str) -> None:
    assert number(value, 1, signed=signed) == text
