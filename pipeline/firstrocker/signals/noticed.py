"""How a finding about a log is worded."""

from __future__ import annotations

from firstrocker.model import Finding, Log, Severity


def counted(number: int, noun: str) -> str:
    """A number of things.

    >>> counted(1, "row"), counted(3, "row")
    ('1 row', '3 rows')
    """
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def finding(
    log: Log,
    message: str,
    *,
    code: str,
    severity: Severity,
    remedy: str = "",
    start_s: float | None = None,
    end_s: float | None = None,
) -> Finding:
    """A finding about a log, named by its file."""
    source = f"{log.source}: " if log.source else ""
    return Finding(code, severity, f"{source}{message}", remedy, None, log.segment, log.side, start_s, end_s)
