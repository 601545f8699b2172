"""Small plots of lines and points on a terminal or into a pipe.

Series are told apart by their marks, so that no colour is needed; where a terminal has colours they
come on top.  A table should stand beside a plot: a mark stands in the cell nearest to its point.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from math import ceil, floor, log10
from typing import NamedTuple

from rich.console import Console
from rich.text import Text

from balance.show.page import PLOT_HEIGHT, Series

_NARROWEST = 20  # cells between the sides; with less a plot says nothing
_ACROSS, _UP = 10, 2  # cells between ticks, at least
_SAME = 1e-6  # of the greatest: by less nothing differs on a plot


class _Marks(NamedTuple):
    """What a terminal can draw with; the first line is drawn finer than others where it can."""

    fine: str
    lines: str
    points: str
    side: str
    tick: str
    base: str
    corner: str
    below: str


_UNICODE = _Marks("⠤", "·+×~", "●○▲△■□", "│", "┤", "─", "└", "┬")
_ASCII = _Marks("", ".+*~-", "ox#@%&", "|", "+", "-", "+", "+")
_STYLES = ("cyan", "yellow", "magenta", "green", "blue", "red")


class _Axis(NamedTuple):
    """An axis of so many cells: the middles of its end cells stand for its end ticks."""

    ticks: tuple[float, ...]
    labels: tuple[str, ...]
    cells: int

    def cell(self, value: float) -> int:
        low, high = self.ticks[0], self.ticks[-1]
        return round((value - low) / (high - low) * (self.cells - 1))

    def ends(self, pixels: int) -> tuple[float, float]:
        """Values at the middles of its first and last pixel, of which each cell has some."""
        low, high = self.ticks[0], self.ticks[-1]
        beyond = 0.5 * (1.0 - 1.0 / pixels) * (high - low) / (self.cells - 1)
        return low - beyond, high + beyond


class _Pen(NamedTuple):
    """How the series of one kind and name are drawn."""

    series: list[Series]
    mark: str
    fine: bool
    style: str

    def legend(self) -> Text:
        sample = self.mark if self.series[0].kind == "points" else 3 * self.mark
        return Text.assemble((sample, self.style), " ", self.series[0].name)


def has_unicode(to: Console) -> bool:
    """A page that can hold rules and marks beyond ASCII."""
    return to.encoding.lower().startswith("utf")


def draw(
    to: Console,
    series: Sequence[Series],
    *,
    x_title: str,
    y_title: str,
    height: int = PLOT_HEIGHT,
) -> None:
    """Prints a plot as wide as the page, its legend above it; nothing where that is too narrow.

    Parameters
    ----------
    series : of numbers that are finite; points lie over lines, later ones over earlier
    x_title, y_title : of the axes, with their units
    height : rows between top and axis
    """
    marks = _UNICODE if has_unicode(to) else _ASCII
    y = _axis([value for each in series for value in each.y], height, _UP)
    margin = max(map(len, y.labels))
    xs = [value for each in series for value in each.x]
    room = to.width - margin - 2
    # Its labels stand apart, and the last is centred below its end.
    widest = max(map(len, _axis(xs, room, _ACROSS).labels))
    x = _axis(xs, room - widest // 2, max(_ACROSS, widest + 3))
    if x.cells < _NARROWEST:
        return
    pens = _pens(series, marks)
    for line in (
        *_heading(y_title, pens, to.width),
        *_body(pens, x, y, marks, margin),
        *_foot(x, x_title, marks, margin),
    ):
        to.print(line, no_wrap=True)


def _axis(values: Sequence[float], cells: int, gap: int) -> _Axis:
    """An axis with round ticks, from zero unless all lies far from it."""
    low, high = min(values), max(values)
    if 0.0 < low < 0.5 * high:
        low = 0.0
    if high - low <= _SAME * max(abs(low), abs(high)):
        low, high = min(low, 0.0), max(high, 0.0) or 1.0
    most = max((cells - 1) // gap, 2)  # so many spaces hold any two values, to either side of zero
    power = 10.0 ** floor(log10((high - low) / most))
    step = next(
        factor * power
        for factor in (1.0, 2.0, 5.0, 10.0, 20.0)
        if len(_multiples(factor * power, low, high)) <= most + 1
    )
    ticks = tuple(step * at for at in _multiples(step, low, high))
    decimals = max(0, -floor(log10(step) + 1e-9))
    return _Axis(ticks, tuple(f"{tick:.{decimals}f}" for tick in ticks), cells)


def _multiples(step: float, low: float, high: float) -> range:
    """Whole numbers of steps that reach from below one value to above another."""
    return range(floor(low / step + 1e-9), ceil(high / step - 1e-9) + 1)


def _pens(series: Sequence[Series], marks: _Marks) -> list[_Pen]:
    """Pens for lines and then for points, each kind with its marks in turn."""
    found: list[_Pen] = []
    for kind, characters in (("line", marks.fine + marks.lines), ("points", marks.points)):
        names = dict.fromkeys(each.name for each in series if each.kind == kind)
        for place, name in enumerate(names):
            mark = characters[place % len(characters)]
            found.append(
                _Pen(
                    [each for each in series if (each.kind, each.name) == (kind, name)],
                    mark,
                    mark == marks.fine,
                    _STYLES[len(found) % len(_STYLES)],
                )
            )
    return found


def _body(pens: list[_Pen], x: _Axis, y: _Axis, marks: _Marks, margin: int) -> Iterable[Text]:
    """The rows of a plot with the labels of its left side."""
    cells = [[(" ", "")] * x.cells for _ in range(y.cells)]
    for pen in pens:
        for row, drawn in zip(cells, _drawn(pen, x, y), strict=True):
            for place, mark in enumerate(drawn):
                if mark != " ":
                    row[place] = (mark, pen.style)
    labels = {y.cells - 1 - y.cell(tick): label for tick, label in zip(*y[:2], strict=True)}
    for at, row in enumerate(cells):
        label = labels.get(at)
        side = marks.side if label is None else marks.tick
        line = Text(f"{label or '':>{margin}} {side}")
        for style, run in groupby(row, key=lambda cell: cell[1]):
            line.append("".join(mark for mark, _ in run), style)
        yield line


def _drawn(pen: _Pen, x: _Axis, y: _Axis) -> list[str]:
    """Rows of cells with what a pen draws in them."""
    from uniplot import plot_to_string

    (x_min, x_max), (y_min, y_max) = x.ends(2 if pen.fine else 1), y.ends(4 if pen.fine else 1)
    text = plot_to_string(
        xs=[each.x for each in pen.series],
        ys=[each.y for each in pen.series],
        lines=[each.kind == "line" for each in pen.series],
        character_set="braille" if pen.fine else "ascii",
        force_ascii_characters=[pen.mark] * len(pen.series),
        color=False,
        width=x.cells,
        height=y.cells,
        x_min=x_min,
        x_max=x_max,
        y_min=y_min,
        y_max=y_max,
        x_gridlines=[],
        y_gridlines=[],
        x_labels=False,
        y_labels=False,
    )
    return [line[1 : 1 + x.cells] for line in text.splitlines()[1:-1]]  # within its frame


def _heading(y_title: str, pens: list[_Pen], width: int) -> Iterable[Text]:
    """The title of the upright axis and the legend, on as few lines as they need."""
    line = Text(y_title)
    for pen in pens:
        entry = pen.legend()
        if len(line) + 3 + len(entry) > width:
            yield line
            line = Text(" " * (len(y_title)))
        line = Text.assemble(line, "   ", entry)
    yield line


def _foot(x: _Axis, x_title: str, marks: _Marks, margin: int) -> Iterable[Text]:
    """The lower axis, its labels and its title."""
    ticks = {x.cell(tick) for tick in x.ticks}
    across = "".join(marks.below if place in ticks else marks.base for place in range(x.cells))
    yield Text(f"{'':>{margin}} {marks.corner}{across}")
    line = ""
    for tick, label in zip(x.ticks, x.labels, strict=True):
        line = line.ljust(margin + 2 + x.cell(tick) - len(label) // 2) + label
    yield Text(line)
    yield Text(x_title.rjust(margin + 2 + x.cells))
