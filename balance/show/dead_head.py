"""Everything shut: what a pump that moves no water presses on, and how it heats."""

from __future__ import annotations

from collections.abc import Iterator

from balance.questions.close import Close
from balance.questions.close.answer import DeadHead
from balance.show.heat import dead_head_lines
from balance.show.page import Page
from balance.units import UnitSystem

CAUTION = (
    "a pump that moves no water heats what stands in it, and its seals suffer: do not leave it "
    "so; unplug it, or leave one way open"
)


def show(to: Page, answer: Close, system: UnitSystem) -> None:
    """Prints what happens with every branch shut."""
    if answer.dead_head is not None and answer.pumps:
        to.section("With every branch shut", _lines(answer.dead_head, system))


def _lines(found: DeadHead, system: UnitSystem) -> Iterator[str]:
    runs_back = any(pump.flow < 0.0 for pump in found.pumps)
    for pump in found.pumps:
        if pump.place == "stopped":
            continue
        lifts = f"{pump.pump} turns against {system.text(pump.head, 'head')}"
        if pump.flow > 0.0:
            ways = "" if runs_back else ", by ways that are no branches"
            yield f"{pump.pump} still moves {system.text(pump.flow, 'flow')}{ways}"
        elif pump.flow < 0.0:
            back = system.text(-pump.flow, "flow")
            yield f"{lifts}, and {back} run BACK through it: a check valve behind it is missing"
        else:
            yield f"{lifts} and moves no water"
    if found.moves_water or not any(pump.place != "stopped" for pump in found.pumps):
        return
    if found.pressure is not None:
        yield f"{_pressed(found, found.pressure, system)}{_borne(found, system)}"
    if found.warming is not None:
        yield from dead_head_lines(found.warming, system)
    elif found.heat:
        yield f"{system.text(found.heat, 'power')} turn into heat in the water that stands there"
    yield CAUTION


def _pressed(found: DeadHead, pressure: float, system: UnitSystem) -> str:
    said = f"low down, pressure is then up to {system.text(pressure, 'pressure')}"
    top = found.pressure_at_top_speed
    if top is not None and top > pressure * 1.005:
        said += f", at top speed {system.text(top, 'pressure')}"
    return said


def _borne(found: DeadHead, system: UnitSystem) -> str:
    weakest = found.weakest
    if weakest is None:
        return "; what its parts stand is not told"
    what = f"the {weakest.what} of {weakest.stretch}" if weakest.what else f"in {weakest.stretch}"
    usual = "usually " if weakest.guessed else ""
    return f"; the weakest part, {what}, {usual}stands {system.text(weakest.stands, 'pressure')}"
