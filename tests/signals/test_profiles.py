"""Logger profiles: strict, found by name, axes only if a sensor can have them."""

from __future__ import annotations

from itertools import permutations, product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from firstrocker.errors import LogError
from firstrocker.signals.profiles import LoggerProfile, find_profile, load_profile, profile_names
from firstrocker.signals.strict import problems_of
from signals.made import LOGGERS, PROFILE


def told(content: dict[str, Any]) -> str:
    with pytest.raises(ValidationError) as caught:
        LoggerProfile.model_validate(content)
    return " ".join(str(problem) for problem in problems_of(caught.value, LoggerProfile))


def test_every_profile_that_comes_along_is_valid() -> None:
    names = profile_names(LOGGERS)
    assert len(names) >= 3
    for name in names:
        assert name.startswith("example_")
        assert isinstance(load_profile(LOGGERS / f"{name}.yaml"), LoggerProfile)


def test_every_key_of_a_profile_is_described() -> None:
    text = (LOGGERS.parent / "README.md").read_text(encoding="utf-8")
    table = text[text.index("## Logger profiles") :]
    for key in LoggerProfile.model_fields:
        assert f"| `{key}` |" in table


def test_the_sessions_own_profile_wins() -> None:
    name = profile_names(LOGGERS)[0]
    own = LoggerProfile.model_validate(PROFILE)
    assert find_profile(name, own={name: own}, folder=LOGGERS) is own
    assert find_profile(name, own={}, folder=LOGGERS) != own


def test_an_unknown_profile_is_told_with_the_nearest_name() -> None:
    with pytest.raises(LogError, match=r"no logger profile called 'bench_b'.* Did you mean 'bench_a'\?") as caught:
        find_profile("bench_b", own={"bench_a": LoggerProfile.model_validate(PROFILE)}, folder=LOGGERS)
    assert "session.yaml" in caught.value.remedy


def test_a_wrong_profile_file_is_told_with_every_problem(tmp_path: Path) -> None:
    (tmp_path / "bad.yaml").write_text(yaml.safe_dump({"columns": PROFILE["columns"], "delimeter": ";"}))
    with pytest.raises(LogError) as caught:
        find_profile("bad", own={}, folder=tmp_path)
    assert "logger profile bad.yaml" in str(caught.value)
    assert "'units' is missing" in caught.value.what
    assert "Did you mean 'delimiter'?" in caught.value.what


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"delimiter": ",", "decimal": ","}, "cannot both part the columns and mark the decimals"),
        ({"units": PROFILE["units"] | {"time": "none"}}, "no 'sampling_rate_hz' is given"),
        ({"columns": PROFILE["columns"] | {"acceleration": ["ax", "ay"]}}, "three different columns"),
        ({"columns": PROFILE["columns"] | {"acceleration": ["ax", "ay", "gx"]}}, "'gx' is named for two things"),
        ({"columns": {k: v for k, v in PROFILE["columns"].items() if k != "time"}}, "No column is named for the time"),
        ({"axes": {"forward": "+x", "left": "+y", "up": "-z"}}, "left-handed"),
        ({"axes": {"forward": "+x", "left": "+x", "up": "+z"}}, "three different axes"),
        ({"axes": "guess"}, "'guess' says nothing of the axes"),
        ({"sampling_rate_hz": 0}, "must be over 0"),
        ({"skip_rows": 1.5}, "is not a number"),
        ({"delimiter": "::"}, "'::' cannot part two columns"),
    ],
)
def test_a_profile_that_cannot_be_is_refused(change: dict[str, Any], words: str) -> None:
    assert words in told(PROFILE | change)


def test_tab_may_be_written_as_a_word() -> None:
    assert LoggerProfile.model_validate(PROFILE | {"delimiter": "tab"}).delimiter == "\t"


AXES = [
    {"forward": s[0] + a[0], "left": s[1] + a[1], "up": s[2] + a[2]}
    for a in permutations("xyz")
    for s in product("+-", repeat=3)
]


@given(st.sampled_from(AXES))
def test_axes_are_a_rotation_or_refused(axes: dict[str, str]) -> None:
    rows = {"x": [1.0, 0, 0], "y": [0, 1.0, 0], "z": [0, 0, 1.0]}
    wanted = np.array([np.array(rows[v[1]]) * (1 if v[0] == "+" else -1) for v in axes.values()])
    if np.linalg.det(wanted) < 0:
        assert "left-handed" in told(PROFILE | {"axes": axes})
        return
    mounting = LoggerProfile.model_validate(PROFILE | {"axes": axes}).mounting
    assert mounting is not None
    np.testing.assert_array_equal(mounting, wanted)
    # The sensor's axis that points forward becomes the segment's x.
    np.testing.assert_array_equal(mounting @ wanted[0], [1.0, 0.0, 0.0])


def test_half_of_all_axes_are_right_handed() -> None:
    fine = 0
    for axes in AXES:
        try:
            LoggerProfile.model_validate(PROFILE | {"axes": axes})
            fine += 1
        except ValidationError:
            pass
    assert fine == 24
