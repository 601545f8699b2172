"""What one scenario comes to: every branch, every pump, the headers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import inf, isfinite

from balance.questions.close.advice import Holding
from balance.questions.close.answer import (
    BranchChange,
    Case,
    Done,
    Harm,
    HeadMove,
    Part,
    Place,
    PumpMove,
)
from balance.questions.close.cases import Move, Scenario
from balance.questions.close.solved import BASE, Solved, Worked
from balance.questions.handles import mark

LEAST = 0.01
"""Share of all water, by which the rise of a branch that had less is divided; our own choice."""

_NOTHING = 1e-9  # [m³/s], a cup in three days: no rise


def case_of(
    solved: Solved, column: int, harms: tuple[Harm, ...], holding: Holding | None = None
) -> Case:
    """What a scenario comes to, beside the plan as it stands."""
    scenario = solved.scenarios[column]
    branches = tuple(_changes(solved, column))
    return Case(
        label=_label(scenario),
        done=tuple(_done(scenario)),
        branches=branches,
        most=_most(branches, float(solved.taken[BASE])),
        pumped_before=float(solved.taken[BASE]),
        pumped=float(solved.taken[column]),
        pumps=tuple(pump_moves(solved, column)),
        heads=head_moves(solved, column),
        harms=harms,
        holding=holding,
    )


def _label(scenario: Scenario) -> str:
    moved = [move.name for move in scenario.moves]
    return " + ".join((*moved, *(f"{name} clogged" for name, _ in scenario.clogs)))


def _done(scenario: Scenario) -> Iterator[Done]:
    for move in scenario.moves:
        ref = move.valve
        yield Done(
            name=move.name,
            what="shut" if move.shuts else "turned",
            valve=None if ref is None else ref.name,
            stood=None if ref is None else ref.part.open,
            opening=None if ref is None else move.opening,
            mark=_mark(move),
            more=None,
        )
    for name, more in scenario.clogs:
        yield Done(
            name=name, what="clogged", valve=None, stood=None, opening=None, mark="", more=more
        )


def _mark(move: Move) -> str:
    if move.valve is None:
        return "capped off"
    return mark(move.valve.part.model_copy(update={"open": move.opening}))


def _changes(solved: Solved, column: int) -> Iterator[BranchChange]:
    for branch in solved.network.plan.branches:
        flows = solved.flows(branch.name)
        before, flow = float(flows[BASE]), float(flows[column])
        yield BranchChange(
            branch=branch.name,
            part=_part(solved.scenarios[column], branch.name),
            before=before,
            flow=flow,
            change=flow - before,
            by=(flow - before) / abs(before) if before and before * flow >= 0.0 else None,
        )


def _part(scenario: Scenario, branch: str) -> Part:
    for move in scenario.moves:
        if move.stretch == branch:
            return "shut" if move.shuts else "turned"
    return "clogged" if any(name == branch for name, _ in scenario.clogs) else ""


def _most(branches: Sequence[BranchChange], pumped: float) -> BranchChange | None:
    """The branch that rises most for what it had, or for a little of all where it had none.

    One that is shut no longer runs back: that is no rise.
    """
    rising = [c for c in branches if c.change > _NOTHING and c.part != "shut"]

    def rise(change: BranchChange) -> float:
        least = max(abs(change.before), LEAST * pumped)
        return change.change / least if least else inf

    return max(rising, key=rise, default=None)


def pump_moves(solved: Solved, column: int) -> Iterator[PumpMove]:
    """How every pump moves along its curve."""
    for pump in solved.pumps:
        before, flow = float(pump.flow[BASE]), float(pump.flow[column])
        yield PumpMove(
            pump=pump.machine.name,
            flow_before=before,
            head_before=float(pump.head[BASE]),
            flow=flow,
            head=float(pump.head[column]),
            power=None if pump.power is None else float(pump.power[column]),
            place_before=_place(pump, before),
            place=_place(pump, flow),
        )


def _place(pump: Worked, flow: float) -> Place | None:
    if pump.speed == 0.0:
        return "stopped"
    if pump.useful is None:
        return None
    low, high = pump.useful
    return "below" if flow < low else "above" if flow > high else "inside"


def head_moves(solved: Solved, column: int) -> tuple[HeadMove, ...]:
    """Heads where the water comes to the headers."""
    found = []
    for joint, heads in solved.header_heads:
        before, head = (_finite(heads[at]) for at in (BASE, column))
        rise = None if before is None or head is None else head - before
        found.append(HeadMove(joint=joint, before=before, head=head, rise=rise))
    return tuple(found)


def _finite(head: float) -> float | None:
    return float(head) if isfinite(head) else None
