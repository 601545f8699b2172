"""The main question, put together: search, marks, and what a person needs to act on them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from balance.errors import UsageError
from balance.network.arrays import Network, Valve, network_of
from balance.network.slopes import respond
from balance.network.solve import Solution, solve
from balance.plan.model import Branch, OutletPart, Plan
from balance.questions.aims import Aim
from balance.questions.duty import pump_duties
from balance.questions.settings.answer import (
    Bleed,
    BranchFlow,
    HandleMark,
    Settings,
)
from balance.questions.settings.changes import single_changes
from balance.questions.settings.coarse import Throttled, is_coarse, remedy
from balance.questions.settings.flowspace import Control, shared_controls
from balance.questions.settings.marks import Marks, marks_of, round_to_marks, travel
from balance.questions.settings.search import Found, search
from balance.units import SYSTEMS, parse

Floats = NDArray[np.float64]

LEAST_TIME = 10.0  # [s] that a bucket should take to be timed well
USUAL_TOLERANCE = 0.10  # for bounds and ranges, when a valve is judged coarse
WIDE_OPEN = 0.97  # of its travel: the valve of an index branch


def settings(plan: Plan, *, marks: str | None = None, bucket: str | None = None) -> Settings:
    """Where each handle goes so that the branches get what they are asked to carry.

    Parameters
    ----------
    plan
        As read; it is not changed.
    marks
        Distance between marks: "5 deg", "1/4 turn", "2 %"; left out: 1 degree, 1/8 turn, 1 %.
    bucket
        Volume to time with, such as "1 gal"; left out: the least usual one that takes 10 s.

    Raises
    ------
    UsageError
        If the words make no sense, or the plan asks for nothing.
    NoSolutionError, SolveError
        As from solving.
    """
    distance = marks_of(marks)
    volume = None if bucket is None else (bucket, _volume(bucket))
    network = network_of(plan)
    _refuse_nothing_asked(plan)
    found = search(network)
    turned = (*found.space.controls, *_shared_turned(network, found))
    marked = round_to_marks(
        network,
        openings=found.openings,
        speeds=found.speeds,
        turned=turned,
        wishes=found.wishes,
        marks=distance,
        ranges=found.ranges,
        near=found.here.state,
    )
    set_plan = _set(plan, network, marked.openings, found.speeds)
    solution = solve(network_of(set_plan), near=marked.state)
    branches = _branches(network, found, solution, marked.openings, turned, distance, volume)
    met = all(branch.met and branch.within_limits for branch in branches) and _totals_met(
        found, branches
    )
    pumps = pump_duties(solution)
    changes = (
        ()
        if all(branch.met for branch in branches)
        else single_changes(
            network,
            missed=found.missed,
            tight=tuple(
                dict.fromkeys(
                    [name for name, _ in found.tight]
                    + [branch.branch for branch in branches if not branch.met]
                )
            ),
        )
    )
    return Settings(
        title=plan.title,
        met=met,
        handles=_handles(network, found, marked.openings, turned),
        branches=branches,
        pumps=pumps,
        out_of_reach=_dry_words(network, found),
        binding=_binding(network, found, branches),
        changes=changes,
        bleed=_bleed(network, found, solution, marked.openings, distance),
        notes=(*found.notes, *_total_notes(network, found, branches)),
        worst_imbalance=solution.worst_imbalance,
        worst_mismatch=solution.worst_mismatch,
        plan=set_plan,
    )


def _volume(text: str) -> float:
    volume = parse(text, "volume")
    if volume <= 0.0:
        raise UsageError(f'"{text}" is no bucket; write a volume such as "1 gal"')
    return volume


def _refuse_nothing_asked(plan: Plan) -> None:
    if not any(b.target is not None or b.share is not None for b in plan.branches):
        raise UsageError(
            "no branch has a target or a share, so there is nothing to set the valves for; "
            'write for example target = "120 gph" in a branch'
        )


def _shared_turned(network: Network, found: Found) -> tuple[Control, ...]:
    """Valves before several branches that were turned to share the burden."""
    names = {control.valve.name for control in found.space.controls}
    places = {valve.name: place for place, valve in enumerate(network.valves)}
    return tuple(
        control
        for control in shared_controls(network)
        if control.valve.name not in names
        and found.openings[places[control.valve.name], 0] < control.most
    )


def _set(plan: Plan, network: Network, openings: Floats, speeds: Floats) -> Plan:
    return plan.with_openings(
        {valve.name: float(row[0]) for valve, row in zip(network.valves, openings, strict=True)}
    ).with_speed({m.name: float(row[0]) for m, row in zip(network.machines, speeds, strict=True)})


def _handles(
    network: Network, found: Found, openings: Floats, turned: tuple[Control, ...]
) -> tuple[HandleMark, ...]:
    set_names = {control.valve.name for control in turned}
    rows = []
    for place, valve in enumerate(network.valves):
        opening = float(openings[place, 0])
        moved = valve.name in set_names or opening != valve.part.open
        rows.append(
            HandleMark(
                valve=valve.name,
                stretch=valve.stretch,
                handle=valve.part.handle,
                travel=travel(valve),
                opening=opening,
                mark=opening * travel(valve),
                stood=valve.part.open,
                exact=float(found.openings[place, 0]),
                role="locked" if valve.part.locked else "set" if moved else "stays",
            )
        )
    return tuple(rows)


def _branches(
    network: Network,
    found: Found,
    solution: Solution,
    openings: Floats,
    turned: tuple[Control, ...],
    marks: Marks,
    volume: tuple[str, float] | None,
) -> tuple[BranchFlow, ...]:
    by_stretch = {valve.stretch: valve for valve in network.valves if not valve.part.locked}
    controls = {control.valve.stretch: control for control in turned}
    index = _index(found, openings)
    rows = []
    # The wishes of branches come first, in their order, then those of groups.
    for branch, aim in zip(network.plan.branches, found.aims, strict=False):
        flow = solution.flow(branch.name)
        valve = by_stretch.get(branch.name)
        slope = None if valve is None else _slope(network, solution, openings, valve)
        control = controls.get(branch.name)
        coarse, help_ = False, None
        if control is not None and slope is not None and flow > 0.0 and aim.asked != "bleed":
            throttled = _throttled(network, solution, control, openings, flow, slope)
            tolerance = _half_width(aim)
            coarse = is_coarse(throttled, tolerance=tolerance, travel=travel(control.valve))
            if coarse:
                help_ = remedy(network, throttled, step=marks.step(control.valve))
        label, seconds = _bucket(network.plan, flow, volume)
        rows.append(
            BranchFlow(
                branch=branch.name,
                valve=None if valve is None else valve.name,
                flow=flow,
                aim=aim.aim if aim.asked and aim.asked != "bleed" else None,
                low=aim.low,
                high=aim.high,
                asked=aim.asked,
                met=branch.name not in found.out_of_reach
                and (not aim.asked or aim.asked == "bleed" or aim.judged(flow)),
                missing=float(aim.missing(np.array([flow]))[0]) if aim.asked else 0.0,
                limits=aim.limits or (None, None),
                within_limits=_within(aim, flow, network, branch, openings),
                velocity=network.layout.runs[network.row_of[branch.name]].stretch.velocity(flow),
                step="" if valve is None else marks.label(valve),
                flow_per_step=None
                if valve is None or slope is None or flow <= 0.0
                else abs(slope) * marks.step(valve),
                index=branch.name == index,
                bucket=label,
                bucket_time=seconds,
                read_by=_read_by(network, branch),
                coarse=coarse,
                remedy=help_,
            )
        )
    return tuple(rows)


def _index(found: Found, openings: Floats) -> str | None:
    """The branch with the least head to spare, if its valve stands wide open."""
    spare = found.here.spare
    if not len(spare):
        return None
    least = int(spare.argmin())
    control = found.space.controls[least]
    places = {valve.name: place for place, valve in enumerate(found.space.network.valves)}
    opening = float(openings[places[control.valve.name], 0])
    return control.valve.stretch if opening >= WIDE_OPEN * control.most else None


def _half_width(aim: Aim) -> float:
    """Tolerance as a share of the aim; half the width of a range."""
    if aim.asked == "range" and aim.aim and aim.high is not None:
        return aim.high / aim.aim - 1.0
    return aim.tolerance or USUAL_TOLERANCE


def _slope(network: Network, solution: Solution, openings: Floats, valve: Valve) -> float | None:
    """Share of its run's flow that a unit of travel of a valve moves; None when shut."""
    place = [v.name for v in network.valves].index(valve.name)
    loss = valve.law.loss_coefficient(openings[place])
    if not np.isfinite(loss.k[0]):
        return None
    flow = solution.state.flow[:, 0]
    push = np.zeros((network.topology.runs, 1))
    for row, scale in valve.places:
        push[row, 0] = flow[row] * abs(flow[row]) * scale * float(loss.slope[0])
    answer = respond(
        network.topology, solution.laws, solution.state, flow=np.zeros_like(push), head=push
    )
    return float(answer.flow[valve.run, 0] / flow[valve.run]) if flow[valve.run] else None


def _throttled(
    network: Network,
    solution: Solution,
    control: Control,
    openings: Floats,
    flow: float,
    slope: float,
) -> Throttled:
    place = [valve.name for valve in network.valves].index(control.valve.name)
    k = float(control.valve.law.loss_coefficient(openings[place]).k[0])
    scale = sum(scale for _, scale in control.valve.places)
    drop = float(network.topology.drop(solution.state.heads)[control.row, 0])
    return Throttled(control, flow, k * scale * flow**2, drop, slope)


def _bucket(plan: Plan, flow: float, volume: tuple[str, float] | None) -> tuple[str, float | None]:
    """The vessel to time a flow with, and the seconds it takes."""
    buckets = (volume,) if volume is not None else SYSTEMS[plan.units].buckets
    if flow <= 0.0:
        return buckets[0][0], None
    for label, size in buckets:
        if size / flow >= LEAST_TIME:
            return label, size / flow
    label, size = buckets[-1]
    return label, size / flow


def _read_by(network: Network, branch: Branch) -> str:
    last = branch.parts[-1] if branch.parts else None
    if branch.to is None:
        return "nothing flows: capped"
    if isinstance(last, OutletPart) and last.outlet == "free":
        return "bucket"
    if branch.to in network.plan.vessels or branch.to == "outside":
        return (
            "outlet under water: lead it by hose into a jug held at the water's height, "
            "or use a flow meter"
        )
    return "a flow meter"


def _within(aim: Aim, flow: float, network: Network, branch: Branch, openings: Floats) -> bool:
    low, high = aim.limits or (None, None)
    shut = any(
        valve.stretch == branch.name and openings[place, 0] <= 0.0
        for place, valve in enumerate(network.valves)
    )
    keeps_low = low is None or shut or flow >= low * (1 - 1e-6)
    return keeps_low and (high is None or flow <= high * (1 + 1e-6))


def _group_flows(found: Found, branches: tuple[BranchFlow, ...]) -> list[tuple[Aim, float]]:
    by_name = {branch.branch: branch.flow for branch in branches}
    return [
        (aim, sum(by_name[name] for name in aim.branches)) for aim in found.aims[len(branches) :]
    ]


def _totals_met(found: Found, branches: tuple[BranchFlow, ...]) -> bool:
    # The total of a group is met within the tolerance of its members at the least.
    return all(
        aim.judged(flow) or (aim.asked == "flow" and abs(flow / aim.scale - 1) <= USUAL_TOLERANCE)
        for aim, flow in _group_flows(found, branches)
    )


def _total_notes(
    network: Network, found: Found, branches: tuple[BranchFlow, ...]
) -> tuple[str, ...]:
    system = SYSTEMS[network.plan.units]
    return tuple(
        f"{aim.name} together: {system.text(flow, 'flow')}"
        + (f", asked {system.text(aim.aim, 'flow')}" if aim.aim else "")
        for aim, flow in _group_flows(found, branches)
    )


def _dry_words(network: Network, found: Found) -> tuple[str, ...]:
    """Each branch out of reach with its lift and what the pump has at rest."""
    system = SYSTEMS[network.plan.units]
    if not found.out_of_reach:
        return ()
    names = {branch.name for branch in network.plan.branches}
    rest = solve(
        network,
        # What several branches are fed through stands open, or none of them would feel the pump.
        openings=np.array(
            [
                [valve.part.open if valve.part.locked else (valve.part.stops or (0.0, 1.0))[1]]
                if valve.stretch not in names
                else [0.0]
                for valve in network.valves
            ]
        ).reshape(-1, 1),
        speeds=np.array(
            [
                [m.pump.speed_range[1] if m.pump.speed_range else m.pump.speed]
                for m in network.machines
            ]
        ).reshape(-1, 1),
    )
    words = []
    for name in found.out_of_reach:
        row = network.row_of[name]
        start, end = network.topology.start[row], network.topology.end[row]
        top, goal = float(rest.state.heads[start, 0]), float(rest.state.heads[end, 0])
        words.append(
            f'"{name}" is out of reach: its water must stand at {system.text(goal, "head")} '
            f"above the datum, and the pump at its top speed lifts to {system.text(top, 'head')} "
            "with all else shut; a pump with more head, or a lower outlet"
        )
    return tuple(words)


def _binding(network: Network, found: Found, branches: tuple[BranchFlow, ...]) -> tuple[str, ...]:
    """What stands in the way of targets that are missed, in words."""
    if all(branch.met and branch.within_limits for branch in branches):
        return ()
    words = []
    for place, machine in enumerate(network.machines):
        speed = float(found.speeds[place, 0])
        top = machine.pump.speed_range[1] if machine.pump.speed_range else speed
        if found.tight and speed >= top - 1e-9:
            words.append(
                f'pump "{machine.name}" runs at {100 * speed:.0f} %, the most it may, '
                "and more head would help"
            )
    if found.tight:
        names = ", ".join(f'"{name}"' for name, _ in found.tight)
        words.append(f"wide open and still wanting more: {names}")
    locked = {valve.stretch for valve in network.valves if valve.part.locked} - {
        control.valve.stretch for control in found.space.controls
    }
    for branch in branches:
        if not branch.met and branch.valve is None and branch.branch not in found.out_of_reach:
            why = "its valve is locked" if branch.branch in locked else "no valve sets it"
            words.append(f'"{branch.branch}" takes what it gets: {why}')
        low, high = branch.limits
        if not branch.within_limits:
            words.append(f'"{branch.branch}" cannot be kept within its limits')
        elif not branch.met and (
            (high is not None and branch.low is not None and high < branch.low)
            or (low is not None and branch.high is not None and low > branch.high)
        ):
            words.append(f'"{branch.branch}": its limits forbid its target')
    return tuple(words)


def _bleed(
    network: Network, found: Found, solution: Solution, openings: Floats, marks: Marks
) -> Bleed | None:
    """The shut spare that, opened a little, brings a pump back into its useful range."""
    for place, machine in enumerate(network.machines):
        useful = machine.useful_range(float(found.speeds[place, 0]))
        flow = solution.flow(machine.name)
        if useful is None or flow >= useful[0] * (1 - 1e-9):
            continue
        for spare in network.plan.branches:
            if spare.target is not None or spare.share is not None or spare.to is None:
                continue
            valves = [
                (v, valve)
                for v, valve in enumerate(network.valves)
                if valve.stretch == spare.name and not valve.part.locked
            ]
            if not valves:
                continue
            v, valve = valves[0]
            opening = _opened(network, found, openings, v, valve, machine.name, useful[0], marks)
            if opening is not None:
                at, bled = opening
                return Bleed(
                    valve=valve.name,
                    branch=spare.name,
                    opening=at,
                    flow=bled,
                    pump=machine.name,
                )
    return None


def _opened(
    network: Network,
    found: Found,
    openings: Floats,
    place: int,
    valve: Valve,
    pump: str,
    wanted: float,
    marks: Marks,
) -> tuple[float, float] | None:
    """Least mark of a spare at which the pump carries a flow, and what then runs to waste."""
    step = marks.step(valve)
    low, high = 0, round(1.0 / step)

    def at(mark: int) -> Solution:
        tried = openings.copy()
        tried[place, 0] = min(1.0, mark * step)
        return solve(network, openings=tried, speeds=found.speeds)

    if at(high).flow(pump) < wanted:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        if at(middle).flow(pump) >= wanted:
            high = middle
        else:
            low = middle
    return min(1.0, high * step), at(high).flow(valve.stretch)
