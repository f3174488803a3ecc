"""One row of the table of faults; ``faults.py`` has them all."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Loss = Literal["nothing", "strides", "shank", "log", "walk", "session"]
"""What is not measured where a fault is found; the shank stands for the ankle too."""


@dataclass(frozen=True)
class Fault:
    """One row of the table.

    Attributes:
        code: of the finding in ``quality.json``.
        what: the fault.
        threshold: the size from which it is told.
        action: what becomes of the numbers.
        loses: what is not measured at the worst.
        measured: how often it was found and how often wrongly, where that was measured.
    """

    code: str
    what: str
    threshold: str
    action: str
    loses: Loss
    measured: str = ""
