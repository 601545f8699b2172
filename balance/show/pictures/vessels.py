"""A power cut as a drawing: vessels side by side with their levels, and levels over time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from balance.questions.outage.answer import Outage, VesselEnd
from balance.show.pictures.canvas import Picture, drawing, lines_of, sheet
from balance.show.pictures.chart import Chart, Margins, ticks
from balance.show.pictures.palette import GLASS, INK, MARK, RULE, SOFT, WATER
from balance.show.words import bare
from balance.units import SYSTEMS, UnitSystem

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEAST_WIDTH = 440
COLUMN = 200.0  # that one vessel takes
HEIGHT = 320
_MARGIN = 8.0
_WIDE_BOX = 62.0
_TOP, _BOTTOM = 56.0, 276.0  # of the boxes
_LINE = 15.0  # from one label to the next
_BARE_BELOW = 0.25  # of what is shown, that is drawn below it where no floor is told
_STIRS = 1e-3  # [m], by which a level moves that is drawn over time
_DASHES = ("-", "--", ":", "-.")
_MOST_MARKS = 6
_MARGINS = Margins(left=52.0, right=140.0, top=44.0, bottom=44.0)  # of the chart over time
_BEYOND = 0.06  # of what levels move, above and below them
_CLEAR = 34.0  # between labels of happenings

LEVELS = "Water levels in a power cut"
COURSE = "Levels after the pumps stop"
RIM, RUNS, HIGHEST, ENDS = "rim", "runs at", "highest", "then at"
LOWEST, INTAKE = "restart", "intake"
SPILLS, TO_SPARE, NO_RIM = "SPILLS", "below the rim", "no rim is told"
NOTHING = "No vessel has a size."
STILL = "No level moves."
MINUTES, RISE = "minutes", "level over what it was"


@dataclass(frozen=True)
class _Height:
    """A height that is drawn as a line with words beside it; SI."""

    words: str
    at: float
    dashes: str
    colour: str = INK


def outage_levels(answer: Outage) -> Picture:
    """Draw every vessel with a size, each to its own vertical scale, in the worst case.

    Heights are the plan's.  Water is filled in as it stands in the end.
    """
    system = SYSTEMS[answer.plan.units]
    width = max(LEAST_WIDTH, _MARGIN + COLUMN * len(answer.vessels))
    with drawing():
        figure, axes = sheet(width, HEIGHT)
        for place, vessel in enumerate(answer.vessels):
            _vessel(axes, answer, vessel, system, _MARGIN + COLUMN * place)
        if not answer.vessels:
            axes.text(_MARGIN, _TOP, NOTHING, size=13)
    said = " ".join(_said(vessel, system) for vessel in answer.vessels)
    return Picture(figure, LEVELS, said or NOTHING)


def _said(vessel: VesselEnd, system: UnitSystem) -> str:
    start, end = system.apart(vessel.start, vessel.end, "length")
    highest = system.text(vessel.highest, "length")
    said = f"{vessel.vessel}: {RUNS} {start}, {HIGHEST} {highest}, {ENDS} {end}"
    return f"{said}, {_verdict(vessel, system)[0]}."


def _verdict(vessel: VesselEnd, system: UnitSystem) -> tuple[str, str]:
    """Words and their colour."""
    if vessel.spilt > 0.0 or (vessel.margin is not None and vessel.margin < 0.0):
        return SPILLS, MARK
    if vessel.margin is None:
        return NO_RIM, SOFT
    return f"{system.text(vessel.margin, 'length')} {TO_SPARE}", INK


def _vessel(axes: Axes, answer: Outage, vessel: VesselEnd, system: UnitSystem, left: float) -> None:
    heights = _heights(answer, vessel)
    shown = [each.at for each in heights]
    told = answer.plan.vessels[vessel.vessel].bottom
    span = max(max(shown) - min(shown), 0.01)
    floor = min(shown) - _BARE_BELOW * span if told is None else min(told, *shown)
    top = max(shown) + 0.04 * (max(shown) - floor)

    def y(height: float) -> float:
        return _BOTTOM - (_BOTTOM - _TOP) * (height - floor) / (top - floor)

    for place, line in enumerate(lines_of(vessel.vessel, 13, room=COLUMN - 20.0, most=2)):
        axes.text(left, 18 + 16 * place, line, size=13)
    right = left + _WIDE_BOX
    wall = y(top if vessel.rim is None else vessel.rim)
    axes.fill((left, right, right, left), (_BOTTOM, _BOTTOM, wall, wall), color=GLASS, zorder=0)
    end = y(vessel.end)
    axes.fill((left, right, right, left), (_BOTTOM, _BOTTOM, end, end), color=WATER, zorder=1)
    axes.plot(
        (left, left, right, right), (wall, _BOTTOM, _BOTTOM, wall), color=INK, linewidth=2, zorder=3
    )
    heights = sorted(heights, key=lambda each: -each.at)
    for each, label in zip(
        heights, clear_of_each_other([y(each.at) for each in heights]), strict=True
    ):
        at = y(each.at)
        axes.plot((left, right), (at, at), each.dashes, color=each.colour, linewidth=1.4, zorder=2)
        axes.plot((right + 2, right + 12), (at, label), color=RULE, linewidth=1)
        axes.text(
            right + 15, label, f"{each.words} {bare(system, each.at, 'length')}", size=12,
            color=each.colour, va="center_baseline",
        )  # fmt: skip
    said, colour = _verdict(vessel, system)
    axes.text(left, _BOTTOM + 22, said, size=13, color=colour, weight="bold")
    axes.text(left, HEIGHT - 6, f"heights, {system.unit('length')}", size=11, color=SOFT)


def _heights(answer: Outage, vessel: VesselEnd) -> list[_Height]:
    heights = [] if vessel.rim is None else [_Height(RIM, vessel.rim, "-")]
    heights += [
        _Height(HIGHEST, vessel.highest, "--"),
        _Height(RUNS, vessel.start, "-"),
        _Height(ENDS, vessel.end, "-", SOFT),
    ]
    back = [low for low in answer.restart if low.vessel == vessel.vessel]
    if back:
        low = min(back, key=lambda each: each.lowest)
        heights.append(_Height(LOWEST, low.lowest, ":", SOFT))
        if low.intake is not None:
            heights.append(_Height(INTAKE, low.intake, "-.", SOFT if low.covered else MARK))
    return heights


def clear_of_each_other(
    places: Sequence[float], top: float = _TOP, bottom: float = _BOTTOM, gap: float = _LINE
) -> list[float]:
    """Move labels, sorted from above, as little as needed to stand clear of each other."""
    labels: list[float] = []
    for place in places:
        labels.append(max(place, labels[-1] + gap if labels else top))
    limit = bottom
    for number in reversed(range(len(labels))):
        labels[number] = min(labels[number], limit)
        limit = labels[number] - gap
    return labels


def outage_course(answer: Outage) -> Picture:
    """Draw how each level moves from where it was, with the first few happenings numbered."""
    system = SYSTEMS[answer.plan.units]
    moved = [each for each in answer.traces if max(each.level) - min(each.level) > _STIRS]
    last = answer.time[-1] / 60.0 if answer.time else 0.0
    if not moved or last <= 0.0:
        with drawing():
            figure, axes = sheet(LEAST_WIDTH, 60.0)
            axes.text(_MARGIN, 30, STILL, size=13)
        return Picture(figure, COURSE, STILL)
    height = max(260.0, 80.0 + 16.0 * len(moved))
    unit = system.unit("length")
    rises = [
        [system.number(level - each.level[0], "length") for level in each.level] for each in moved
    ]
    low, high = min(map(min, rises)), max(map(max, rises))
    low, high = low - _BEYOND * (high - low), high + _BEYOND * (high - low)
    with drawing():
        chart = Chart(
            (LEAST_WIDTH, height),
            _MARGINS,
            x=(0.0, last),
            y=(low, high),
            x_ticks=[tick for tick in ticks(0.0, last, most=4) if tick <= last],
            y_ticks=[tick for tick in ticks(low, high, most=4) if low <= tick <= high],
            x_words=MINUTES,
            y_words=f"{RISE}, {unit}",
        )
        minutes = [time / 60.0 for time in answer.time]
        for number, rise in enumerate(rises):
            chart.axes.plot(
                minutes, rise, _DASHES[number % len(_DASHES)],
                color=INK if number < len(_DASHES) else SOFT, linewidth=1.6,
            )  # fmt: skip
        left, right = _MARGINS.left, LEAST_WIDTH - _MARGINS.right
        top, bottom = _MARGINS.top, height - _MARGINS.bottom
        ends = [(each.vessel, rise[-1]) for each, rise in zip(moved, rises, strict=True)]
        _ends(chart.ground, ends, (low, high), (right, top, bottom))
        marks = [each.time / 60.0 / last for each in answer.happenings[:_MOST_MARKS]]
        _marks(chart.ground, marks, (left, right, top, bottom))
    said = ", ".join(
        f"{each.vessel} {rise[-1]:+.3g} {unit}" for each, rise in zip(moved, rises, strict=True)
    )
    return Picture(chart.figure, COURSE, f"In the end, over what they were: {said}.")


def _ends(
    words: Axes,
    ends: Sequence[tuple[str, float]],
    shown: tuple[float, float],
    area: tuple[float, float, float],
) -> None:
    """Name the lines where they end."""
    (low, high), (right, top, bottom) = shown, area
    ends = sorted(ends, key=lambda each: -each[1])
    places = [bottom - (bottom - top) * (rise - low) / (high - low) for _, rise in ends]
    labels = clear_of_each_other(places, top, bottom, 16.0)
    for (name, _), at, label in zip(ends, places, labels, strict=True):
        line = "".join(lines_of(name, 12, room=LEAST_WIDTH - right - 24.0, most=1))
        words.plot((right + 2, right + 12), (at, label), color=SOFT, linewidth=0.8)
        words.text(right + 15, label, line, size=12, va="center_baseline")


def _marks(words: Axes, shares: Sequence[float], area: tuple[float, float, float, float]) -> None:
    """Number happenings in their order; those that stand too close share a label: "2-4"."""
    left, right, top, bottom = area
    together: list[list[int]] = []
    places = [left + (right - left) * min(share, 1.0) for share in shares]
    for number, x in enumerate(places):
        words.plot((x, x), (top, bottom), color=MARK, linewidth=0.8)
        if together and x - places[together[-1][0]] < _CLEAR:
            together[-1].append(number)
        else:
            together.append([number])
    for first, *others in together:
        label = f"{first + 1}-{others[-1] + 1}" if others else str(first + 1)
        words.text(places[first], top - 5, label, size=12, color=MARK, ha="center")
