"""A log drawn small: how fast it turns and what it feels, over its whole length."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from firstrocker.web.recognise import Trace

WIDTH, HEIGHT = 480, 44


@dataclass(frozen=True)
class Drawn:
    """Two lines as points of SVG polylines, and the words that say the same."""

    turning: str
    force: str
    most_turning: str
    most_force: str
    seconds: str
    words: str
    width: int = WIDTH
    height: int = HEIGHT


def drawn(trace: Trace | None) -> Drawn | None:
    """The picture of a trace, None where there is none."""
    if trace is None or not trace.turning:
        return None
    turning, force = max(trace.turning), max(trace.acceleration, default=0.0)
    words = f"{trace.duration_s:.0f} s, turning up to {turning:.0f} deg/s, acceleration up to {force:.0f} m/s\u00b2."
    return Drawn(
        _line(trace.turning, turning),
        _line(trace.acceleration, force),
        f"{turning:.0f} deg/s",
        f"{force:.0f} m/s\u00b2",
        f"{trace.duration_s:.0f} s",
        words,
    )


def _line(values: Sequence[float], most: float) -> str:
    step = WIDTH / max(1, len(values) - 1)
    scale = (HEIGHT - 2) / most if most > 0 else 0.0
    return " ".join(f"{n * step:.1f},{HEIGHT - 1 - value * scale:.1f}" for n, value in enumerate(values))
