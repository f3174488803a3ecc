"""What can be said of settings weighed against each other: see :mod:`firstrocker.study.choice`, which finds it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from firstrocker.study.forecast import Outlook

Good = Literal["higher", "lower"]
"""Which way of a measure is better."""


@dataclass(frozen=True)
class Criterion:
    """One thing that matters: the measure (the first that is there stands for it) and which way is better."""

    columns: tuple[str, ...]
    good: Good


CRITERIA: tuple[Criterion, ...] = (
    Criterion(("slap_rate_deg_s", "foot_lowering_rate_deg_s"), "lower"),
    Criterion(("shank_forward_rate_deg_s",), "lower"),
    Criterion(("toe_clearance_min_mm",), "higher"),
    Criterion(("slap_shock_m_s2",), "lower"),
    Criterion(("heel_strike_shock_m_s2",), "lower"),
)
"""What settings are weighed by. None of them outweighs another here: that is the clinician's to say."""


@dataclass(frozen=True)
class Candidate:
    """A setting, or unbraced walking, with all of its walks taken together.

    key: ``walk:<walk>``, several walks joined by ``+``. means, counts: by measure, over strides that count.
    """

    key: str
    walks: tuple[str, ...]
    condition: str
    setting: str | None
    resistance: float | None
    means: Mapping[str, float]
    counts: Mapping[str, int]


@dataclass(frozen=True)
class Apart:
    """Two candidates in one measure. row: as in the comparison, without session and side. better: the key of the one
    that is clearly better, None where neither is. outlook: what would tell, where it is not told yet.
    """

    first: str
    second: str
    measure: str
    good: Good
    row: Mapping[str, Any]
    better: str | None
    outlook: Outlook | None

    @property
    def known(self) -> bool:
        """Whether there were strides enough to compare."""
        return bool(self.row["verdict"] != "too few strides" and self.row["ci_low"] is not None)

    def gain(self, key: str) -> tuple[float, float] | None:
        """By how much the candidate is better than the other: as found, and at most by the interval; below 0, worse."""
        if not self.known:
            return None
        sign = 1.0 if (self.good == "higher") == (key == self.second) else -1.0
        ends = (sign * self.row["ci_low"], sign * self.row["ci_high"])
        return sign * self.row["difference"], max(ends)


@dataclass(frozen=True)
class Beaten:
    """``key`` is clearly worse than ``by`` in some measures and clearly better in none.

    whole: beaten in everything that matters: compared in every measure that either has, clearly worse in ``worse``,
    and in each of the others (``even``) its mean is no better. Otherwise ``ahead`` names measures whose mean is
    better, though not clearly, and ``unknown`` those that could not be compared.
    """

    key: str
    by: str
    worse: tuple[str, ...]
    even: tuple[str, ...]
    ahead: tuple[str, ...]
    unknown: tuple[str, ...]

    @property
    def whole(self) -> bool:
        """Whether it is beaten in everything."""
        return not self.ahead and not self.unknown


@dataclass(frozen=True)
class Trade:
    """Each of two candidates is clearly better in something."""

    first: str
    second: str
    first_better: tuple[str, ...]
    second_better: tuple[str, ...]


@dataclass(frozen=True)
class NextWalk:
    """One further walk with a candidate. settled: how many of the ``open`` comparisons it would be expected to make
    clear if they differ by what was found; now: how many such strides as there are would make clear again.
    """

    key: str
    strides: int
    settled: float
    now: float
    open: int


@dataclass(frozen=True)
class Choice:
    """What one side's walks say of the settings.

    measures: what stands for each criterion that was measured. tied: pairs of braced candidates that no measure tells
    apart. running: braced candidates that no other braced one beats in everything. next_walks: best first, empty where
    nothing is open.
    """

    side: str
    measures: tuple[str, ...]
    candidates: tuple[Candidate, ...]
    apart: tuple[Apart, ...]
    tied: tuple[tuple[str, str], ...]
    beaten: tuple[Beaten, ...]
    trades: tuple[Trade, ...]
    running: tuple[str, ...]
    next_walks: tuple[NextWalk, ...]

    def candidate(self, key: str) -> Candidate:
        """The candidate of that key."""
        return next(one for one in self.candidates if one.key == key)

    def pair(self, first: str, second: str) -> list[Apart]:
        """All measures of one pair, whichever comes first."""
        return [one for one in self.apart if {one.first, one.second} == {first, second}]
