"""Pumps compared: what each takes from the wire, what room it leaves, and what it costs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from balance.questions.pumps.answer import Pumps, PumpTrial
from balance.show.pictures.canvas import Picture, drawing, lines_of, sheet
from balance.show.pictures.palette import INK, MARK, RULE, SAND, SOFT, WET
from balance.show.words import NONE, percent
from balance.units import significant

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WIDTH = 700
ROW = 40.0
_MARGIN = 8.0
_TOP = 34.0
_NAMES = 190.0
_BARS = (254.0, 356.0)  # of watts, their figures before them
_ROOM = (424.0, 560.0)  # the axis of room to spare
_MOST_ROOM = 1.0  # times the targets; more is an arrow at the edge

TITLE = "Pumps compared on this plan, in order of rank"
ALL_MET, MISSED, BACKWARDS, NO_FLOW = "all met", "MISSED", "BACKWARDS", "NO FLOW"
WATTS, ROOM_TO_SPARE = "W", "room to spare, %"
NOTHING = "No pump was compared."


def pump_comparison(answer: Pumps) -> Picture:
    """Draw a row for each candidate in order of rank; the ground marks the one that wins."""
    height = _TOP + ROW * max(1, len(answer.trials)) + _MARGIN
    with drawing():
        figure, axes = sheet(WIDTH, height)
        _headings(axes, answer, height)
        most = max((trial.power or 0.0 for trial in answer.trials), default=0.0)
        for place, trial in enumerate(answer.trials):
            _row(axes, trial, most, _TOP + ROW * place)
        if not answer.trials:
            axes.text(_MARGIN, _TOP + ROW / 2, NOTHING, size=13)
    said = " ".join(_said(answer, trial) for trial in answer.trials)
    return Picture(figure, TITLE, said or NOTHING)


def _headings(axes: Axes, answer: Pumps, height: float) -> None:
    middle = _room_at(0.0)
    axes.text(_BARS[0] - 6, 20, WATTS, size=12, color=SOFT, ha="right")
    axes.text(middle, 20, ROOM_TO_SPARE, size=12, color=SOFT, ha="center")
    line = lines_of(_cost_heading(answer), 12, room=WIDTH - _ROOM[1] - 4 * _MARGIN, most=1)
    axes.text(WIDTH - _MARGIN, 20, "".join(line), size=12, color=SOFT, ha="right")
    axes.plot((middle, middle), (_TOP, height - _MARGIN), color=SOFT, linewidth=1, zorder=1)


def _cost_heading(answer: Pumps) -> str:
    return f"{answer.years:g} years, {answer.currency}" if answer.currency else "cost"


def _room_at(room: float) -> float:
    left, right = _ROOM
    kept = min(max(room, -_MOST_ROOM), _MOST_ROOM)
    return left + (right - left) * (kept + _MOST_ROOM) / (2.0 * _MOST_ROOM)


def _row(axes: Axes, trial: PumpTrial, most: float, top: float) -> None:
    y = top + ROW / 2
    is_first = trial.rank == 1 and trial.meets
    edges = (_MARGIN / 2, WIDTH - _MARGIN / 2)
    if is_first:
        axes.barh(y, edges[1] - edges[0], left=edges[0], height=ROW, color=SAND, zorder=0)
    axes.plot(edges, (top, top), color=RULE, linewidth=0.7, zorder=0)
    _stack(axes, _words(trial), _MARGIN, y, is_first=is_first)
    if trial.power is not None and most > 0.0:
        long = (_BARS[1] - _BARS[0]) * trial.power / most
        axes.barh(y, long, left=_BARS[0], height=14, color=WET, edgecolor=INK, linewidth=0.6)
    watts = NONE if trial.power is None else significant(trial.power)
    axes.text(_BARS[0] - 6, y, watts, size=13, ha="right", va="center_baseline")
    if trial.reach is not None:
        _room(axes, trial.reach - 1.0, y)
    cost = NONE if trial.total_cost is None else significant(trial.total_cost)
    axes.text(
        WIDTH - _MARGIN, y, cost, size=13, ha="right", va="center_baseline",
        weight="bold" if is_first else "normal",
    )  # fmt: skip


def _room(axes: Axes, room: float, y: float) -> None:
    """A point about 0 with its figure: a diamond below, an arrow where it is off the axis."""
    shape = "D" if room < 0.0 else "o"
    if abs(room) > _MOST_ROOM:
        shape = "<" if room < 0.0 else ">"
    colour = MARK if room < 0.0 else INK
    x = _room_at(room)
    axes.plot((_room_at(0.0), x), (y, y), color=colour, linewidth=1.4, zorder=2)
    axes.plot(x, y, shape, color=colour, markersize=8, markeredgewidth=0, zorder=3)
    figure = f"> {percent(_MOST_ROOM, 3)}" if room > _MOST_ROOM else f"{100.0 * room:+.0f} %"
    beside, anchor = (-9.0, "right") if room < 0.0 else (9.0, "left")
    axes.text(
        x + beside, y, figure, size=12, color=colour, ha=anchor, va="center_baseline", zorder=3
    )


def _stack(
    axes: Axes, words: Sequence[tuple[str, str]], x: float, y: float, *, is_first: bool
) -> None:
    """The name, and below it what it does to the targets."""
    (name, colour), (verdict, tone) = words
    kept = lines_of(name, 13, room=_NAMES, most=1, bold=is_first)
    axes.text(
        x, y - 8, "".join(kept), size=13, color=colour, va="center_baseline",
        weight="bold" if is_first else "normal",
    )  # fmt: skip
    axes.text(x, y + 9, verdict, size=12, color=tone, va="center_baseline")


def _words(trial: PumpTrial) -> tuple[tuple[str, str], tuple[str, str]]:
    return (f"{trial.rank} {trial.name}", INK), (_verdict(trial), INK if trial.meets else MARK)


def _verdict(trial: PumpTrial) -> str:
    if trial.meets:
        return ALL_MET
    if trial.backwards or trial.idle:
        return BACKWARDS if trial.backwards else NO_FLOW
    branches = sum(not each.is_total for each in trial.shortfalls)
    return f"{branches or len(trial.shortfalls)} {MISSED}"


def _said(answer: Pumps, trial: PumpTrial) -> str:
    said = f"{trial.rank} {trial.name}: {_verdict(trial)}"
    if trial.power is not None:
        said += f", {significant(trial.power)} W"
    if trial.reach is not None:
        said += f", {100.0 * (trial.reach - 1.0):+.0f} % room to spare"
    if trial.total_cost is not None:
        said += f", {significant(trial.total_cost)} {answer.currency}".rstrip()
        said += f" in {answer.years:g} years"
    return f"{said}."
