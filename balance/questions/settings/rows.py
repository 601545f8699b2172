"""What each handle and each branch comes to at the marks."""

from __future__ import annotations

import numpy as np

from balance.network.arrays import Valve
from balance.plan.model import Branch
from balance.plan.targets import TOLERANCE
from balance.questions.aims import Aim
from balance.questions.buckets import Bucket, timed, way_to_read
from balance.questions.handles import valve_of
from balance.questions.handling import flow_per_travel
from balance.questions.marks import travel
from balance.questions.settings.answer import BranchFlow, HandleMark, Total
from balance.questions.settings.at_marks import AtMarks
from balance.questions.settings.coarse import Throttled, is_coarse, remedy
from balance.questions.settings.flowspace import Control
from balance.units import SYSTEMS

WIDE_OPEN = 0.97  # of its travel: the valve of an index branch; our own choice


def handle_rows(at: AtMarks) -> tuple[HandleMark, ...]:
    """A row for each valve, as the network has them."""
    set_names = {control.valve.name for control in at.turned}
    rows = []
    for place, valve in enumerate(at.network.valves):
        opening = at.opening(valve)
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
                exact=float(at.found.openings[place, 0]),
                role="locked" if valve.part.locked else "set" if moved else "stays",
            )
        )
    return tuple(rows)


def branch_rows(at: AtMarks, *, bucket: Bucket | None) -> tuple[BranchFlow, ...]:
    """A row for each branch, as the plan has them.

    Parameters
    ----------
    bucket : to time flows with; None: the least usual one that takes long enough
    """
    index = _index(at)
    # The wishes of branches come first, in their order, then those of groups.
    rows = zip(at.network.plan.branches, at.found.aims, at.found.flow, strict=False)
    return tuple(
        _branch_row(at, branch, aim, float(exact), index=branch.name == index, bucket=bucket)
        for branch, aim, exact in rows
    )


def total_rows(at: AtMarks, branches: tuple[BranchFlow, ...]) -> tuple[Total, ...]:
    """A row for each group with a target, as the plan has them."""
    by_name = {branch.branch: branch for branch in branches}
    rows = []
    for aim in at.found.aims[len(branches) :]:
        members = [by_name[name] for name in aim.branches]
        aims = [branch.aim for branch in members if branch.aim is not None]
        flow = sum(branch.flow for branch in members)
        rows.append(
            Total(
                group=aim.group,
                branches=aim.branches,
                flow=flow,
                low=aim.low,
                high=aim.high,
                asked=sum(aims) if len(aims) == len(members) else None,
                met=aim.judged(flow),
            )
        )
    return tuple(rows)


def _branch_row(
    at: AtMarks, branch: Branch, aim: Aim, exact: float, *, index: bool, bucket: Bucket | None
) -> BranchFlow:
    network, marks = at.network, at.marks
    flow = at.solution.flow(branch.name)
    ref = valve_of(network.plan, branch.name)
    valve = next(
        (v for v in network.valves if v.stretch == branch.name and not v.part.locked), None
    )
    slope = None if valve is None else _slope(at, valve)
    control = next((c for c in at.turned if c.valve.stretch == branch.name), None)
    coarse, help_ = False, None
    if control is not None and slope is not None and flow > 0.0 and aim.asked != "bleed":
        throttled = _throttled(at, control, flow, slope)
        coarse = is_coarse(throttled, tolerance=_half_width(aim), travel=travel(control.valve))
        if coarse:
            help_ = remedy(network, throttled, step=marks.step(control.valve))
    label, seconds = timed(
        flow, SYSTEMS[network.plan.units].buckets if bucket is None else (bucket,)
    )
    return BranchFlow(
        branch=branch.name,
        valve=None if ref is None else ref.name,
        flow=flow,
        exact=exact,
        aim=aim.aim if aim.asked and aim.asked != "bleed" else None,
        low=aim.low,
        high=aim.high,
        asked=aim.asked,
        met=_met(at, aim, flow),
        missing=float(aim.missing(np.array([flow]))[0]) if aim.asked else 0.0,
        limits=aim.limits or (None, None),
        within_limits=_within(at, aim, branch, flow),
        velocity=network.layout.runs[network.row_of[branch.name]].stretch.velocity(flow),
        step="" if valve is None else marks.label(valve),
        flow_per_step=None
        if valve is None or slope is None or flow <= 0.0
        else abs(slope) * marks.step(valve),
        index=index,
        bucket=label,
        bucket_time=seconds,
        read_by=way_to_read(network.plan, branch),
        coarse=coarse,
        remedy=help_,
    )


def _met(at: AtMarks, aim: Aim, flow: float) -> bool:
    if aim.asked in ("", "bleed"):
        return True
    return aim.name not in {dry.branch for dry in at.found.dry} and aim.judged(flow)


def _index(at: AtMarks) -> str | None:
    """The branch with the least head to spare, if its valve stands wide open."""
    spare = at.found.here.spare
    if not len(spare):
        return None
    control = at.found.space.controls[int(spare.argmin())]
    wide = at.opening(control.valve) >= WIDE_OPEN * control.most
    return control.valve.stretch if wide else None


def _half_width(aim: Aim) -> float:
    """Tolerance as a share of the aim; half the width of a range."""
    if aim.asked == "range" and aim.aim and aim.high is not None:
        return aim.high / aim.aim - 1.0
    return aim.tolerance or TOLERANCE


def _slope(at: AtMarks, valve: Valve) -> float | None:
    """Share of its run's flow that a unit of travel of a valve moves; None when shut."""
    flow = float(at.solution.state.flow[valve.run, 0])
    moved = flow_per_travel(at.solution, valve, at.opening(valve))
    return moved / flow if moved is not None and flow else None


def _throttled(at: AtMarks, control: Control, flow: float, slope: float) -> Throttled:
    k = float(control.valve.law.loss_coefficient(at.openings[at.place(control.valve)]).k[0])
    scale = sum(scale for _, scale in control.valve.places)
    drop = float(at.network.topology.drop(at.solution.state.heads)[control.row, 0])
    return Throttled(control, flow, k * scale * flow**2, drop, slope)


def _within(at: AtMarks, aim: Aim, branch: Branch, flow: float) -> bool:
    low, high = aim.limits or (None, None)
    # What the search shut is shut on purpose; what only the marks shut is not.
    openings = zip(at.network.valves, at.found.openings[:, 0], strict=True)
    shut = any(valve.stretch == branch.name and opening <= 0.0 for valve, opening in openings)
    keeps_low = low is None or shut or flow >= low * (1 - 1e-6)
    return keeps_low and (high is None or flow <= high * (1 + 1e-6))
