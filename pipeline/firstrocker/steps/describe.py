"""Step `describe`: a look at the log of an unknown logger, and the profile to keep."""

from __future__ import annotations

from pathlib import Path
from textwrap import fill

from firstrocker.signals.describe import describe
from firstrocker.signals.description import Description, profile_yaml


def describe_log(path: Path) -> tuple[str, list[str]]:
    """A log's proposal as text that loads as a logger profile, and a sentence for each thing that is in the way.

    Several sensors give several profiles, parted by a line that begins with ``---``.

    Raises:
        LogError: the file cannot be read, or is no table of numbers.
    """
    described = describe(path)
    every = (described, *described.others)
    text = "---\n".join(_text(one, path.name, several=len(every) > 1) for one in every)
    troubles = []
    for one in every:
        sensor = f" (sensor {one.sensor})" if one.sensor and len(every) > 1 else ""
        troubles += [f"{path.name}{sensor}: {problem}" for problem in one.problems]
    return text, troubles


def _text(described: Description, name: str, *, several: bool) -> str:
    whose = f", sensor {described.sensor}" if several and described.sensor else ""
    state = "the file was read with it" if described.usable else "NOT YET TO BE USED: see 'to settle'"
    if described.usable and any(item.sure == "low" for item in described.items):
        state += ", but look at what is marked low"
    lines = [f"# How {name}{whose} seems to read; {state}.", "#"]
    for sure in ("low", "fair", "high"):
        for item in described.items:
            if item.sure != sure:
                continue
            other = f" Or: {', '.join(str(one) for one in item.alternatives)}." if item.alternatives else ""
            shown = "?" if item.value is None else item.value
            lines.append(_comment(f"{sure:4} {item.key}: {shown} - {item.why}{other}"))
    lines += [_comment(f"note {note}") for note in described.notes]
    lines += [_comment(f"to settle: {problem}") for problem in described.problems]
    return "\n".join(_one_line(line) for line in lines) + "\n" + profile_yaml(described.profile)


def _comment(text: str) -> str:
    plain = "".join(sign if sign.isprintable() else "?" for sign in text)
    return fill(plain, 116, initial_indent="# ", subsequent_indent="#      ", break_long_words=False)


def _one_line(text: str) -> str:
    return "\n".join(line if line.startswith("#") else f"# {line}" for line in text.split("\n"))
