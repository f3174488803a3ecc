"""The outcome letter as a page that is edited where it stands: no script, no network, half a sheet per setting."""

from __future__ import annotations

from firstrocker.report.letter import Letter
from firstrocker.report.page import environment


def render_letter(draft: Letter) -> str:
    """The draft as an HTML page that needs nothing else; every word of it can be changed in the browser."""
    return environment().get_template("letter.html.j2").render(letter=draft, invented=draft.invented)
