"""Doubts about low pressure: air drawn in, columns that break, short suctions, slow falls."""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt

from balance.network.along import Along
from balance.parts.pumps import GRAVITY
from balance.plan.locate import Path
from balance.plan.model import Branch, OutletPart, Plan, Run
from balance.questions.check.answer import Doubt
from balance.questions.pressures import Pressure, pressures_of
from balance.questions.suctions import suctions_of
from balance.units import SYSTEMS

FULL = 1.0
"""Froude number V/√(gD) from which a falling leg runs full.

Source: hills-1983.
"""


def low_pressure_doubts(along: Along) -> Iterator[Doubt]:
    """Doubts about pressures of a plan solved as it stands."""
    pressures = pressures_of(along)
    yield from _breaks(along.solution.network.plan, pressures)
    yield from _air(along.solution.network.plan, pressures)
    yield from _suctions(along)
    yield from _falls(along)


def _breaks(plan: Plan, pressures: tuple[Pressure, ...]) -> Iterator[Doubt]:
    for pressure in pressures:
        if pressure.below_vapour:
            yield Doubt.at(
                plan,
                _path(plan, pressure),
                f"as it stands the water would boil at {pressure.words}: its column breaks, and "
                "the flows are not to be believed",
                "lay it lower, lose less head before it, or throttle after it",
            )


def _air(plan: Plan, pressures: tuple[Pressure, ...]) -> Iterator[Doubt]:
    """One doubt for all places below the pressure of the air, a header told by its least."""
    least: dict[str, tuple[float, Pressure]] = {}
    for pressure in pressures:
        if pressure.pressure is None or not pressure.below_atmosphere or pressure.below_vapour:
            continue
        name = pressure.stretch if pressure.kind == "header" else pressure.place
        found = least.get(name or "")
        if found is None or pressure.pressure < found[0]:
            least[name or ""] = pressure.pressure, pressure
    if not least:
        return
    system = SYSTEMS[plan.units]
    places = ", ".join(
        f'"{name}" ({system.text(value, "pressure")})' for name, (value, _) in least.items()
    )
    _, first = next(iter(least.values()))
    yield Doubt.at(
        plan,
        _path(plan, first),
        f"as it stands pressure may fall below the air's at {places}: unions and valves there may "
        "draw in air",
        "keep unions and valves lower down, lose less before them, and glue what stands there",
    )


def _suctions(along: Along) -> Iterator[Doubt]:
    plan = along.solution.network.plan
    for suction in suctions_of(along):
        short = suction.short(SYSTEMS[plan.units])
        if short is not None:
            yield Doubt.at(
                plan,
                ("pumps", suction.pump),
                f"as it stands it {short}",
                "lower the pump, or widen and shorten its suction line",
            )


def _falls(along: Along) -> Iterator[Doubt]:
    """Legs that fall to a free outlet too slowly to run full, so that their fall gives no head."""
    plan = along.solution.network.plan
    for stretch in along.stretches():
        number = _froude_number(along, stretch)
        if number is not None and number < FULL:
            section = "branches" if isinstance(stretch, Branch) else "runs"
            yield Doubt.at(
                plan,
                (section, stretch.name, "high_point"),
                "from its high point to its free outlet water may fall without filling the pipe "
                f"(Froude number {number:.2g}, below {FULL:g}): it then flows as if it ended "
                "up there",
                "set the outlet's height to the high point to see what is sure to flow, or take a "
                "narrower pipe down",
            )


def _froude_number(along: Along, stretch: Run | Branch) -> float | None:
    """Of a leg that falls to a free outlet, in its last pipe; None for any other stretch."""
    outlet = stretch.parts[-1] if stretch.parts else None
    if (
        stretch.high_point is None
        or not isinstance(outlet, OutletPart)
        or outlet.outlet != "free"
        or outlet.height is None
        or outlet.height >= stretch.high_point
        or along.solution.flow(stretch.name) <= 0.0
    ):
        return None
    last = along.sections(stretch)[-1]
    return last.velocity / sqrt(GRAVITY * last.bore)


def _path(plan: Plan, pressure: Pressure) -> Path:
    """The key of the plan that gave the height."""
    if pressure.kind == "header":
        return ("headers", pressure.stretch or "", "height")
    if pressure.kind == "joint":
        return ("joints", pressure.place, "height")
    if pressure.kind == "suction":
        pump = next(name for name, pump in plan.pumps.items() if pump.from_ == pressure.place)
        return ("pumps", pump, "intake")
    section = "runs" if pressure.place in {run.name for run in plan.runs} else "branches"
    return (section, pressure.place, "high_point")
