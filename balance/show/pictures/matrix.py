"""What every branch gains or loses when one is shut, as a matrix."""

from __future__ import annotations

from typing import TYPE_CHECKING

from balance.questions.close.answer import BranchChange, Case, Close
from balance.show.pictures.canvas import Picture, drawing, lines_of, sheet
from balance.show.pictures.palette import INK, MARK, RULE, SOFT, TINT, WATER

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEAST_WIDTH = 440.0
ROW = 28.0
_MARGIN = 8.0
_TOP = 34.0
_CELL = (34.0, 52.0)  # the least and the most that a figure takes across
_NAMES = 170.0
_FULL = 0.5  # of its flow: a change that fills its cell
_BAD_KINDS = ("limits", "dry", "starved")
_MISSED_KINDS = ("too little", "too much")

TITLE = "Change of each flow when one branch is shut"
SHUT = "shut"
ROWS = "change, percent"
KEY = "▲ breaks a limit, runs dry or starves; ○ misses its target; ! harms something else"
NOTHING = "No branch was shut by itself."
NO_CHANGE = "-"


def closing_matrix(answer: Close) -> Picture:
    """Draw a row for each branch that was shut by itself, a column for each branch with flow.

    A cell fills from below where the branch gains, and from above where it loses, so that the sense
    reads without colour.
    """
    cases = [case for case in answer.cases if [done.what for done in case.done] == [SHUT]]
    names = [each.branch for each in cases[0].branches if each.before] if cases else []
    wanted = LEAST_WIDTH - 2 * _MARGIN - _NAMES
    cell = min(_CELL[1], max(_CELL[0], wanted / max(1, len(names))))
    width = max(LEAST_WIDTH, 2 * _MARGIN + _NAMES + cell * len(names))
    height = _TOP + ROW * len(cases) + 3 * 17.0 + _MARGIN
    numbers = {name: number for number, name in enumerate(names, start=1)}
    with drawing():
        figure, axes = sheet(width, height)
        if not cases:
            axes.text(_MARGIN, _TOP, NOTHING, size=13)
        else:
            _headings(axes, numbers, cell)
            for place, case in enumerate(cases):
                _row(axes, case, numbers, cell, _TOP + ROW * place)
            for place, line in enumerate(lines_of(KEY, 12, room=LEAST_WIDTH - 20.0, most=3)):
                axes.text(
                    _MARGIN, _TOP + ROW * len(cases) + 17.0 * (place + 1), line, size=12, color=SOFT
                )
    return Picture(figure, TITLE, " ".join(_said(case) for case in cases) or NOTHING)


def _headings(axes: Axes, numbers: dict[str, int], cell: float) -> None:
    axes.text(_MARGIN, _TOP - 10, ROWS, size=12, color=SOFT)
    for number in numbers.values():
        x = _MARGIN + _NAMES + cell * (number - 0.5)
        axes.text(x, _TOP - 10, str(number), size=12, color=SOFT, ha="center")


def _row(axes: Axes, case: Case, numbers: dict[str, int], cell: float, top: float) -> None:
    y = top + ROW / 2
    right = _MARGIN + _NAMES + cell * len(numbers)
    axes.plot((_MARGIN, right), (top, top), color=RULE, linewidth=0.7)
    name = case.done[0].name
    numbered = f"{numbers[name]} {name}" if name in numbers else name
    elsewhere = any(harm.severe and harm.name not in numbers for harm in case.harms)
    line = lines_of(numbered, 13, room=_NAMES - 20.0, most=1)
    axes.text(_MARGIN, y, "".join(line), size=13, va="center_baseline")
    if elsewhere:
        axes.text(
            _MARGIN + _NAMES - 10, y, "!", size=14, weight="bold", color=MARK, ha="center",
            va="center_baseline",
        )  # fmt: skip
    for each in case.branches:
        if each.branch in numbers:
            left = _MARGIN + _NAMES + cell * (numbers[each.branch] - 1)
            _cell(axes, case, each, (left, cell), top)


def _cell(
    axes: Axes, case: Case, each: BranchChange, across: tuple[float, float], top: float
) -> None:
    left, cell = across
    middle, y = left + cell / 2, top + ROW / 2
    if each.part == SHUT:
        axes.fill(
            (left + 2, left + cell - 2, left + cell - 2, left + 2),
            (top + 2, top + 2, top + ROW - 2, top + ROW - 2),
            facecolor="none", edgecolor=SOFT, hatch="////", linewidth=0.8,
        )  # fmt: skip
        return
    if each.by:
        deep = (ROW - 2) * min(1.0, abs(each.by) / _FULL)
        start = top + ROW - 1 - deep if each.by > 0.0 else top + 1
        axes.fill(
            (left + 1, left + cell - 1, left + cell - 1, left + 1),
            (start, start, start + deep, start + deep),
            color=WATER if each.by > 0.0 else TINT, linewidth=0,
        )  # fmt: skip
    kinds = {harm.kind for harm in case.harms if harm.name == each.branch}
    is_bad, is_missed = not kinds.isdisjoint(_BAD_KINDS), not kinds.isdisjoint(_MISSED_KINDS)
    if is_bad or is_missed:
        axes.plot(
            left + cell - 6, top + 6, "^" if is_bad else "o", markersize=6,
            color=MARK, markerfacecolor=MARK if is_bad else "none",
        )  # fmt: skip
    axes.text(middle, y + 2, _figure(each), size=12, color=INK, ha="center", va="center_baseline")


def _figure(each: BranchChange) -> str:
    """Whole percent with its sign; "-" where a branch turns round or had no flow."""
    if each.by is None:
        return NO_CHANGE
    figure = f"{100.0 * each.by:+.0f}"
    return "0" if figure in {"+0", "-0"} else figure


def _said(case: Case) -> str:
    changes = ", ".join(
        f"{each.branch} {_figure(each)} %"
        for each in case.branches
        if each.before and not each.part
    )
    harms = "".join(f" {harm.text}." for harm in case.harms)
    return f"{case.done[0].name} {SHUT}: {changes or 'nothing else flows'}.{harms}"
