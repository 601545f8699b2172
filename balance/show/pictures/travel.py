"""One valve's flow against the position of its handle, with its mark: small, one of many."""

from __future__ import annotations

import numpy as np

from balance.questions.travel import Travel, ValveTravel
from balance.show.pictures.canvas import Picture, drawing
from balance.show.pictures.chart import Chart, Margins, Spot, ticks
from balance.show.pictures.palette import INK, MARK, PAPER, SAND, SOFT
from balance.show.words import NONE, between, percent
from balance.units import SYSTEMS, UnitSystem, significant

SIZE = (220.0, 190.0)
_MARGINS = Margins(left=46.0, right=16.0, top=28.0, bottom=40.0)
_TANGENT = 26.0  # pixels of it to either side of the mark
_UNIT = {"degrees": "deg from shut", "turns": "turns from shut", "percent": "% from shut"}
_A_STEP = {"degrees": "a degree", "turns": "an eighth turn", "percent": "a percent"}
_TICKS = {"degrees": [0.0, 30.0, 60.0, 90.0], "percent": [0.0, 50.0, 100.0]}
SHUT = "shut"


def travel(answer: Travel, valve: str) -> Picture:
    """Draw the flow of one valve of an answer along its travel."""
    (each,) = [row for row in answer.valves if row.valve == valve]
    system = SYSTEMS[answer.plan.units]
    unit = system.units["flow"][1]
    flows = np.array(each.flows) / unit
    wanted = [flow / unit for flow in (each.low, each.high) if flow is not None]
    low, high = min(0.0, flows.min()), max([0.0, *flows, *wanted])
    up = ticks(float(low), float(high), most=4)
    with drawing():
        chart = Chart(
            SIZE,
            _MARGINS,
            x=(0.0, each.travel),
            y=(up[0], up[-1]),
            x_ticks=_TICKS.get(each.handle) or _whole(each.travel),
            y_ticks=up,
            x_words=_UNIT[each.handle],
            y_words=system.unit("flow"),
        )
        _wanted(chart, each, unit, top=up[-1])
        at = np.array(each.openings) * each.travel
        chart.axes.plot(at, flows, color=INK, linewidth=1.8, zorder=3)
        chart.keep_clear(at, flows)
        _mark(chart, each, system)
    return Picture(chart.figure, f"Flow against the handle of {valve}", _told(each, system))


def _whole(travel_: float) -> list[float]:
    return [tick for tick in ticks(0.0, travel_, most=6) if tick <= travel_]


def _wanted(chart: Chart, each: ValveTravel, unit: float, *, top: float) -> None:
    """The flows between which the target counts as met."""
    if each.low is None and each.high is None:
        return
    low = 0.0 if each.low is None else each.low / unit
    high = top if each.high is None else each.high / unit
    chart.axes.axhspan(
        low, high, facecolor=SAND, edgecolor=PAPER, hatch="////", linewidth=0.0, zorder=1.5
    )
    for height in np.linspace(low, high, 5):  # words are hard to read on a pattern
        chart.keep_clear([0.0, each.travel], [height, height])
    ends = [flow / unit for flow in (each.low, each.high) if flow is not None]
    chart.axes.hlines(ends, 0.0, each.travel, color=SOFT, linewidth=0.8, zorder=2)


def _mark(chart: Chart, each: ValveTravel, system: UnitSystem) -> None:
    unit = system.units["flow"][1]
    x, y = each.mark, each.flow / unit
    if each.slope is not None and each.flow:
        here, there = chart.pixels([x, x + each.travel], [y, y + each.slope / unit])
        reach = _TANGENT / np.hypot(*(there - here))
        by = np.array([-reach, reach])
        ends = x + by * each.travel, y + by * each.slope / unit
        chart.axes.plot(*ends, color=MARK, linewidth=1.6, zorder=4, clip_on=False)
        chart.keep_clear(*ends)
    chart.axes.plot(
        [x], [y], "o", color=MARK, markersize=8.0, zorder=5, clip_on=False,
        markeredgecolor=PAPER, markeredgewidth=1.0,
    )  # fmt: skip
    words = _figures(each, system)
    left, right = 0.03 * each.travel, 0.97 * each.travel
    (low, top) = chart.axes.get_ylim()
    spots = [
        *(
            Spot(x, y, across, rise, ha, va)
            for out in (5, 10, 18)
            for across, rise, ha, va in (
                (out, -out, "left", "top"),
                (-out, out, "right", "bottom"),
                (out, out, "left", "bottom"),
                (-out, -out, "right", "top"),
                (0, 2 * out, "center", "bottom"),
            )
        ),
        Spot(left, top, 0, 2, "left", "top"),
        Spot(right, low, 0, 4, "right", "bottom"),
        Spot(right, (low + top) / 2, 0, 0, "right", "center"),
    ]
    chart.write(words, spots, colour=MARK, bold=False)


def _figures(each: ValveTravel, system: UnitSystem) -> str:
    if each.opening <= 0.0:
        return SHUT
    flow = system.text(each.flow, "flow")
    if each.flow_per_step is None:
        return flow
    return f"{flow}\n{percent(each.flow_per_step, 3)} {_A_STEP[each.handle]}"


def _told(each: ValveTravel, system: UnitSystem) -> str:
    """What can be seen, for those who do not see it."""
    unit = system.unit("flow")
    most = system.text(each.flows[-1], "flow")
    stands = (
        f"{each.valve} is shut."
        if each.opening <= 0.0
        else f"{each.valve} stands at {significant(each.mark)} of {significant(each.travel)} "
        f"{each.handle} and passes {system.text(each.flow, 'flow')}."
    )
    said = [stands, f"Open as far as it goes it would pass {most}."]
    if each.flow_per_step is not None:
        said.append(f"A step of {each.step} moves {percent(each.flow_per_step, 3)} of its flow.")
    asked = between(system, each.low, each.high)
    if asked and asked != NONE:
        said.append(f"Wanted: {asked} {unit}.")
    return " ".join(said)
