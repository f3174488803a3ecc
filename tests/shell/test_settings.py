"""One strict model: what it accepts, what it refuses, and in which words."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from firstrocker.errors import SettingsError
from firstrocker.settings import SECTIONS, Settings, load_settings
from firstrocker.settings_text import readme_with_settings, settings_markdown, settings_schema, settings_yaml


def test_nothing_given_gives_the_defaults() -> None:
    assert load_settings(None) == load_settings({}) == Settings()


def test_what_is_not_named_keeps_its_default() -> None:
    settings = load_settings({"study": {"confidence": 0.9}})
    assert settings.study.confidence == 0.9
    assert settings.study.resamples == Settings().study.resamples
    assert settings.gait == Settings().gait


def test_numbers_may_come_as_text_from_a_command_line() -> None:
    assert load_settings({"gait": {"turn_deg": "30", "min_bout_strides": "6"}}).gait.turn_deg == 30.0


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"study": {"confidnce": 0.9}}, "there is no setting study.confidnce (did you mean study.confidence?)"),
        ({"confidence": 0.9}, "there is no setting confidence (did you mean study.confidence?)"),
        ({"stdy": {}}, "there is no setting stdy (did you mean study?)"),
        ({"gait": {"confidence": 0.9}}, "there is no setting gait.confidence (did you mean study.confidence?)"),
        ({"gait": {"xyzzy": 1}}, "there is no setting gait.xyzzy."),
        ({"gait": {"turn_deg": "wide"}}, "gait.turn_deg: input should be a valid number"),
        ({"gait": {"turn_deg": float("nan")}}, "gait.turn_deg: input should be a finite number"),
        ({"gait": {"turn_deg": -1}}, "gait.turn_deg: input should be greater than 0"),
        ({"motion": {"filter": "magic"}}, "motion.filter: input should be 'vqf'"),
        ({"gait": 3}, "gait: must be a mapping of names to values"),
        ([], "the settings: must be a mapping of names to values"),
    ],
)
def test_a_mistake_is_told_in_words_that_help(given: Any, words: str) -> None:
    with pytest.raises(SettingsError) as caught:
        load_settings(given, where="my.yaml")
    text = str(caught.value)
    assert words in text
    assert text.startswith("my.yaml: ")
    assert "firstrocker settings --markdown" in text


def test_every_mistake_is_told_at_once() -> None:
    with pytest.raises(SettingsError) as caught:
        load_settings({"gait": {"turn_deg": -1}, "study": {"seed": "x"}})
    assert "gait.turn_deg" in caught.value.what
    assert "study.seed" in caught.value.what


def test_settings_cannot_be_changed_afterwards() -> None:
    with pytest.raises(ValidationError):
        Settings().gait.turn_deg = 10.0


def test_every_field_says_what_it_is() -> None:
    for section, model in SECTIONS.items():
        for name, field in model.model_fields.items():
            about = field.json_schema_extra
            assert isinstance(about, dict), f"{section}.{name}"
            assert about["unit"], f"{section}.{name}"
            assert str(about["meaning"]).endswith("."), f"{section}.{name}"
            assert str(about["why"]).endswith("."), f"{section}.{name}"
            is_number = not isinstance(field.default, str | dict)
            assert bool(about["small"]) == bool(about["large"]), f"{section}.{name}"
            assert bool(about["small"]) == is_number, f"{section}.{name}"


def test_printed_forms_hold_every_setting() -> None:
    yaml_text, markdown, schema = settings_yaml(), settings_markdown(), settings_schema()
    assert schema["additionalProperties"] is False
    for model in SECTIONS.values():
        for name in model.model_fields:
            assert f"    {name}: " in yaml_text
            assert f"| `{name}` |" in markdown
            assert name in schema["$defs"][model.__name__]["properties"]
    assert max(map(len, yaml_text.splitlines())) <= 120


def test_a_readme_without_marks_is_refused() -> None:
    with pytest.raises(SettingsError, match="marks"):
        readme_with_settings("# Configuration\n")
