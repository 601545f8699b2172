"""Flows and speeds that come closest to the aims where not all of them can be had.

A constrained minimisation in flow space.  Unknown are the flow through each control and the speed
of each free pump; wide-open valves, stops, limits and the ranges of speeds are the constraints.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Machine
from balance.questions.aims import BREACH, Wishes
from balance.questions.settings.flowspace import FlowRange, FlowSpace, Held
from balance.questions.settings.programme import Minimum, Point, minimise
from balance.questions.speeds import Drive, next_step, speed_range, step_of

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Constraint = tuple[Floats, Floats]  # values, met where >= 0, and their slopes against the unknowns

HEAD_FIRST = 100.0  # weight of head that is not there, beside a broken limit: it cannot be had
LEAST_POWER = 1e-6  # weight of the pumps' power, beside misses: only settings that are as good
RANGE_MARGIN = 0.005
"""Inside a pump's useful range, so that rounding to marks does not leave it; our own choice."""
LEAST_HEAD = 0.1  # [m] that heads are divided by, at the least
USUAL_FLOW = 1e-4  # [m³/s] that flows are divided by, where no target gives a better number
LEAST_AIM = 0.2  # of that, where a control without an aim begins
ON_A_STEP = 1e-6  # of full speed: nearer than that a speed is at its step
SMALL = 1e-5  # of a pump's run-out and of its full speed, for slopes of its power
WORTH_TELLING = 1e-6  # of the cost, for as much more head as the network's scale of it


class Slopes(NamedTuple):
    """Of branch flows (B, n), spare heads (C, n) and pump flows (P, n) against the unknowns."""

    branch: Floats
    spare: Floats
    pumped: Floats


@dataclass(frozen=True)
class Compromise:
    """The problem in numbers.

    Attributes
    ----------
    space : the view of the network
    wishes : what misses cost
    drives : speeds that may be set
    speeds : (P, 1) settings, of pumps whose speed stays
    ranges : flows of pumps that are to be kept
    met : places of wishes whose tolerance is to be kept, whatever that costs the others
    """

    space: FlowSpace
    wishes: Wishes
    drives: tuple[Drive, ...]
    speeds: Floats
    ranges: tuple[FlowRange, ...] = ()
    met: tuple[int, ...] = ()

    def minimum(self, starts: Sequence[Floats]) -> Minimum:
        """Best of the minima found from flows (C,) to start at, pumps at their top speeds."""
        tops = [high for _, high in (speed_range(drive.machine) for drive in self.drives)]
        found = []
        for flow in starts:
            x = np.concatenate([flow / self._scale, tops])
            found.append(minimise(self._point, x))
        return min(found, key=rank)

    def held(self, found: Minimum) -> Held:
        """The network at a minimum."""
        return self._at(found.x)

    def aims(self) -> Floats:
        """Flows of the controls at their aims, (C,); something where there is no aim."""
        aims = np.zeros(len(self._scale))
        for control, aim in self._own_aims():
            aims[control] = self.wishes.aims[aim].aim or 0.0
        return np.where(aims > 0.0, aims, LEAST_AIM * self._scale)

    def tight(self, found: Minimum) -> tuple[str, ...]:
        """Stretches whose control is wide open and wants more, those that want it most first."""
        worth = found.multipliers[: len(self.space.controls)] / self._head_scale
        wanting = [
            (control.valve.stretch, float(value))
            for control, value in zip(self.space.controls, worth, strict=True)
            if value > WORTH_TELLING
        ]
        return tuple(stretch for stretch, _ in sorted(wanting, key=lambda pair: -pair[1]))

    # Scales: all unknowns and constraints are of order one ----------------------------------------

    def _own_aims(self) -> Iterator[tuple[int, int]]:
        """Controls with the places of the wishes for their branches alone."""
        for place, aim in enumerate(self.wishes.aims):
            if not aim.group:
                for control, branch in enumerate(self.space.branch_of):
                    if branch >= 0 and self.wishes.rows[place, branch]:
                        yield control, place

    @cached_property
    def _scale(self) -> Floats:
        """Flows by which those of the controls are divided, (C,)."""
        scales = np.zeros(len(self.space.controls))
        for control, place in self._own_aims():
            if self.wishes.aims[place].aim:
                scales[control] = self.wishes.aims[place].scale
        usual = scales[scales > 0.0].mean() if (scales > 0.0).any() else USUAL_FLOW
        return np.where(scales > 1e-8, scales, usual)

    @cached_property
    def _head_scale(self) -> float:
        network = self.space.network
        lift = float(network.passive.lift().max(initial=0.0))
        return max(lift, float(np.ptp(network.fixed_heads)), LEAST_HEAD) / HEAD_FIRST

    @cached_property
    def _full_power(self) -> float:
        """Power of all pumps at full speed and run-out."""
        machines = self.space.network.machines
        return sum(self._watts(machine, machine.run_out(1.0), 1.0) for machine in machines)

    # The problem ----------------------------------------------------------------------------------

    def _at(self, x: Floats) -> Held:
        count = len(self.space.controls)
        speeds = self.speeds.copy()
        for drive, speed in zip(self.drives, x[count:], strict=True):
            speeds[drive.pumps, 0] = speed
        return self.space.at(x[:count] * self._scale, speeds)

    def _slopes(self, here: Held) -> Slopes:
        count = len(self.space.controls)
        response = self.space.slopes(here)
        pumps = np.array([machine.run for machine in self.space.network.machines], dtype=np.intp)

        def by_unknowns(answer: Floats) -> Floats:
            speeds = [answer[:, count + drive.pumps].sum(axis=1) for drive in self.drives]
            return np.column_stack([answer[:, :count] * self._scale, *speeds])

        return Slopes(
            by_unknowns(response.flow[self.space.branch_rows]),
            by_unknowns(response.missing[self.space.rows]),
            by_unknowns(response.flow[pumps]),
        )

    def _point(self, x: Floats) -> Point:
        here = self._at(x)
        slopes = self._slopes(here)
        flow = here.state.flow[self.space.branch_rows, 0]
        cost, by_flow = self.wishes.cost_and_slope(flow)
        power, by_x = self._power(here, slopes)
        values, rows = zip(*self._constraints(x, here, slopes), strict=True)
        return Point(
            cost + LEAST_POWER * power,
            by_flow @ slopes.branch + LEAST_POWER * by_x,
            slopes.branch.T @ self.wishes.curvature(flow) @ slopes.branch,
            np.concatenate(values),
            np.concatenate(rows),
        )

    def _constraints(self, x: Floats, here: Held, slopes: Slopes) -> Iterator[Constraint]:
        """Everything that must be kept; the spare heads of the controls come first."""
        yield here.spare / self._head_scale, slopes.spare / self._head_scale
        yield from self._stops(x, here, slopes)
        count, unit = len(self.space.controls), np.eye(len(x))
        yield x[:count], unit[:count]  # no control runs backwards
        for place, drive in enumerate(self.drives, start=count):
            slowest, fastest = speed_range(drive.machine)
            yield (
                np.array([x[place] - slowest, fastest - x[place]]),
                np.array([unit[place], -unit[place]]),
            )
        yield from self._limits(here, slopes)
        yield from self._ranges(here, slopes)
        yield from self._tolerances(here, slopes)

    def _stops(self, x: Floats, here: Held, slopes: Slopes) -> Iterator[Constraint]:
        """No control burns more than at its lower stop."""
        room = self.space.throttle_room(here.flow)
        bounded = np.flatnonzero(np.isfinite(room))
        if not len(bounded):
            return
        own = np.zeros((len(bounded), len(x)))
        own[np.arange(len(bounded)), bounded] = (
            2 * room[bounded] / np.where(x[bounded] != 0.0, x[bounded], 1.0)
        )
        yield (
            (room - here.spare)[bounded] / self._head_scale,
            (own - slopes.spare[bounded]) / self._head_scale,
        )

    def _limits(self, here: Held, slopes: Slopes) -> Iterator[Constraint]:
        """The plan's limits of the branches' flows."""
        flow = here.state.flow[self.space.branch_rows, 0]
        for place, branch in enumerate(self.space.network.plan.branches):
            low, high = branch.limits or (None, None)
            scale = high or low or 1.0
            row = slopes.branch[place : place + 1]
            if low is not None and not self.space.stays_shut(place):
                yield np.array([(flow[place] - low) / scale]), row / scale
            if high is not None:
                yield np.array([(high - flow[place]) / scale]), -row / scale

    def _ranges(self, here: Held, slopes: Slopes) -> Iterator[Constraint]:
        """The useful ranges of pumps that are to be kept."""
        pumps = [machine.run for machine in self.space.network.machines]
        for each in self.ranges:
            by_x = slopes.pumped[pumps.index(each.row)]
            pumped = here.state.flow[each.row, 0]
            inside = np.array([pumped - each.low, each.high - pumped]) / each.high
            yield inside - RANGE_MARGIN, np.array([by_x, -by_x]) / each.high

    def _tolerances(self, here: Held, slopes: Slopes) -> Iterator[Constraint]:
        """What counts as met, of the wishes that are to stay so."""
        flow = here.state.flow[self.space.branch_rows, 0]
        for place in self.met:
            aim, row = self.wishes.aims[place], self.wishes.rows[place]
            total, by_x = float(row @ flow), (row @ slopes.branch)[None, :]
            if aim.low is not None:
                yield np.array([total - aim.low]) / aim.scale, by_x / aim.scale
            if aim.high is not None:
                yield np.array([aim.high - total]) / aim.scale, -by_x / aim.scale

    def _power(self, here: Held, slopes: Slopes) -> tuple[float, Floats]:
        """Power of all pumps over that at full speed and run-out, and its slope."""
        total, slope = 0.0, np.zeros(slopes.pumped.shape[1])
        network = self.space.network
        full = self._full_power
        for place, machine in enumerate(network.machines):
            flow, speed = float(here.state.flow[machine.run, 0]), float(here.speed[place, 0])
            total += self._watts(machine, flow, speed) / full
            dq, dn = SMALL * machine.run_out(1.0), SMALL
            up = self._watts(machine, flow + dq, speed) - self._watts(machine, flow - dq, speed)
            slope += up / (2 * dq) / full * slopes.pumped[place]
            for own, drive in enumerate(self.drives, start=len(self.space.controls)):
                if place in drive.pumps:
                    faster = self._watts(machine, flow, speed + dn)
                    slower = self._watts(machine, flow, speed - dn)
                    slope[own] += (faster - slower) / (2 * dn) / full
        return total, slope

    def _watts(self, machine: Machine, flow: float, speed: float) -> float:
        """Power of a pump; where one of the plan has none measured, the cube of the speed."""
        network = self.space.network
        if any(points.curve.power is None for each in network.machines for points in each.curves):
            return speed**3
        at = np.array([flow]), np.array([speed])
        watts = machine.power(*at, density=network.water.density)
        return 0.0 if watts is None else float(watts[0])


def rank(found: Minimum) -> float:
    """By which minima are compared: what they cost and what they break."""
    return found.point.objective + BREACH * found.broken


def compromise(
    space: FlowSpace,
    wishes: Wishes,
    drives: tuple[Drive, ...],
    *,
    starts: tuple[float, ...],
    near: Floats | None = None,
) -> tuple[Held, tuple[str, ...]]:
    """Flows, and speeds at their steps, of least cost; and what then is wide open and wants more.

    Parameters
    ----------
    drives : speeds that may be set
    starts : shares of the aims from which the search begins
    near : flows (C,) from which it begins instead
    """
    problem = Compromise(space, wishes, drives, space.network.speeds)
    aims = problem.aims()
    found = problem.minimum([aims * share for share in starts] if near is None else [near])
    if drives:
        problem, found = _at_steps(problem, problem.held(found))
    return problem.held(found), problem.tight(found)


def _at_steps(problem: Compromise, here: Held) -> tuple[Compromise, Minimum]:
    """The best at the steps of speed beside the one found.

    Where targets are missed, or a valve cannot be turned, the step below may be the better.
    """
    tried: list[tuple[Compromise, Minimum]] = []
    for steps in product(*(_steps_beside(here, drive) for drive in problem.drives)):
        speeds = here.speed.copy()
        for drive, step in zip(problem.drives, steps, strict=True):
            speeds[drive.pumps, 0] = step
        at_step = replace(problem, drives=(), speeds=speeds)
        tried.append((at_step, at_step.minimum([here.flow])))
    return min(tried, key=lambda each: rank(each[1]))


def _steps_beside(here: Held, drive: Drive) -> tuple[float, ...]:
    """Steps of a speed above and below where it is; the one alone that it stands on."""
    speed = float(here.speed[drive.pumps[0], 0])
    above = next_step(drive.machine, speed)
    if abs(above - speed) <= ON_A_STEP:
        return (above,)
    return above, next_step(drive.machine, speed - step_of(drive.machine))
