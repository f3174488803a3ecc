"""Sentences on settings: what they claim is in the choice, with its numbers; nothing is called best."""

from __future__ import annotations

import re

import numpy as np
import pytest

from firstrocker.report.choice_words import ChoiceWords, candidate_names, choice_words
from firstrocker.report.numbers import interval
from firstrocker.study.choice import choose
from firstrocker.study.weighed import Choice
from study.made import MadeWalk, stride_table
from study.test_choice import USUAL, made

KEYS = {"confidence": 0.95, "resamples": 400, "seed": 1, "min_strides": 5}


def chosen(walks: list[MadeWalk]) -> Choice:
    found = choose(stride_table(walks), side="left", **KEYS)  # type: ignore[arg-type]
    assert found is not None
    return found


def everything(words: ChoiceWords) -> list[str]:
    lists = (words.tied, words.beaten, words.behind, words.trades, words.outlook)
    return [*(sentence for each in lists for sentence in each), *([words.next_walk] if words.next_walk else [])]


@pytest.mark.parametrize("seed", range(4))
def test_no_sentence_praises_and_every_interval_is_the_comparisons(seed: int) -> None:
    rng = np.random.default_rng(seed)
    firm = {"slap_rate_deg_s": -90.0, "shank_forward_rate_deg_s": 70.0}
    choice = chosen(
        [made(rng, "a", None), made(rng, "b", "soft"), made(rng, "c", "medium"), made(rng, "d", "firm", firm)]
    )
    words = choice_words(choice)
    spans = {span for one in choice.apart if one.known for span in (interval(one.row), _turned(interval(one.row)))}
    for sentence in everything(words):
        assert sentence[0].isupper()
        assert sentence.endswith(".")
        assert not re.search(r"\b(optimal|optimum|best|ideal|recommend\w*|should)\b", sentence, flags=re.IGNORECASE)
        for told in re.findall(r"\(((?:[+\u2212]?[\d.]+) to (?:[+\u2212]?[\d.]+))", sentence):
            assert told in spans


def _turned(span: str) -> str:
    low, high = span.split(" to ")
    flip = {"+": "\u2212", "\u2212": "+"}

    def turned(end: str) -> str:
        return flip[end[0]] + end[1:] if end[0] in flip else end

    return f"{turned(high)} to {turned(low)}"


def test_a_tie_names_every_measure() -> None:
    for seed in range(20):
        rng = np.random.default_rng(200 + seed)
        choice = chosen([made(rng, "b", "soft"), made(rng, "c", "firm")])
        if choice.tied:
            (sentence,) = choice_words(choice).tied
            assert sentence.startswith("Soft and firm are tied: these strides tell them apart in none of slap rate (")
            assert sentence.count(" to ") == len(USUAL)
            return
    pytest.fail("no tie in twenty sessions without a difference")


def test_a_beaten_setting_is_told_with_what_it_may_yet_have() -> None:
    rng = np.random.default_rng(3)
    worse = {"slap_rate_deg_s": 80.0, "shank_forward_rate_deg_s": 40.0, "toe_clearance_min_mm": -1.0}
    worse |= {"slap_shock_m_s2": 2.0, "heel_strike_shock_m_s2": 1.0}
    for _ in range(20):
        choice = chosen([made(rng, "b", "soft"), made(rng, "c", "firm", worse)])
        words = choice_words(choice)
        if words.beaten and "still allow" in words.beaten[0]:
            assert words.beaten[0].startswith("Firm is beaten by soft in everything measured here: slap rate ")
            assert re.search(r"Their intervals still allow it up to ", words.beaten[0])
            assert not words.trades
            return
    pytest.fail("never beaten in twenty sessions")


def test_a_trade_names_gain_and_cost() -> None:
    rng = np.random.default_rng(4)
    firm = {"slap_rate_deg_s": -100.0, "shank_forward_rate_deg_s": 90.0}
    words = choice_words(chosen([made(rng, "b", "soft"), made(rng, "c", "firm", firm)]))
    (trade,) = words.trades
    assert re.match(
        r"Firm against soft: slap rate \d+\u00b0/s lower \(.*\), but shank forward rate \d+\u00b0/s higher \(", trade
    )


def test_the_next_walk_is_told_with_strides_and_a_condition() -> None:
    rng = np.random.default_rng(5)
    words = choice_words(chosen([made(rng, "b", "soft"), made(rng, "c", "firm", {"slap_rate_deg_s": 18.0}, strides=8)]))
    assert words.next_walk is not None
    assert re.match(r"One more walk with (soft|firm), of 30 strides that count, would tell most: ", words.next_walk)
    assert "if differences are as large as they look" in words.next_walk
    assert any("24 and 8 strides" in sentence for sentence in words.outlook)
    assert "80 of 100" in words.caveat


def test_names_tell_candidates_apart() -> None:
    rng = np.random.default_rng(6)
    one, other = made(rng, "b", "strut"), made(rng, "c", "strut")
    other = MadeWalk(other.walk, other.bouts, other.values, "braced", "strut", 60.0)
    one = MadeWalk(one.walk, one.bouts, one.values, "braced", "strut", 50.0)
    assert candidate_names(chosen([made(rng, "a", None), one, other])) == {
        "walk:a": "unbraced",
        "walk:b": "strut (50)",
        "walk:c": "strut (60)",
    }
