"""Every setting that changes a result, in one strict model: the only source of defaults, schema and documentation.

One section per leg of the pipeline. To add a setting, add one field here: ``config/config.yaml`` and the table in
``config/README.md`` are printed from this module (``firstrocker settings --yaml``, ``--markdown``) and a test keeps
them in step.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import Field, ValidationError

from firstrocker.errors import SettingsError
from firstrocker.model import FilterName
from firstrocker.settings_bids import BidsSettings
from firstrocker.settings_day import DaySettings
from firstrocker.settings_fields import Section, setting
from firstrocker.settings_nightly import NightlySettings
from firstrocker.settings_trend import TrendSettings


class SignalSettings(Section):
    """From logs to clean signals on one clock."""

    rate_hz: float | None = setting(
        None,
        unit="Hz",
        meaning="Rate of the walk's uniform clock; null takes the foot log's own.",
        why="resampling adds nothing that the log does not hold.",
        small="less to compute, but contact and slap are blurred below 50 Hz.",
        large="slower; no new information above the log's own rate.",
        ge=20.0,
        le=2000.0,
    )
    max_bridge_s: float = setting(
        0.035,
        unit="s",
        meaning="Longest time between two samples of a log that is interpolated and still counts as measured.",
        why="two lost samples at 100 Hz; on simulated walks longer gaps cost centimetres of stride length.",
        small="more strides are left out after lost samples.",
        large="a peak may be cut off unseen.",
        ge=0.0,
        le=0.5,
    )
    max_clock_offset_s: float = setting(
        10.0,
        unit="s",
        meaning="Greatest offset between the clocks of two logs of a walk that is searched for.",
        why="loggers started by hand one after the other rarely differ by more.",
        small="faster; clocks that differ by more are not matched, and the shank log is not used.",
        large="slower; a regular walk can be matched to the wrong stride.",
        ge=0.0,
        le=120.0,
    )


class MotionSettings(Section):
    """From signals to how foot and shank moved."""

    filter: FilterName = setting(
        "vqf",
        unit="name",
        meaning="Orientation filter that gives each segment's course.",
        why="the most accurate of these on reference recordings, and the fastest.",
    )
    rest_min_s: float = setting(
        0.5,
        unit="s",
        meaning="Shortest quiet time that counts as standing still.",
        why="long enough to average sensor noise out of gravity, short enough for a hurried start.",
        small="a pause in stance may pass for standing.",
        large="walks with a short stand have no rest and are rejected.",
        ge=0.1,
        le=10.0,
    )
    rest_gyro_deg_s: float = setting(
        3.0,
        unit="deg/s",
        meaning="Turning that spreads by less than this about its own mean counts as rest.",
        why="above an ordinary sensor's noise, below a person's sway.",
        small="noisy sensors never rest.",
        large="slow movement passes for rest and spoils bias and gravity.",
        gt=0.0,
        le=60.0,
    )
    standing_tolerance_deg: float = setting(
        5.0,
        unit="deg",
        meaning="Tilt of the standing foot against the foot in stance up to which standing gives the sole's level.",
        why="feet stand on the same floor in both; from memory, no source.",
        small="a short or restless stand is not used.",
        large="a foot that stood on a wedge or on its edge shifts every foot angle.",
        gt=0.0,
        le=45.0,
    )


class GaitSettings(Section):
    """From motion to strides and their measures."""

    turn_deg: float = setting(
        20.0,
        unit="deg",
        meaning="A stride whose heading changes by more than this is a turn and does not count.",
        why="the definition of steady strides.",
        small="curved walking is left out.",
        large="strides of a turn enter the summary.",
        gt=0.0,
        le=180.0,
    )
    bout_pause_s: float = setting(
        2.5,
        unit="s",
        meaning="Standing longer than this between two swings of a foot ends a bout.",
        why="longer than the slowest stance seen in walking; common practice, no source.",
        small="very slow walking falls into single steps.",
        large="stops are taken as part of walking.",
        gt=0.3,
        le=30.0,
    )
    stairs_m: float = setting(
        0.10,
        unit="m",
        meaning="A stride in which the foot climbs or descends by more than this, and not on a ramp, does not count.",
        why="below a common stair's rise of 0.17 m, above what drift feigns on the level; common practice, no source.",
        small="level strides are left out by drift.",
        large="low steps pass for level ground, and clearance is wrong there.",
        gt=0.0,
        le=1.0,
    )
    min_bout_strides: int = setting(
        4,
        unit="strides",
        meaning="Bouts of fewer strides do not count.",
        why="the first and last stride of a bout are left out, so that two at least remain.",
        small="starts and stops enter the summary.",
        large="short walks give no steady stride.",
        ge=1,
        le=100,
    )
    rate_cutoff_hz: float = setting(
        40.0,
        unit="Hz",
        meaning="Low-pass corner of the angular rates from which the push-off rate and the curves are read; rates in "
        "loading are smoothed by how long each loading lasts.",
        why="on simulated walkers 25 Hz cost up to a fifth of a sharp peak, 40 Hz next to none.",
        small="the push-off rate is read too low.",
        large="sensor noise and shock enter it.",
        ge=2.0,
        le=200.0,
    )


class StudySettings(Section):
    """From strides to summary and comparison."""

    confidence: float = setting(
        0.95,
        unit="1",
        meaning="Level of every interval of the comparison.",
        why="common practice, no source.",
        small="narrower intervals: more changes are called, more of them wrong.",
        large="wider intervals: real changes go uncalled.",
        ge=0.5,
        le=0.999,
    )
    resamples: int = setting(
        2000,
        unit="draws",
        meaning="Random draws behind the intervals that hold together over all pairs of walks.",
        why="the ends of a 95 % interval settle to a few percent of its width.",
        small="faster; interval ends jump with the seed.",
        large="slower; steadier ends.",
        ge=100,
        le=100_000,
    )
    seed: int = setting(
        1,
        unit="1",
        meaning="Seed of these draws.",
        why="any fixed number makes results repeatable.",
        small="no effect but other draws.",
        large="no effect but other draws.",
        ge=0,
        le=2**31 - 1,
    )
    min_strides: int = setting(
        5,
        unit="strides",
        meaning="Fewer steady strides than this on either side give the verdict 'too few strides'.",
        why="an interval from fewer says nothing; from memory, no source.",
        small="verdicts rest on little.",
        large="short walks get no verdict.",
        ge=2,
        le=1000,
    )


class Settings(Section):
    """All sections; ``Settings()`` is the default."""

    signals: SignalSettings = Field(default_factory=SignalSettings, description="From logs to signals on one clock.")
    day: DaySettings = Field(default_factory=DaySettings, description="Logs too long to be held, and wear time.")
    motion: MotionSettings = Field(default_factory=MotionSettings, description="How foot and shank moved.")
    gait: GaitSettings = Field(default_factory=GaitSettings, description="Strides and their measures.")
    study: StudySettings = Field(default_factory=StudySettings, description="Summary and comparison.")
    trend: TrendSettings = Field(default_factory=TrendSettings, description="Days at home: trends and alerts.")
    bids: BidsSettings = Field(default_factory=BidsSettings, description="How a Motion-BIDS dataset's labels read.")
    nightly: NightlySettings = Field(default_factory=NightlySettings, description="How an inbox is taken in.")


SECTIONS: dict[str, type[Section]] = {name: type(getattr(Settings(), name)) for name in Settings.model_fields}
"""Section -> its model."""


def load_settings(data: Mapping[str, Any] | None, *, where: str = "settings") -> Settings:
    """Settings from a nested mapping; what is not named keeps its default.

    Args:
        data: section -> field -> value, None for all defaults.
        where: the file or place the mapping came from, for the error's text.

    Raises:
        SettingsError: unknown names (with the nearest known one) or impossible values, all in one sentence.
    """
    try:
        return Settings.model_validate({} if data is None else data)
    except ValidationError as error:
        problems = [_explain(problem["loc"], problem["type"], problem["msg"]) for problem in error.errors()]
        raise SettingsError(
            "; ".join(problems) + ".", where=where, remedy="`firstrocker settings --markdown` lists every setting."
        ) from None


def _explain(location: tuple[int | str, ...], kind: str, message: str) -> str:
    """One problem as a clause: what is wrong, and the name that may have been meant."""
    name = ".".join(str(part) for part in location) or "the settings"
    if kind in ("model_type", "model_attributes_type"):
        return f"{name}: must be a mapping of names to values"
    if kind != "extra_forbidden":
        return f"{name}: {message[:1].lower()}{message[1:]}"
    from difflib import get_close_matches

    full_names = {field: f"{section}.{field}" for section, model in SECTIONS.items() for field in model.model_fields}
    last = str(location[-1])
    if len(location) == 1:
        known = {section: section for section in SECTIONS} | full_names
    else:
        known = {field: full for field, full in full_names.items() if full.startswith(f"{location[0]}.")} or full_names
    close = get_close_matches(last, known, n=1, cutoff=0.6) or get_close_matches(last, full_names, n=1, cutoff=0.6)
    hint = f" (did you mean {(known | full_names)[close[0]]}?)" if close else ""
    return f"there is no setting {name}{hint}"
