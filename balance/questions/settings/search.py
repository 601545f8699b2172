"""Flows, speeds and openings that come closest to what the branches are asked to carry.

First what is exact and cheap: hold every controlled branch at its aim and look whether the head
left over is enough (back-calculation).  Only where it is not, or where branches without a valve of
their own are asked for something, a constrained minimisation over flows and speeds.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Machine, Network
from balance.network.settle import settle
from balance.network.slopes import respond
from balance.questions.aims import BREACH, Aim, Wishes, aims_of, wishes_of
from balance.questions.settings.flowspace import (
    Control,
    FlowRange,
    FlowSpace,
    Held,
    controls_of,
    opening_for,
    shared_controls,
    with_opening,
)
from balance.questions.settings.programme import Minimum, Point, minimise

Floats = NDArray[np.float64]

LEAST_POWER = 1e-6  # weight of the pumps' power, beside misses: only settings that are as good
SAME_TOTAL = 1e-6  # of a group's aim, by which its members' aims may differ from it
ENOUGH = 1e-9  # [m] of head missing that is rounding
USUAL_STEP = 0.01  # of a speed whose step the plan does not say
MOST_TRIES = 40
MOST_SPEEDS = 6  # above the one found, to bring a pump up into its useful range
RANGE_MARGIN = 0.005  # inside a pump's useful range, so that rounding to marks does not leave it
SHARED_BURDEN = 0.5  # of what the least burdened branch must burn goes to a valve before several
WORTH_SHARING = 0.1  # [m] that every branch behind a shared valve has to burn
STARTS = (1.0, 0.6, 0.3)  # of the aims, from which the search begins


@dataclass(frozen=True)
class Found:
    """Where the search ended.

    Attributes
    ----------
    space, here : the view of the network and its state at the held flows
    aims : with the parts of sharers filled in
    wishes : the same over the plan's branches
    openings, speeds : (V, 1), (P, 1), before rounding to marks
    flow : (B,) of the branches [m³/s]
    missed : sum of the shares by which targets are missed
    out_of_reach : branches that stay dry however the rest is set
    tight : controls that are wide open although their branch wants more, with what a metre of head
        there would be worth
    ranges : useful ranges of pumps that the flows keep
    notes : how it was found, in words
    """

    space: FlowSpace
    here: Held
    aims: tuple[Aim, ...]
    wishes: Wishes
    openings: Floats
    speeds: Floats
    flow: Floats
    missed: float
    out_of_reach: tuple[str, ...]
    tight: tuple[tuple[str, float], ...]
    ranges: tuple[FlowRange, ...]
    notes: tuple[str, ...]


def search(network: Network, *, starts: tuple[float, ...] = STARTS) -> Found:
    """Best flows of a network for its plan's targets.

    Parameters
    ----------
    starts : shares of the aims from which the constrained search begins, where it is needed
    """
    plan = network.plan
    names = tuple(branch.name for branch in plan.branches)
    aims = list(aims_of(plan))
    notes: list[str] = []
    wanted = {name for aim in aims if aim.asked for name in aim.branches}
    controls = controls_of(network, wanted)
    dry = _out_of_reach(network, [name for name in names if name in wanted])
    openings = network.openings.copy()
    for place, valve in enumerate(network.valves):
        if valve.stretch in dry and not valve.part.locked:
            openings[place, 0] = (valve.part.stops or (0.0, 1.0))[0]
    kept = tuple(control for control in controls if control.valve.stretch not in dry)
    space = _space(network, kept, openings, wanted - set(dry))
    free = np.array([_is_free(machine) for machine in network.machines], dtype=np.bool_)
    sharers = [
        place
        for place, aim in enumerate(aims)
        if aim.share is not None and aim.aim is None and aim.branches[0] not in dry
    ]
    if sharers and free.any():
        free[:] = False
        notes.append(
            "Shares of all that is left, with no total: the pump's speed stays as it stands. "
            "Give the sharers a total in a group, or one of them a bound, to free the speed."
        )
    searcher = _Search(network, space, free, starts)
    here = searcher.best(wishes_of(tuple(aims), names))
    if sharers:
        here = searcher.share_the_rest(here, aims, sharers)
        for place in sharers:
            row = network.row_of[aims[place].branches[0]]
            aims[place] = aims[place].with_aim(float(here.state.flow[row, 0]))
    wishes = wishes_of(tuple(aims), names)
    if not sharers:
        here = searcher.into_useful_range(here, wishes)
    here = searcher.share_burden(here)
    flow = here.state.flow[searcher.space.branch_rows, 0]
    return Found(
        space=searcher.space,
        here=here,
        aims=tuple(aims),
        wishes=wishes,
        openings=searcher.space.openings_for(here),
        speeds=here.speed,
        flow=flow,
        missed=float(wishes.missed(flow[:, None])[0]),
        out_of_reach=tuple(dry),
        tight=searcher.tight,
        ranges=searcher.kept_ranges(here),
        notes=tuple(notes),
    )


def _is_free(machine: Machine) -> bool:
    return machine.pump.speed_range is not None and machine.pump.speed > 0.0


def _top_speeds(network: Network) -> Floats:
    """Highest settings that may be used, (P, 1)."""
    return np.array(
        [
            [m.pump.speed_range[1] if m.pump.speed_range and _is_free(m) else m.pump.speed]
            for m in network.machines
        ]
    ).reshape(-1, 1)


def _out_of_reach(network: Network, wanted: list[str]) -> list[str]:
    """Branches without flow at top speed, wide open, with all other branches shut."""
    if not wanted:
        return []
    places = {branch.name: place for place, branch in enumerate(network.plan.branches)}
    openings = np.repeat(network.openings, len(wanted), axis=1)
    own = {valve.stretch for valve in network.valves}
    for place, valve in enumerate(network.valves):
        if not valve.part.locked:
            openings[place] = (valve.part.stops or (0.0, 1.0))[1]
        for column, name in enumerate(wanted):
            if valve.stretch in places and valve.stretch != name:
                openings[place, column] = 0.0
    laws, shut = network.at(openings, np.repeat(_top_speeds(network), len(wanted), axis=1))
    shut = np.repeat(shut, len(wanted), axis=1) if shut.shape[1] == 1 else shut
    for column, name in enumerate(wanted):
        for other in places:
            if other != name and other not in own:
                shut[network.row_of[other], column] = True
    state = settle(
        network.topology,
        laws,
        fixed_heads=network.fixed_heads,
        held=shut,
        draw=network.draw,
        scenarios=len(wanted),
    )
    return [
        name
        for column, name in enumerate(wanted)
        if state.flow[network.row_of[name], column] <= 1e-9
    ]


def _space(
    network: Network, controls: tuple[Control, ...], openings: Floats, wanted: set[str]
) -> FlowSpace:
    """The view with as many controls as keep every joint tied to a known head."""
    space = FlowSpace(network, controls, openings)
    while space.isolates and controls:
        controls = controls[:-1]
        space = FlowSpace(network, controls, openings)
    for shared in shared_controls(network):
        openings_with = space.openings
        space = with_opening(space, shared, shared.most)
        # A valve before several branches is turned only for one that has none of its own.
        if wanted - {control.valve.stretch for control in space.controls}:
            trial = FlowSpace(network, (*space.controls, shared), openings_with)
            if not trial.isolates:
                space = trial
    return space


class _Search:
    """The search over one view of a network."""

    def __init__(
        self,
        network: Network,
        space: FlowSpace,
        free: NDArray[np.bool_],
        starts: tuple[float, ...],
    ) -> None:
        self.starts = starts
        self.network = network
        self.space = space
        self.free = free
        self.tight: tuple[tuple[str, float], ...] = ()
        self.speeds = network.speeds
        lift = float(network.passive.lift().max(initial=0.0))
        self._pump_at = {machine.run: p for p, machine in enumerate(network.machines)}
        self.head_scale = max(lift, float(np.ptp(network.fixed_heads)), 0.1)
        names = [branch.name for branch in network.plan.branches]
        self.branch_of = [
            names.index(control.valve.stretch) if control.valve.stretch in names else -1
            for control in space.controls
        ]
        self.limits = [
            (row, low, high)
            for row, (low, high) in enumerate(
                branch.limits or (None, None) for branch in network.plan.branches
            )
        ]

    # The cheap way --------------------------------------------------------------------------------

    def best(self, wishes: Wishes) -> Held:
        """Best flows and least power for wishes."""
        aims = self._aimed(wishes)
        if aims is not None:
            here = self._back_calculated(aims)
            if here is not None and self._keeps_limits(here):
                return self._stepped(here)
        return self._searched(wishes)

    def _aimed(self, wishes: Wishes) -> Floats | None:
        """Flows of the controls at their aims; None where aims do not settle all of them."""
        flow = np.full(len(self.space.controls), np.nan)
        for row, aim in enumerate(wishes.aims):
            if len(aim.branches) > 1:
                total = [
                    flow[c] for c, b in enumerate(self.branch_of) if b >= 0 and wishes.rows[row, b]
                ]
                apart = abs(float(np.nansum(total)) - (aim.aim or 0.0)) / aim.scale
                # Where members and total pull apart, only the search can weigh them.
                if apart > SAME_TOTAL or len(total) < len(aim.branches):
                    return None
                continue
            at = [c for c, b in enumerate(self.branch_of) if b >= 0 and wishes.rows[row, b]]
            if not at:
                if aim.branches[0] in {c.valve.stretch for c in self.space.controls}:
                    return None
                if not self._is_shut(aim.branches[0]):
                    return None
                continue
            # A sharer of the rest stays at its lower limit until the others have theirs.
            flow[at[0]] = aim.aim if aim.aim is not None else (aim.limits[0] or 0.0)
        return None if np.isnan(flow).any() else flow

    def _is_shut(self, branch: str) -> bool:
        return bool(self.space.held[self.network.row_of[branch], 0])

    def _back_calculated(self, flow: Floats) -> Held | None:
        """The network at given flows and the least speed that carries them; None if none does."""
        free = np.flatnonzero(self.free)
        if len(free) > 1:
            return None
        if len(free) == 0:
            return self._feasible(self.space.at(flow, self.speeds))
        pump = int(free[0])
        low, high = self.network.machines[pump].pump.speed_range or (0.0, 1.0)
        here = self._feasible(self.space.at(flow, self._speed(pump, high)))
        if here is None:
            return None
        # Spare head rises with speed, and bends upwards: from above, the largest of the tangents'
        # zeros comes down to the least feasible speed without passing it.
        speed = high
        for _ in range(MOST_TRIES):
            rise = self.space.slopes(here).missing[self.space.rows, len(flow) + pump]
            able = rise > 1e-9
            if not able.any():
                return here
            least = max(low, float((speed - here.spare[able] / rise[able]).max()))
            if least >= speed - 1e-10:
                return here
            speed = least
            here = self.space.at(flow, self._speed(pump, speed))
            if speed <= low:
                break
        return here

    def _feasible(self, here: Held) -> Held | None:
        room = self.space.throttle_room(here.flow)
        if (here.spare < -ENOUGH).any() or (here.spare > room + ENOUGH).any():
            return None
        return here

    def _keeps_limits(self, here: Held) -> bool:
        flow = here.state.flow[self.space.branch_rows, 0]
        for row, low, high in self.limits:
            shut = self._is_shut(self.network.plan.branches[row].name) and row not in self.branch_of
            if low is not None and flow[row] < low * (1 - 1e-9) and not shut:
                return False
            if high is not None and flow[row] > high * (1 + 1e-9):
                return False
        return True

    def _speed(self, pump: int, speed: float) -> Floats:
        speeds = self.speeds.copy()
        speeds[pump, 0] = speed
        return speeds

    def _stepped(self, here: Held) -> Held:
        """The same flows at the first steps of speed that carry them."""
        speeds = here.speed.copy()
        for pump in np.flatnonzero(self.free):
            speeds[pump, 0] = self._next_step(int(pump), float(speeds[pump, 0]))
        return here if np.array_equal(speeds, here.speed) else self.space.at(here.flow, speeds)

    def _step(self, pump: int) -> float:
        return self.network.machines[pump].pump.speed_step or USUAL_STEP

    def _next_step(self, pump: int, speed: float) -> float:
        machine = self.network.machines[pump].pump
        step = self._step(pump)
        low, high = machine.speed_range or (0.0, 1.0)
        return min(high, max(low, float(np.ceil(speed / step - 1e-6)) * step))

    # Sharers of all that is left ------------------------------------------------------------------

    def share_the_rest(self, here: Held, aims: list[Aim], sharers: list[int]) -> Held:
        """Gives the sharers the largest part that leaves the others theirs."""
        names = {aims[place].branches[0]: aims[place] for place in sharers}
        at = [
            (c, names[control.valve.stretch])
            for c, control in enumerate(self.space.controls)
            if control.valve.stretch in names
        ]
        if not at:
            return here
        direction = np.zeros(len(here.flow))
        for c, aim in at:
            direction[c] = aim.share or 0.0
        base = np.where(direction > 0.0, 0.0, here.flow)
        most = min(
            (aim.limits[1] / aim.share for _, aim in at if aim.limits[1] is not None and aim.share),
            default=np.inf,
        )
        capacity = max(
            (
                machine.run_out(float(here.speed[p, 0]))
                for p, machine in enumerate(self.network.machines)
            ),
            default=1e-3,
        )
        part = min(most, 0.1 * capacity / direction.sum())
        for _ in range(MOST_TRIES):
            here = self.space.at(base + part * direction, here.speed)
            slope = self.space.slopes(here).missing[self.space.rows, : len(direction)] @ direction
            falling = slope < -1e-12
            # Spare head falls and bends downwards: from beyond, the least of the tangents' zeros
            # comes back to the largest feasible part without passing it.
            aimed = float(np.min(part - here.spare[falling] / slope[falling], initial=3.0 * part))
            following = min(most, max(aimed, 0.1 * part))
            if abs(following - part) <= 1e-10 * part:
                break
            part = following
        return here

    # The thorough way -----------------------------------------------------------------------------

    def _searched(self, wishes: Wishes) -> Held:
        """Constrained minimisation from several starts, then speeds at their steps."""
        found = self._minimised(wishes, self.free, (), None)
        if self.free.any():
            found = self._at_steps(self._held(found), wishes)
        here = self._held(found)
        count = len(self.space.controls)
        worth = found.multipliers[:count] / self.head_scale
        self.tight = tuple(
            sorted(
                (
                    (control.valve.stretch, float(value))
                    for control, value in zip(self.space.controls, worth, strict=True)
                    if value > 1e-6
                ),
                key=lambda pair: -pair[1],
            )
        )
        return here

    def _at_steps(self, here: Held, wishes: Wishes) -> Minimum:
        """The best at the steps of speed beside the one found.

        Where targets are missed, or a valve cannot be turned, the step below may be the better.
        """
        pumps = np.flatnonzero(self.free)
        tried: list[tuple[Minimum, Floats]] = []
        for back in product((0.0, 1.0), repeat=len(pumps)):
            speeds = here.speed.copy()
            for pump, steps in zip(pumps, back, strict=True):
                below = float(here.speed[pump, 0]) - steps * self._step(int(pump))
                speeds[pump, 0] = self._next_step(int(pump), below)
            self.speeds = speeds
            found = self._minimised(wishes, np.zeros_like(self.free), (), here.flow)
            tried.append((found, speeds))
        best, self.speeds = min(tried, key=lambda each: _rank(each[0]))
        return best

    def _held(self, found: Minimum) -> Held:
        flow, speed = self._unpack(found.x, self._last_free)
        return self.space.at(flow, speed)

    def _scales(self, wishes: Wishes) -> Floats:
        scales = np.zeros(len(self.space.controls))
        for row, aim in enumerate(wishes.aims):
            if len(aim.branches) == 1 and aim.aim:
                for c, b in enumerate(self.branch_of):
                    if b >= 0 and wishes.rows[row, b]:
                        scales[c] = aim.scale
        usual = scales[scales > 0.0].mean() if (scales > 0.0).any() else 1e-4
        return np.where(scales > 1e-8, scales, usual)

    def _unpack(self, x: Floats, free: NDArray[np.bool_]) -> tuple[Floats, Floats]:
        count = len(self.space.controls)
        speeds = self.speeds.copy()
        speeds[np.flatnonzero(free), 0] = x[count:]
        return x[:count] * self._scale, speeds

    def _minimised(
        self,
        wishes: Wishes,
        free: NDArray[np.bool_],
        ranges: tuple[FlowRange, ...],
        start: Floats | None,
    ) -> Minimum:
        """Best of several starts; `ranges` are flows of pumps to be kept."""
        self._scale = self._scales(wishes)
        self._last_free = free
        pumps = np.flatnonzero(free)
        tops = [self.network.machines[p].pump.speed_range[1] for p in pumps]  # type: ignore[index]
        aims = np.zeros(len(self._scale))
        for row, aim in enumerate(wishes.aims):
            for c, b in enumerate(self.branch_of):
                if b >= 0 and wishes.rows[row, b] and len(aim.branches) == 1:
                    aims[c] = aim.aim or 0.0
        aims = np.where(aims > 0.0, aims, 0.2 * self._scale)
        starts = [aims * share / self._scale for share in self.starts]
        if start is not None:
            starts = [start / self._scale]
        found = []
        for first in starts:
            x = np.concatenate([first, tops])
            found.append(
                minimise(
                    lambda x: self._point(x, wishes, free, ranges),
                    x,
                    curvature=self._curvature(x, wishes, free),
                )
            )
        return min(found, key=_rank)

    def _curvature(self, x: Floats, wishes: Wishes, free: NDArray[np.bool_]) -> Floats:
        flow, speed = self._unpack(x, free)
        slopes = self._by_x(self.space.at(flow, speed), free)[0]
        return slopes.T @ wishes.curvature() @ slopes + 1e-3 * np.eye(len(x))

    def _by_x(self, here: Held, free: NDArray[np.bool_]) -> tuple[Floats, Floats, Floats]:
        """Slopes against x of branch flows (B, n), spare heads (C, n) and pump flows (P, n)."""
        count = len(self.space.controls)
        response = self.space.slopes(here)
        columns = np.concatenate([np.arange(count), count + np.flatnonzero(free)])
        unit = np.concatenate([self._scale, np.ones(int(free.sum()))])
        pumps = np.array([machine.run for machine in self.network.machines], dtype=np.intp)
        return (
            response.flow[self.space.branch_rows][:, columns] * unit,
            response.missing[self.space.rows][:, columns] * unit,
            response.flow[pumps][:, columns] * unit,
        )

    def _point(
        self,
        x: Floats,
        wishes: Wishes,
        free: NDArray[np.bool_],
        ranges: tuple[FlowRange, ...],
    ) -> Point:
        flow, speed = self._unpack(x, free)
        here = self.space.at(flow, speed)
        by_branch, by_spare, by_pump = self._by_x(here, free)
        branch_flow = here.state.flow[self.space.branch_rows, 0]
        objective, slope = wishes.cost_and_slope(branch_flow)
        gradient = slope @ by_branch
        power, power_slope = self._power(here, by_pump, free)
        objective += LEAST_POWER * power
        gradient = gradient + LEAST_POWER * power_slope
        unit = np.eye(len(x))
        rows = [here.spare / self.head_scale]
        jacobian = [by_spare / self.head_scale]
        room = self.space.throttle_room(flow)
        bounded = np.flatnonzero(np.isfinite(room))
        if len(bounded):
            rows.append((room - here.spare)[bounded] / self.head_scale)
            own = np.zeros((len(bounded), len(x)))
            own[np.arange(len(bounded)), bounded] = (
                2 * room[bounded] / np.where(x[bounded] != 0.0, x[bounded], 1.0)
            )
            jacobian.append((own - by_spare[bounded]) / self.head_scale)
        count = len(self.space.controls)
        rows.append(x[:count])  # no control runs backwards
        jacobian.append(unit[:count])
        for place, pump in enumerate(np.flatnonzero(free)):
            slowest, fastest = self.network.machines[pump].pump.speed_range or (0.0, 1.0)
            rows.append(np.array([x[count + place] - slowest, fastest - x[count + place]]))
            jacobian.append(np.array([unit[count + place], -unit[count + place]]))
        for branch, low, high in self.limits:
            scale = high or low or 1.0
            if low is not None and not self._stays_shut(branch):
                rows.append(np.array([(branch_flow[branch] - low) / scale]))
                jacobian.append(by_branch[branch : branch + 1] / scale)
            if high is not None:
                rows.append(np.array([(high - branch_flow[branch]) / scale]))
                jacobian.append(-by_branch[branch : branch + 1] / scale)
        for each in ranges:
            place = self._pump_at[each.row]
            pumped = here.state.flow[each.row, 0]
            inside = np.array([pumped - each.low, each.high - pumped]) / each.high
            rows.append(inside - RANGE_MARGIN)
            jacobian.append(np.array([by_pump[place], -by_pump[place]]) / each.high)
        return Point(objective, gradient, np.concatenate(rows), np.concatenate(jacobian))

    def _stays_shut(self, row: int) -> bool:
        return row not in self.branch_of and self._is_shut(self.network.plan.branches[row].name)

    def _power(self, here: Held, by_pump: Floats, free: NDArray[np.bool_]) -> tuple[float, Floats]:
        """Power of all pumps over that at full speed, and its slope against x."""
        count = len(self.space.controls)
        total, slope = 0.0, np.zeros(by_pump.shape[1])
        density = self.network.water.density
        for p, machine in enumerate(self.network.machines):
            flow, speed = here.state.flow[machine.run], here.speed[p]
            values = machine.power(flow, speed, density=density)
            if values is None:
                # Without measured power the cube of the speed stands for it.
                total += float(speed[0] ** 3)
                by_flow, by_speed = 0.0, 3 * float(speed[0] ** 2)
            else:
                full = machine.power(flow, np.ones(1), density=density)
                unit = 1.0 / max(float(full[0]) if full is not None else 1.0, 1e-6)
                dq, dn = 1e-8, 1e-6
                up = machine.power(flow + dq, speed, density=density)
                faster = machine.power(flow, speed + dn, density=density)
                total += float(values[0]) * unit
                by_flow = float(((up if up is not None else values) - values)[0]) / dq * unit
                by_speed = (
                    float(((faster if faster is not None else values) - values)[0]) / dn * unit
                )
            slope += by_flow * by_pump[p]
            if free[p]:
                slope[count + int(np.flatnonzero(free).tolist().index(p))] += by_speed
        return total, slope

    # The pump's useful range ----------------------------------------------------------------------

    def into_useful_range(self, here: Held, wishes: Wishes) -> Held:
        """Within the pumps' useful ranges, if every branch stays as well met as it is."""
        if len(self.kept_ranges(here)) == len(self._ranges(here.speed)):
            return here
        before = float(wishes.missed(here.state.flow[self.space.branch_rows])[0])
        for speeds in self._speeds_for_range(here):
            self.speeds = speeds
            ranges = self._ranges(speeds)
            found = self._minimised(wishes, np.zeros_like(self.free), ranges, here.flow)
            trial = self._held(found)
            missed = float(wishes.missed(trial.state.flow[self.space.branch_rows])[0])
            if found.broken < 1e-6 and missed <= before + 1e-9:
                return trial
        self.speeds = here.speed
        return here

    def _ranges(self, speeds: Floats) -> tuple[FlowRange, ...]:
        """Useful ranges of the pumps that have one, at some speeds."""
        return tuple(
            FlowRange(machine.run, *useful)
            for p, machine in enumerate(self.network.machines)
            if (useful := machine.useful_range(float(speeds[p, 0]))) is not None
        )

    def kept_ranges(self, here: Held) -> tuple[FlowRange, ...]:
        """Those of the useful ranges that the flows keep."""
        return tuple(
            each
            for each in self._ranges(here.speed)
            if each.low * (1 - 1e-9)
            <= float(here.state.flow[each.row, 0])
            <= each.high * (1 + 1e-9)
        )

    def _speeds_for_range(self, here: Held) -> list[Floats]:
        """Speeds at which to look for flows within the useful ranges, the likeliest first.

        The ranges grow with speed.  A pump beyond its range therefore comes back, its flows as
        they are, at the speed whose range reaches that far, and nothing slower does as well.  For
        one below its range more speed only lets the flows rise within their tolerances.
        """
        pumps = np.flatnonzero(self.free)
        beyond = max(
            (
                float(here.state.flow[each.row, 0]) / (each.high * (1 - RANGE_MARGIN))
                for each in self._ranges(here.speed)
            ),
            default=0.0,
        )
        first = here.speed.copy()
        if beyond > 1.0:
            for pump in pumps:
                first[pump, 0] = self._next_step(int(pump), float(first[pump, 0]) * beyond)
        tried = [first]
        while len(pumps) and len(tried) < MOST_SPEEDS:
            faster = tried[-1].copy()
            for pump in pumps:
                next_up = float(faster[pump, 0]) + self._step(int(pump))
                faster[pump, 0] = self._next_step(int(pump), next_up)
            if np.array_equal(faster, tried[-1]):
                break
            tried.append(faster)
        return tried

    # Valves before several branches ---------------------------------------------------------------

    def share_burden(self, here: Held) -> Held:
        """Lets valves before several branches burn half of what the least burdened one must.

        Flows stay the same; branch valves come out of the last degrees before shut, where a hand
        cannot set them.
        """
        used = {control.valve.name for control in self.space.controls}
        for shared in shared_controls(self.network):
            if shared.valve.name in used:
                continue
            runs = self.network.topology.runs
            push = np.zeros((runs, 1))
            push[shared.row] = 1.0
            answer = respond(
                self.network.topology, here.laws, here.state, flow=np.zeros((runs, 1)), head=push
            )
            behind = answer.missing[self.space.rows, 0] < -0.5
            if not behind.any():
                continue
            least = float(here.spare[behind].min())
            if least < WORTH_SHARING:
                continue
            opening = opening_for(
                shared, float(here.state.flow[shared.row, 0]), SHARED_BURDEN * least
            )
            self.space = with_opening(self.space, shared, opening)
            here = self.space.at(here.flow, here.speed)
        return here


def _rank(found: Minimum) -> float:
    return found.point.objective + BREACH * found.broken
