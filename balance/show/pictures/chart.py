"""Axes in our style, and words on them where they hide nothing."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from balance.show.pictures.canvas import sheet, text_width
from balance.show.pictures.palette import INK, RULE, SOFT

if TYPE_CHECKING:
    from matplotlib.figure import Figure

LETTERS = 12.0
_LINE = 1.3  # height of a line of letters, of their size
_EVERY = 3.0  # pixels between the points at which a line is looked at
_AIR = 2.0  # pixels around words


class Margins(NamedTuple):
    """Pixels around the axes of a chart."""

    left: float
    right: float
    top: float
    bottom: float


class Spot(NamedTuple):
    """Where words may stand: a point in data, a distance in pixels (y up), and how they hang."""

    x: float
    y: float
    right: float
    up: float
    ha: str
    va: str


class Chart:
    """A sheet with two axes; `axes` count in data, `ground` in pixels of the whole sheet.

    Parameters
    ----------
    size : width and height of the sheet in pixels
    x, y : ends of the axes; and
    x_ticks, y_ticks : where they have numbers
    x_words, y_words : what they are, with units
    """

    def __init__(
        self,
        size: tuple[float, float],
        margins: Margins,
        *,
        x: tuple[float, float],
        y: tuple[float, float],
        x_ticks: ArrayLike,
        y_ticks: ArrayLike,
        x_words: str,
        y_words: str,
    ) -> None:
        width, height = size
        figure, ground = sheet(width, height)
        self.figure: Figure = figure
        self.ground = ground
        self._width = width - margins.left - margins.right
        self._height = height - margins.top - margins.bottom
        axes = figure.add_axes(
            (
                margins.left / width,
                margins.bottom / height,
                self._width / width,
                self._height / height,
            )
        )
        self.axes = axes
        self._x, self._y = x, y
        axes.set(xlim=x, ylim=y)
        axes.patch.set_visible(False)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
        for side in ("left", "bottom"):
            axes.spines[side].set(color=INK, linewidth=1.0)
        axes.set_xticks(_floats(x_ticks), [f"{tick:g}" for tick in _floats(x_ticks)])
        axes.set_yticks(_floats(y_ticks), [f"{tick:g}" for tick in _floats(y_ticks)])
        axes.tick_params(length=0.0, pad=4.0, labelsize=LETTERS, labelcolor=SOFT)
        axes.grid(color=RULE, linewidth=0.6)
        axes.set_axisbelow(True)
        ground.text(6.0, 4.0, y_words, size=LETTERS, color=SOFT, ha="left", va="top")
        ground.text(
            width - margins.right, height - 4.0, x_words,
            size=LETTERS, color=SOFT, ha="right", va="bottom",
        )  # fmt: skip
        self._taken: list[tuple[float, float, float, float]] = []
        self._points: list[NDArray[np.float64]] = []

    def pixels(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
        """Points of data in pixels from the lower left corner of the axes, (N, 2)."""
        (left, right), (low, high) = self._x, self._y
        across = (np.asarray(x, dtype=np.float64) - left) / (right - left) * self._width
        up = (np.asarray(y, dtype=np.float64) - low) / (high - low) * self._height
        return np.stack(np.broadcast_arrays(across, up), axis=-1)

    def keep_clear(self, x: ArrayLike, y: ArrayLike) -> None:
        """Let words not stand on a line, if they can help it."""
        corners = self.pixels(x, y)
        for one, other in pairwise(corners):
            count = max(2, int(np.hypot(*(other - one)) / _EVERY) + 1)
            self._points.append(np.linspace(one, other, min(count, 400)))

    def write(
        self,
        words: str,
        spots: Iterable[Spot],
        *,
        colour: str,
        size: float = LETTERS,
        bold: bool = False,
    ) -> None:
        """Write words at the first of some spots that hides least.

        To leave the axes is worse than to stand on other words, and that worse than to hide a line.
        """
        points = np.concatenate(self._points) if self._points else np.zeros((0, 2))
        best: tuple[float, Spot, tuple[float, float, float, float]] | None = None
        for spot in spots:
            box = self._box(words, spot, size, bold=bold)
            hidden = _inside(points, box) + 1e3 * sum(_meet(box, other) for other in self._taken)
            hidden += 1e6 * self._outside(box)
            if best is None or hidden < best[0]:
                best = hidden, spot, box
        if best is None:
            return
        _, spot, box = best
        self._taken.append(box)
        self.axes.annotate(
            words, (spot.x, spot.y), (spot.right, spot.up), textcoords="offset points",
            ha=spot.ha, va=spot.va, color=colour, size=size, linespacing=1.15,
            weight="bold" if bold else "normal", annotation_clip=False,
        )  # fmt: skip

    def _box(
        self, words: str, spot: Spot, size: float, *, bold: bool
    ) -> tuple[float, float, float, float]:
        """Left, bottom, right and top of words, in pixels of the axes."""
        lines = words.split("\n")
        width = max(text_width(line, size, bold=bold) for line in lines)
        height = _LINE * size * len(lines)
        x, y = self.pixels(spot.x, spot.y) + np.array([spot.right, spot.up])
        left = x - {"left": 0.0, "center": width / 2, "right": width}[spot.ha]
        low = y - {"bottom": 0.0, "center": height / 2, "top": height}[spot.va]
        return left - _AIR, low - _AIR, left + width + _AIR, low + height + _AIR

    def _outside(self, box: tuple[float, float, float, float]) -> bool:
        left, low, right, high = box
        return left < -_AIR or low < 0.0 or right > self._width + 8.0 or high > self._height + 6.0


def _floats(values: ArrayLike) -> list[float]:
    return [float(value) for value in np.asarray(values).ravel()]


def _inside(points: NDArray[np.float64], box: tuple[float, float, float, float]) -> float:
    left, low, right, high = box
    x, y = points[:, 0], points[:, 1]
    return float(((x > left) & (x < right) & (y > low) & (y < high)).sum())


def _meet(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def ticks(low: float, high: float, *, most: int) -> list[float]:
    """Round numbers from one at or below the low end to one at or above the high one."""
    from matplotlib.ticker import MaxNLocator

    if high <= low:
        high = low + 1.0
    locator = MaxNLocator(nbins=most, steps=[1, 2, 2.5, 5, 10])
    found = [round(float(tick), 9) for tick in locator.tick_values(low, high)]
    step = found[1] - found[0]
    while found[1] <= low:
        found = found[1:]
    while found[-2] >= high:
        found = found[:-1]
    if found[-1] < high:
        found.append(round(found[-1] + step, 9))
    return found
