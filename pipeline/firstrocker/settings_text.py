"""The settings as people and tools read them: a YAML file with reasons, a Markdown table, a JSON schema."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from textwrap import fill
from typing import Any

from firstrocker.errors import SettingsError
from firstrocker.files import write_text
from firstrocker.settings import SECTIONS, Settings

_HEAD = """\
# What changes a result, and nothing else: how a run is executed stands in profiles/.
# This file is printed by `firstrocker settings --yaml` and holds the defaults; a key left out keeps its default.
# To change one for a study, copy the lines in question into a file of your own and add `--configfile FILE`.
# Beside `settings` a run takes three paths: study (a study folder), results, loggers (more logger profiles).
settings:
"""

_BEGIN = "<!-- settings: printed by `firstrocker settings --markdown` -->"
_END = "<!-- /settings -->"
_TABLES_BEGIN = "<!-- tables: printed by `firstrocker settings --write` from tables_text.py -->"
_TABLES_END = "<!-- /tables -->"


def settings_yaml() -> str:
    """The defaults as YAML, each with its meaning and reason above it: the text of ``config/config.yaml``."""
    lines = [_HEAD.rstrip("\n")]
    for section, fields in _sections():
        lines += ["", f"  # {Settings.model_fields[section].description}", f"  {section}:"]
        for name, default, about in fields:
            note = f"[{about['unit']}] {about['meaning']} Why: {about['why']}"
            lines.append(fill(note, 116, initial_indent="    # ", subsequent_indent="    # "))
            lines.append(f"    {name}: {json.dumps(default)}")
    return "\n".join(lines) + "\n"


def settings_markdown() -> str:
    """One Markdown table per section: default, unit, range, meaning, reason, effect of a small and a large value."""
    lines: list[str] = []
    for section, fields in _sections():
        lines += ["", f"### {section}", "", f"{Settings.model_fields[section].description}", ""]
        lines += ["| setting | default | unit | range | what it is, and why this value | smaller | larger |"]
        lines += ["|---|---|---|---|---|---|---|"]
        properties = settings_schema()["$defs"][SECTIONS[section].__name__]["properties"]
        for name, default, about in fields:
            cells = [f"`{name}`", f"`{json.dumps(default)}`", about["unit"], _range(properties[name])]
            cells += [f"{about['meaning']} Why: {about['why']}", about["small"] or "-", about["large"] or "-"]
            lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    return "\n".join(lines).strip() + "\n"


def settings_schema() -> dict[str, Any]:
    """The JSON schema of the settings, for editors and other tools."""
    return Settings.model_json_schema()


def _sections() -> Iterator[tuple[str, list[tuple[str, Any, dict[str, str]]]]]:
    """Each section's name with its fields: name, default, and what the field says of itself."""
    for section, model in SECTIONS.items():
        fields: list[tuple[str, Any, dict[str, str]]] = []
        for name, field in model.model_fields.items():
            about = field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}
            fields.append((name, field.default, {key: str(value) for key, value in about.items()}))
        yield section, fields


def _range(schema: dict[str, Any]) -> str:
    """The allowed values of a field, from its JSON schema."""
    for part in [schema, *schema.get("anyOf", [])]:
        if "enum" in part:
            return ", ".join(str(value) for value in part["enum"])
        low, above = part.get("minimum"), part.get("exclusiveMinimum")
        high, below = part.get("maximum"), part.get("exclusiveMaximum")
        if any(bound is not None for bound in (low, above, high, below)):
            lower = f">= {low:g}" if low is not None else f"> {above:g}" if above is not None else ""
            upper = f"<= {high:.12g}" if high is not None else f"< {below:g}" if below is not None else ""
            return ", ".join(bound for bound in (lower, upper) if bound)
    return ""


def write_settings(home: Path) -> list[Path]:
    """Bring ``config/config.yaml``, and the settings and tables of ``config/README.md``, in step with the code.

    Args:
        home: where ``config`` lies.

    Returns:
        the files that had to be changed.
    """
    readme = home / "config" / "README.md"
    told = readme_with_tables(readme_with_settings(readme.read_text("utf-8")))
    wanted = {home / "config" / "config.yaml": settings_yaml(), readme: told}
    changed = [path for path, text in wanted.items() if not path.is_file() or path.read_text("utf-8") != text]
    for path in changed:
        write_text(path, wanted[path])
    return changed


def readme_with_settings(text: str) -> str:
    """``text`` with the settings' tables between its two marks."""
    return _between(text, _BEGIN, settings_markdown(), _END)


def readme_with_tables(text: str) -> str:
    """``text`` with what the Parquet tables hold between its two marks."""
    from firstrocker.tables_text import tables_markdown

    return _between(text, _TABLES_BEGIN, tables_markdown(), _TABLES_END)


def _between(text: str, begin: str, told: str, end: str) -> str:
    before, _, rest = text.partition(begin)
    _, found, after = rest.partition(end)
    if not found:
        raise SettingsError(f"the marks {begin} and {end} are missing.", where="config/README.md")
    return f"{before}{begin}\n\n{told}\n{end}{after}"
