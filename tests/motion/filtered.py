"""An orientation filter's own course, before anything holds it: for tests of the filters."""

import numpy as np

from firstrocker.model import FilterName, FloatArray, Signal
from firstrocker.motion.orientation import level, matrices, strapdown
from firstrocker.motion.quaternions import times
from firstrocker.motion.sensor import Sensor


def sensor_of(force: FloatArray, rate: FloatArray, rate_hz: float) -> Sensor:
    """A sensor without faults that felt (n, 3) m/s^2 and turned at (n, 3) rad/s."""
    always = np.ones(len(force), dtype=np.bool_)
    return Sensor(Signal("foot", "left", force, rate, always, ~always), rate_hz, 1.0, np.zeros(3))


def filtered(force: FloatArray, rate: FloatArray, rate_hz: float, name: FilterName) -> FloatArray:
    """(n, 3, 3) sensor to world as the filter sees it, between its own steps as the gyroscope does."""
    sensor = sensor_of(force, rate, rate_hz)
    inertial = strapdown(sensor)
    seen = level(inertial, sensor, filter_name=name)
    return matrices(times(seen.at(np.arange(len(force))), inertial).T)
