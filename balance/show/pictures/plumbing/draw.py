"""A layout put on a sheet, from the back to the front."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from balance.show.pictures.canvas import sheet
from balance.show.pictures.palette import GLASS, INK, MARK, PAPER, SAND, SOFT, TINT, WATER, WET
from balance.show.pictures.plumbing.tags import DIAL
from balance.show.pictures.plumbing.things import (
    Device,
    Dial,
    Glass,
    Layout,
    Pipe,
    Point,
    Pump,
    Sign,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Stroke = tuple[Sequence[Point], float]  # points and a width

WALL = 1.5  # of a pipe
ROLES = {"ink": INK, "soft": SOFT, "mark": MARK}


def draw(layout: Layout) -> Figure:
    """Draw everything of a layout."""
    figure, axes = sheet(layout.width, layout.height)
    for place, glass in enumerate(sorted(layout.glasses, key=lambda glass: glass.is_box)):
        _glass(axes, glass, 1.0 + 0.005 * place)
    depths = sorted({pipe.depth for pipe in layout.pipes})
    for place, depth in enumerate(depths):
        order = 2.0 + place / len(depths)
        taken = [(b.points, b.width) for b in layout.breaks if b.depth == depth]
        _strokes(axes, taken, PAPER, order)
        pipes = [pipe for pipe in layout.pipes if pipe.depth == depth]
        _pipes(axes, pipes, order, 0.3 / len(depths))
    _strokes(axes, [((near, far), width) for near, far, width in layout.tees], WET, 3.6)
    _rules(axes, layout)
    for device in layout.devices:
        _device(axes, device)
    for pump in layout.pumps:
        _pump(axes, pump)
    _signs(axes, layout.signs)
    _dials(axes, layout.dials)
    for words in layout.words:
        axes.text(
            words.x, words.y, words.text, fontsize=words.size, ha=words.anchor, va="baseline",
            color=ROLES[words.role], fontweight="bold" if words.bold else "normal", zorder=9,
        )  # fmt: skip
    return figure


# Lines and patches --------------------------------------------------------------------------------


def _strokes(
    axes: Axes,
    strokes: Sequence[Stroke],
    colour: str,
    order: float,
    *,
    dashes: object = "solid",
    cap: str = "butt",
) -> None:
    from matplotlib.collections import LineCollection

    if strokes:
        axes.add_collection(
            LineCollection(
                [list(points) for points, _ in strokes],
                linewidths=[width for _, width in strokes],
                colors=colour, zorder=order, linestyles=dashes, capstyle=cap, joinstyle="miter",
            ),
            autolim=False,
        )  # fmt: skip


def _patches(axes: Axes, outlines: Iterable[Sequence[Point]], colour: str, order: float) -> None:
    from matplotlib.collections import PolyCollection

    axes.add_collection(
        PolyCollection(list(outlines), facecolors=colour, edgecolors="none", zorder=order),
        autolim=False,
    )


def _box(left: float, top: float, right: float, bottom: float) -> list[Point]:
    return [(left, top), (right, top), (right, bottom), (left, bottom)]


# Things -------------------------------------------------------------------------------------------


def _glass(axes: Axes, glass: Glass, order: float) -> None:
    from matplotlib.patches import Rectangle

    left, right = glass.left, glass.right
    _patches(axes, [_box(left, glass.rim, right, glass.bottom)], GLASS, order)
    _patches(axes, [_box(left, glass.level, right, glass.bottom)], WATER, order + 0.001)
    if glass.sand < glass.bottom:
        axes.add_patch(
            Rectangle(
                (left, glass.sand), right - left, glass.bottom - glass.sand,
                facecolor=SAND, edgecolor=PAPER, linewidth=0.0, hatch="...", zorder=order + 0.002,
            )
        )  # fmt: skip
    surface = [((left, glass.level), (right, glass.level))]
    _strokes(axes, [(surface[0], 1.6)], WET, order + 0.003)
    wall = 1.6 if glass.is_box else 2.4
    corners = [(left, glass.rim), (left, glass.bottom), (right, glass.bottom), (right, glass.rim)]
    if glass.has_floor:
        _strokes(axes, [(corners, wall)], INK, order + 0.004)
    else:
        _strokes(axes, [(corners[:2], wall), (corners[2:], wall)], INK, order + 0.004)


def _pipes(axes: Axes, pipes: Sequence[Pipe], order: float, step: float) -> None:
    """Draw all walls, then all water: so they join as tees do.  A dry pipe is hollow and broken."""
    wet = [pipe for pipe in pipes if pipe.state != "dry"]
    for light in (False, True):
        walls = [
            (_reaching(pipe, WALL), pipe.width + 2 * WALL) for pipe in wet if pipe.light == light
        ]
        _strokes(axes, walls, SOFT if light else INK, order + step)
    dry = [pipe for pipe in pipes if pipe.state == "dry"]
    _strokes(
        axes,
        [(p.points, p.width + 2 * WALL) for p in dry],
        INK,
        order + step,
        dashes=(0, (0.6, 0.45)),
    )
    for state, colour in (("dry", PAPER), ("unknown", GLASS), ("wet", WET)):
        water = [(_reaching(pipe, 0.0), pipe.width) for pipe in pipes if pipe.state == state]
        _strokes(axes, water, colour, order + 2 * step)


def _reaching(pipe: Pipe, more: float) -> Sequence[Point]:
    """Give the points of a pipe with the elbows at its ends filled."""
    if not any(pipe.beyond):
        return pipe.points
    (x, y), *between, (there, down) = pipe.points
    before, after = (reach + more if reach else 0.0 for reach in pipe.beyond)
    return [(x - before, y), *between, (there + after, down)]


def _device(axes: Axes, device: Device) -> None:
    x, y = device.x, device.y
    _patches(axes, [_box(x - 17.0, y + 3.0, x + 17.0, y + 48.0)], INK, 5.0)
    _patches(axes, [_box(x - 14.5, y + 10.0, x + 14.5, y + 45.5)], WATER, 5.1)
    _patches(axes, [_box(x - 20.0, y, x + 20.0, y + 8.0)], INK, 5.2)


def _pump(axes: Axes, pump: Pump) -> None:
    from matplotlib.patches import Circle, FancyBboxPatch

    colour = SOFT if pump.light else INK
    axes.add_patch(
        FancyBboxPatch(
            (pump.x - 16.0, pump.y - 9.0), 32.0, 18.0, boxstyle="round,pad=4,rounding_size=7",
            facecolor=colour, edgecolor="none", zorder=5.0,
        )
    )  # fmt: skip
    for radius, fill in ((9.0, WATER), (3.0, colour)):
        axes.add_patch(
            Circle((pump.x, pump.y), radius, facecolor=fill, edgecolor="none", zorder=5.1)
        )


def _turned(sign: Sign, shape: Iterable[Point]) -> list[Point]:
    """Turn a shape that looks to the right to the way of a sign, at its place."""
    ahead, aside = sign.way
    return [
        (sign.x + along * ahead - across * aside, sign.y + along * aside + across * ahead)
        for along, across in shape
    ]


def _signs(axes: Axes, signs: Sequence[Sign]) -> None:
    strokes: dict[tuple[str, float], list[Stroke]] = {}
    for sign in signs:
        size = sign.size
        if sign.kind == "check":
            _patches(axes, [_turned(sign, [(-size, -size), (size, 0.0), (-size, size)])], INK, 5.0)
            inner = [(-size + 2.5, -size + 4.0), (size - 5.0, 0.0), (-size + 2.5, size - 4.0)]
            _patches(axes, [_turned(sign, inner)], GLASS, 5.1)
            bar = _turned(sign, [(size, -size), (size, size)])
            strokes.setdefault((INK, 5.2), []).append((bar, 2.6))
        elif sign.kind == "cap":
            bar = _turned(sign, [(-size, 0.0), (size, 0.0)])
            strokes.setdefault((INK, 5.0), []).append((bar, 4.5))
        elif sign.kind == "arrow":
            half = min(max(size * 0.55, 2.0), 4.0)
            shape = _turned(sign, [(-half, -half), (half * 0.4, 0.0), (-half, half)])
            strokes.setdefault((GLASS, 5.0), []).append((shape, 1.6))
        elif sign.kind == "tip":
            _patches(axes, [_turned(sign, [(-3.0, -6.0), (7.0, 0.0), (-3.0, 6.0)])], INK, 5.0)
        elif sign.kind == "funnel":
            lip = [(sign.x - size, sign.y), (sign.x + size, sign.y)]
            strokes.setdefault((INK, 5.0), []).append((lip, 2.0))
        elif sign.kind == "drop":
            fall = [(sign.x, sign.y), (sign.x, sign.y + size)]
            strokes.setdefault((WET, 1.9), []).append((fall, 2.0))
        elif sign.kind == "spill":
            ahead = sign.way[0]
            curve = [
                (
                    sign.x + ahead * (-9.0 + 3.0 * step),
                    sign.y - 2.0 + 0.16 * max(step - 2, 0) ** 2.6,
                )
                for step in range(6)
            ]
            strokes.setdefault((WET, 1.9), []).append((curve, 3.0))
    for (colour, order), found in strokes.items():
        _strokes(axes, found, colour, order)


def _dials(axes: Axes, dials: Sequence[Dial]) -> None:
    from matplotlib.collections import PatchCollection
    from matplotlib.patches import Circle

    whole, swept, knobs = [], [], []
    arcs, ticks = list[Stroke](), list[Stroke]()
    turned, locked = list[Stroke](), list[Stroke]()
    for dial in dials:
        at = (dial.x, dial.y)
        quarter = [_on(dial, step / 12, DIAL) for step in range(13)]
        whole.append([at, *quarter])
        swept.append([at, *(_on(dial, dial.opening * step / 12, DIAL) for step in range(13))])
        arcs.append(([at, *quarter, at], 1.2))
        ticks += [
            ([_on(dial, step / dial.steps, DIAL - 5.0), _on(dial, step / dial.steps, DIAL)], 1.0)
            for step in range(1, dial.steps)
        ]
        handles = locked if dial.locked else turned
        handles.append(([at, _on(dial, dial.opening, DIAL + 4.0)], 4.0))
        knobs.append(Circle(at, 4.6, color=INK if dial.locked else MARK))
    if not dials:
        return
    _patches(axes, whole, GLASS, 6.0)
    _patches(axes, swept, TINT, 6.1)
    _strokes(axes, arcs, INK, 6.2)
    _strokes(axes, ticks, INK, 6.2)
    _strokes(axes, turned, MARK, 6.3, cap="round")
    _strokes(axes, locked, INK, 6.3, cap="round")
    axes.add_collection(PatchCollection(knobs, match_original=True, zorder=6.4), autolim=False)


def _on(dial: Dial, share: float, radius: float) -> Point:
    """Give the point of a dial at a share of the travel."""
    angle = (1.0 - share if dial.flat else share) * math.pi / 2
    return dial.x + radius * math.cos(angle), dial.y - radius * math.sin(angle)


def _rules(axes: Axes, layout: Layout) -> None:
    _strokes(axes, [(rule.points, 0.9) for rule in layout.rules], SOFT, 4.0)
    dots = [rule.points[0] for rule in layout.rules if rule.dot]
    if dots:
        across, down = zip(*dots, strict=True)
        axes.scatter(across, down, s=14.0, c=INK, linewidths=0.0, zorder=4.2)
