"""A drawing surface whose SVG lives in a page: its colours are the page's, its text is text, its bytes repeat.

matplotlib draws with colours that stand for a role; here each becomes the page's CSS variable of that role, so that one
picture serves light, dark and print. Fonts are the page's too: matplotlib's serve for laying out alone.
"""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any
from xml.etree import ElementTree as Tree

import matplotlib as mpl
from markupsafe import Markup
from matplotlib.axes import Axes
from matplotlib.figure import Figure

INK, SOFT, RULE, PAPER, TONE = "#010001", "#020002", "#030003", "#040004", "#060006"
WALK = tuple(f"#05000{place}" for place in range(6))
"""Colours of walks: the first for unbraced walks, the others for settings."""

VARIABLES = {INK: "--ink", SOFT: "--soft", RULE: "--rule", PAPER: "--paper", TONE: "--tone"} | {
    colour: f"--walk-{place}" for place, colour in enumerate(WALK)
}
SMALL, BODY = 11.5, 13.0
"""Sizes of text, in px of a picture at its natural width."""

_RC: dict[Any, Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "firstrocker",
    "text.parse_math": False,  # labels come from users
    "font.size": BODY,
    "text.color": INK,
    "axes.edgecolor": RULE,
    "axes.linewidth": 1.0,
    "xtick.color": RULE,
    "ytick.color": RULE,
    "xtick.labelcolor": SOFT,
    "ytick.labelcolor": SOFT,
    "xtick.labelsize": SMALL,
    "ytick.labelsize": SMALL,
    "lines.solid_capstyle": "round",
    "hatch.linewidth": 0.8,
}
_SVG = "{http://www.w3.org/2000/svg}"
_HREF = "{http://www.w3.org/1999/xlink}href"
_FRACTION = re.compile(r"-?\d+\.\d+(?:e-?\d+)?")
_REFERENCE = re.compile(r"url\(#([^)]+)\)")


@dataclass(frozen=True)
class Sheet:
    """A surface of ``width`` by ``height`` px; ``name`` makes its ids differ from those of other pictures."""

    name: str
    width: float
    height: float
    figure: Figure

    def axes(self, left: float, top: float, width: float, height: float) -> Axes:
        """Axes at a place given in px from the upper left, with a left and a lower edge and no box."""
        bottom = self.height - top - height
        place = (left / self.width, bottom / self.height, width / self.width, height / self.height)
        return _bare(self.figure.add_axes(place))

    def grid(self, rows: int, columns: int, **how: Any) -> Any:
        """Axes side by side, (rows, columns), that make room for their own labels; ``how`` as for matplotlib."""
        self.figure.set_layout_engine("constrained")
        grid = self.figure.subplots(rows, columns, squeeze=False, **how)
        for axes in grid.flat:
            _bare(axes)
        return grid

    def text(self, x: float, y: float, words: str, **how: Any) -> None:
        """Text at px from the upper left."""
        self.figure.text(x / self.width, 1 - y / self.height, words, **how)

    def svg(self, title: str, description: str) -> Markup:
        """The picture as an element of the page, with words for who cannot see it."""
        buffer = io.StringIO()
        self.figure.savefig(buffer, format="svg", metadata={"Date": None})
        root = Tree.fromstring(buffer.getvalue())  # noqa: S314  what matplotlib wrote in the line above
        return Markup(_of_the_page(root, self, title, description))  # noqa: S704  serialised, so escaped, by ElementTree


@contextmanager
def sheet(name: str, width: float, height: float) -> Iterator[Sheet]:
    """A surface to draw on; while it is open, nobody's matplotlib settings count but these."""
    with warnings.catch_warnings(), mpl.rc_context():
        warnings.filterwarnings("ignore", message=r"Glyph \d+ .*missing from font")  # the browser's fonts have it
        mpl.rcdefaults()
        for setting, value in _RC.items():
            mpl.rcParams[setting] = value
        figure = Figure(figsize=(width / 72, height / 72), dpi=72)
        figure.patch.set_visible(False)
        yield Sheet(name, width, height, figure)


def _bare(axes: Axes) -> Axes:
    axes.patch.set_visible(False)
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(length=0, pad=6)
    return axes


def _of_the_page(root: Tree.Element, drawn: Sheet, title: str, description: str) -> str:
    wanted = {found for element in root.iter() for found in _references(element)}
    for element in root.iter():
        _restyle(element, drawn.name, wanted)
    for group in root.iter("g"):
        _gather_style(group)
    name, about = f"{drawn.name}-title", f"{drawn.name}-about"
    root.attrib.clear()
    root.attrib |= {
        "viewBox": f"0 0 {drawn.width:g} {drawn.height:g}",
        "width": f"{drawn.width:g}",
        "height": f"{drawn.height:g}",
        "role": "img",
        "aria-labelledby": f"{name} {about}",
    }
    kept = [child for child in root if child.tag != "metadata" and not _is_style(child)]
    heads = [_element("title", name, title), _element("desc", about, description)]
    root[:] = heads + kept
    return Tree.tostring(root, encoding="unicode", short_empty_elements=True)


def _element(tag: str, name: str, text: str) -> Tree.Element:
    element = Tree.Element(tag, {"id": name})
    element.text = text
    return element


def _is_style(element: Tree.Element) -> bool:
    return element.tag == "defs" and len(element) == 1 and element[0].tag.endswith("style")


def _references(element: Tree.Element) -> Iterator[str]:
    if _HREF in element.attrib:
        yield element.attrib[_HREF].removeprefix("#")
    for value in element.attrib.values():
        yield from _REFERENCE.findall(value)


def _restyle(element: Tree.Element, name: str, wanted: set[str]) -> None:
    """Roles instead of colours, no fonts, ids that no other picture has and only where something refers to them."""
    element.tag = element.tag.removeprefix(_SVG)
    element.text = (element.text or "").strip() or None if element.tag != "text" else element.text
    element.tail = None
    had = dict(element.attrib)
    element.attrib.clear()
    for key, value in had.items():
        if key == "id":
            if value in wanted:
                element.set("id", f"{name}-{value}")
            elif value.startswith("class:"):
                element.set("class", value.removeprefix("class:"))
        elif key == _HREF:
            element.set("href", f"#{name}-{value.removeprefix('#')}")
        elif key == "d":
            element.set("d", _rounded(value))
        elif key in ("x", "y"):
            element.set(key, _rounded(value))
        elif key == "style":
            _set_style(element, value, name)
        elif key == "transform" and value.startswith("rotate(-0 "):
            continue
        elif not key.startswith("{"):
            element.set(key, _REFERENCE.sub(rf"url(#{name}-\1)", value))


def _gather_style(group: Tree.Element) -> None:
    """One style for marks that are alike, instead of one each."""
    styles = {child.get("style") if child.tag == "use" else None for child in group}
    if len(group) > 1 and len(styles) == 1 and (style := styles.pop()) is not None:
        group.set("style", style)
        for child in group:
            del child.attrib["style"]


def _rounded(numbers: str) -> str:
    """Coordinates to the hundredth of a px, on one line."""
    return " ".join(_FRACTION.sub(lambda found: f"{float(found[0]):.2f}".rstrip("0").rstrip("."), numbers).split())


def _set_style(element: Tree.Element, style: str, name: str) -> None:
    kept = []
    for part in style.split(";"):
        key, _, value = (piece.strip() for piece in part.partition(":"))
        if element.tag == "text" and key == "font-size":
            if float(value.removesuffix("px")) < BODY:
                element.set("class", "small")
        elif key and key != "font-family":
            value = _REFERENCE.sub(rf"url(#{name}-\1)", value)
            kept.append(f"{key}:{f'var({VARIABLES[value]})' if value in VARIABLES else value}")
    if kept:
        element.set("style", ";".join(kept))
