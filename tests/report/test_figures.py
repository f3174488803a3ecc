"""Pictures: what stands in them, where it stands, and that the same data give the same bytes."""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree as Tree

import matplotlib as mpl
import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstrocker.measures import BY_COLUMN
from firstrocker.model import FloatArray
from firstrocker.report.evidence import ClockPicture, SeatPicture
from firstrocker.report.figures.balance import SHANK, SLAP, balance
from firstrocker.report.figures.clocks import clock
from firstrocker.report.figures.courses import courses
from firstrocker.report.figures.follow import over_sessions
from firstrocker.report.figures.labels import beside, spread
from firstrocker.report.figures.looks import Look, looks
from firstrocker.report.figures.moves import QUANTITIES, in_loading, over_the_stride
from firstrocker.report.figures.scale import reach, ticks
from firstrocker.report.figures.seats import seats
from firstrocker.report.figures.strips import strip
from firstrocker.report.figures.walked import Mean, Walked
from firstrocker.study.course import course
from report.made_pages import made_curves, usual_walks
from study.made import stride_table

LOOKS = looks(
    [
        {"walk": "a", "condition": "unbraced", "setting": None},
        {"walk": "b", "condition": "braced", "setting": "soft"},
        {"walk": "c", "condition": "braced", "setting": "soft"},
        {"walk": "d", "condition": "braced", "setting": "firm"},
    ],
    {"a": "unbraced", "b": "soft, walk b", "c": "soft, walk c", "d": "firm"},
)


def made(walk: str, seed: int = 0, *, slap: float = 200.0, shank: float = 80.0, n: int = 12) -> Walked:
    rng = np.random.default_rng(seed)
    strides: dict[str, FloatArray] = {SLAP: rng.normal(slap, 20, n), SHANK: rng.normal(shank, 10, n)}
    means = {column: Mean(float(values.mean()), 12.0, n) for column, values in strides.items()}
    return Walked(walk, LOOKS[walk], strides, means)


def elements(picture: str, tag: str) -> list[Tree.Element]:
    root = Tree.fromstring(picture)  # noqa: S314  made by the code under test
    return [element for element in root.iter() if element.tag == tag]


def texts_of(picture: str) -> list[str]:
    return [element.text or "" for element in elements(picture, "text")]


def test_walks_of_one_setting_look_alike_and_others_do_not() -> None:
    assert LOOKS["b"].shape == LOOKS["c"].shape
    shapes = {LOOKS[walk].shape for walk in "abd"}
    dashes = {LOOKS[walk].dashes for walk in "abd"}
    assert len(shapes) == len(dashes) == 3


def test_the_picture_names_every_walk_and_both_directions() -> None:
    picture = balance([made("a"), made("b", 1, slap=120), made("d", 2, slap=80, shank=200)], level="95 % ")
    assert picture is not None
    texts = texts_of(picture)
    assert {"unbraced", "soft, walk b", "firm"} <= set(texts)
    assert any("too much resistance" in text for text in texts)
    assert any("too little resistance" in text for text in texts)
    about = elements(picture, "desc")[0].text or ""
    assert "firm: slap rate" in about
    assert "95 % interval" in about


def test_every_stride_is_drawn() -> None:
    walks = [made("a", n=17), made("b", 1, n=9)]
    picture = balance(walks, level="")
    assert picture is not None
    groups = [group for group in elements(picture, "g") if sum(child.tag == "use" for child in group) > 5]
    drawn = [sum(child.tag == "use" for child in group) for group in groups]
    assert sorted(drawn) == [9, 17]


def test_a_walk_without_shank_is_not_in_the_picture() -> None:
    foot_only = Walked("b", LOOKS["b"], {SLAP: np.full(4, np.nan), SHANK: np.full(4, np.nan)}, {})
    assert balance([foot_only], level="") is None
    picture = balance([made("a"), foot_only], level="")
    assert picture is not None
    assert [walk for walk in ("unbraced", "soft, walk b") if walk in texts_of(picture)] == ["unbraced"]


def test_a_mean_without_interval_is_drawn_without_one() -> None:
    lonely = Walked(
        "a",
        LOOKS["a"],
        {SLAP: np.array([200.0]), SHANK: np.array([80.0])},
        {SLAP: Mean(200.0, None, 1), SHANK: Mean(80.0, None, 1)},
    )
    picture = balance([lonely], level="95 % ")
    assert picture is not None
    assert "without interval" in picture


@pytest.mark.parametrize("label", ['$x$ & <b>"quoted"\'', "\u786c\u3044", "a\nb\tc", "\\frac", "x" * 200])
def test_labels_are_text_whatever_they_hold(label: str) -> None:
    (look,) = looks([{"walk": "a", "condition": "braced", "setting": label}], {"a": label}).values()
    walk = made("a")
    picture = balance([Walked("a", look, walk.strides, walk.means)], level="")
    assert picture is not None
    assert look.name in texts_of(picture)
    assert len(look.name) <= 18


def test_the_same_bytes_each_time_whatever_matplotlib_is_set_to() -> None:
    walks = [made("a"), made("b", 1)]
    first = balance(walks, level="")
    with mpl.rc_context({"font.size": 30, "svg.fonttype": "path", "axes.edgecolor": "red", "svg.hashsalt": "other"}):
        second = balance(walks, level="")
        assert mpl.rcParams["font.size"] == 30
    assert first == second


def test_a_picture_has_words_colours_of_the_page_and_no_ids_of_others() -> None:
    one, other = balance([made("a")], level=""), strip([made("a")], SLAP, level="")
    assert one is not None
    assert other is not None
    for picture in (one, other):
        root = elements(picture, "svg")[0]
        assert root.get("role") == "img"
        named = (root.get("aria-labelledby") or "").split()
        ids = {element.get("id") for element in root.iter()} - {None}
        assert set(named) <= ids
        assert not re.search(r"#[0-9a-f]{6}\b", re.sub(r"(#[\w-]*-[mph][0-9a-f]{10})|(id=\"[^\"]*\")", "", picture))
        assert "font-family" not in picture
        assert "http" not in picture
        for reference in re.findall(r"url\(#([^)]+)\)|href=\"#([^\"]+)\"", picture):
            assert "".join(reference) in ids
    assert not set(re.findall(r' id="([^"]+)"', one)) & set(re.findall(r' id="([^"]+)"', other))


def test_strips_give_each_walks_number() -> None:
    walk = made("a")
    picture = strip([walk], SLAP, level="95 % ")
    assert picture is not None
    value = f"{walk.means[SLAP].value:.{BY_COLUMN[SLAP].decimals}f}\u00b0/s"
    assert value in texts_of(picture)
    assert strip([Walked("a", LOOKS["a"], {SLAP: np.array([np.nan])}, {})], SLAP, level="") is None


def test_courses_are_the_means_of_strides_that_count() -> None:
    strides = stride_table(usual_walks())
    curves = made_curves(strides)
    seen: dict[str, Look] = {walk: LOOKS[walk] for walk in "abc"}
    found = courses(strides, curves, side="left", looks=seen)
    assert [one.walk for one in found] == ["a", "b", "c"]
    frame = curves.to_pandas()
    mine = frame[(frame.walk == "b") & frame.steady]
    mean, spread_of = found[1].by_percent("foot_pitch_deg")
    by_percent = mine.groupby("percent").foot_pitch_deg
    np.testing.assert_allclose(mean, by_percent.mean())
    np.testing.assert_allclose(spread_of, by_percent.std())
    assert found[1].event_s("foot flat") == pytest.approx(0.09)
    assert found[1].event_percent("toe off") == pytest.approx(100 * 0.72 / 1.15)
    by_time, _ = found[1].by_time("foot_pitch_deg", np.array([0.0, 0.0575]))
    np.testing.assert_allclose(by_time, mean[[0, 5]])


def test_movement_without_shank_has_no_ankle() -> None:
    strides = stride_table(usual_walks())
    found = courses(strides, made_curves(strides, shank=False), side="left", looks={w: LOOKS[w] for w in "abc"})
    drawn = [quantity.column for quantity in QUANTITIES if over_the_stride(found, quantity) is not None]
    assert drawn == ["foot_pitch_deg", "toe_height_mm"]
    assert in_loading(found, QUANTITIES[1]) is None


def test_a_stride_without_foot_flat_still_has_its_curves() -> None:
    strides = stride_table(usual_walks())
    place = strides.column_names.index("foot_flat_s")
    empty = strides.set_column(place, strides.schema.field(place), pa.nulls(strides.num_rows, pa.float64()))
    found = courses(empty, made_curves(strides), side="left", looks={"a": LOOKS["a"]})
    assert over_the_stride(found, QUANTITIES[0]) is not None
    assert in_loading(found, QUANTITIES[0]) is None


@given(st.lists(st.floats(0, 100), min_size=1, max_size=8))
def test_labels_moved_apart_stay_in_order_and_inside(wanted: list[float]) -> None:
    found = spread(wanted, gap=10, low=0, high=100)
    order = np.argsort(wanted, kind="stable")
    assert np.all(np.diff(np.array(found)[order]) >= 10 - 1e-9)
    assert min(found) >= -1e-9
    assert max(found) <= 100 + 1e-9


def test_a_label_does_not_lie_on_another() -> None:
    anchors = [(100.0, 100.0), (104.0, 100.0), (96.0, 100.0)]
    words = ["one", "other", "third"]
    found = beside(anchors, [(5.0, 5.0)] * 3, words, np.array(anchors), (0.0, 0.0, 400.0, 300.0))
    boxes = [(x - 4 * len(w), x + 4 * len(w), y - 8, y + 8) for (x, y), w in zip(found, words, strict=True)]
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            assert a[0] >= b[1] or b[0] >= a[1] or a[2] >= b[3] or b[2] >= a[3]


@given(st.lists(st.floats(-500, 500), min_size=1, max_size=30), st.booleans())
def test_a_scale_holds_its_values_and_carries_different_numbers(values: list[float], zero: bool) -> None:
    low, high = reach(values, zero=zero)
    assert low <= min(values)
    assert high >= max(values)
    assert low < high
    places, words = ticks(low, high)
    assert all(low - 1e-9 <= place <= high + 1e-9 for place in places)
    assert len(set(words)) == len(words)


def test_a_seat_shows_its_three_axes_and_says_where_they_point() -> None:
    turned = SeatPicture("b", "left", "shank", {"x": (0.0, 0.0, -1.0), "y": (0.0, -1.0, 0.0), "z": (1.0, 0.0, 0.0)})
    picture = seats([turned, SeatPicture("b", "right", "foot", turned.axes)], {"b": "soft"}, side="left")
    assert picture is not None
    assert sorted(texts_of(picture)) == ["shank", "soft", "x", "y", "z"]
    about = elements(picture, "desc")[0].text or ""
    assert "soft, shank: x mostly down, y mostly right, z mostly forward" in about
    assert seats([turned], {}, side="right") is None


def test_clocks_are_drawn_as_far_as_they_are_known() -> None:
    time = np.linspace(3.0, 5.0, 50).tolist()
    foot = np.sin(time).tolist()
    both = clock(ClockPicture("a", "left", "Told.", time, foot, foot, [None] * 50), name="clock-0")
    assert both is not None
    assert [text for text in texts_of(both) if "foot" in text or "shank" in text] == ["foot", "shank, as laid"]
    assert "Told." in (elements(both, "desc")[0].text or "")
    assert clock(ClockPicture("a", "left", "", [], [], [], []), name="clock-1") is None


def test_a_course_shows_every_session_and_setting() -> None:
    def walked_as(setting: str | None, mean: float, se: float | None) -> dict[str, Any]:
        condition = "unbraced" if setting is None else "braced"
        keys = {"side": "left", "condition": condition, "setting": setting, "resistance": None, "walk": condition}
        return keys | {"measure": SLAP, "n": 20, "mean": mean, "se": se}

    sessions = [
        ("1", "left", [walked_as(None, 300, 9.0), walked_as("soft", 200, 5.0)]),
        ("2", "left", [walked_as(None, 310, None), walked_as("soft", 190, 5.0)]),
    ]
    points = course(sessions, confidence=0.95, min_strides=5)
    picture = over_sessions(points, [point.setting or "unbraced" for point in points], level="95 % ")
    assert picture is not None
    assert {"1", "2", "unbraced", "soft"} <= set(texts_of(picture))
    assert "soft: session 1 200\u00b0/s, session 2 190\u00b0/s" in (elements(picture, "desc")[0].text or "")
    assert over_sessions([], [], level="") is None
