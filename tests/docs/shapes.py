"""Shapes, colours and lettering of the README's picture."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from html import escape
from typing import Literal

INK, SOFT, MARK = "#17323a", "#47616b", "#a3371a"  # of words and lines
PAPER, WATER, GLASS = "#fbf8f0", "#d3eaec", "#ffffff"  # of what words stand on
WET, SAND, TINT = "#5fb0bd", "#e3cf9f", "#f4cdb8"

TITLE = f'fill="{INK}" font-size="20" font-weight="700"'
NAME, NOTE, TURNS = (f'fill="{fill}" font-size="14"' for fill in (INK, SOFT, MARK))
FIGURE, TURN = (f'{look} font-weight="700"' for look in (NAME, TURNS))

RADIUS = 29  # of a dial

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]


def card(title: str, shapes: Iterable[str], *, width: int, height: int) -> str:
    """An SVG on a ground of its own, so that it reads on light pages and on dark ones."""
    lines = "\n".join(f"  {shape}" for shape in shapes)
    return f"""\
<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" \
height="{height}" role="img" aria-labelledby="balance-lagoon-title" \
font-family="Helvetica, Arial, sans-serif" stroke-linejoin="round">
  <title id="balance-lagoon-title">{escape(title)}</title>
  <rect x="1" y="1" width="{width - 2}" height="{height - 2}" rx="16" fill="{PAPER}" \
stroke="{SOFT}" stroke-opacity="0.4"/>
{lines}
</svg>
"""


def text(x: float, y: float, words: str, look: str = NAME, anchor: Anchor = "middle") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" {look}>{escape(words)}</text>'


def line(*points: Point, color: str, width: float, cap: str = "butt") -> str:
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return (
        f'<polyline points="{path}" fill="none" stroke="{color}" stroke-width="{width:.1f}" '
        f'stroke-linecap="{cap}"/>'
    )


def rect(x: float, y: float, width: float, height: float, *, fill: str, rx: int = 0) -> str:
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" rx="{rx}" '
        f'fill="{fill}"/>'
    )


def disc(x: float, y: float, radius: int, *, fill: str) -> str:
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius}" fill="{fill}"/>'


def pointer(x: float, y: float) -> str:
    """A small triangle that points down, its upper edge at y."""
    return f'<path d="M{x - 5:.1f} {y:.1f}h10l-5 7z" fill="{SOFT}"/>'


def dial(at: Point, *, opening: float, steps: int, way: int = 1) -> Iterator[str]:
    """A quarter circle from shut, across the pipe, to open, along it; the handle at its mark."""
    x, y = at

    def point(share: float, radius: float) -> Point:
        angle = share * math.pi / 2
        return x + way * radius * math.cos(angle), y - radius * math.sin(angle)

    for share, fill, edge in ((1, GLASS, "none"), (opening, TINT, "none"), (1, "none", INK)):
        to = point(share, RADIUS)
        yield (
            f'<path d="M{x:.1f} {y:.1f}h{way * RADIUS}A{RADIUS} {RADIUS} 0 0 {int(way < 0)} '
            f'{to[0]:.1f} {to[1]:.1f}z" fill="{fill}" stroke="{edge}" stroke-width="1.5"/>'
        )
    for step in range(1, steps):
        share = step / steps
        yield line(point(share, RADIUS - 6), point(share, RADIUS), color=INK, width=1.2)
    yield line(at, point(opening, RADIUS + 6), color=MARK, width=5, cap="round")
    yield disc(x, y, 6, fill=MARK)
