"""What several looks at a signal begin with: its magnitude, and how it is spread in short windows."""

from __future__ import annotations

import numpy as np

from firstrocker.model import FloatArray


def magnitude(values: FloatArray) -> FloatArray:
    """(n,) of vectors (n, 3); unlike a norm, without a copy of them all on the way."""
    return np.asarray(np.sqrt(np.einsum("ij,ij->i", values, values)))


def window_means(values: FloatArray, width: int) -> FloatArray:
    """Means of (n,) values in windows of ``width``, one after the other; what is left at the end does not count."""
    return np.asarray(_windows(values, width) @ np.full(width, 1.0 / width))


def window_variances(values: FloatArray, width: int) -> FloatArray:
    """Variances in the windows of :func:`window_means`."""
    off = _windows(values, width) - window_means(values, width)[:, np.newaxis]
    return np.asarray(np.einsum("ij,ij->i", off, off) / width)


def _windows(values: FloatArray, width: int) -> FloatArray:
    return values[: len(values) // width * width].reshape(-1, width)
