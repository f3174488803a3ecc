"""How far the orientation filters' tilt is off, against optics, on a sensor moved by hand.

Data: ``../shared/data/tilt_reference``, two recordings (slow turning, fast shifting) of D. Laidig, M. Caruso, A.
Cereatti, T. Seel, "BROAD - A Benchmark for Robust Inertial Orientation Estimation", Data 6(7), 2021,
https://doi.org/10.3390/data6070072, CC BY 4.0. Read, never copied into the repository. 286 Hz, m/s^2, rad/s.

Tilt error: the angle between up as the filter sees it from the sensor and up as the optics do; heading plays no part,
for there is no compass. Counted while the recording says that the sensor moved. The filters of ``ahrs`` run with the
gains they come with, none tuned. A hand is no foot: nothing here rests on the ground every second, so this compares
filters, not what the package makes of a walk.

Use: ``PYTHONPATH=tests python -m outside.tilt_reference DATA`` prints the table of the whole recordings.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.io import loadmat

from firstrocker.model import FilterName
from firstrocker.motion.orientation import FILTERS, matrices
from motion.filtered import filtered

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

RECORDINGS = ("02_undisturbed_slow_rotation_B", "15_undisturbed_fast_translation_A")
REST_S = 5.0
"""Of standing still before the movement, from which the gyroscope's bias is taken."""


@dataclass(frozen=True)
class Recording:
    """A sensor and its optical orientation.

    acceleration: (n, 3) m/s^2. angular_velocity: (n, 3) rad/s, bias of the rest before taken off. up: (n, 3) unit
    vector upwards in sensor axes, NaN where the optics lost it. moving: (n,).
    """

    rate_hz: float
    acceleration: FloatArray
    angular_velocity: FloatArray
    up: FloatArray
    moving: BoolArray


def read_recording(data: Path, name: str, *, seconds: float | None = None, thin: int = 1) -> Recording:
    """Read a recording from ``REST_S`` before its movement.

    Args:
        data: folder of the set. name: file name without ending.
        seconds: of movement to keep, all where None.
        thin: this many samples are averaged to one.
    """
    raw = loadmat(data / f"{name}.mat")
    rate = float(raw["sampling_rate"].item())
    moving = raw["movement"].ravel().astype(bool)
    begin = int(np.flatnonzero(moving)[0] - REST_S * rate)
    end = len(moving) if seconds is None else round(begin + (REST_S + seconds) * rate)
    end -= (end - begin) % thin
    gyr = raw["imu_gyr"][begin:end]
    gyr = gyr - gyr[: int(0.9 * REST_S * rate)].mean(axis=0)
    up = matrices(raw["opt_quat"][begin:end])[:, 2, :]
    middle = slice(begin + thin // 2, end, thin)
    return Recording(
        rate_hz=rate / thin,
        acceleration=raw["imu_acc"][begin:end].reshape(-1, thin, 3).mean(axis=1),
        angular_velocity=gyr.reshape(-1, thin, 3).mean(axis=1),
        up=up[thin // 2 :: thin] if thin % 2 else up.reshape(-1, thin, 3).mean(axis=1),
        moving=moving[middle],
    )


def filters() -> dict[str, Callable[[Recording], FloatArray]]:
    """Every filter by name, giving (n, 3, 3) sensor-to-world rotations: those of the settings, and two more."""

    def chosen(name: FilterName) -> Callable[[Recording], FloatArray]:
        return lambda rec: filtered(rec.acceleration, rec.angular_velocity, rec.rate_hz, name)

    return {**{name: chosen(name) for name in FILTERS}, "vqf forward": forward, "complementary": complementary}


def forward(recording: Recording) -> FloatArray:
    """vqf as it runs while recording, without looking ahead."""
    from vqf import VQF

    quaternion = VQF(1.0 / recording.rate_hz).updateBatch(
        np.ascontiguousarray(recording.angular_velocity), np.ascontiguousarray(recording.acceleration)
    )["quat6D"]
    return matrices(quaternion)


def complementary(recording: Recording) -> FloatArray:
    """The complementary filter of ``ahrs``, its weight of the gyroscope as it comes."""
    from ahrs.filters import Complementary

    quaternion = Complementary(gyr=recording.angular_velocity, acc=recording.acceleration, Dt=1.0 / recording.rate_hz).Q
    return matrices(np.asarray(quaternion))


def tilt_error(rotation: FloatArray, up: FloatArray) -> FloatArray:
    """(n,) rad between a filter's up and the true one, NaN where the true one is not known.

    >>> float(np.degrees(tilt_error(np.eye(3)[None], np.array([[0.0, 1.0, 1.0]])))[0].round(6))
    45.0
    """
    own = rotation[:, 2, :]
    return np.asarray(np.arctan2(np.linalg.norm(np.cross(own, up), axis=1), np.sum(own * up, axis=1)))


def compare(data: Path, *, seconds: float | None = None, thin: int = 1) -> pd.DataFrame:
    """RMS and greatest tilt error of every filter on every recording.

    Returns:
        columns filter, recording, rms_deg, p95_deg, greatest_deg.
    """
    rows = []
    for name in RECORDINGS:
        recording = read_recording(data, name, seconds=seconds, thin=thin)
        for filter_name, run in filters().items():
            error = np.degrees(tilt_error(run(recording), recording.up))
            error = error[recording.moving & np.isfinite(error)]
            rows.append(
                {
                    "filter": filter_name,
                    "recording": name,
                    "rms_deg": float(np.sqrt(np.mean(error**2))),
                    "p95_deg": float(np.percentile(error, 95)),
                    "greatest_deg": float(error.max()),
                }
            )
    return pd.DataFrame(rows)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("data", type=Path)
    print(compare(parser.parse_args().data).to_string(index=False, float_format="{:.2f}".format))


if __name__ == "__main__":
    main()
