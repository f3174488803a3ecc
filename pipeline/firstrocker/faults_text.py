"""The table of faults as people read it, and its place in ``config/README.md``."""

from __future__ import annotations

from pathlib import Path

from firstrocker.errors import SettingsError
from firstrocker.faults import GROUPS
from firstrocker.files import write_text

_BEGIN = "<!-- faults: printed by `firstrocker settings --write` -->"
_END = "<!-- /faults -->"


def faults_markdown() -> str:
    """One Markdown table per group of faults."""
    lines: list[str] = []
    for group, faults in GROUPS.items():
        measured = any(fault.measured for fault in faults)
        lines += ["", f"### {group}", ""]
        lines += ["| code | fault | told from | what becomes of the numbers |" + (" measured |" if measured else "")]
        lines += ["|---|---|---|---|" + ("---|" if measured else "")]
        for fault in faults:
            cells = [f"`{fault.code}`", fault.what, fault.threshold, fault.action]
            cells += [fault.measured or "-"] if measured else []
            lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    return "\n".join(lines).strip() + "\n"


def readme_with_faults(text: str) -> str:
    """``text`` with the table of faults between its two marks."""
    before, begin, rest = text.partition(_BEGIN)
    _, end, after = rest.partition(_END)
    if not end:
        raise SettingsError("the marks around the faults are missing.", where="config/README.md")
    return f"{before}{begin}\n\n{faults_markdown()}\n{end}{after}"


def write_faults(home: Path) -> list[Path]:
    """Bring the table of faults in ``config/README.md`` below ``home`` in step; returns the files that changed."""
    readme = home / "config" / "README.md"
    text = readme.read_text("utf-8")
    wanted = readme_with_faults(text)
    if text == wanted:
        return []
    write_text(readme, wanted)
    return [readme]
