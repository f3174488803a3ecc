"""The settings of trends and alerts over days at home."""

from __future__ import annotations

from typing import Annotated

from pydantic import BeforeValidator, Field

from firstrocker.settings_fields import Section, setting

DayLabel = Annotated[str, BeforeValidator(str), Field(pattern=r"^\d{8}$")]


class TrendSettings(Section):
    """From days at home to trends and alerts."""

    baseline_days: int = setting(
        14,
        unit="days",
        meaning="A person's first days with data in a condition and setting, which later days are set against.",
        why="two whole weeks, so that weekdays and weekends are in it; on simulated months 7 days cost detection.",
        small="alerts begin sooner, and each needs a larger change.",
        large="nothing is watched for longer.",
        ge=7,
        le=90,
    )
    day_strides: int = setting(
        20,
        unit="strides",
        meaning="A day with fewer steady strides is not used.",
        why="fewer do not fill two bouts; from memory, no source.",
        small="days of little walking enter, with wide errors.",
        large="quiet days fall out.",
        ge=5,
        le=1000,
    )
    false_alarm_months: float = setting(
        24.0,
        unit="months",
        meaning="Of one person, to one false alarm of each kind of alert, looked at every night.",
        why="four kinds and thirty people then give five a month at most; the limits follow by simulation.",
        small="changes are found sooner, among more false alarms.",
        large="fewer false alarms; changes are found later or not at all.",
        ge=2.0,
        le=600.0,
    )
    slap_quantile: float = setting(
        0.9,
        unit="1",
        meaning="A stride is a slap where its slap rate exceeds that of this share of the person's baseline strides.",
        why="no slap rate is published above which a foot slaps, so each person is the measure; common practice.",
        small="more strides are slaps, and the share hardly tells bad from usual.",
        large="few strides are slaps, and their share is unsteady.",
        ge=0.5,
        le=0.99,
    )
    slap_rate_deg_s: float | None = setting(
        None,
        unit="deg/s",
        meaning="Slap rate above which a stride is a slap, for everyone; null takes each person's own.",
        why="see slap_quantile.",
        small="more strides are slaps.",
        large="fewer strides are slaps.",
        gt=0.0,
        le=3000.0,
    )
    near_scuff_mm: float = setting(
        5.0,
        unit="mm",
        meaning="A toe that passes lower than this in swing, error allowed for, is a scuff or near-scuff.",
        why="mean of healthy walkers less two standard deviations (Winter 1992, abstract seen).",
        small="only strides that all but touch; where the error is large, none.",
        large="usual strides count as near-scuffs.",
        gt=0.0,
        le=30.0,
    )
    slap_share_change: float = setting(
        0.1,
        unit="1",
        meaning="Rise in the share of slaps that is worth an alert.",
        why="twice as many as in the baseline; no source.",
        small="smaller changes are told, where days scatter little.",
        large="smaller changes are passed over.",
        gt=0.0,
        lt=1.0,
    )
    clearance_change_mm: float = setting(
        3.0,
        unit="mm",
        meaning="Fall of the day's median toe clearance that is worth an alert.",
        why="a quarter of what healthy walkers have; nobody has published what days differ by; no source.",
        small="smaller changes are told, where days scatter little.",
        large="smaller changes are passed over.",
        gt=0.0,
        le=50.0,
    )
    near_scuff_change: float = setting(
        0.05,
        unit="1",
        meaning="Rise in the share of scuffs and near-scuffs that is worth an alert.",
        why="one stride in twenty; no source.",
        small="smaller changes are told, where days scatter little.",
        large="smaller changes are passed over.",
        gt=0.0,
        lt=1.0,
    )
    wear_change_h: float = setting(
        2.0,
        unit="h",
        meaning="Fall of the hours worn a day that is worth an alert.",
        why="no source.",
        small="smaller changes are told, where days scatter little.",
        large="smaller changes are passed over.",
        gt=0.0,
        le=24.0,
    )
    begin_anew: dict[str, DayLabel] = setting(
        {},
        unit="YYYYMMDD",
        meaning="Day from which a person is followed anew, by the person's label: days before are in no table.",
        why="new shoes or another fit make the old baseline wrong, and an alert of it would stand for good; a changed "
        "setting in the session files begins anew by itself.",
    )
    silent_days: int = setting(
        3,
        unit="days",
        meaning="Days without any session of a person, up to the study's last day, after which an alert says so.",
        why="a weekend away is no fault; no source.",
        small="weekends are told.",
        large="a broken logger goes unseen for longer.",
        ge=1,
        le=365,
    )
    trend_days: int = setting(
        28,
        unit="days",
        meaning="The last days of a series over which its slope is told.",
        why="four weeks; no source.",
        small="the slope follows the last days and is unsure.",
        large="what happened long ago is in it.",
        ge=10,
        le=1000,
    )
