"""What is understood of a log before anything is run."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from firstrocker.web.apart import Looker
from firstrocker.web.details import Details, WalkEntry
from firstrocker.web.place import HOME
from firstrocker.web.placing import slot_of
from firstrocker.web.recognise import Point, Understood, answer, recognise
from firstrocker.web.sealed import sealed
from web.small_session import log

LOGGERS = HOME / "config" / "loggers"
BOTH = Details(affected_side="left", worn="both", walks=(WalkEntry("a"), WalkEntry("l"), WalkEntry("2")))


def seen(tmp_path: Path, content: bytes, loggers: Path = LOGGERS) -> Understood:
    path = tmp_path / "log"
    path.write_bytes(content)
    return recognise(path, loggers=loggers)


def test_a_known_logger_is_recognised(tmp_path: Path) -> None:
    found = seen(tmp_path, log("slap", "foot"))
    assert found.logger == "example_milliseconds_g_deg"
    assert found.sure
    assert found.questions == []
    assert found.trace is not None
    assert max(found.trace.turning) > 200
    assert Understood.from_json(found.to_json()) == found


def test_two_loggers_that_read_alike_are_asked_about(tmp_path: Path) -> None:
    loggers = tmp_path / "loggers"
    loggers.mkdir()
    for name in ("one", "two"):
        shutil.copy(LOGGERS / "example_milliseconds_g_deg.yaml", loggers / f"{name}.yaml")
    found = seen(tmp_path, log("slap", "foot"), loggers)
    assert found.fits == ("one", "two")
    assert found.logger == ""
    assert not found.sure


def test_the_profile_under_which_gravity_is_gravity_is_taken(tmp_path: Path) -> None:
    loggers = tmp_path / "loggers"
    loggers.mkdir()
    text = (LOGGERS / "example_milliseconds_g_deg.yaml").read_text()
    (loggers / "a_wrong.yaml").write_text(text.replace("acceleration: g ", "acceleration: m/s^2 "))
    (loggers / "right.yaml").write_text(text)
    assert seen(tmp_path, log("slap", "foot"), loggers).fits == ("right",)


@pytest.mark.parametrize(
    ("change", "said"),
    [((b"angular_velocity: deg/s", b"angular_velocity: rad/s"), "turns up to"), ((b": g ", b": mg "), "gravity")],
)
def test_a_unit_that_cannot_be_is_asked_about(tmp_path: Path, change: tuple[bytes, bytes], said: str) -> None:
    loggers = tmp_path / "loggers"
    loggers.mkdir()
    text = (LOGGERS / "example_milliseconds_g_deg.yaml").read_bytes()
    assert change[0] in text
    (loggers / "only.yaml").write_bytes(text.replace(*change))
    found = seen(tmp_path, log("slap", "foot"), loggers)
    assert not found.sure
    assert any(said in point.words for point in found.questions)


def test_an_answered_doubt_goes_into_the_session_s_own_profile(tmp_path: Path) -> None:
    path = tmp_path / "log"
    path.write_bytes(log("slap", "foot"))
    proposed = {
        "columns": {"time": "t", "acceleration": ["ax", "ay", "az"], "angular_velocity": ["gx", "gy", "gz"]},
        "units": {"time": "ms", "acceleration": "m/s^2", "angular_velocity": "deg/s"},
    }
    doubt = Point("units.acceleration", "Too little for one, too much for the other.", False, ("m/s^2", "g"))
    asked = Understood(own=proposed, points=(doubt,))
    assert asked.questions == [doubt]
    settled = answer(path, asked, {"units.acceleration": 1})
    assert settled.own is not None
    assert settled.own["units"]["acceleration"] == "g"
    assert settled.logger != asked.logger
    assert settled.questions == []
    assert any("9.73 m/s²" in point.words for point in settled.points)
    assert proposed["units"] == {"time": "ms", "acceleration": "m/s^2", "angular_velocity": "deg/s"}


def test_what_eats_memory_takes_nothing_else_down(tmp_path: Path) -> None:
    """Rows by the million in a small zip would be unpacked within bounds; here a text that is one endless line."""
    path = tmp_path / "log"
    path.write_bytes(b"t,ax,ay,az,gx,gy,gz\n" + b"1," * 20_000_000)
    looker = Looker(LOGGERS)
    try:
        assert looker.recognise(path).problem
        path.write_bytes(log("slap", "foot"))
        assert looker.recognise(path).sure
    finally:
        looker.close()


@pytest.mark.parametrize(
    ("name", "slot"),
    [
        ("a_left_foot.csv", "a:left:foot"),
        ("A right SHANK.parquet", "a:right:shank"),
        ("a_foot.csv", ""),  # which side?
        ("left_foot.csv", ""),  # which walk?
        ("a_left.csv", ""),  # which segment?
        ("l_left_foot.csv", ""),  # is l the walk, or left?
        ("a_2_left_foot.csv", ""),  # two walks
        ("2_left_tibia.csv", "2:left:shank"),
        ("afoot.csv", ""),
    ],
)
def test_a_name_that_leaves_a_doubt_tells_nothing(name: str, slot: str) -> None:
    assert slot_of(name, BOTH) == slot
    assert slot_of(name, BOTH, taken={slot}) == ""


def test_nothing_that_got_into_a_report_as_text_can_act() -> None:
    page, policy = sealed(
        "<html><head><style>p {color: red}</style></head><body>"
        '<p style="color: blue" class="a">x</p><p style="color: blue">y</p>'
        '<p style="background: url(&quot;x&quot;)">z</p>'
        "</body></html>"
    )
    assert " style=" not in page
    assert page.count('data-s="0"') == 3  # the rule and the two that use it
    assert "unsafe" not in policy
    assert policy.count("'sha256-") == 2
    assert "allow-scripts" not in policy
    _, scripted = sealed("<html><head></head><body><script>1</script></body></html>")
    assert "allow-scripts" in scripted
    assert "allow-same-origin" not in scripted
