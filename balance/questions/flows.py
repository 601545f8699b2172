"""What flows with the valves and pumps as the plan has them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from balance.network.along import Along
from balance.network.arrays import network_of
from balance.network.solve import Solution, solve
from balance.plan.model import Branch, Plan
from balance.questions.aims import Aim, aims_of
from balance.questions.duty import PumpDuty, curve_notes, pump_duties
from balance.questions.handles import mark, valve_of
from balance.questions.pressures import Pressure, pressures_of
from balance.questions.record import Record, frame, quantity
from balance.questions.sources import source_of
from balance.questions.suctions import Suction, suctions_of
from balance.units import SYSTEMS

if TYPE_CHECKING:
    import pandas as pd

_ROUNDING = 1e-6  # of a bound, by which a flow may miss it and still count as met


@dataclass(frozen=True, kw_only=True)
class BranchState(Record):
    """What flows in one branch.

    Attributes
    ----------
    branch : name
    flow : [m³/s], negative if backwards
    velocity : the greatest in its pipe and hose [m/s]
    share : of all water that leaves vessels [ratio]
    tap : joint or vessel where it begins
    head_at_tap : total head there above the surface of the vessel that the water comes from [m];
        None where everything around the tap is shut
    valve : that sets it, None if none does
    opening : of that valve [ratio]
    mark : the same as a hand reads it
    low, high : flows between which its target counts as met; None where open [m³/s]
    met : the flow lies between; None where nothing is asked
    limits : the plan's limits of its flow [m³/s]
    within_limits : the flow keeps them; the lower one does not count for a branch that is shut
    """

    branch: str
    flow: float = quantity("flow")
    velocity: float = quantity("velocity")
    share: float = quantity("ratio")
    tap: str
    head_at_tap: float | None = quantity("head")
    valve: str | None
    opening: float | None = quantity("ratio")
    mark: str
    low: float | None = quantity("flow")
    high: float | None = quantity("flow")
    met: bool | None
    limits: tuple[float | None, float | None] = quantity("flow")
    within_limits: bool


@dataclass(frozen=True, kw_only=True)
class RunState(Record):
    """What flows in one run, branch, pump or piece of a header.

    Attributes
    ----------
    run : name
    kind : pump, run, header or branch
    start, end : joints and vessels
    flow : from start to end [m³/s]
    velocity : the greatest in its pipe and hose [m/s]; None for a pump
    """

    run: str
    kind: str
    start: str
    end: str
    flow: float = quantity("flow")
    velocity: float | None = quantity("velocity")


@dataclass(frozen=True, kw_only=True)
class JointState(Record):
    """Head at one joint.

    Attributes
    ----------
    joint : name
    head : total head above the plan's datum [m]; None where everything around it is shut
    """

    joint: str
    head: float | None = quantity("head")


@dataclass(frozen=True, kw_only=True)
class Flows(Record):
    """What flows with the valves and pumps as the plan has them.

    Attributes
    ----------
    title : of the plan
    branches : every branch
    pumps : every pump
    runs : all that water flows through
    joints : every joint
    pressures : along the way, where the plan gives heights
    suctions : of pumps, where the plan gives heights
    believable : no water column breaks, as far as heights are given
    notes : what a person should know about these flows, in words
    worst_imbalance : of flow at any joint [m³/s]
    worst_mismatch : of head along any run [m]
    plan : that was solved
    """

    title: str
    branches: tuple[BranchState, ...]
    pumps: tuple[PumpDuty, ...]
    runs: tuple[RunState, ...]
    joints: tuple[JointState, ...]
    pressures: tuple[Pressure, ...]
    suctions: tuple[Suction, ...]
    believable: bool
    notes: tuple[str, ...]
    worst_imbalance: float = quantity("flow")
    worst_mismatch: float = quantity("head")
    plan: Plan = field(metadata={"private": True})

    def to_frame(self) -> pd.DataFrame:
        """Branches as a pandas table."""
        return frame(self.branches)

    def pumps_frame(self) -> pd.DataFrame:
        """Pumps as a pandas table."""
        return frame(self.pumps)


def flows(plan: Plan) -> Flows:
    """Solve a plan with its valves and pumps as they stand.

    Vessels hold their levels; drains and weirs are left out.

    Parameters
    ----------
    plan : see `Plan.with_openings` and `Plan.with_speed` to try another setting

    Raises
    ------
    NoSolutionError
        Water is drawn where none can come.
    SolveError
        The flows did not settle.
    """
    solution = solve(network_of(plan))
    along = Along(solution)
    heads = along.heads
    # Flow of all water that leaves vessels.
    moved = float(solution.network.topology.taken(solution.state.flow)[0])
    pumps = pump_duties(solution)
    pressures, suctions = pressures_of(along), suctions_of(along)
    branches = tuple(
        _branch(solution, branch, aim, heads, moved)
        for branch, aim in zip(plan.branches, aims_of(plan), strict=False)  # then come totals
    )
    network = solution.network
    return Flows(
        title=plan.title,
        branches=branches,
        pumps=pumps,
        runs=tuple(
            RunState(
                run=run.name,
                kind=run.kind,
                start=run.start,
                end=run.end,
                flow=solution.flow(run.name),
                velocity=None if run.kind == "pump" else _velocity(solution, run.name),
            )
            for run in network.layout.runs
        ),
        joints=tuple(JointState(joint=joint, head=heads[joint]) for joint in network.joint_names),
        pressures=pressures,
        suctions=suctions,
        believable=not any(pressure.below_vapour for pressure in pressures),
        notes=(
            *_breaks(pressures),
            *_short_suctions(suctions, plan),
            *_notes(solution, branches, pumps, moved),
        ),
        worst_imbalance=solution.worst_imbalance,
        worst_mismatch=solution.worst_mismatch,
        plan=plan,
    )


def _velocity(solution: Solution, run: str) -> float:
    network = solution.network
    return network.layout.runs[network.row_of[run]].stretch.velocity(solution.flow(run))


def _branch(
    solution: Solution, branch: Branch, aim: Aim, heads: dict[str, float | None], moved: float
) -> BranchState:
    network = solution.network
    flow = solution.flow(branch.name)
    tap = network.layout.runs[network.row_of[branch.name]].start
    at, source = heads[tap], source_of(network, tap)
    surface = heads[source] if source is not None else None
    ref = valve_of(network.plan, branch.name)
    least, most = branch.limits
    is_shut = ref is not None and ref.part.open == 0.0
    return BranchState(
        branch=branch.name,
        flow=flow,
        velocity=_velocity(solution, branch.name),
        share=flow / moved if moved > 0.0 else 0.0,
        tap=tap,
        head_at_tap=at - surface if at is not None and surface is not None else None,
        valve=None if ref is None else ref.name,
        opening=None if ref is None else ref.part.open,
        mark="" if ref is None else mark(ref.part),
        low=aim.low,
        high=aim.high,
        met=aim.judged(flow) if aim.judges else None,
        limits=branch.limits,
        within_limits=_between(flow, None if is_shut else least, most),
    )


def _between(flow: float, low: float | None, high: float | None) -> bool:
    return (low is None or flow >= low * (1.0 - _ROUNDING)) and (
        high is None or flow <= high * (1.0 + _ROUNDING)
    )


def _breaks(pressures: tuple[Pressure, ...]) -> Iterator[str]:
    for pressure in pressures:
        if pressure.below_vapour:
            yield (
                f"the water would boil at {pressure.words}: its column breaks there, and these "
                "flows are not to be believed"
            )


def _short_suctions(suctions: tuple[Suction, ...], plan: Plan) -> Iterator[str]:
    system = SYSTEMS[plan.units]
    for suction in suctions:
        short = suction.short(system)
        if short is not None:
            yield f'pump "{suction.pump}" {short}'


def _notes(
    solution: Solution,
    branches: tuple[BranchState, ...],
    pumps: tuple[PumpDuty, ...],
    moved: float,
) -> Iterator[str]:
    plan = solution.network.plan
    if moved == 0.0:
        yield "nothing flows"
    for state in branches:
        if state.flow < 0.0:
            yield f'water runs backwards through "{state.branch}"'
    for duty in pumps:
        if duty.speed > 0.0 and duty.flow <= 0.0:
            yield (
                f'pump "{duty.pump}" turns and moves no water: it heats what stands in it '
                "(a dead-headed pump must not run on)"
            )
        elif duty.speed > 0.0 and duty.flow > duty.run_out * (1.0 + _ROUNDING):
            yield f'pump "{duty.pump}" runs beyond the end of its curve, where it is a guess'
        if duty.heat is not None and plan.pumps[duty.pump].external:
            yield (
                f'pump "{duty.pump}" stands in air: its heat in the water is taken as 70 % of its '
                "power, common for small motors"
            )
    yield from curve_notes(solution)
    unused = [
        word
        for word, there in (
            ("drains", plan.drains),
            ("weirs", plan.weirs),
            ("the water change", plan.change),
        )
        if there
    ]
    if unused:
        yield f"levels are held as the plan has them; {' and '.join(unused)} are left out here"
