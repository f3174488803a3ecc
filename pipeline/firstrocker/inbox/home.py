"""A person's standing description: what holds for every day at home, and how the names of the loggers' files read.

``sub-P01/home.yaml`` is a session.yaml without session and walks; in their place ``logs`` has a line for each sensor
with the pattern of its files' names. ``home-20260401.yaml`` beside it holds from that date on.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Annotated, Any, Self

from pydantic import AfterValidator, Field, ValidationError, model_validator

from firstrocker.model import Condition, Segment, Side
from firstrocker.signals.profiles import ProfileName
from firstrocker.signals.session import SessionFileError, SettingEntry, Told
from firstrocker.signals.strict import Problem, Strict, mistake, problems_of, quoted
from firstrocker.signals.yamlfile import YamlError, load_yaml

NAME = re.compile(r"home(?:-(?P<date>\d{4}-?\d{2}-?\d{2}))?\.yaml")
ABOUT = "# Written by the intake from the person's standing description (home.yaml); a change there writes it anew.\n"
"""The first line of every session file that was made from one."""
_TOKEN = re.compile(r"\{date\}|\{walk(?::(?P<signs>[1-9]))?\}|\*|[^*{}]+|(?P<wrong>.)")
Place = tuple[Segment, Side]


def _pattern(value: str) -> str:
    if any(found.group("wrong") for found in _TOKEN.finditer(value)) or not value.isprintable():
        raise mistake(f"{quoted(value)} is no pattern.", "Use plain text, {date}, {walk} or {walk:4}, and *.")
    if value.count("{date}") != 1:
        raise mistake(
            f"{quoted(value)} does not tell the day.",
            "Write {date} where the name holds it, as 20260302 or 2026-03-02; a file's own time is not the walk's.",
        )
    if len(re.findall(r"\{walk", value)) > 1:
        raise mistake(f"{quoted(value)} holds {{walk}} twice.", "Write it once.")
    if value.startswith("/") or ".." in value.split("/"):
        raise mistake(f"{quoted(value)} leads out of the person's folder.", "Write names below it.")
    return value


class HomeLog(Strict):
    """The files of one sensor: the pattern of their names below the person's folder, and what they are.

    optional: a day without it is whole. condition and setting stand here where they differ from line to line.
    """

    file: Annotated[str, AfterValidator(_pattern)]
    segment: Segment
    side: Side
    logger: ProfileName
    condition: Condition | None = None
    setting: SettingEntry | None = None
    optional: bool = False

    @cached_property
    def expression(self) -> re.Pattern[str]:
        """What the pattern means."""
        parts = []
        for found in _TOKEN.finditer(self.file):
            token, signs = found.group(), found.group("signs")
            if token == "{date}":  # noqa: S105
                parts.append(r"(?P<date>\d{4}(?P<dash>-?)\d{2}(?P=dash)\d{2})")
            elif token.startswith("{walk"):
                parts.append(rf"(?P<walk>[A-Za-z0-9]{{{signs}}})" if signs else "(?P<walk>[A-Za-z0-9]{1,30})")
            else:
                parts.append("[^/]*" if token == "*" else re.escape(token))  # noqa: S105
        return re.compile("".join(parts))


class Home(Told):
    """Everything a standing description may hold."""

    condition: Condition | None = None
    setting: SettingEntry | None = None
    logs: Annotated[list[HomeLog], Field(min_length=1, max_length=40)]

    @model_validator(mode="after")
    def _worn(self) -> Self:
        for number, log in enumerate(self.logs, 1):
            if (log.condition or self.condition) is None:
                raise mistake(
                    f"Nothing tells what was worn in logs[{number}].",
                    "Write condition: unbraced or braced, for it or all.",
                )
            if (log.condition or self.condition) == "unbraced" and (log.setting or self.setting) is not None:
                raise mistake(
                    f"logs[{number}] is of walks without a brace and has a setting of the brace.",
                    "Write the setting at the lines of braced walks only.",
                )
        return self

    @model_validator(mode="after")
    def _walks_told_apart(self) -> Self:
        for group in {self.worn(log) for log in self.logs}:
            inside = [log for log in self.logs if self.worn(log) == group]
            if len({"{walk" in log.file for log in inside}) > 1:
                raise mistake(
                    "Some patterns hold {walk} and others do not.",
                    "Logs of one walk are found by the same {walk}: write it in all lines of a condition, or in none.",
                )
        return self

    def worn(self, log: HomeLog) -> tuple[str, str]:
        """Condition and setting of a line, to tell walks apart by."""
        setting = log.setting or self.setting
        return str(log.condition or self.condition), "" if setting is None else setting.label

    def partners(self, log: HomeLog) -> set[Place]:
        """Where a walk of this line has sensors, those left out that it may lack."""
        return {
            (other.segment, other.side)
            for other in self.logs
            if self.worn(other) == self.worn(log) and not other.optional
        }


@dataclass(frozen=True)
class Named:
    """What a file's name says: its day, its line of the description, and the walk's own word (empty without)."""

    day: date
    log: HomeLog
    walk: str

    @property
    def place(self) -> Place:
        """What the sensor sat on."""
        return self.log.segment, self.log.side


@dataclass(frozen=True)
class Standings:
    """A person's standing descriptions, each with the plain content it was read from and the day it holds from."""

    homes: tuple[tuple[date, Home, Mapping[str, Any]], ...]

    def at(self, day: date) -> tuple[Home, Mapping[str, Any]] | None:
        """The description that holds on a day; None before the first."""
        found = [(home, content) for begin, home, content in self.homes if begin <= day]
        return found[-1] if found else None

    def named(self, path: str) -> list[Named]:
        """Every line that fits a path below the person's folder; none where none does, several where it is doubtful."""
        return list(self._named(path))

    def _named(self, path: str) -> Iterator[Named]:
        for _, home, _ in self.homes:
            for log in home.logs:
                fits = log.expression.fullmatch(path)
                day = None if fits is None else _day(fits["date"])
                if fits is None or day is None:
                    continue
                holds = self.at(day)
                if holds is not None and holds[0] is home:
                    yield Named(day, log, fits.groupdict().get("walk") or "")

    def document(self, day: date, logs: Sequence[tuple[str, Named]]) -> dict[str, Any]:
        """The content of the session file of a day, from the paths of its logs and what their names say."""
        holds = self.at(day)
        if holds is None:
            raise KeyError(day)
        home, content = holds
        several = len({home.worn(log) for log in home.logs}) > 1
        walks: dict[tuple[str, tuple[str, str]], dict[str, Any]] = {}
        for path, named in sorted(logs, key=lambda one: (one[1].walk, home.worn(one[1].log), one[1].place, one[0])):
            worn = home.worn(named.log)
            walk = walks.setdefault((named.walk, worn), {})
            if not walk:
                walk["walk"] = (
                    re.sub("[^A-Za-z0-9]", "", (worn[0] + worn[1] if several else "") + named.walk)[:40] or "day"
                )
                walk["condition"] = worn[0]
                setting = named.log.setting or home.setting
                if setting is not None:
                    walk["setting"] = setting.model_dump(exclude_none=True)
                walk["logs"] = []
            log = named.log
            walk["logs"].append({"segment": log.segment, "side": log.side, "file": path, "logger": log.logger})
        kept = ("invented", "affected_side", "foot_sensor", "shoe", "standing", "loggers")
        document = {"subject": home.subject, "session": f"{day:%Y%m%d}"}
        return document | {key: content[key] for key in kept if key in content} | {"walks": list(walks.values())}


def load_home(path: Path, *, subject: str, where: str) -> tuple[date, Home, Mapping[str, Any]]:
    """A standing description: the day it holds from, its model and its plain content.

    Raises:
        SessionFileError: with every mistake, each with its key and remedy.
    """
    given = NAME.fullmatch(path.name)
    begins = None if given is None or given["date"] is None else _day(given["date"])
    problems: list[Problem] = []
    if given is not None and given["date"] and begins is None:
        problems.append(Problem("", "Its name holds no day of the calendar.", "Call it home-20260401.yaml."))
    try:
        content = load_yaml(path, where=where)
    except YamlError as error:
        raise SessionFileError([Problem("", error.what, error.remedy)], where=where) from None
    if not isinstance(content, dict):
        raise SessionFileError(
            [Problem("", "It does not hold keys with values.", "See config/nightly.md.")], where=where
        )
    if "subject" in content and str(content["subject"]) != subject:
        said = f"The file says {quoted(content['subject'])} but its folder is called {quoted('sub-' + subject)}."
        problems.append(Problem("subject", said, "Make them agree."))
    try:
        home = Home.model_validate(content)
    except ValidationError as error:
        problems += problems_of(error, Home)
    if problems:
        raise SessionFileError(problems[:50], where=where)
    return begins or date.min, home, content


def session_text(document: Mapping[str, Any]) -> str:
    """The text of a session file made from a standing description; the same content gives the same text."""
    import yaml

    class Dumper(yaml.SafeDumper):
        """Quotes whatever could be read as a number."""

    def text(dumper: yaml.SafeDumper, value: str) -> yaml.ScalarNode:
        style = None if re.match(r"[A-Za-z]\w*$", value) else '"'
        return dumper.represent_scalar("tag:yaml.org,2002:str", value, style=style)

    Dumper.add_representer(str, text)
    told = yaml.dump(
        dict(document), Dumper=Dumper, sort_keys=False, allow_unicode=True, default_flow_style=None, width=120
    )
    return ABOUT + told


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
