"""Where pumps work: what one puts out, draws, costs, and whether that suits it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Machine
from balance.network.solve import Solution
from balance.parts.pumps import GRAVITY
from balance.plan.model import Power
from balance.questions.record import Record, quantity

SHAFT_SHARE = 0.7
"""Of an external pump's power, what its shaft puts into the water; common practice, no source."""

DAYS = 365.0  # in a year, by definition


@dataclass(frozen=True, kw_only=True)
class PumpDuty(Record):
    """Where a pump works.

    Attributes
    ----------
    pump : name
    speed : setting [ratio]
    speed_is_free : an answer may set it
    flow, head : [m³/s], [m]
    power : at the wire [W], None where the curve has none
    efficiency : wire to water [ratio]
    useful_range : flows between which it runs well at this speed [m³/s]; None: not judged
    in_useful_range : None: not judged
    run_out : flow at the end of its curve at this speed [m³/s]
    heat : that goes into the water: all power of a submerged pump, 70 % of an external one's [W]
    energy : a year [kWh]
    cost : a year, in the plan's currency; None without a price
    """

    pump: str
    speed: float = quantity("ratio")
    speed_is_free: bool
    flow: float = quantity("flow")
    head: float = quantity("head")
    power: float | None = quantity("power")
    efficiency: float | None = quantity("ratio")
    useful_range: tuple[float, float] | None = quantity("flow")
    in_useful_range: bool | None
    run_out: float = quantity("flow")
    heat: float | None = quantity("power")
    energy: float | None = quantity("energy")
    cost: float | None


def pump_duties(
    solution: Solution, *, speeds: NDArray[np.float64] | None = None
) -> tuple[PumpDuty, ...]:
    """Where each pump of a solved network works.

    Parameters
    ----------
    speeds : (P, 1) settings at which it was solved [ratio]; left out: those of its plan
    """
    network = solution.network
    at = network.speeds if speeds is None else speeds
    return tuple(
        _duty(solution, machine, float(at[place, 0]))
        for place, machine in enumerate(network.machines)
    )


def _duty(solution: Solution, machine: Machine, speed: float) -> PumpDuty:
    density = solution.network.water.density
    flow, head = solution.flow(machine.name), solution.head_of_pump(machine.name)
    drawn = machine.power(np.array([flow]), np.array([speed]), density=density)
    power = None if drawn is None else float(drawn[0])
    useful = machine.useful_range(speed) if speed > 0.0 else None
    spent = solution.network.plan.power or Power()
    energy = None if power is None else energy_a_year(power, hours=spent.hours)
    return PumpDuty(
        pump=machine.name,
        speed=speed,
        speed_is_free=machine.pump.speed_range is not None,
        flow=flow,
        head=head,
        power=power,
        efficiency=_efficiency(density * GRAVITY * flow * head, power),
        useful_range=useful,
        in_useful_range=None if useful is None else useful[0] <= flow <= useful[1],
        run_out=machine.run_out(speed),
        heat=None if power is None else power * (SHAFT_SHARE if machine.pump.external else 1.0),
        energy=energy,
        cost=energy * spent.price if energy is not None and spent.price else None,
    )


def energy_a_year(power: float, *, hours: float) -> float:
    """Energy [kWh] that a power [W] takes in a year of so many hours a day."""
    return power / 1e3 * hours * DAYS


def _efficiency(lifted: float, power: float | None) -> float | None:
    """Share of the power at the wire that lifts water; 0 where the pump does no work on it."""
    if power is None:
        return None
    return lifted / power if lifted > 0.0 and power > 0.0 else 0.0


def curve_notes(solution: Solution) -> tuple[str, ...]:
    """What was changed in the pumps' curves as measured, in words."""
    return tuple(
        f'pump "{machine.name}": {note}'
        for machine in solution.network.machines
        for points in machine.curves
        for note in points.curve.source_notes
    )
