"""Where pumps and plumbing meet: each pump's lines, the system curve, and the duty point."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import ceil, floor
from typing import TYPE_CHECKING

import numpy as np

from balance.network.arrays import Machine, network_of
from balance.network.solve import solve
from balance.plan.model import Plan
from balance.questions.duty import PumpDuty, pump_duties
from balance.questions.head_lines import POINTS, HeadLine, pump_line, system_curves
from balance.questions.record import Record, frame, quantity

if TYPE_CHECKING:
    import pandas as pd

STEPS = (0.1, 0.2, 0.5)  # of speed, between lines: the finest that gives few; our own choice
MOST = 8  # round speeds in a range; our own choice
BEYOND = 1.05  # of the largest flow that is drawn, to which the system curve goes; our own choice
_SAME = 9  # decimals to which two speeds are the same


@dataclass(frozen=True, kw_only=True)
class SpeedLine(Record):
    """What a pump gives at one speed.

    Attributes
    ----------
    speed : setting [ratio]
    is_present : the pump turns at it
    line : head against flow, from no flow to run-out
    useful_range : flows between which it runs well at this speed [m³/s]; None: not known
    """

    speed: float = quantity("ratio")
    is_present: bool
    line: HeadLine
    useful_range: tuple[float, float] | None = quantity("flow")


@dataclass(frozen=True, kw_only=True)
class DutyPoint(Record):
    """Where one pump works, among the lines that lead there.

    Attributes
    ----------
    pump : name
    duty : flow, head, power and useful range as it works
    lines : what it gives at its own speed, the ends of its range and round speeds between, by
        falling speed; none of a pump of one speed that stands still
    system : head that the plumbing asks of it, with valves and the other pumps as the plan has
        them; None where it has no such line
    why_no_system : what bars it, in words; empty where nothing does
    """

    pump: str
    duty: PumpDuty
    lines: tuple[SpeedLine, ...]
    system: HeadLine | None
    why_no_system: str


@dataclass(frozen=True, kw_only=True)
class DutyPoints(Record):
    """Where the pumps of a plan work.

    Attributes
    ----------
    title : of the plan
    pumps : every pump that is in use, as the plan has them
    plan : that was solved
    """

    title: str
    pumps: tuple[DutyPoint, ...]
    plan: Plan = field(metadata={"private": True})

    def to_frame(self) -> pd.DataFrame:
        """Duties as a pandas table, a row a pump."""
        return frame(tuple(pump.duty for pump in self.pumps))


def duty_points(plan: Plan) -> DutyPoints:
    """Say where each pump works: its head against flow, the system curve, and where they meet.

    Valves and speeds are as the plan has them.  The system curve of one of several pumps is found
    with the others turning on, each at the flow that its own curve then gives.

    Parameters
    ----------
    plan : `settings(plan).plan` has its handles at their marks

    Raises
    ------
    NoSolutionError
        Water is drawn where none can come.
    SolveError
        The flows did not settle.
    """
    network = network_of(plan)
    duties = pump_duties(solve(network))
    lines = [_lines(machine) for machine in network.machines]
    most = [
        BEYOND * max([duty.flow, *(each.line.flow[-1] for each in own)])
        for duty, own in zip(duties, lines, strict=True)
    ]
    flows = np.array(
        [_through(duty.flow, top) for duty, top in zip(duties, most, strict=True)]
    ).reshape(-1, POINTS)
    curves = system_curves(network, flows)
    return DutyPoints(
        title=plan.title,
        pumps=tuple(
            DutyPoint(
                pump=duty.pump,
                duty=duty,
                lines=own,
                system=curve.line,
                why_no_system=curve.why_none,
            )
            for duty, own, curve in zip(duties, lines, curves, strict=True)
        ),
        plan=plan,
    )


def _through(flow: float, most: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Flows (POINTS,) from next to nothing to the most, one of which is the duty's."""
    even = np.linspace(most / POINTS, most, POINTS)
    if flow > 0.0:
        even[np.abs(even - flow).argmin()] = flow
    return np.asarray(even)


def _lines(machine: Machine) -> tuple[SpeedLine, ...]:
    present = machine.pump.speed
    return tuple(
        SpeedLine(
            speed=speed,
            is_present=speed == present,
            line=pump_line(machine, speed),
            useful_range=machine.useful_range(speed),
        )
        for speed in _speeds(machine)
    )


def _speeds(machine: Machine) -> tuple[float, ...]:
    """Speeds worth a line, falling."""
    present, span = machine.pump.speed, machine.pump.speed_range
    wanted = [present] if span is None else [present, *span, *_round(*span)]
    distinct = {round(speed, _SAME): speed for speed in reversed(wanted)}
    return tuple(sorted((speed for speed in distinct.values() if speed > 0.0), reverse=True))


def _round(low: float, high: float) -> list[float]:
    """Round speeds in a range, of the finest step that gives few."""
    found: list[float] = []
    for step in STEPS:
        first, last = ceil(round(low / step, _SAME)), floor(round(high / step, _SAME))
        found = [round(n * step, _SAME) for n in range(first, last + 1)]
        if len(found) <= MOST:
            break
    return found
