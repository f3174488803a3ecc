"""The shank's zero is that of standing: not of a chair, a table, or a bent knee."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstrocker.chain import Result, analyse
from firstrocker.model import STANDARD_GRAVITY, FloatArray, IntArray, Signal
from firstrocker.motion.rest import Rest
from firstrocker.motion.sensor import Sensor
from firstrocker.motion.standing import STANCE_LEAN, UNKNOWN_STANDING_SE, Standing, find_standing, standing_findings
from firstrocker.motion.walked import Bouts, bouts_of
from firstrocker.settings import Settings
from firstrocker.synth.chair import Sit, Table
from firstrocker.synth.trial import Trial, trial

HZ = 100.0
WALK = (1000, 2000)
BOUTS = Bouts(((0, 9),), (WALK,), 1.1)
MARGIN_DEG = 1.5


def stood(course: FloatArray, spans: list[tuple[int, int]], bouts: Bouts = BOUTS) -> Standing:
    """Standing of a shank that leans by ``course`` (n,) deg, whose quiet stretches are ``spans``."""
    lean = np.radians(course)
    level = np.column_stack([-np.sin(lean), np.zeros_like(lean), np.cos(lean)])
    gravity = np.array([STANDARD_GRAVITY * level[a:b].mean(axis=0) for a, b in spans]).reshape(-1, 3)
    rest = Rest(np.ones(len(lean), dtype=np.bool_), tuple(spans), None, gravity)
    still = np.ones(len(lean), dtype=np.bool_)
    signal = Signal("shank", "left", STANDARD_GRAVITY * level, np.zeros_like(level), still, ~still)
    return find_standing(rest, still, Sensor(signal, HZ, 1.0, np.zeros(3)), lean, np.eye(3), bouts)


def lean_of(found: Standing) -> float:
    return float(np.degrees(-np.arcsin(found.up[0] / np.linalg.norm(found.up))))


def through(*keys: tuple[int, float]) -> FloatArray:
    """(3000,) deg, in straight lines through keys."""
    places, values = zip(*keys, strict=True)
    return np.asarray(np.interp(np.arange(3000), places, values))


def test_the_chair_before_the_walk_does_not_count_and_the_stand_does() -> None:
    rising = through((0, -12.0), (700, -12.0), (780, 14.0), (850, -4.0), (980, -4.0), (1000, 2.0))
    found = stood(rising, [(0, 700), (850, 980)])
    assert found.spans == ((850, 980),)
    assert lean_of(found) == pytest.approx(-4.0, abs=0.2)
    assert found.doubtful_s == pytest.approx(7.0)
    assert not standing_findings(found, "left")


def test_who_rises_so_slowly_that_it_passes_for_rest_stands_at_its_end_only() -> None:
    rising = through((0, 8.0), (600, 8.0), (850, -4.0), (990, -4.0), (1000, 0.0))
    found = stood(rising, [(0, 990)])
    assert lean_of(found) == pytest.approx(-4.0, abs=0.5)
    assert all(first >= 820 for first, _ in found.spans)


@pytest.mark.parametrize(
    ("keys", "spans"),
    [
        (((0, -2.0), (700, -2.0), (780, 14.0), (900, -4.0), (1000, 4.0)), [(0, 700)]),  # rose and walked at once
        (((0, -14.0), (750, -14.0), (900, -4.0), (1000, 4.0)), [(0, 750)]),  # pushed up with the arms
        (((0, 40.0), (880, 40.0), (1000, -4.0)), [(0, 880)]),  # a sensor on a table
        (((2000, 0.0), (2150, 14.0), (2220, 2.0), (2999, 2.0)), [(2230, 3000)]),  # sat down at the end
        (((0, -4.0), (300, -4.0), (1000, -4.0)), [(0, 300)]),  # far from any step
    ],
)
def test_where_nobody_stood_walking_gives_the_zero_and_that_is_told(
    keys: tuple[tuple[int, float], ...], spans: list[tuple[int, int]]
) -> None:
    found = stood(through(*keys), spans)
    assert found.spans == ()
    assert found.se == UNKNOWN_STANDING_SE
    assert lean_of(found) == pytest.approx(-np.degrees(STANCE_LEAN))
    (said,) = standing_findings(found, "left")
    assert (said.code, said.severity) == ("standing-doubtful", "warning")
    assert "chair" in said.message


def test_no_rest_at_all_is_told_otherwise() -> None:
    (said,) = standing_findings(stood(np.zeros(3000), []), "right")
    assert (said.code, said.side) == ("no-standing-shank", "right")


def test_standing_differently_is_told_and_widens_the_interval() -> None:
    course = through((0, -4.0), (990, -4.0), (1000, 0.0), (2000, 6.0), (2050, 6.0), (2999, 6.0))
    found = stood(course, [(200, 990), (2050, 2950)])
    assert np.degrees(found.differ) == pytest.approx(10.0, abs=0.3)
    assert np.degrees(found.se) > 3.0
    (said,) = standing_findings(found, "left")
    assert said.code == "standing-differs"


def test_a_shank_that_hardly_rests_is_told() -> None:
    course = through((0, -30.0), (650, -13.0), (990, -5.0), (1000, 0.0))
    found = stood(course, [(700, 990)])
    assert found.spans
    (said,) = standing_findings(found, "left")
    assert said.code == "standing-doubtful"
    assert "hardly" in said.message


@settings(deadline=None, max_examples=40)
@given(
    st.floats(-14.0, 6.0),
    st.floats(-15.0, 15.0),
    st.floats(130.0, 280.0),
    st.floats(60.0, 300.0),
    st.booleans(),
)
def test_a_stand_wins_over_any_chair(stand: float, seat: float, rise: float, stay: float, ends: bool) -> None:
    up = round(1000 - stay - rise)
    keys = [(0, seat), (up, seat), (round(up + 0.45 * rise), max(seat, stand) + 9.0), (round(up + rise), stand)]
    keys += [(1000 - 10, stand), (1000, stand + 3.0)]
    course, spans = through(*keys), [(0, up), (round(up + rise), 990)]
    if ends:
        course = course[::-1].copy()
        spans = [(3000 - b, 3000 - a) for a, b in reversed(spans)]
    found = stood(course, spans)
    assert lean_of(found) == pytest.approx(stand, abs=MARGIN_DEG)


@settings(deadline=None, max_examples=60)
@given(
    st.lists(st.integers(60, 90), min_size=3, max_size=12),
    st.integers(220, 400),
    st.booleans(),
    st.booleans(),
)
def test_a_foot_drawn_back_is_no_walking(stances: list[int], pause: int, first: bool, rolls: bool) -> None:
    """One step lies apart, before or after; a foot that rolls on has but one anchor in each stance."""
    gaps = [pause, *stances] if first else [*stances, pause]
    index, moved = [0], []
    for gap in [*gaps, 0]:
        low = index[-1]
        index.append(low + 50)
        moved.append(True)
        if gap == pause or (gap and not rolls):
            index.append(index[-1] + gap)
            moved.append(False)
        elif gap:
            index[-1] += gap
    places: IntArray = np.array(index)
    found = bouts_of(places, np.array(moved), HZ)
    assert len(found.steps) == 1
    assert sum(moved[found.steps[0][0] : found.steps[0][1] + 1]) == len(stances) + 1
    low, high = found.spans[0]
    assert low >= pause if first else high - 1 <= places[-1] - pause
    assert set(found.stances(places)) <= set(places[(places > low) & (places < high - 1)])


def test_nobody_walked() -> None:
    found = bouts_of(np.array([0, 10]), np.array([False]), HZ)
    assert (found.steps, found.spans) == ((), ())
    assert not len(found.stances(np.array([0, 10])))


RISES = Sit(0, 12.0, -10.0, roll_deg=5.0, after_s=0.8, peak_deg=14.0)
ENDS = Sit(1, 8.0, 18.0, before_s=0.8, peak_deg=28.0)


@cache
def result_of(kind: str, sits: tuple[Sit, ...], table: Table | None = None, standing_deg: float = 0.0) -> Result:
    walk = seated(kind, sits, table, standing_deg)
    return analyse(walk.person, (walk.logs,), settings=Settings())


@cache
def seated(kind: str, sits: tuple[Sit, ...], table: Table | None, standing_deg: float) -> Trial:
    return trial(kind, seed=91, strides=7, bouts=1, turns=(), sits=sits, table=table, standing_shank_deg=standing_deg)


def off_by(
    kind: str, sits: tuple[Sit, ...], table: Table | None = None, standing_deg: float = 0.0
) -> tuple[float, float]:
    """Mean error of the ankle at heel strike and of the shank in mid-stance, and their standard error, deg."""
    truth = [row for row in seated(kind, sits, table, standing_deg).truth.strides if row["steady"]]
    found = [row for row in result_of(kind, sits, table, standing_deg).strides.to_pylist() if row["steady"]]
    assert len(found) == len(truth) > 2
    columns = ("ankle_heel_strike_deg", "shank_mid_stance_deg")
    errors = [f[c] - float(t[c]) for t, f in zip(truth, found, strict=True) for c in columns]
    return float(np.mean(errors)), float(np.mean([f[f"{columns[0]}_se"] for f in found]))


@pytest.mark.parametrize(
    ("kind", "sits", "table"),
    [
        ("slap", (RISES,), None),
        ("too_much_resistance", (RISES, ENDS), None),
        ("hemiparetic", (replace(RISES, ahead_m=0.15), ENDS), None),
        ("no_heel_rise", (replace(RISES, seconds=30.0, tilt_deg=15.0, peak_deg=25.0),), Table(8.0)),
        ("normal", (replace(RISES, tilt_deg=12.0, peak_deg=12.0, rise_s=0.8),), None),
    ],
)
def test_the_zero_is_that_of_standing(kind: str, sits: tuple[Sit, ...], table: Table | None) -> None:
    error, se = off_by(kind, sits, table)
    assert abs(error) < MARGIN_DEG
    assert se < 1.0
    assert not {f.code for f in result_of(kind, sits, table).findings if f.severity != "info"}
    rests = {rest.segment: rest for rest in result_of(kind, sits, table).evidence[0].sides[0].rests}
    walked_from = seated(kind, sits, table, 0.0).walker.standing[0][1]
    assert all(first > walked_from - 2.0 for first, _ in rests["shank"].stood)


def test_who_never_stands_is_told_of_and_covered() -> None:
    sits = (replace(RISES, after_s=0.0, seconds=20.0), replace(ENDS, before_s=0.0))
    error, se = off_by("balanced", sits)
    assert abs(error) < 1.96 * se
    codes = {f.code for f in result_of("balanced", sits).findings}
    assert "standing-doubtful" in codes or se < 1.0


def test_a_foot_on_its_heel_before_the_walk_is_no_sensor_that_slipped() -> None:
    sits = (replace(RISES, foot_pitch_deg=20.0),)
    assert abs(off_by("slap", sits)[0]) < MARGIN_DEG
    assert "sensor-slipped" not in {f.code for f in result_of("slap", sits).findings}
