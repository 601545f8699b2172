"""A valve that cannot be shut, or must be taken out: what else must be shut, and who loses flow."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from balance.errors import UsageError
from balance.network.arrays import Network, network_of
from balance.network.settle import AT_REST, State
from balance.network.solve import settled, unsettled
from balance.plan.model import FittingPart, HosePart, Part, Plan, ValveRef
from balance.questions.close.cuts import Cut, Question, question_of
from balance.questions.close.piping import End, Link, Piping, piping_of
from balance.questions.record import Record, frame, quantity

if TYPE_CHECKING:
    import pandas as pd

Bools = NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Standing(Record):
    """Water of a vessel that stands against the valve with no valve between.

    Attributes
    ----------
    vessel : whose water it is
    stretch : by which it comes
    end : of that stretch in the vessel: where it begins there, or ends
    check : a check valve stands between
    """

    vessel: str
    stretch: str
    end: Literal["inlet", "outlet"]
    check: bool


@dataclass(frozen=True, kw_only=True)
class FlowChange(Record):
    """What a branch gets as it stands and with the valve cut off [m³/s]."""

    branch: str
    before: float = quantity("flow")
    after: float = quantity("flow")


@dataclass(frozen=True, kw_only=True)
class Way(Record):
    """One way to keep all water under pressure from the valve.

    Attributes
    ----------
    kind : the fewest handles, or those nearest to the valve, which leave the most running
    shut : valves to be shut
    keep_shut : valves shut already that must stay so
    stop : pumps to be stopped since no valve stands between, or since they draw or push against
        shut valves then
    dead_headed : those that have valves between, but would turn without flow
    standing : vessels whose water nothing but a check valve, or nothing at all, keeps away
    checked : valves to be shut though a check valve stands behind them: it may leak
    without : branches that no water is led to any more
    flows : of every branch, as the plan stands and then
    left : flow that the solver still finds through the valve; None in a drain [m³/s]
    """

    kind: Literal["fewest", "nearest"]
    shut: tuple[str, ...]
    keep_shut: tuple[str, ...]
    stop: tuple[str, ...]
    dead_headed: tuple[str, ...]
    standing: tuple[Standing, ...]
    checked: tuple[str, ...]
    without: tuple[str, ...]
    flows: tuple[FlowChange, ...]
    left: float | None = quantity("flow")

    @property
    def dry(self) -> tuple[str, ...]:
        """Those branches that have no flow then: no water runs back through them either."""
        return tuple(
            change.branch
            for change in self.flows
            if change.branch in self.without and abs(change.after) <= AT_REST
        )

    @property
    def starved(self) -> tuple[str, ...]:
        """Branches that water is still led to, and that get none any more."""
        return tuple(
            change.branch
            for change in self.flows
            if change.branch not in self.without and change.before > AT_REST >= change.after
        )

    @property
    def backwards(self) -> tuple[str, ...]:
        """Branches through which water runs back then, and does not as it stands."""
        return tuple(
            change.branch
            for change in self.flows
            if change.after < -AT_REST and change.before >= -AT_REST
        )


@dataclass(frozen=True, kw_only=True)
class CutOff(Record):
    """What one valve cuts off when it is shut alone.

    Attributes
    ----------
    valve : name
    stretch : in which it stands
    branches : that no water is led to any more
    all : these are all that had water
    """

    valve: str
    stretch: str
    branches: tuple[str, ...]
    all: bool


@dataclass(frozen=True, kw_only=True)
class Isolation(Record):
    """What must be shut so that a valve can be taken out, and what each valve cuts off.

    Attributes
    ----------
    title : of the plan
    valve : that is stuck or to be taken out
    stretch : in which it stands
    ways : with the fewest handles first; a second only where it leaves more branches running
    loose_before, loose_after : a union or hose in its stretch frees it on that side
    cut_offs : what each open valve cuts off by itself
    notes : what else a person should know, in words
    plan : as it stands
    """

    title: str
    valve: str
    stretch: str
    ways: tuple[Way, ...]
    loose_before: bool
    loose_after: bool
    cut_offs: tuple[CutOff, ...]
    notes: tuple[str, ...]
    plan: Plan = field(metadata={"private": True})

    def to_frame(self) -> pd.DataFrame:
        """Flows of the first way as a pandas table."""
        return frame(self.ways[0].flows)


def isolate(plan: Plan, valve: str) -> Isolation:
    """Say what must be shut so that no water under pressure comes to a valve, and who loses flow.

    Check valves are not trusted: they hold back, but not for certain.

    Parameters
    ----------
    plan : as it stands; it is not changed
    valve : its name, or that of a stretch with one valve

    Raises
    ------
    UnknownNameError
        With the nearest name.
    UsageError
        The valve stands in what serves for water changes alone.
    NoSolutionError, SolveError
        As from solving.
    """
    ref = plan.valve_of(valve)
    piping = piping_of(plan)
    link = _link(piping, ref)
    question = question_of(piping, link)
    network = network_of(plan)
    fewest = _way("fewest", question, network)
    nearest = _way("nearest", question, network)
    keeps_more = len(nearest.without) < len(fewest.without)
    before, after = _beside(plan, ref)
    return Isolation(
        title=plan.title,
        valve=ref.name,
        stretch=ref.stretch,
        ways=(fewest, nearest) if keeps_more else (fewest,),
        loose_before=before,
        loose_after=after,
        cut_offs=cut_offs(piping),
        notes=tuple(_notes(plan, ref, fewest)),
        plan=plan,
    )


def cut_offs(piping: Piping) -> tuple[CutOff, ...]:
    """What each open valve cuts off when it is shut alone, drains left out."""
    fed = piping.fed()
    drains = {drain.name for drain in piping.plan.drains}
    found = []
    for link in piping.links:
        if link.ref is not None and not link.shut and link.owner not in drains:
            lost = fed - piping.fed(shut={link.ref.name})
            branches = tuple(b.name for b in piping.plan.branches if b.name in lost)
            found.append(
                CutOff(
                    valve=link.ref.name,
                    stretch=link.ref.stretch,
                    branches=branches,
                    all=lost == fed and len(fed) > 1,
                )
            )
    return tuple(found)


def _notes(plan: Plan, ref: ValveRef, way: Way) -> Iterator[str]:
    for drain in plan.drains:
        if drain.name == ref.stretch:
            others = [
                f'"{other.name}"'
                for other in plan.drains
                if other.from_ == drain.from_ and other.name != drain.name
            ]
            must = f"must go by {' and '.join(others)}" if others else "has no other way"
            yield (
                f'what "{drain.name}" carries {must} meanwhile: stop what feeds "{drain.from_}" '
                "if that is too little"
            )
    if way.left is not None and abs(way.left) > AT_REST:
        yield (
            "water may still run through it from one vessel to a lower one, as in a siphon, until "
            "it draws in air"
        )


def _link(piping: Piping, ref: ValveRef) -> Link:
    for link in piping.links:
        if link.ref is not None and link.ref.name == ref.name:
            return link
    raise UsageError(
        f'"{ref.name}" stands in "{ref.stretch}", which serves for water changes alone: nothing '
        "is known of the water that comes to it otherwise"
    )


def _way(kind: Literal["fewest", "nearest"], question: Question, network: Network) -> Way:
    """A cut, with pumps stopped that would turn without flow; then what flows is solved."""
    plan = network.plan
    base = _solved(network, (), (), ())
    stopped: set[str] = set()
    while True:
        cut = (
            question.fewest(stopped=stopped)
            if kind == "fewest"
            else question.nearest(stopped=stopped)
        )
        still = (*stopped, *cut.stop)
        state = _solved(network, cut.shut, still, cut.standing)
        dead = {
            machine.name
            for machine in network.machines
            if machine.name not in still
            and abs(base.flow[machine.run, 0]) > AT_REST >= abs(state.flow[machine.run, 0])
        }
        if not dead:
            break
        stopped |= dead
    fed = question.piping.fed()
    lost = fed - question.piping.fed(shut=cut.shut, stopped=still, plugged=cut.standing)
    rows = network.row_of
    stuck = next((v.run for v in network.valves if v.name == _name(question.link)), None)
    return Way(
        kind=kind,
        shut=cut.shut,
        keep_shut=cut.keep_shut,
        stop=tuple(pump for pump in plan.pumps if pump in still),
        dead_headed=tuple(pump for pump in plan.pumps if pump in stopped),
        standing=tuple(_standing(question, end, cut) for end in cut.standing),
        checked=tuple(question.only_if_a_check_leaks(cut, stopped=still)),
        without=tuple(branch.name for branch in plan.branches if branch.name in lost),
        flows=tuple(
            FlowChange(
                branch=branch.name,
                before=float(base.flow[rows[branch.name], 0]),
                after=float(state.flow[rows[branch.name], 0]),
            )
            for branch in plan.branches
        ),
        left=None if stuck is None else float(state.flow[stuck, 0]),
    )


def _name(link: Link) -> str:
    return "" if link.ref is None else link.ref.name


def _raised(standing: Collection[End]) -> set[str]:
    """Stretches whose ends are lifted out of the water, or plugged."""
    return {end.owner for end in standing}


def _standing(question: Question, end: End, cut: Cut) -> Standing:
    return Standing(
        vessel=end.vessel,
        stretch=end.owner,
        end="inlet" if end.begins else "outlet",
        check=question.behind_a_check(end, cut),
    )


def _solved(
    network: Network, shut: Collection[str], stopped: Collection[str], raised: Collection[End]
) -> State:
    """What flows with valves shut, pumps stopped, and ends out of the water."""
    openings, speeds = network.openings, network.speeds
    for row, valve in enumerate(network.valves):
        if valve.name in shut:
            openings[row] = 0.0
    for row, machine in enumerate(network.machines):
        if machine.name in stopped:
            speeds[row] = 0.0
    laws, held = network.at(openings, speeds)
    held = held.copy()
    for run in _raised(raised):
        if run in network.row_of:
            held[network.row_of[run]] = True
    # What is drawn at a joint that no water comes to is not drawn then.
    dry = network.topology.isolated(held)
    state = settled(replace(network, draw=np.where(dry, 0.0, network.draw)), laws, held=held)
    if not state.converged[0]:
        raise unsettled(network, laws, state)
    return state


def _beside(plan: Plan, ref: ValveRef) -> tuple[bool, bool]:
    """Whether a union or a hose frees the valve on either side, in its stretch."""
    parts = _parts_of(plan, ref)
    return (
        any(map(_comes_loose, parts[: ref.index])),
        any(map(_comes_loose, parts[ref.index + 1 :])),
    )


def _parts_of(plan: Plan, ref: ValveRef) -> tuple[Part, ...]:
    """The parts among which a valve's index counts."""
    for stretch in plan.stretches():
        if stretch.name == ref.stretch:
            return stretch.parts
    taps = (tap for header in plan.headers for tap in header.taps)
    return next(tap.parts for tap in taps if any(part is ref.part for part in tap.parts))


def _comes_loose(part: Part) -> bool:
    return isinstance(part, HosePart) or (
        isinstance(part, FittingPart) and part.fitting in ("union", "barb")
    )
