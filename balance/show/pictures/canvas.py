"""Sheets to draw on, and how they leave: as SVG for a page, or as a file of SVG, PNG or PDF.

A sheet counts in pixels from its upper left corner; the sizes of letters and the widths of lines
count in the same pixels.  Texts are drawn as they are written: none is read as a formula.
"""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

from balance.show.pictures.palette import DAY, INK, LETTERS, PAPER

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FORMATS = ("svg", "png", "pdf")
_PER_INCH = 72  # pixels of a sheet, which are the points of matplotlib
_SHARP = 2.5  # pixels of a PNG for each of the sheet: sharp on a fine screen and on paper
_SVG = "http://www.w3.org/2000/svg"
_XLINK = "http://www.w3.org/1999/xlink"
_STYLE: dict[Any, Any] = {  # matplotlib knows its keys by type
    "font.family": [LETTERS],
    "text.parse_math": False,
    "text.color": INK,
    "svg.fonttype": "none",
    "pdf.fonttype": 42,
    "hatch.linewidth": 1.0,
    "path.simplify": False,
}


@contextmanager
def drawing() -> Iterator[None]:
    """While it lasts, matplotlib draws in our style; needed from the first line to the last."""
    import matplotlib as mpl

    with mpl.rc_context(_STYLE), warnings.catch_warnings():
        # A letter that no font here has is still a letter for the reader's browser.
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        warnings.filterwarnings("ignore", message=".*Matplotlib currently does not support")
        yield


def sheet(width: float, height: float) -> tuple[Figure, Axes]:
    """Give a blank sheet of so many pixels, and what to draw on it: x to the right, y down."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width / _PER_INCH, height / _PER_INCH), dpi=_PER_INCH)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(0.0, width), ylim=(height, 0.0))
    axes.axis("off")
    return figure, axes


@cache
def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """How wide a line of text is, in pixels, in the letters that all is measured in."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    letters = FontProperties(family=LETTERS, size=size, weight="bold" if bold else "normal")
    with drawing():
        width, _, _ = text_to_path.get_text_width_height_descent(text, letters, ismath=False)
    return float(width)


def lines_of(text: str, size: float, *, room: float, most: int, bold: bool = False) -> list[str]:
    """Break a text into so many lines at most, each no wider than the room; the last ends in "…".

    Words stay whole where they can.
    """
    lines: list[str] = []
    words = text.split()
    while words:
        taken = len(words)
        while taken > 1 and text_width(" ".join(words[:taken]), size, bold=bold) > room:
            taken -= 1
        is_last = len(lines) == most - 1
        lines.append(_cut(" ".join(words if is_last else words[:taken]), size, room, bold=bold))
        words = [] if is_last else words[taken:]
    return lines


def _cut(text: str, size: float, room: float, *, bold: bool) -> str:
    if text_width(text, size, bold=bold) <= room:
        return text
    kept = len(text)
    while kept > 1 and text_width(f"{text[:kept]}…", size, bold=bold) > room:
        kept -= 1
    return f"{text[:kept].rstrip()}…"


@dataclass(frozen=True)
class Picture:
    """A sheet that is drawn, and what a reader who does not see it is told.

    Attributes
    ----------
    figure : the sheet
    title : what it shows, in a line
    description : what can be seen in it, in a sentence or two
    """

    figure: Figure
    title: str
    description: str

    @property
    def width(self) -> float:
        """Of its sheet [px]."""
        return float(self.figure.get_figwidth() * _PER_INCH)

    def inline(self, name: str) -> str:
        """Give it as an SVG element for a page.

        Its colours are the page's own (``var(--ink)``), by day and by night.  Its identifiers begin
        with its name, which must be the only one of its kind on the page.
        """
        text = ET.tostring(self._tree(name), encoding="unicode")
        for role, colour in DAY.items():
            text = text.replace(colour, f"var(--{role})")
        return text

    def as_file(self, kind: str) -> bytes:
        """Give the bytes of a file of one of `FORMATS`, on our paper.

        The same picture gives the same bytes: they hold no date.
        """
        if kind == "svg":
            root = self._tree("picture")
            width, height = root.get("viewBox", "").split()[2:]
            ground = ET.Element(f"{{{_SVG}}}rect", width=width, height=height, fill=PAPER)
            root.insert(2, ground)
            root.set("font-family", f"Helvetica, Arial, '{LETTERS}', sans-serif")
            root.set("width", width)
            root.set("height", height)
            ET.indent(root)
            return bytes(ET.tostring(root, encoding="utf-8", xml_declaration=True))
        self.figure.set_facecolor(PAPER)
        undated = {"Software": None} if kind == "png" else {"CreationDate": None}
        file = io.BytesIO()
        with drawing():
            self.figure.savefig(
                file, format=kind, dpi=_PER_INCH * _SHARP, metadata={"Title": self.title, **undated}
            )
        return file.getvalue()

    def _tree(self, name: str) -> ET.Element:
        """Draw it, and take out what only a file of its own would need."""
        self.figure.patch.set_visible(False)
        file = io.BytesIO()
        with drawing():
            self.figure.savefig(file, format="svg", metadata={"Date": None, "Creator": None})
        ET.register_namespace("", _SVG)
        ET.register_namespace("xlink", _XLINK)
        root = ET.fromstring(file.getvalue())  # noqa: S314 - matplotlib wrote it just now
        for parent in list(root.iter()):
            for child in list(parent):
                is_rule = child.tag == f"{{{_SVG}}}style"  # it would rule over the whole page
                if is_rule or child.tag == f"{{{_SVG}}}metadata":
                    parent.remove(child)
        _rename(root, name)
        return _described(root, name=name, title=self.title, description=self.description)


def _rename(root: ET.Element, name: str) -> None:
    """Number the identifiers, of which some are random, and leave the letters to the page."""
    numbers: dict[str, str] = {}
    for element in root.iter():
        if (own := element.get("id")) is not None:
            element.set("id", numbers.setdefault(own, f"{name}-{len(numbers) + 1}"))
    for element in root.iter():
        for key, value in element.attrib.items():
            if key == f"{{{_XLINK}}}href":
                element.set(key, f"#{numbers[value[1:]]}")
            elif "url(#" in value:
                named = re.sub(r"url\(#([^)]+)\)", lambda m: f"url(#{numbers[m[1]]})", value)
                element.set(key, named)
            elif key == "style" and element.tag == f"{{{_SVG}}}text":
                element.set(key, re.sub(r"font-family: [^;]*; ?", "", value))


def _described(root: ET.Element, *, name: str, title: str, description: str) -> ET.Element:
    _, _, width, height = root.get("viewBox", "0 0 0 0").split()
    root.attrib.clear()
    root.set("viewBox", f"0 0 {float(width):g} {float(height):g}")
    root.set("role", "img")
    root.set("aria-labelledby", f"{name}-title {name}-words")
    root.set("stroke-linejoin", "round")
    for place, (tag, text) in enumerate((("title", title), ("desc", description))):
        element = ET.Element(f"{{{_SVG}}}{tag}", id=f"{name}-{'words' if place else 'title'}")
        element.text = text
        root.insert(place, element)
    return root
