"""Pump lines at their speeds, the system curve, and the duty point where they meet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from balance.questions.duty_points import DutyPoint, DutyPoints
from balance.show.pictures.canvas import Picture, drawing
from balance.show.pictures.chart import Chart, Margins, Spot, ticks
from balance.show.pictures.palette import INK, MARK, PAPER, SAND, SOFT
from balance.show.words import speed
from balance.units import SYSTEMS, UnitSystem

if TYPE_CHECKING:
    from balance.questions.duty_points import SpeedLine

SIZE = (440.0, 320.0)
_MARGINS = Margins(left=46.0, right=18.0, top=30.0, bottom=44.0)
_APART = 15.0  # pixels between the labels of two speeds
_BESIDE = ((-6, -4, "right", "top"), (-6, 4, "right", "bottom"), (8, -4, "left", "top"))
USEFUL, PLUMBING, STOPPED = "useful range", "plumbing", "stopped"


def duty(answer: DutyPoints, pump: str) -> Picture:
    """Draw where one pump of an answer works."""
    (point,) = [each for each in answer.pumps if each.pump == pump]
    system = SYSTEMS[answer.plan.units]
    with drawing():
        chart = _axes(point, system)
        _draw(chart, point, system)
    return Picture(chart.figure, f"Head against flow of {pump}", _told(point, system))


def _flow(system: UnitSystem, flow: object) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return np.asarray(flow, dtype=np.float64) / system.units["flow"][1]


def _head(system: UnitSystem, head: object) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return np.asarray(head, dtype=np.float64) / system.units["head"][1]


def _axes(point: DutyPoint, system: UnitSystem) -> Chart:
    """Axes that hold the pump's lines and its duty; of the plumbing what lies among them."""
    flows = [each.line.flow[-1] for each in point.lines]
    heads = [each.line.head[0] for each in point.lines]
    if point.system is not None:
        # What is asked of a pump that cannot meet it begins above all that it gives.
        heads.append(point.system.head[len(point.system.head) // 5 if point.lines else -1])
        flows.append(0.0 if point.lines else point.system.flow[-1])
    most = float(_flow(system, max([*flows, point.duty.flow], default=0.0)))
    top = float(_head(system, max([*heads, point.duty.head], default=0.0)))
    across, up = ticks(0.0, 1.02 * most, most=5), ticks(0.0, 1.08 * top, most=5)
    right, high = max(1.04 * most, 1e-9) or 1.0, max(1.1 * top, 1e-9) or 1.0
    return Chart(
        SIZE,
        _MARGINS,
        x=(0.0, right),
        y=(0.0, high),
        x_ticks=[tick for tick in across if tick <= right],
        y_ticks=[tick for tick in up if tick <= high],
        x_words=f"flow, {system.unit('flow')}",
        y_words=f"head, {system.unit('head')}",
    )


def _draw(chart: Chart, point: DutyPoint, system: UnitSystem) -> None:
    from matplotlib.collections import LineCollection

    axes = chart.axes
    for style in (True, False):
        lines = [
            np.column_stack([_flow(system, each.line.flow), _head(system, each.line.head)])
            for each in point.lines
            if each.is_present is style
        ]
        axes.add_collection(
            LineCollection(
                lines, colors=INK if style else SOFT, linewidths=2.2 if style else 0.8, zorder=3
            ),
            autolim=False,
        )
        for line in lines:
            chart.keep_clear(line[:, 0], line[:, 1])
    _shade(chart, point, system)
    plumbing = _plumbing(chart, point, system)
    _label_duty(chart, point, system)
    _label_speeds(chart, point.lines, system)
    if len(plumbing):
        spots = [
            Spot(x, y, *hang)
            for x, y in plumbing[:: -max(1, len(plumbing) // 12)].tolist()
            for hang in _BESIDE
        ]
        chart.write(PLUMBING, spots, colour=INK)
    _label_useful(chart, point.lines, system)


def _plumbing(
    chart: Chart, point: DutyPoint, system: UnitSystem
) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Draw what the plumbing asks for; gives the points of it that are seen, (N, 2)."""
    if point.system is None:
        return np.zeros((0, 2))
    x, y = _flow(system, point.system.flow), _head(system, point.system.head)
    chart.axes.plot(x, y, color=INK, linewidth=1.6, dashes=(5, 3), zorder=3.5)
    low, high = chart.axes.get_ylim()
    seen = (y >= low) & (y <= high) & (x <= chart.axes.get_xlim()[1])
    found = np.column_stack([x[seen], y[seen]])
    if len(found):
        chart.keep_clear(found[:, 0], found[:, 1])
    return found


def _useful(
    lines: tuple[SpeedLine, ...], system: UnitSystem
) -> tuple[np.ndarray[tuple[int, ...], np.dtype[np.float64]], ...] | None:
    """Both ends of the useful range at each speed, as (flow, head) by falling speed."""
    known = [each for each in lines if each.useful_range is not None]
    if not known:
        return None
    ends = []
    for side in (0, 1):
        flow = [each.useful_range[side] for each in known if each.useful_range is not None]
        head = [
            float(np.interp(q, each.line.flow, each.line.head))
            for q, each in zip(flow, known, strict=True)
        ]
        ends.append(np.column_stack([_flow(system, flow), _head(system, head)]))
    return tuple(ends)


def _shade(chart: Chart, point: DutyPoint, system: UnitSystem) -> None:
    """The useful range: between its ends over the speeds; of one speed, below its line."""
    ends = _useful(point.lines, system)
    if ends is None:
        return
    low, high = ends
    first = point.lines[0].line
    x, y = _flow(system, first.flow), _head(system, first.head)
    along = (x > low[0, 0]) & (x < high[0, 0])
    top = np.column_stack([x[along], y[along]])
    if len(low) == 1:
        low = np.vstack([low, [[low[0, 0], 0.0]]])
        high = np.vstack([high, [[high[0, 0], 0.0]]])
    outline = np.vstack([low[::-1], top, high])
    chart.axes.fill(
        outline[:, 0], outline[:, 1], facecolor=SAND, edgecolor=PAPER, hatch="////",
        linewidth=0.0, zorder=1.5,
    )  # fmt: skip
    for edge in (low, high):
        chart.axes.plot(edge[:, 0], edge[:, 1], color=SOFT, linewidth=1.0, dashes=(1, 2), zorder=2)


def _label_duty(chart: Chart, point: DutyPoint, system: UnitSystem) -> None:
    if point.duty.speed <= 0.0:
        chart.write(
            STOPPED, [Spot(0.0, 0.0, 8, 6, "left", "bottom")], colour=MARK, size=13.0, bold=True
        )
        return
    x, y = float(_flow(system, point.duty.flow)), float(_head(system, point.duty.head))
    words = _figures(point, system)
    if x < 0.0:
        chart.write(words, [Spot(0.0, y, 8, -24, "left", "top")], colour=MARK, size=13, bold=True)
        return
    chart.axes.plot(
        [x], [y], "o", color=MARK, markersize=9.0, zorder=5, clip_on=False,
        markeredgecolor=PAPER, markeredgewidth=1.2,
    )  # fmt: skip
    spots = [
        Spot(x, y, across, up, ha, va)
        for out in (8, 14, 22, 32)
        for across, up, ha, va in (
            (out, out, "left", "bottom"),
            (-out, -out, "right", "top"),
            (-out, out, "right", "bottom"),
            (out, -out, "left", "top"),
            (out + 4, 0, "left", "center"),
            (-out - 4, 0, "right", "center"),
        )
    ]
    chart.write(words, spots, colour=MARK, size=13.0, bold=True)


def _label_speeds(chart: Chart, lines: tuple[SpeedLine, ...], system: UnitSystem) -> None:
    """Each line's speed at its head without flow; of two that lie close one has none."""
    placed: list[float] = []
    for each in sorted(lines, key=lambda line: not line.is_present):
        head = float(_head(system, each.line.head[0]))
        height = float(chart.pixels(0.0, head)[1])
        if any(abs(height - other) < _APART for other in placed):
            continue
        placed.append(height)
        end = float(_flow(system, each.line.flow[-1])), float(_head(system, each.line.head[-1]))
        spots = [
            Spot(0.0, head, across, *hang)
            for across in (5, 12, 20, 28)
            for hang in ((3.5, "left", "bottom"), (-4, "left", "top"))
        ]
        chart.write(
            speed(each.speed),
            [*spots, Spot(*end, 2, 2, "left", "bottom"), Spot(*end, -3, 2, "right", "bottom")],
            colour=INK if each.is_present else SOFT,
            bold=each.is_present,
        )


def _label_useful(chart: Chart, lines: tuple[SpeedLine, ...], system: UnitSystem) -> None:
    ends = _useful(lines, system)
    if ends is None:
        return
    low, high = ends
    middle = 0.5 * (low + high)
    between = 0.5 * (middle[:-1] + middle[1:])
    under = middle * (1.0, 0.5) if len(middle) == 1 else middle[-1:]
    spots = [Spot(float(x), float(y), 0, 0, "center", "center") for x, y in between]
    spots += [Spot(float(x), float(y), 0, -6, "center", "top") for x, y in under]
    spots += [Spot(float(x), float(y), 6, 8, "left", "bottom") for x, y in (middle[0], high[0])]
    chart.write(USEFUL, spots, colour=INK)


def _figures(point: DutyPoint, system: UnitSystem) -> str:
    return f"{system.text(point.duty.flow, 'flow')}\n{system.text(point.duty.head, 'head')}"


def _told(point: DutyPoint, system: UnitSystem) -> str:
    """What can be seen, for those who do not see it."""
    now = point.duty
    said = [
        f"{point.pump} stands still."
        if now.speed <= 0.0
        else f"{point.pump} works at {speed(now.speed)} of its speed, "
        f"{system.text(now.flow, 'flow')} and {system.text(now.head, 'head')} of head."
    ]
    if now.useful_range is not None:
        low, high = (system.text(flow, "flow") for flow in now.useful_range)
        lies = "within" if now.in_useful_range else "outside"
        said.append(f"That is {lies} its useful range at this speed, {low} to {high}.")
    if len(point.lines) > 1:
        speeds = ", ".join(speed(each.speed) for each in point.lines)
        said.append(f"Lines are drawn for {speeds}.")
    if point.why_no_system:
        said.append(f"There is no line of the plumbing: {point.why_no_system}.")
    return " ".join(said)
