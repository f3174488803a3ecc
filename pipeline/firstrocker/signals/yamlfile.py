"""YAML as people may write it: plain values only, of bounded size, no aliases, no repeated keys, no surprises.

Numbers and switches are read as in YAML 1.2's core schema, so that ``0012`` and ``1:30`` stay text.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import yaml

from firstrocker.errors import FirstrockerError

MAX_BYTES = 256 * 1024
"""Larger files cannot have been meant: a session with a hundred walks takes some 30 kB."""

MAX_DEPTH = 20


class YamlError(FirstrockerError):
    """A YAML file cannot be read."""

    code = "yaml-unreadable"


class _PlainLoader(yaml.SafeLoader):
    """Safe loading without aliases and repeated keys, and with YAML 1.2's idea of a number."""

    yaml_implicit_resolvers: dict[str, list[tuple[str, re.Pattern[str]]]] = {}  # noqa: RUF012  (yaml's own way)
    depth = 0

    def compose_node(self, parent: yaml.Node | None, index: int) -> yaml.Node | None:
        if self.check_event(yaml.AliasEvent):
            raise _Refused("It uses an alias (*name).", "Write the values out.", self._mark())
        self.depth += 1
        if self.depth > MAX_DEPTH:
            raise _Refused("It is nested too deeply.", "See the example of a session file.", self._mark())
        try:
            return super().compose_node(parent, index)
        finally:
            self.depth -= 1

    def _mark(self) -> yaml.Mark | None:
        return self.peek_event().start_mark  # type: ignore[no-untyped-call, no-any-return]

    def construct_mapping(self, node: yaml.MappingNode, deep: bool = False) -> dict[Any, Any]:
        seen: set[str] = set()
        for key, _ in node.value:
            if not isinstance(key, yaml.ScalarNode):
                raise _Refused("It has a key that is not a word.", "Write 'key: value'.", key.start_mark)
            if key.value in seen:
                raise _Refused(f"The key '{key.value[:40]}' stands there twice.", "Keep one of them.", key.start_mark)
            seen.add(key.value)
        return {str(key.value): self.construct_object(value, deep=deep) for key, value in node.value}


class _Refused(Exception):  # noqa: N818  (never leaves this module)
    def __init__(self, what: str, remedy: str, mark: yaml.Mark | None) -> None:
        super().__init__(what)
        self.what, self.remedy, self.mark = what, remedy, mark


for _tag, _pattern, _first in (
    ("bool", r"^(?:true|false)$", "tf"),
    ("null", r"^(?:~|null|)$", ["~", "n", ""]),
    ("int", r"^[-+]?(?:0|[1-9][0-9]{0,17})$", "-+0123456789"),
    ("float", r"^[-+]?(?:[0-9]+\.[0-9]*|\.[0-9]+|[0-9]+(?=[eE]))(?:[eE][-+]?[0-9]+)?$", "-+.0123456789"),
):
    _PlainLoader.add_implicit_resolver(f"tag:yaml.org,2002:{_tag}", re.compile(_pattern), list(_first))


def load_yaml(path: Path, *, where: str) -> Any:
    """The plain value of a YAML file.

    Args:
        path: the file.
        where: how to name it in an error.

    Raises:
        YamlError: missing, no permission, too large, not text, not YAML, aliases, repeated keys, too deep.
    """
    try:
        if not path.is_file():
            raise YamlError("The file is missing.", where=where, remedy="Put it there.")
        with path.open("rb") as stream:
            content = stream.read(MAX_BYTES + 1)
    except OSError as error:
        raise YamlError(
            f"The file cannot be read ({error.strerror}).", where=where, remedy="Allow reading it."
        ) from None
    if len(content) > MAX_BYTES:
        raise YamlError(
            f"The file is larger than {MAX_BYTES // 1024} kB.", where=where, remedy="It is the wrong file, or damaged."
        )
    try:
        text = content.decode("utf-16" if content[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig")
    except UnicodeDecodeError:
        raise YamlError("The file is not text.", where=where, remedy="Save it as UTF-8 text.") from None
    try:
        return yaml.load(text, Loader=_PlainLoader)  # noqa: S506  (a SafeLoader)
    except _Refused as refused:
        raise YamlError(f"{_line(refused.mark)}{refused.what}", where=where, remedy=refused.remedy) from None
    except yaml.MarkedYAMLError as error:
        what = f"{_line(error.problem_mark)}It is not valid YAML: {error.problem or 'cannot be read'}."
        remedy = "Check the indentation, the colons and the quotes near there."
        raise YamlError(what, where=where, remedy=remedy) from None
    except (yaml.YAMLError, RecursionError, ValueError):
        raise YamlError("It is not valid YAML.", where=where, remedy="Save it as plain UTF-8 text.") from None


def _line(mark: yaml.Mark | None) -> str:
    return "" if mark is None else f"Line {mark.line + 1}: "
