"""Suction of pumps: what pressure is left there, and whether a pump can live with it."""

from __future__ import annotations

from dataclasses import dataclass

from balance.network.along import START, Along
from balance.network.arrays import Machine
from balance.parts.pumps import GRAVITY
from balance.questions.record import Record, quantity
from balance.units import UnitSystem
from balance.water import atmosphere

LEAST_MARGIN = 0.5
"""Suction head [m] that there should be beyond need; common practice, no source."""

LEAST_RATIO = 1.1
"""Of suction head that there is to need; common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Suction(Record):
    """The suction of a pump whose height is known.

    Attributes
    ----------
    pump : name
    height : of its intake, else of the joint that it draws from [m]
    head : total there, above the plan's datum [m]; None where nothing ties it to a vessel
    available : net positive suction head: total head over the intake, plus that of the air's
        pressure, less that of the water's vapour [m]
    needed : by the pump at its flow and speed [m]; None where its curve does not state it
    enough : there is 0.5 m and a tenth more than is needed; None where one of them is not known
    """

    pump: str
    height: float = quantity("length")
    head: float | None = quantity("head")
    available: float | None = quantity("head")
    needed: float | None = quantity("head")
    enough: bool | None

    def short(self, system: UnitSystem) -> str | None:
        """What is wrong with it, in words; None where nothing is known to be."""
        if self.available is None or self.needed is None or self.enough:
            return None
        there = system.text(self.available, "head")
        if self.available < self.needed:
            return (
                f"needs {system.text(self.needed, 'head')} of net positive suction head and has "
                f"{there}: it cavitates, and does not keep to its curve"
            )
        return (
            f"has {there} of net positive suction head, too little over the "
            f"{system.text(self.needed, 'head')} that it needs: "
            f"{system.text(LEAST_MARGIN, 'head')} or a tenth more is usual"
        )


def suctions_of(along: Along) -> tuple[Suction, ...]:
    """Suctions of a solved plan's pumps, where the plan gives a height."""
    found = []
    for machine in along.solution.network.machines:
        height = _height(along, machine)
        if height is not None:
            found.append(_suction(along, machine, height))
    return tuple(found)


def _height(along: Along, machine: Machine) -> float | None:
    if machine.pump.intake is not None:
        return machine.pump.intake
    joint = along.solution.network.plan.joints.get(machine.pump.from_)
    return None if joint is None else joint.height


def _suction(along: Along, machine: Machine, height: float) -> Suction:
    network = along.solution.network
    water = network.water
    air = atmosphere(altitude=network.plan.water.altitude)
    head = along.head_in(machine.run, START)
    available = None
    if head is not None:
        weight = water.density * GRAVITY
        available = head - height + (air - water.vapour_pressure) / weight
    speed = machine.pump.speed
    needed = machine.needed_suction_head(along.solution.flow(machine.name), speed)
    return Suction(
        pump=machine.name,
        height=height,
        head=head,
        available=available,
        needed=needed,
        enough=None
        if available is None or needed is None
        else available >= max(needed + LEAST_MARGIN, needed * LEAST_RATIO),
    )
