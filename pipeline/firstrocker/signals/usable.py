"""Which logs of a walk can be used, told before anything is computed from them: by the analysis and by a mere check."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from firstrocker.errors import SignalError
from firstrocker.model import Finding, Log, Side, Signal
from firstrocker.signals.checks import Checked, check_log
from firstrocker.signals.exchanged import exchanged
from firstrocker.signals.match import MATCH_RATE_HZ
from firstrocker.signals.recordings import course_of, same_course
from firstrocker.signals.uniform import resample, uniform_times


@dataclass(frozen=True)
class Usable:
    """A walk's logs that passed, each with what was noticed of it; findings tell of those that did not.

    pairs: by side, where both logs are, foot and shank as of :func:`side_by_side`.
    """

    logs: tuple[tuple[Log, Checked], ...]
    findings: tuple[Finding, ...]
    pairs: dict[Side, tuple[Signal, Signal]]


def usable_logs(logs: Sequence[Log], *, max_bridge_s: float) -> Usable:
    """The logs that can be used; those that cannot become warnings.

    Args:
        logs: of one walk.
        max_bridge_s: gaps longer than this are told with their place.

    Raises:
        SignalError: two logs are one recording, no foot log is left (the first one's fault), or foot and shank look
            exchanged.
    """
    refuse_twins(logs)
    usable: list[tuple[Log, Checked]] = []
    refused: list[SignalError] = []
    notes: list[Finding] = []
    for log in logs:
        try:
            usable.append((log, check_log(log, max_bridge_s=max_bridge_s)))
        except SignalError as error:
            refused.append(error)
            notes.append(_refused(log, error))
    if refused and not any(log.segment == "foot" for log, _ in usable):
        raise next((e for e, n in zip(refused, notes, strict=True) if n.segment == "foot"), refused[0])
    pairs: dict[Side, tuple[Signal, Signal]] = {}
    for foot in usable:
        for shank in usable:
            if (foot[0].segment, shank[0].segment) == ("foot", "shank") and foot[0].side == shank[0].side:
                pairs[foot[0].side] = side_by_side(foot, shank, max_bridge_s=max_bridge_s)
                refuse_exchanged(foot[0], shank[0], pairs[foot[0].side])
    return Usable(tuple(usable), tuple(notes), pairs)


def side_by_side(
    foot: tuple[Log, Checked], shank: tuple[Log, Checked], *, max_bridge_s: float
) -> tuple[Signal, Signal]:
    """Both on uniform clocks of MATCH_RATE_HZ, each beginning with its own first sample at 0 s."""
    pair = []
    for log, check in (foot, shank):
        own = replace(log, time=log.time - log.time[0])
        times = uniform_times(0.0, float(own.time[-1]), rate_hz=MATCH_RATE_HZ)
        pair.append(resample(own, times, max_bridge_s=max_bridge_s, saturated=check.saturated))
    return pair[0], pair[1]


def refuse_twins(logs: Sequence[Log]) -> None:
    """Refuse a walk of which two logs are one recording.

    Raises:
        SignalError: ``same-recording``.
    """
    courses = [course_of(log) for log in logs]
    for n, log in enumerate(logs):
        for twin, course in zip(logs[:n], courses[:n], strict=True):
            if not same_course(courses[n], course):
                continue
            raise SignalError(
                f"The {twin.side} {twin.segment} and the {log.side} {log.segment} were given the same recording, and "
                "nothing tells which of them it is.",
                code="same-recording",
                where=f"{twin.source}, {log.source}",
                remedy="Name the right file for each sensor in session.yaml.",
            )


def refuse_exchanged(foot: Log, shank: Log, pair: tuple[Signal, Signal]) -> None:
    """Refuse a walk whose foot and shank look exchanged.

    Raises:
        SignalError: ``foot-shank-exchanged``.
    """
    if exchanged(*pair, rate_hz=MATCH_RATE_HZ):
        raise SignalError(
            f"Foot and shank look exchanged on the {shank.side} side: the sensor called shank stands still in every "
            "step and the one called foot does not.",
            code="foot-shank-exchanged",
            where=f"{foot.source}, {shank.source}",
            remedy="If the files were mixed up, exchange 'segment' of the two logs in session.yaml.",
        )


def _refused(log: Log, error: SignalError) -> Finding:
    what = error.what if error.where == "" else f"{error.where}: {error.what}"
    loss = (
        "The other side's measures are not affected."
        if log.segment == "foot"
        else "The ankle and shank are not measured."
    )
    finding = Finding(error.code, "warning", f"{what} The log was left out. {loss}", error.remedy)
    return replace(finding, segment=log.segment, side=log.side)
