"""The chances of every ground against the same model written out plainly, and whatever is left out changes nothing."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import logsumexp
from scipy.stats import norm
from scipy.stats import t as student

from firstrocker.model import FloatArray
from firstrocker.motion import ground_model
from firstrocker.motion.ground_model import (
    RAMP_GIVE,
    RISERS,
    SHARED_RISE,
    SHARED_TILT,
    SLOPES,
    STEEPNESS,
    TILT_ON_STAIRS,
    Seen,
    chances,
)

RAMPS = len(STEEPNESS)
NAMES = ["level"] + ["up"] * RAMPS + ["down"] * RAMPS + ["stairs up", "stairs down"]


def steps(seed: int, count: int, *, blind: float = 0.0) -> Seen:
    """Steps on the level, with stretches of ramps and stairs; a share of them hardly seen."""
    rng = np.random.default_rng(seed)
    length = rng.uniform(0.3, 1.5, count)
    slope = np.zeros(count)
    rise = (0.007 + 0.008 * rng.normal()) * length
    for kind in rng.choice(["ramp", "stairs", "level"], 3):
        part = slice(begin := int(rng.integers(count)), begin + int(rng.integers(1, 9)))
        slope[part] = rng.uniform(-0.15, 0.15) if kind == "ramp" else 0.0
        rise[part] += rng.choice([-0.34, -0.17, 0.17]) if kind == "stairs" else 0.0
    scale = np.where(rng.random(count) < blind, 0.06, rng.uniform(0.003, 0.01, count))
    rise += np.tan(slope) * length + scale * rng.normal(size=count)
    tilt_scale = np.radians(rng.choice([0.9, 1.8, 7.2], count))
    tilt = np.radians(1.8) * rng.normal() + slope[:, None] + tilt_scale[:, None] * rng.normal(size=(count, 2))
    return Seen(rise, scale, length, tilt, tilt_scale)


def change_written_out() -> tuple[FloatArray, FloatArray]:
    """(states,) probability of the first state; (states, states) of each next one."""
    common = np.exp(-np.degrees(STEEPNESS) / 6.0)
    ramp = 0.025 * common / common.sum()
    first = np.array([0.93, *ramp, *ramp, 0.01, 0.01])
    change = np.zeros((len(SLOPES), len(SLOPES)))
    for one, other in product(range(len(SLOPES)), repeat=2):
        stay = {"level": 0.975, "up": 0.93, "down": 0.93}.get(NAMES[one], 0.72)
        if one != other:
            change[one, other] = (1.0 - stay) * first[other] / (1.0 - first[one])
        same_ramp = NAMES[one] in ("up", "down") and NAMES[one] == NAMES[other]
        if same_ramp and abs(one - other) == 1:
            change[one, other] += 0.03
        if {NAMES[one], NAMES[other]} == {"up", "down"} and abs(one - other) == RAMPS:
            change[one, other] += 0.02
    return first, change + np.diag(1.0 - change.sum(axis=1))


def chances_written_out(seen: Seen) -> tuple[FloatArray, float, float]:
    first, change = change_written_out()
    weights, states = [], []
    pairs = list(product(SHARED_RISE, SHARED_TILT))
    for shared_rise, shared_tilt in pairs:
        rise = seen.rise - shared_rise * seen.length
        likely = np.empty((len(rise), len(SLOPES)))
        for state, (name, slope) in enumerate(zip(NAMES, SLOPES, strict=True)):
            wide = seen.scale if slope == 0.0 else np.hypot(seen.scale, RAMP_GIVE * seen.length)
            likely[:, state] = student.logpdf(rise - np.tan(slope) * seen.length, 3, scale=wide)
            if "stairs" in name:
                sign = 1.0 if name == "stairs up" else -1.0
                parts = [
                    np.log(share) + student.logpdf(sign * rise - middle, 3, scale=np.hypot(give, seen.scale))
                    for middle, give, share in RISERS
                ]
                likely[:, state] = logsumexp(parts, axis=0)
            tilt_scale = np.maximum(seen.tilt_scale, TILT_ON_STAIRS) if "stairs" in name else seen.tilt_scale
            ends = student.logpdf(seen.tilt - shared_tilt - slope, 3, scale=tilt_scale[:, None])
            likely[:, state] += 0.5 * np.sum(ends, axis=1)
        forward, backward = np.empty_like(likely), np.zeros_like(likely)
        forward[0] = np.log(first) + likely[0]
        for k in range(1, len(likely)):
            forward[k] = logsumexp(forward[k - 1][:, None] + np.log(change), axis=0) + likely[k]
        for k in range(len(likely) - 2, -1, -1):
            backward[k] = logsumexp(np.log(change) + likely[k + 1] + backward[k + 1], axis=1)
        all_of_it = logsumexp(forward[-1])
        weights.append(
            all_of_it + norm.logpdf(shared_rise, 0.007, 0.008) + norm.logpdf(np.degrees(shared_tilt), 0, 1.8)
        )
        states.append(np.exp(forward + backward - all_of_it))
    share = np.exp(np.array(weights) - logsumexp(weights))
    rise, tilt = share @ np.array(pairs)
    return np.einsum("p,pks->ks", share, states), rise, tilt


@pytest.mark.untraced
def test_chances_are_those_of_the_model_written_out() -> None:
    seen = steps(1, 14)
    found = chances(seen)
    state, rise, tilt = chances_written_out(seen)
    assert np.abs(found.state - state).max() < 1e-11
    assert np.abs(found.rise - rise).max() < 1e-12
    assert np.abs(found.tilt - tilt).max() < 1e-12


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    count=st.integers(1, 40),
    chunk=st.sampled_from([7, 20, 300]),
    blind=st.sampled_from([0.0, 0.3, 1.0]),
    at_once=st.sampled_from([1, 160]),
)
def test_what_is_left_out_changes_nothing(seed: int, count: int, chunk: int, blind: float, at_once: int) -> None:
    seen = steps(seed, count, blind=blind)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ground_model, "CHUNK", chunk)
        patch.setattr(ground_model, "AT_ONCE", at_once)
        found = chances(seen)
        patch.setattr(ground_model, "NEGLIGIBLE", np.inf)
        whole = chances(seen)
    for name in ("state", "rise", "tilt"):
        assert np.abs(getattr(found, name) - getattr(whole, name)).max() < 1e-12, name
    assert np.abs(found.state.sum(axis=1) - 1.0).max() < 1e-12


def test_steps_share_their_errors_with_those_of_their_part_alone() -> None:
    one, other = steps(3, ground_model.CHUNK), steps(4, 50)
    both = chances(Seen(*(np.concatenate(two) for two in zip(vars(one).values(), vars(other).values(), strict=True))))
    for name in ("state", "rise", "tilt"):
        parts = [getattr(chances(part), name) for part in (one, other)]
        assert np.abs(getattr(both, name) - np.concatenate(parts)).max() < 1e-12, name
