"""The exception tree: every mistake a user can make ends as one of these, never as a traceback.

Each says three things: what is wrong, where, and how to mend it. The shell around the core turns them into
findings in ``quality.json`` or into one line on standard error.
"""

from __future__ import annotations


class FirstrockerError(Exception):
    """Something a user can mend.

    Args:
        what: one sentence that says what is wrong.
        where: the file, walk, key or place.
        remedy: one sentence that says how to mend it.
    """

    code = "error"

    def __init__(self, what: str, *, where: str = "", remedy: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.remedy = remedy

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        mend = f" {self.remedy}" if self.remedy else ""
        return f"{place}{self.what}{mend}"


class SettingsError(FirstrockerError):
    """The workflow's own configuration is not what the settings model allows."""

    code = "settings"


class SessionError(FirstrockerError):
    """A ``session.yaml`` is missing, unreadable or says something impossible."""

    code = "session-file"


class LogError(FirstrockerError):
    """A sensor log is missing, unreadable or does not fit its logger profile."""

    code = "log-unreadable"

    def __init__(self, what: str, *, code: str = "log-unreadable", where: str = "", remedy: str = "") -> None:
        super().__init__(what, where=where, remedy=remedy)
        self.code = code


class SignalError(FirstrockerError):
    """A log was read, but its signals cannot be what they are said to be, or cannot be analysed."""

    code = "signal"

    def __init__(self, what: str, *, code: str, where: str = "", remedy: str = "") -> None:
        super().__init__(what, where=where, remedy=remedy)
        self.code = code
