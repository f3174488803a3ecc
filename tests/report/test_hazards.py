"""Wrong labels are asked about, right ones are left in peace; nothing is ever decided for the clinician."""

from __future__ import annotations

from typing import Any

import pytest

from firstrocker.report.hazards import SIGN_FINDINGS, swapped_conditions, wrong_order, wrong_side, wrong_sign
from report.hazard_sessions import tuning_session, two_sided_session


def walk_of(
    name: str, condition: str = "braced", resistance: float | None = None, unit: str = "Shore A"
) -> dict[str, Any]:
    setting = None if resistance is None else {"label": f"r{resistance:g}", "resistance": resistance, "unit": unit}
    return {"walk": name, "condition": condition, "setting": setting}


def pair(reference: str, other: str, verdict: str, measure: str = "slap_rate_deg_s") -> dict[str, Any]:
    return {"reference": f"walk:{reference}", "other": f"walk:{other}", "measure": measure, "verdict": verdict}


def mean_of(measure: str, mean: float, side: str = "left", *, walk: str = "a", se: float = 0.5) -> dict[str, Any]:
    return {"measure": measure, "mean": mean, "se": se, "side": side, "walk": walk}


@pytest.fixture(scope="module")
def tuned() -> Any:
    return tuning_session(300, strides=9)


@pytest.mark.parametrize(
    ("labels", "asked"),
    [
        ({}, set()),
        ({"a": "d", "d": "a"}, {"swapped"}),
        ({"b": "d", "d": "b"}, {"order"}),
    ],
)
def test_simulated_labels_exchanged(tuned: Any, labels: dict[str, str], asked: set[str]) -> None:
    found = tuned.relabelled(labels).hazards()
    states = {code: one.state for code, one in found.items() if code in ("swapped", "order", "sign")}
    assert {code for code, state in states.items() if state == "ask"} >= asked
    if not asked:
        assert set(states.values()) == {"nothing found"}
    for one in found.values():
        assert (one.question is not None) == (one.state == "ask")
        assert one.question is None or one.question.endswith("?")


@pytest.mark.parametrize("kind", ["toe_drop", "hemiparetic"])
def test_simulated_sides_exchanged(kind: str) -> None:
    session = two_sided_session(kind, 500)
    assert session.hazards()["side"].state == "nothing found"
    asked = session.other_side().hazards()["side"]
    assert asked.state == "ask"
    assert "looks more affected in foot pitch at heel strike" in asked.checked


def test_one_side_cannot_be_told() -> None:
    rows = [mean_of("foot_pitch_heel_strike_deg", 5.0)]
    assert wrong_side(rows, "left", [walk_of("a", "unbraced")]).state == "cannot be told"
    assert wrong_side(rows, None, []).state == "cannot be told"


def test_unbraced_walks_tell_of_sides_where_there_are_any() -> None:
    rows = [mean_of("foot_pitch_heel_strike_deg", 5.0), mean_of("foot_pitch_heel_strike_deg", 15.0, "right")]
    rows += [
        mean_of("foot_pitch_heel_strike_deg", value, side, walk="b") for value, side in ((25.0, "left"), (5.0, "right"))
    ]
    walks = [walk_of("a", "unbraced"), walk_of("b")]
    assert wrong_side(rows, "left", walks).state == "nothing found"
    assert wrong_side(rows, "left", walks[1:]).state != "nothing found"


def test_a_difference_of_sides_must_be_clear() -> None:
    rows = [mean_of("foot_pitch_heel_strike_deg", 15.0, se=8.0), mean_of("foot_pitch_heel_strike_deg", 5.0, "right")]
    assert wrong_side(rows, "left", [walk_of("a", "unbraced")]).state == "cannot be told"


def test_signs() -> None:
    good = [mean_of("foot_pitch_toe_off_deg", -50.0), mean_of("shank_mid_stance_deg", 3.0)]
    assert wrong_sign(good, []).state == "nothing found"
    back = wrong_sign([good[0], mean_of("shank_mid_stance_deg", -18.0)], [])
    assert back.state == "ask"
    assert "walk a, left: the shank leans back in mid-stance (\u221218\u00b0)" in back.checked
    assert wrong_sign([mean_of("foot_pitch_toe_off_deg", 20.0)], []).state == "ask"
    assert wrong_sign([], []).state == "cannot be told"
    for code in SIGN_FINDINGS:
        assert code in wrong_sign(good, [{"code": code}]).checked


@pytest.mark.parametrize(
    ("verdict", "state"), [("higher", "ask"), ("lower", "nothing found"), ("no clear change", "nothing found")]
)
@pytest.mark.parametrize("turned", [False, True])
def test_a_braced_walk_that_slaps_more(verdict: str, state: str, turned: bool) -> None:
    other = {"higher": "lower", "lower": "higher"}.get(verdict, verdict)
    rows = [pair("b", "a", other) if turned else pair("a", "b", verdict)]
    found = swapped_conditions(rows, [walk_of("a", "unbraced"), walk_of("b")])
    assert found.state == state
    assert ("In walk b it does" in found.checked) == (state == "ask")


def test_too_few_strides_cannot_tell_of_labels() -> None:
    walks = [walk_of("a", "unbraced"), walk_of("b", resistance=50), walk_of("c", resistance=60)]
    rows = [pair("a", "b", "too few strides"), pair("b", "c", "too few strides")]
    assert swapped_conditions(rows, walks).state == "cannot be told"
    assert wrong_order(rows, walks).state == "cannot be told"


@pytest.mark.parametrize(("first", "second"), [("b", "c"), ("c", "b")])
def test_more_resistance_that_looks_softer(first: str, second: str) -> None:
    walks = [walk_of("b", resistance=50), walk_of("c", resistance=60)]
    softer, stiffer = ("higher", "lower") if second == "c" else ("lower", "higher")
    assert wrong_order([pair(first, second, softer)], walks).state == "ask"
    assert wrong_order([pair(first, second, stiffer)], walks).state == "nothing found"
    assert "walk c (r60) looks softer than walk b (r50)" in wrong_order([pair(first, second, softer)], walks).checked


def test_resistances_in_different_units_have_no_order() -> None:
    walks = [walk_of("b", resistance=50), walk_of("c", resistance=3, unit="Nm/deg")]
    assert wrong_order([pair("b", "c", "higher")], walks).state == "cannot be told"
