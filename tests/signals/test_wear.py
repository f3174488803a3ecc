"""How long a sensor was worn, on invented hours whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest

from firstrocker.settings import Settings
from firstrocker.signals.digest import Digest, digest
from firstrocker.signals.restarts import Rows
from firstrocker.signals.wear import recorded_s, unworn, worn_s
from firstrocker.synth.pastimes import PASTIMES
from firstrocker.synth.sensors import CHEAP, ORDINARY, Quality

UNWORN_S = Settings().day.unworn_min_s
HOUR = 3600.0


def day(*parts: tuple[str, float], quality: Quality = ORDINARY, gap: slice | None = None, seed: int = 1) -> Digest:
    """A foot sensor through some hours, at 25 Hz to be quick; noise per sample as at 100."""
    rng = np.random.default_rng(seed)
    made = [PASTIMES[what](rng, 600.0).readings["foot"] for what, _ in parts]
    pieces = []
    for (what, hours), (force, turn) in zip(parts, made, strict=True):
        count = round(hours * HOUR * 25)
        middle = np.resize(np.arange(1000, len(force) - 1000, 4), count)
        place = np.full(count, 30_000) if what == "lie" else middle
        pieces.append(np.column_stack([force[place], turn[place]]))
    values = np.concatenate(pieces)
    noise = [quality.accel_noise] * 3 + [np.radians(quality.gyro_noise) / 2.0] * 3
    values = values + np.array(noise) * rng.standard_normal(values.shape) + [0, 0, 0, 0.01, -0.02, 0.01]
    time = np.arange(len(values)) / 25.0
    keep = np.ones(len(values), dtype=np.bool_)
    if gap is not None:
        keep[gap] = False
    rows = Rows(time[keep], values[keep])
    return digest([rows], acceleration_scale=1.0, angular_velocity_scale=1.0, where="x")


@pytest.mark.parametrize("quality", [ORDINARY, CHEAP])
def test_hours_on_the_table_are_not_worn(quality: Quality) -> None:
    log = day(("sit", 0.5), ("lie", 1.5), ("sit", 0.5), quality=quality)
    assert recorded_s(log) == pytest.approx(2.5 * HOUR)
    assert worn_s(log, unworn_min_s=UNWORN_S) == pytest.approx(HOUR, abs=120.0)
    off = np.flatnonzero(unworn(log, unworn_min_s=UNWORN_S))
    assert 0.5 * HOUR - 60.0 <= off[0] <= off[-1] <= 2.0 * HOUR + 60.0


@pytest.mark.parametrize(("what", "quality"), [("sit", ORDINARY), ("ride", CHEAP), ("sleep", ORDINARY)])
def test_swaying_a_little_is_worn(what: str, quality: Quality) -> None:
    """Sitting without shifting the feet, being driven, breathing in bed: an hour and a half of each."""
    log = day((what, 1.5), quality=quality)
    assert worn_s(log, unworn_min_s=UNWORN_S) == recorded_s(log)


def test_half_an_hour_on_the_table_counts_as_worn() -> None:
    """What the threshold costs: taking sensors off for a while is not seen."""
    log = day(("sit", 0.3), ("lie", 0.5), ("sit", 0.3))
    assert worn_s(log, unworn_min_s=UNWORN_S) == recorded_s(log)


def test_a_noisy_sensor_takes_a_still_sitter_for_one_who_took_it_off() -> None:
    """The hard case, and what it costs: without one shift of the foot for an hour, all of that hour."""
    log = day(("sit", 1.5), quality=CHEAP)
    assert worn_s(log, unworn_min_s=UNWORN_S) < 0.1 * recorded_s(log)


def test_what_was_not_recorded_is_neither_worn_nor_not() -> None:
    log = day(("sit", 0.5), ("lie", 1.5), gap=slice(25 * 3000, 25 * 3600))
    assert recorded_s(log) == pytest.approx(2.0 * HOUR - 600.0, abs=0.2)
    assert worn_s(log, unworn_min_s=UNWORN_S) == pytest.approx(0.5 * HOUR, abs=120.0)
