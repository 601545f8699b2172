"""Flows at the marks against what is asked: each as a share of its own aim, on one axis."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from balance.questions.settings.answer import BranchFlow, Settings, Total
from balance.questions.spread.answer import Band, Spread
from balance.show.pictures.canvas import Picture, drawing, lines_of, sheet, text_width
from balance.show.pictures.palette import INK, MARK, RULE, SAND, SOFT
from balance.show.words import bare, between
from balance.units import SYSTEMS, UnitSystem

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WIDE = 700
NARROW = 440
ROW = 38.0
_TOP = 44.0
_KEY_LINE = 22.0
_MARGIN = 8.0
_GAP = 14.0
_LEAST, _MOST = 0.0, 2.0  # of the aim: what lies beyond is drawn as an arrow at the edge
_AROUND = (0.5, 1.5)  # of the aim, that the axis shows at least

TITLE = "Flows at the marks against what is asked"
AXIS = "percent of the aim"
NO_TARGET = "no target"
MET, POINT, MISSED = "counts as met", "flow at the mark", "missed"
LIMIT, SURE = "limit of the device", "5..95 %"


@dataclass(frozen=True)
class _Row:
    """What is drawn of one branch or total; all flows in SI."""

    name: str
    flow: float
    aim: float | None
    low: float | None
    high: float | None
    limits: tuple[float | None, float | None]
    good: bool
    band: Band | None


def targets(answer: Settings, spread: Spread | None = None, *, width: int = WIDE) -> Picture:
    """Draw each branch in use and each total: what it gets, what counts as met, how sure that is.

    Parameters
    ----------
    answer : where the handles go
    spread : of the same plan at those settings; left out, no band of doubt is drawn
    width : of the sheet in pixels; `NARROW` for a phone
    """
    system = SYSTEMS[answer.plan.units]
    rows = _rows(answer, spread)
    keys = _key_lines(_keys(rows), width)
    height = _TOP + ROW * max(1, len(rows)) + _MARGIN + _KEY_LINE * len(keys)
    with drawing():
        figure, axes = sheet(width, height)
        _Chart(axes, rows, system, width).draw()
        _key(axes, keys, height - _KEY_LINE * len(keys))
    return Picture(figure, TITLE, _description(rows, system))


def _rows(answer: Settings, spread: Spread | None) -> list[_Row]:
    outcome = None if spread is None else spread.after or spread.before
    bands = {} if outcome is None else {band.name: band for band in outcome.branches}
    sums = {} if outcome is None else {band.name: band for band in outcome.totals}
    branches = (each for each in answer.branches if each.flow or each.aim is not None)
    return [
        *(_of_branch(each, bands.get(each.branch)) for each in branches),
        *(_of_total(each, sums.get(each.group)) for each in answer.totals),
    ]


def _of_branch(each: BranchFlow, band: Band | None) -> _Row:
    good = each.met and each.within_limits
    return _Row(
        each.branch, each.flow, each.aim, each.low, each.high, each.limits, good=good, band=band
    )


def _of_total(each: Total, band: Band | None) -> _Row:
    bounds = [bound for bound in (each.low, each.high) if bound is not None]
    aim = sum(bounds) / len(bounds) if bounds else None
    name = f"{each.group}, in all"
    return _Row(name, each.flow, aim, each.low, each.high, (None, None), good=each.met, band=band)


class _Chart:
    """The rows on their sheet."""

    def __init__(self, axes: Axes, rows: Sequence[_Row], system: UnitSystem, width: float) -> None:
        self.axes, self.rows, self.system = axes, rows, system
        self.names = 0.26 * width
        figures = max(
            (text_width(line, 13, bold=True) for row in rows for line, _ in self._figures(row)),
            default=0.0,
        )
        heading = text_width(self._heading, 12)
        self.right = width - _MARGIN
        self.start = _MARGIN + self.names + _GAP
        self.end = self.right - max(figures, heading) - 1.5 * _GAP
        self.low, self.high = _reach(rows)
        self.bottom = _TOP + ROW * max(1, len(rows))

    @property
    def _heading(self) -> str:
        return f"flow, {self.system.unit('flow')}"

    def draw(self) -> None:
        """Draw grid, rows and figures."""
        self._grid()
        self._bands()
        self._doubts()
        self._limits()
        self._points()
        for place, row in enumerate(self.rows):
            self._words(row, self._y(place))

    def _x(self, share: float) -> float:
        kept = min(max(share, self.low), self.high)
        return self.start + (self.end - self.start) * (kept - self.low) / (self.high - self.low)

    def _y(self, place: int) -> float:
        return _TOP + ROW * (place + 0.5)

    def _grid(self) -> None:
        from matplotlib.ticker import MaxNLocator

        ticks = [
            tick
            for tick in MaxNLocator(4, steps=[1, 2, 2.5, 5, 10]).tick_values(
                100.0 * self.low, 100.0 * self.high
            )
            if 100.0 * self.low - 1e-6 <= tick <= 100.0 * self.high + 1e-6
        ]
        for tick in {*ticks, 100.0}:
            x = self._x(tick / 100.0)
            is_aim = tick == 100.0
            self.axes.plot(
                (x, x), (_TOP, self.bottom), color=SOFT if is_aim else RULE, linewidth=1, zorder=1
            )
            if is_aim or abs(x - self._x(1.0)) > 30:
                self.axes.text(x, _TOP - 5, f"{tick:g}", size=12, color=SOFT, ha="center")
        middle = (self.start + self.end) / 2
        self.axes.text(middle, 16, AXIS, size=12, color=SOFT, ha="center")
        self.axes.text(self.right, 16, self._heading, size=12, color=SOFT, ha="right")
        if any(row.band for row in self.rows):
            self.axes.text(self.right, _TOP - 5, SURE, size=12, color=SOFT, ha="right")
        for place in range(len(self.rows) + 1):
            y = _TOP + ROW * place
            self.axes.plot((_MARGIN, self.right), (y, y), color=RULE, linewidth=0.5, zorder=0)

    def _bands(self) -> None:
        """What counts as met; an open end runs to the edge and has no tick."""
        for place, row in enumerate(self.rows):
            if not row.aim or (row.low is None and row.high is None):
                continue
            y = self._y(place)
            left = self.start if row.low is None else self._x(row.low / row.aim)
            right = self.end if row.high is None else self._x(row.high / row.aim)
            self.axes.barh(y, right - left, left=left, height=20, color=SAND, zorder=2, linewidth=0)
            for x, bound in ((left, row.low), (right, row.high)):
                if bound is not None:
                    self.axes.plot((x, x), (y - 10, y + 10), color=SOFT, linewidth=1.2, zorder=3)

    def _doubts(self) -> None:
        for place, row in enumerate(self.rows):
            if not row.aim or row.band is None:
                continue
            y = self._y(place)
            low, high = row.band.low / row.aim, row.band.high / row.aim
            left, right = self._x(low), self._x(high)
            self.axes.plot((left, right), (y, y), color=INK, linewidth=1.6, zorder=4)
            for x, share in ((left, low), (right, high)):
                if self._is_shown(share):
                    self.axes.plot((x, x), (y - 5, y + 5), color=INK, linewidth=1.6, zorder=4)

    def _limits(self) -> None:
        """Brackets that open towards what the device allows."""
        for place, row in enumerate(self.rows):
            for limit, foot in zip(row.limits, (5, -5), strict=True):
                if row.aim and limit is not None and self._is_shown(limit / row.aim):
                    x, y = self._x(limit / row.aim), self._y(place)
                    self.axes.plot(
                        (x + foot, x, x, x + foot),
                        (y - 13, y - 13, y + 13, y + 13),
                        color=INK,
                        linewidth=1.6,
                        zorder=4,
                    )

    def _points(self) -> None:
        for place, row in enumerate(self.rows):
            y = self._y(place)
            if not row.aim:
                self.axes.text(
                    (self.start + self.end) / 2, y, NO_TARGET, size=12, color=SOFT,
                    ha="center", va="center", bbox={"color": "none", "pad": 0},
                )  # fmt: skip
                continue
            share = row.flow / row.aim
            shape = "o" if row.good else "D"
            if not self._is_shown(share):
                shape = "<" if share < self.low else ">"
            self.axes.plot(
                self._x(share), y, shape, markersize=10 if row.good else 9,
                color=INK if row.good else MARK, markeredgewidth=0, zorder=5,
            )  # fmt: skip

    def _is_shown(self, share: float) -> bool:
        return self.low <= share <= self.high

    def _words(self, row: _Row, y: float) -> None:
        lines = lines_of(row.name, 13, room=self.names, most=2)
        self._stack([(line, INK) for line in lines], _MARGIN, y, ha="left", bold=False)
        self._stack(self._figures(row), self.right, y, ha="right", bold=True)

    def _stack(
        self, lines: Sequence[tuple[str, str]], x: float, y: float, *, ha: str, bold: bool
    ) -> None:
        """One or two lines about a height, the first of figures bold."""
        for place, (line, colour) in enumerate(lines):
            self.axes.text(
                x, y + 16 * (place - (len(lines) - 1) / 2), line, color=colour, ha=ha,
                va="center_baseline", size=12 if bold and place else 13,
                weight="bold" if bold and not place else "normal",
            )  # fmt: skip

    def _figures(self, row: _Row) -> list[tuple[str, str]]:
        flow = bare(self.system, row.flow, "flow")
        lines = [(flow, INK) if row.good else (f"{MISSED} {flow}", MARK)]
        if row.band is not None:
            lines.append((_doubt(row.band, self.system), SOFT))
        return lines


def _reach(rows: Sequence[_Row]) -> tuple[float, float]:
    """What part of the axis is shown: all that is drawn, so far as it is not far off."""
    shares = [*_AROUND]
    for row in rows:
        if row.aim:
            drawn = [row.flow, row.low, row.high, *row.limits]
            drawn += [] if row.band is None else [row.band.low, row.band.high]
            shares += [each / row.aim for each in drawn if each is not None]
    low = max(_LEAST, min(shares) - 0.05)
    return low, min(_MOST, max(shares) + 0.05)


def _doubt(band: Band, system: UnitSystem) -> str:
    return f"{bare(system, band.low, 'flow')}..{bare(system, band.high, 'flow')}"


def _keys(rows: Sequence[_Row]) -> list[str]:
    """Which signs are drawn, and so have to be told."""
    asked = [row for row in rows if row.aim]
    keys = [POINT] if any(row.good for row in asked) else []
    keys += [MISSED] if any(not row.good for row in asked) else []
    keys += [MET] if any((row.low, row.high) != (None, None) for row in asked) else []
    keys += [SURE] if any(row.band for row in asked) else []
    return [*keys, LIMIT] if any(row.limits != (None, None) for row in asked) else keys


def _key_lines(keys: Sequence[str], width: float) -> list[list[tuple[float, str]]]:
    """Where each sign of the key stands, in lines that fit."""
    lines: list[list[tuple[float, str]]] = []
    x = width
    for key in keys:
        taken = 30 + text_width(key, 12) + _GAP
        if x + taken > width:
            lines.append([])
            x = _MARGIN
        lines[-1].append((x, key))
        x += taken
    return lines


def _key(axes: Axes, lines: Sequence[Sequence[tuple[float, str]]], top: float) -> None:
    for number, line in enumerate(lines):
        y = top + _KEY_LINE * (number + 0.4)
        for x, key in line:
            middle = x + 11
            if key in {POINT, MISSED}:
                is_point = key == POINT
                axes.plot(
                    middle, y, "o" if is_point else "D", markersize=9, markeredgewidth=0,
                    color=INK if is_point else MARK,
                )  # fmt: skip
            elif key == MET:
                axes.barh(y, 22, left=x, height=12, color=SAND, linewidth=0)
                for end in (x, x + 22):
                    axes.plot((end, end), (y - 6, y + 6), color=SOFT, linewidth=1.2)
            elif key == SURE:
                xs = (x, x, x, x + 22, x + 22, x + 22)
                axes.plot(xs, (y - 4, y + 4, y, y, y - 4, y + 4), color=INK, linewidth=1.6)
            else:
                bracket = (middle + 5, middle, middle, middle + 5)
                axes.plot(bracket, (y - 6, y - 6, y + 6, y + 6), color=INK, linewidth=1.6)
            axes.text(x + 30, y, key, size=12, color=SOFT, va="center_baseline")


def _description(rows: Sequence[_Row], system: UnitSystem) -> str:
    return " ".join(_said(rows, system)) or "No branch is in use."


def _said(rows: Sequence[_Row], system: UnitSystem) -> Iterator[str]:
    for row in rows:
        said = f"{row.name}: {system.text(row.flow, 'flow')}"
        if row.aim:
            asked = between(system, row.low, row.high)
            said += f", asked {asked}" if asked else ""
            said += "" if row.good else f", {MISSED}"
        if row.band is not None:
            said += f", {SURE} of systems {_doubt(row.band, system)}"
        yield f"{said}."
