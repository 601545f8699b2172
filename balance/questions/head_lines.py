"""Lines of head against flow: what pumps give, and what the plumbing asks for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Machine, Network
from balance.network.solve import settled
from balance.questions.record import Record, quantity

Floats = NDArray[np.float64]

POINTS = 41  # along a line


@dataclass(frozen=True, kw_only=True)
class HeadLine(Record):
    """Head against flow, drawn as a line.

    Attributes
    ----------
    flow : rising [m³/s]
    head : at each flow [m]
    """

    flow: tuple[float, ...] = quantity("flow")
    head: tuple[float, ...] = quantity("head")


@dataclass(frozen=True)
class SystemCurve:
    """What a network asks of one of its pumps.

    Attributes
    ----------
    line : head that it asks for; None where there is none
    why_none : what bars it, in words; empty where nothing does
    """

    line: HeadLine | None
    why_none: str = ""


def pump_line(
    machine: Machine, speed: float, *, side_by_side: int = 1, in_a_row: int = 1
) -> HeadLine:
    """Head that like pumps together give at a speed setting, from no flow to run-out."""
    flow = np.linspace(0.0, machine.run_out(speed), POINTS)
    head = machine.head(flow, speed)
    return HeadLine(
        flow=tuple((side_by_side * flow).tolist()), head=tuple((in_a_row * head).tolist())
    )


def system_curves(network: Network, flows: Floats) -> tuple[SystemCurve, ...]:
    """Head that a network asks of each of its pumps, valves and speeds as its plan has them.

    All are settled at once: in each scenario the run of one pump is held at a flow while the other
    pumps turn on, each on its own curve.

    Parameters
    ----------
    flows : (P, N) at which each pump is held, rising and above zero [m³/s]
    """
    found = {place: SystemCurve(None, why) for place, why in _barred(network)}
    rest = [place for place in range(len(network.machines)) if place not in found]
    if rest:
        found |= dict(zip(rest, _settled(network, rest, flows[rest]), strict=True))
    return tuple(found[place] for place in range(len(network.machines)))


def _barred(network: Network) -> Iterator[tuple[int, str]]:
    """Pumps whose flow cannot be given, and why."""
    _, shut = network.at(network.openings, network.speeds)
    topology = network.topology
    held = np.repeat(shut, len(network.machines), axis=1)
    runs = [machine.run for machine in network.machines]
    held[runs, np.arange(len(runs))] = True
    isolated = topology.isolated(held) if runs else held
    for place, (machine, run) in enumerate(zip(network.machines, runs, strict=True)):
        ends = (topology.start[run], topology.end[run])
        if any(node < topology.joints and isolated[node, place] for node in ends):
            drawn = (network.draw[:, 0] > 0.0) & isolated[:, place]
            yield (
                place,
                f'only "{machine.name}" brings water to a joint that draws it'
                if drawn.any()
                else f'every way for water through "{machine.name}" is shut',
            )


def _settled(network: Network, places: list[int], flows: Floats) -> Iterator[SystemCurve]:
    laws, shut = network.at(network.openings, network.speeds)
    topology = network.topology
    points = flows.shape[1]
    scenarios = flows.size
    run = np.repeat([network.machines[place].run for place in places], points)
    every = np.arange(scenarios)
    held = np.repeat(shut, scenarios, axis=1)
    held[run, every] = True
    given = np.zeros((topology.runs, scenarios))
    given[run, every] = flows.ravel()
    state = settled(network, laws, held=held, held_flow=given, scenarios=scenarios)
    asked = state.heads[topology.end[run], every] - state.heads[topology.start[run], every]
    by_pump = (flows, asked.reshape(flows.shape), state.converged.reshape(flows.shape))
    for place, flow, head, converged in zip(places, *by_pump, strict=True):
        if converged.all():
            yield SystemCurve(HeadLine(flow=tuple(flow.tolist()), head=tuple(head.tolist())))
        else:
            name = network.machines[place].name
            yield SystemCurve(None, f'the flows did not settle with "{name}" held at some flow')
