"""What is said of settings weighed against each other, on strides whose truth is known."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np
import pyarrow as pa
import pytest

from firstrocker.study.choice import choose
from firstrocker.study.compare import compare
from firstrocker.study.weighed import CRITERIA, Choice
from study.made import MadeWalk, drawn, row_of, stride_table

USUAL = {
    "slap_rate_deg_s": (250.0, 25.0),
    "shank_forward_rate_deg_s": (100.0, 12.0),
    "toe_clearance_min_mm": (14.0, 2.0),
    "slap_shock_m_s2": (40.0, 6.0),
    "heel_strike_shock_m_s2": (20.0, 4.0),
}
KEYS = {"confidence": 0.95, "resamples": 500, "seed": 1, "min_strides": 5}


def made(
    rng: np.random.Generator,
    walk: str,
    setting: str | None,
    shift: Mapping[str, float] | None = None,
    *,
    strides: int = 24,
    leave: Sequence[str] = (),
) -> MadeWalk:
    bouts = (strides // 2, strides - strides // 2)
    values = {
        column: drawn(rng, bouts, mean=mean + (shift or {}).get(column, 0.0), sd=sd)
        for column, (mean, sd) in USUAL.items()
        if column not in leave
    }
    return MadeWalk(walk, bouts, dict(values), "braced" if setting else "unbraced", setting)


def chosen(walks: Sequence[MadeWalk]) -> Choice:
    found = choose(stride_table(walks), side="left", **KEYS)  # type: ignore[arg-type]
    assert found is not None
    return found


def test_a_setting_worse_in_everything_is_beaten_and_out_of_the_running() -> None:
    rng = np.random.default_rng(1)
    worse = dict.fromkeys(USUAL, 60.0) | {"toe_clearance_min_mm": -8.0}
    found = chosen([made(rng, "a", None), made(rng, "b", "soft"), made(rng, "c", "firm", worse)])
    (beaten,) = [one for one in found.beaten if (one.key, one.by) == ("walk:c", "walk:b")]
    assert beaten.whole
    assert set(beaten.worse) == set(USUAL)
    assert found.running == ("walk:b",)
    assert not any({one.first, one.second} == {"walk:b", "walk:c"} for one in found.trades)


def test_worse_in_one_and_ahead_in_none_needs_means_that_are_no_better() -> None:
    rng = np.random.default_rng(2)
    found = chosen([made(rng, "b", "soft"), made(rng, "c", "firm", {"slap_rate_deg_s": 80.0})])
    (beaten,) = found.beaten
    assert (beaten.key, beaten.by, beaten.worse) == ("walk:c", "walk:b", ("slap_rate_deg_s",))
    for one in found.apart:
        gain = one.gain("walk:c")
        assert gain is not None
        if one.measure in beaten.ahead:
            assert gain[0] > 0
        elif one.measure in beaten.even:
            assert gain[0] <= 0
        assert gain[1] >= gain[0]
    assert beaten.whole == (not beaten.ahead)
    assert set(beaten.worse) | set(beaten.even) | set(beaten.ahead) == set(USUAL)


def test_less_slap_for_a_shank_driven_forward_is_a_trade() -> None:
    rng = np.random.default_rng(3)
    firm = {"slap_rate_deg_s": -100.0, "shank_forward_rate_deg_s": 90.0}
    found = chosen([made(rng, "b", "soft"), made(rng, "c", "firm", firm)])
    (trade,) = found.trades
    assert trade.first_better == ("shank_forward_rate_deg_s",)
    assert trade.second_better == ("slap_rate_deg_s",)
    assert found.beaten == ()
    assert found.tied == ()
    assert found.running == ("walk:b", "walk:c")


def test_settings_that_do_not_differ_are_tied_and_rarely_called_different() -> None:
    ties = 0
    for seed in range(20):
        rng = np.random.default_rng(100 + seed)
        found = chosen([made(rng, "b", "soft"), made(rng, "c", "firm")])
        ties += found.tied == (("walk:b", "walk:c"),)
        assert found.next_walks
        assert all(one.outlook is not None for one in found.apart if one.better is None)
    assert ties >= 15  # five measures, each wrong in 1 of 20 at most


def test_numbers_are_those_of_the_comparison_where_no_setting_is_repeated() -> None:
    rng = np.random.default_rng(4)
    walks = [made(rng, "a", None), made(rng, "c", "soft"), made(rng, "b", "firm", {"slap_rate_deg_s": -60.0})]
    table = compare(stride_table(walks), **KEYS)  # type: ignore[arg-type]
    for one in chosen(walks).apart:
        row = row_of(table, measure=one.measure, reference=one.first, other=one.second)
        assert one.row == {name: row[name] for name in one.row}


def test_repeats_of_a_setting_are_taken_together() -> None:
    rng = np.random.default_rng(5)
    found = chosen([made(rng, "a", "soft"), made(rng, "b", "firm"), made(rng, "c", "firm")])
    assert [one.key for one in found.candidates] == ["walk:a", "walk:b+c"]
    assert found.candidate("walk:b+c").counts["slap_rate_deg_s"] == 48


def test_without_a_shank_the_foots_lowering_rate_stands_in() -> None:
    rng = np.random.default_rng(6)
    leave = ("slap_rate_deg_s", "shank_forward_rate_deg_s")
    walks = [made(rng, name, name, leave=leave) for name in ("soft", "firm")]
    walks = [
        MadeWalk(
            w.walk,
            w.bouts,
            w.values | {"foot_lowering_rate_deg_s": drawn(rng, w.bouts, mean=300, sd=20)},
            "braced",
            w.walk,
        )
        for w in walks
    ]
    found = chosen(walks)
    assert found.measures[0] == "foot_lowering_rate_deg_s"
    assert "shank_forward_rate_deg_s" not in found.measures


@pytest.mark.parametrize("walks", [0, 1])
def test_nothing_to_choose_from(walks: int) -> None:
    rng = np.random.default_rng(7)
    table = stride_table([made(rng, "a", "soft")][:walks])
    assert choose(table, side="left", **KEYS) is None  # type: ignore[arg-type]
    assert choose(table, side="right", **KEYS) is None  # type: ignore[arg-type]


def test_too_few_strides_decide_nothing() -> None:
    rng = np.random.default_rng(8)
    worse = dict.fromkeys(USUAL, 90.0) | {"toe_clearance_min_mm": -12.0}
    found = chosen([made(rng, "b", "soft"), made(rng, "c", "firm", worse, strides=4)])
    assert found.beaten == ()
    assert found.tied == ()
    assert all(not one.known and one.gain("walk:b") is None for one in found.apart)


def test_swapping_labels_swaps_what_is_said() -> None:
    walks = [
        made(np.random.default_rng(9), "b", "x"),
        made(np.random.default_rng(10), "c", "y", {"slap_rate_deg_s": 90.0}),
    ]
    one, other = chosen(walks), chosen(walks[::-1])
    assert {(b.key, b.by) for b in one.beaten} == {(b.key, b.by) for b in other.beaten} == {("walk:c", "walk:b")}
    turned = {(a.measure, -a.row["difference"]) for a in other.apart}
    assert turned == {(a.measure, a.row["difference"]) for a in one.apart}


def test_the_further_walk_named_first_is_that_of_the_setting_least_sure() -> None:
    hits = 0
    for seed in range(10):
        rng = np.random.default_rng(50 + seed)
        shift = dict.fromkeys(USUAL, 0.0) | {"slap_rate_deg_s": 18.0, "slap_shock_m_s2": 4.0}
        found = chosen([made(rng, "b", "soft", strides=60), made(rng, "c", "firm", shift, strides=8)])
        hits += bool(found.next_walks) and found.next_walks[0].key == "walk:c"
    assert hits >= 9


def test_criteria_name_measures_once() -> None:
    columns = [column for one in CRITERIA for column in one.columns]
    assert all(a != b for a, b in combinations(columns, 2))
    assert isinstance(stride_table([]), pa.Table)
