"""Pictures drawn by matplotlib as SVG for a page: the page's colours, no ids that clash, the same bytes each time."""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure

INK, SOFT, TONE, RULE, PAPER = "#010101", "#020202", "#030303", "#040404", "#050505"
"""Stand-ins while drawing: the page's light, dark and printed colours take their places."""

_ON_PAGE = {
    INK: "var(--ink, currentColor)",
    SOFT: "var(--soft, currentColor)",
    TONE: "var(--tone, currentColor)",
    RULE: "var(--rule, #999)",
    PAPER: "var(--paper, #fff)",
}
_STYLE: Any = {
    "svg.fonttype": "none",
    "font.family": "sans-serif",
    "font.size": 9.0,
    "axes.edgecolor": RULE,
    "axes.labelcolor": INK,
    "axes.titlecolor": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.8,
    "text.color": INK,
    "xtick.color": RULE,
    "ytick.color": RULE,
    "xtick.labelcolor": SOFT,
    "ytick.labelcolor": INK,
    "axes.formatter.use_mathtext": False,
    "axes.unicode_minus": True,
}


def new_figure(width: float, height: float) -> Figure:
    """An empty figure, inches, that belongs to no window."""
    from matplotlib.figure import Figure

    return Figure(figsize=(width, height), layout="constrained")


def style() -> Any:
    """A context in which all drawing and saving is done."""
    from matplotlib import rc_context

    return rc_context(_STYLE)


def as_svg(figure: Figure, *, name: str, label: str) -> str:
    """The figure as an ``<svg>`` element to put into a page.

    Args:
        figure: drawn inside :func:`style` with the stand-in colours.
        name: letters and digits; unique on the page, for the ids inside the picture.
        label: what it shows, for those who cannot see it; must need no escaping in an attribute.
    """
    from matplotlib import rc_context

    with rc_context(_STYLE | {"svg.hashsalt": name}):
        target = io.StringIO()
        figure.savefig(target, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    text = target.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r"<!--.*?-->", "", text, flags=re.DOTALL)
    used = set(re.findall(r"(?:url\(#|href=\"#)([\w-]+)", text))
    text = re.sub(r' id="([\w.-]+)"', lambda m: f' id="{name}-{m[1]}"' if m[1] in used else "", text)
    text = re.sub(r"(url\(#|href=\"#)", rf"\g<1>{name}-", text)
    for stand_in, colour in _ON_PAGE.items():
        text = text.replace(stand_in, colour)
    size = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', text)
    box = f'viewBox="0 0 {size[1]} {size[2]}"' if size else ""
    text = re.sub(r"<svg[^>]*>", f'<svg {box} role="img" aria-label="{label}">', text, count=1)
    return re.sub(r"\n\s*", "\n", text)
