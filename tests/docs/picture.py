"""The README's picture: the demo's manifold as a person would sketch it, with its settings.

``python -m tests.docs.picture`` writes it anew. Every name, figure, height and bore in it comes
from the plan and its answer; what stands here is where things are put and how they look.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import NamedTuple

import balance
from balance.plan.model import Branch, Plan
from balance.plan.openings import opening_words
from balance.plan.pieces import DevicePart, HosePart, OutletPart, Part, PipePart
from balance.questions.settings.answer import BranchFlow, HandleMark, Settings
from balance.show.words import percent
from balance.units import SYSTEMS, UnitSystem, significant
from tests.docs import shapes
from tests.docs.shapes import Anchor, Point

ROOT = Path(__file__).parents[2]
PLAN = ROOT / "pump_curves_demo" / "lagoon.toml"
PICTURE = ROOT / "docs" / "lagoon.svg"

WIDTH, HEIGHT = 944, 672
CROSS, HEADER = 472, 386  # where the riser feeds the headers
PITCH, REACH = 80, 432  # from tap to tap; from the riser to the end of a header
SURFACES = {"lagoon": 130, "sump": 592}  # of other vessels: as much above or below the first
SCALE, BORE_SCALE = 250.0, 400.0  # of heights near a surface, and of bores [1/m]


class Place(NamedTuple):
    """Where a vessel stands, and where its name and its level are written."""

    left: float
    right: float
    name: float
    level: float


PLACES = {
    "lagoon": Place(56, 738, name=392, level=560),
    "seagrass": Place(808, 888, name=848, level=847),
    "sump": Place(24, 920, name=66, level=840),
}


@dataclass(frozen=True)
class Column:
    """What is drawn at one tap: a branch with its flow and handle, and the way of its pipe."""

    branch: Branch
    flow: BranchFlow
    handle: HandleMark
    x: float
    route: tuple[Point, ...]

    @property
    def up(self) -> bool:
        """Whether it rises to a tank."""
        return self.route[-1][1] < HEADER

    @property
    def dial(self) -> Point:
        """Where its valve stands."""
        return self.x, HEADER - 74 if self.up else HEADER + 53


def picture(answer: Settings) -> str:
    """The manifold with its handles at the marks of the answer."""
    columns = tuple(_columns(answer))
    drawn = chain(
        _heading(answer),
        *(_vessel(answer, name) for name in PLACES),
        _pipes(answer.plan, columns),
        _pump(answer),
        *(_column(column, SYSTEMS[answer.plan.units]) for column in columns),
    )
    title = f"{answer.title}: where each handle of its manifold goes, and the flow it then gives"
    return shapes.card(title, drawn, width=WIDTH, height=HEIGHT)


# Where things are -------------------------------------------------------------------------------


def _columns(answer: Settings) -> Iterator[Column]:
    branches = {branch.name: branch for branch in answer.plan.branches}
    flows = {flow.branch: flow for flow in answer.branches}
    handles = {handle.stretch: handle for handle in answer.handles}
    for header, way in zip(answer.plan.headers, (-1, 1), strict=True):
        for place, tap in enumerate(header.taps, start=1):
            name = tap.branch or ""
            x = CROSS + way * (REACH if tap is header.taps[-1] else place * PITCH)
            route = _route(answer.plan, branches[name], x)
            yield Column(branches[name], flows[name], handles[name], x, route)


def _route(plan: Plan, branch: Branch, x: float) -> tuple[Point, ...]:
    """From the tap up and over the rim of a tank, or straight down."""
    if branch.to is None:
        return (x, HEADER), (x, HEADER + 92)
    outlet = branch.parts[-1]
    assert isinstance(outlet, OutletPart)
    level = plan.vessels[branch.to].level
    height = level - (outlet.depth or 0.0) if outlet.height is None else outlet.height
    end = _y(plan, branch.to, height)
    if branch.high_point is None:
        return (x, HEADER), (x, end)
    over, place = _y(plan, branch.to, branch.high_point), PLACES[branch.to]
    inside = place.left + 16 if x < place.left else place.right - 16
    return (x, HEADER), (x, over), (inside, over), (inside, end)


def _y(plan: Plan, vessel: str, height: float) -> float:
    """Where a height at a vessel is drawn; between tanks and sump the picture is not to scale."""
    near = vessel if vessel in SURFACES else next(iter(SURFACES))
    return SURFACES[near] - (height - plan.vessels[near].level) * SCALE


# Things -----------------------------------------------------------------------------------------


def _heading(answer: Settings) -> Iterator[str]:
    yield shapes.text(28, 40, answer.title, shapes.TITLE, "start")
    said = "Where each handle goes, counted from shut, and the flow it then gives."
    yield shapes.text(28, 64, said, shapes.NOTE, "start")
    x, y = WIDTH - 212, 64
    yield from shapes.dial((x, y), opening=0.0, steps=6)
    yield shapes.line((x, y), (x, y - shapes.RADIUS - 6), color=shapes.MARK, width=5, cap="round")
    yield shapes.text(x + 42, y - 24, "open: along the pipe", shapes.NOTE, "start")
    yield shapes.text(x + 42, y, "shut: across it", shapes.NOTE, "start")


def _vessel(answer: Settings, name: str) -> Iterator[str]:
    """Glass with its water and sand, what the manifold brings to a tank, and its drains."""
    plan, system, place = answer.plan, SYSTEMS[answer.plan.units], PLACES[name]
    vessel = plan.vessels[name]
    level = _y(plan, name, vessel.level)
    rim = _y(plan, name, vessel.rim or vessel.level)
    bottom = _y(plan, name, vessel.bottom or 0.0)
    area = (vessel.length or 0.0) * (vessel.width or 0.0)
    sand = bottom - (vessel.displaced / area * SCALE if area else 0.0)
    left, right = place.left, place.right
    for top, fill in ((rim, shapes.GLASS), (level, shapes.WATER), (sand, shapes.SAND)):
        yield shapes.rect(left, top, right - left, bottom - top, fill=fill)
    yield shapes.line((left, level), (right, level), color=shapes.WET, width=1.5)
    yield shapes.line(
        (left, rim), (left, bottom), (right, bottom), (right, rim), color=shapes.INK, width=2.5
    )
    yield shapes.pointer(place.level - 8, level - 8)
    height = f"{system.number(vessel.level, 'length'):.3g} {system.unit('length')}"
    yield shapes.text(place.level, level - 4, height, shapes.NOTE, "start")
    yield shapes.text(place.name, level + 22, name)
    boxes = {weir.to for weir in plan.weirs if weir.from_ == name}
    drains = [drain for drain in plan.drains if drain.from_ in {name, *boxes} - {"sump"}]
    if drains:
        fed = {branch.name for branch in plan.branches if branch.to == name}
        flow = sum(branch.flow for branch in answer.branches if branch.branch in fed)
        yield shapes.text(place.name, level + 40, system.text(flow, "flow"), shapes.FIGURE)
        yield shapes.text(place.name, bottom + 38, f"{len(drains)} drains", shapes.NOTE)
    for number in range(len(drains)):
        x = place.name + 15 * (number - (len(drains) - 1) / 2)
        yield shapes.line((x, bottom + 2), (x, bottom + 16), color=shapes.SOFT, width=4)
        yield shapes.pointer(x, bottom + 16)


def _pipes(plan: Plan, columns: tuple[Column, ...]) -> Iterator[str]:
    """All walls, then all water: so they join as tees do. Water stands up to a shut valve."""
    surface = SURFACES["sump"]
    riser, header = plan.runs[0], plan.headers[0]
    pipes = [
        (((CROSS, HEADER), (CROSS, surface + 40)), _bore(riser.parts), "butt"),
        (((CROSS - REACH, HEADER), (CROSS + REACH, HEADER)), header.pipe.bore, "round"),
        *((column.route, _bore(column.branch.parts), "butt") for column in columns),
    ]
    for color, wall in ((shapes.INK, 3), (shapes.WET, 0)):
        for route, bore, cap in pipes:
            yield shapes.line(*route, color=color, width=bore * BORE_SCALE + wall, cap=cap)
    for column in columns:
        x, end = column.route[-1]
        bore = _bore(column.branch.parts) * BORE_SCALE
        if column.flow.flow == 0.0:
            yield shapes.line(column.dial, (x, end), color=shapes.GLASS, width=bore)
        elif not column.up and end < surface:  # it falls the rest of the way
            yield shapes.line((x, end), (x, surface), color=shapes.WET, width=bore / 2)
        if column.branch.to is None:
            yield shapes.line((x - 10, end), (x + 10, end), color=shapes.INK, width=5)
        way = math.copysign(1.0, column.x - CROSS)
        before, tip = column.x - 36 * way, column.x - 32 * way
        arrow = (before, HEADER - 3.5), (tip, HEADER), (before, HEADER + 3.5)
        yield shapes.line(*arrow, color=shapes.GLASS, width=2)


def _bore(parts: tuple[Part, ...]) -> float:
    """Bore of its first pipe or hose, else of its first part [m]."""
    straight = (part for part in parts if isinstance(part, PipePart | HosePart))
    return next(straight, parts[0]).bore_to


def _pump(answer: Settings) -> Iterator[str]:
    """The pump below the riser, with its duty beside it."""
    (duty,), plan, system = answer.pumps, answer.plan, SYSTEMS[answer.plan.units]
    home = plan.pumps[duty.pump].from_
    floor = _y(plan, home, plan.vessels[home].bottom or 0.0)
    yield shapes.rect(CROSS - 32, floor - 40, 64, 36, fill=shapes.INK, rx=9)
    yield shapes.disc(CROSS, floor - 22, 12, fill=shapes.WATER)
    yield shapes.disc(CROSS, floor - 22, 4, fill=shapes.INK)
    drawn = "" if duty.power is None else f", {significant(duty.power)} W"
    duty_point = f"{system.text(duty.flow, 'flow')} at {system.text(duty.head, 'head')}"
    speed = f"pump {duty.pump}: {percent(duty.speed)} speed"
    yield shapes.text(CROSS - 46, floor - 28, speed, shapes.TURN, "end")
    yield shapes.text(CROSS - 46, floor - 10, duty_point + drawn, shapes.NAME, "end")


def _column(column: Column, system: UnitSystem) -> Iterator[str]:
    """A branch's valve and device, and across the header its name and the flow that it gets."""
    x, handle, parts = column.x, column.handle, column.branch.parts
    devices = [part.device for part in parts if isinstance(part, DevicePart)]
    for _ in devices:
        yield shapes.rect(x - 17, HEADER + 98, 34, 64, fill=shapes.INK, rx=6)
        yield shapes.rect(x - 14, HEADER + 110, 28, 49, fill=shapes.WATER, rx=4)
        yield shapes.rect(x - 20, HEADER + 96, 40, 11, fill=shapes.INK, rx=3)
    way = -1 if column.up and x > CROSS else 1
    steps = round(handle.travel) if handle.handle == "turns" else 6
    yield from shapes.dial(column.dial, opening=handle.opening, steps=steps, way=way)
    mark = opening_words(handle.opening, handle=handle.handle, travel=handle.travel)
    beside, below = x + way * (6 + _bore(parts) * BORE_SCALE / 2), column.dial[1] + 21
    side: Anchor = "start" if way > 0 else "end"
    if handle.handle == "turns" and " " in mark:
        mark, _, turns = mark.rpartition(" ")
        whole = f"{turns} of {handle.travel:g}"
        yield shapes.text(beside, below + 16, whole, shapes.TURNS, side)
    yield shapes.text(beside, below, mark, shapes.TURN, side)

    named = column.branch.name.split(" ") if len(column.branch.name) > 8 else [column.branch.name]
    named += [device for device in devices if device != column.branch.name]
    top = HEADER + 28 if column.up else HEADER - 18 - 17 * len(named)
    for line, word in enumerate(named):
        yield shapes.text(x, top + 17 * line, word)
    yield shapes.text(
        x, top + 17 * len(named), system.text(column.flow.flow, "flow"), shapes.FIGURE
    )


if __name__ == "__main__":
    made = picture(balance.settings(balance.read(PLAN)))
    PICTURE.write_text(made, encoding="utf-8", newline="\n")
