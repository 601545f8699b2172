"""What one mark of each handle does to the flow of every branch, and what that means for trimming.

From the exact slopes at the state as it stands: so it tells of small moves.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Machine, Valve, network_of
from balance.network.settle import AT_REST
from balance.network.slopes import respond
from balance.network.solve import Solution, solve
from balance.plan.model import Plan
from balance.questions.aims import Aim, aims_of
from balance.questions.close import trimming
from balance.questions.handles import valve_of
from balance.questions.marks import Marks, marks_of
from balance.questions.record import Record, quantity
from balance.questions.speeds import is_free, step_of

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]

HARDLY = 0.1
"""Share of what all other branches are trimmed by that a branch may be disturbed by, for them to
count as hardly disturbing one another: a tolerance of 10 % is then used up by a tenth; our own
choice."""

ROUNDS = (1, 2, 3)  # whose ends are told

_NOTHING = 1e-6  # of its flow, by a mark: no handle that moves a branch by less can trim it


@dataclass(frozen=True, kw_only=True)
class Handle(Record):
    """A valve or a pump's speed, and what one mark of it does.

    Attributes
    ----------
    handle : name of the valve or pump
    kind : valve or pump
    mark : the move that is told of, in words: "1 deg" of opening, "1 % speed"
    at_its_end : it stands full open or at its top speed, so that it can only be turned back
    branch : that it sets by itself; None for the handle of a header, run or pump
    own : change of that branch's flow by the mark [ratio]
    strongest : the other branch that it disturbs most
    strongest_share : change of that one as a share of `own`, both in percent of their flows
    kept : share of a move's effect on its own branch that is left once all other branches have been
        trimmed back to their flows: one over the relative gain of bristol-1966; None where the
        branches cannot all be set for themselves
    """

    handle: str
    kind: Literal["valve", "pump"]
    mark: str
    at_its_end: bool
    branch: str | None
    own: float | None = quantity("ratio")
    strongest: str | None
    strongest_share: float | None = quantity("ratio")
    kept: float | None = quantity("ratio")


@dataclass(frozen=True, kw_only=True)
class LeftOut(Record):
    """A branch or handle of which nothing can be said, and why."""

    name: str
    kind: Literal["branch", "handle"]
    why: str


@dataclass(frozen=True, kw_only=True)
class Trimming(Record):
    """How setting one branch after another to its flow comes to rest, on the slopes as they stand.

    A round sets each branch once, in the order.

    Attributes
    ----------
    order : branches; of all orders, or of those tried, the one that leaves least after a round
    disturbed : the most that a branch, trimmed itself or not, is moved by trimming all the others
        by one, as it is worst [ratio]
    most_disturbed : that branch
    hardly : that is so little that any order will do
    left : after one round, two and three, the most that any branch can be off, as a share of the
        most that any was before [ratio]
    left_reversed : the same by the reverse of the order [ratio]
    each_round : what is left of the misses by each further round in the long run [ratio]
    all_at_once : the same where all are turned at once after one reading of all; at 1 or above such
        rounds lead nowhere [ratio]
    rounds : until all are within tolerance, from where they stand; None where no branch has an aim
    """

    order: tuple[str, ...]
    disturbed: float = quantity("ratio")
    most_disturbed: str
    hardly: bool
    left: tuple[float, ...] = quantity("ratio")
    left_reversed: tuple[float, ...] = quantity("ratio")
    each_round: float = quantity("ratio")
    all_at_once: float = quantity("ratio")
    rounds: int | None


@dataclass(frozen=True, kw_only=True)
class Interaction(Record):
    """What one mark of each handle does to the flow of every branch.

    Attributes
    ----------
    title : of the plan
    branches : with flow, in the order of the plan
    handles : those of the branches in the same order, then of runs and headers, then pumps
    change : of each branch (rows) by one mark of each handle (columns), of its flow [ratio]
    trimming : of the branches that have an aim and a handle of their own, of all that have a handle
        where none has an aim; None for fewer than two
    left_out : branches and handles of which nothing can be said
    plan : as it stands
    """

    title: str
    branches: tuple[str, ...]
    handles: tuple[Handle, ...]
    change: tuple[tuple[float, ...], ...] = quantity("ratio")
    trimming: Trimming | None
    left_out: tuple[LeftOut, ...]
    plan: Plan = field(metadata={"private": True})

    def to_frame(self) -> pd.DataFrame:
        """Branches by handles, in percent."""
        import pandas as pd

        return pd.DataFrame(
            100.0 * np.array(self.change).reshape(len(self.branches), len(self.handles)),
            index=pd.Index(self.branches, name="branch"),
            columns=pd.Index([handle.handle for handle in self.handles], name="percent by a mark"),
        )


def interaction(plan: Plan, *, marks: str | None = None) -> Interaction:
    """Say what one mark of each handle does to every branch, with the handles as they stand.

    Parameters
    ----------
    plan : as it stands; see `Plan.with_openings` and `Plan.with_speed` to ask of another setting
    marks : distance between marks: "5 deg", "1/4 turn", "2 %"; left out: 1 degree, 1/8 turn, 1 %

    Raises
    ------
    UsageError
        If the marks make no sense.
    NoSolutionError, SolveError
        As from solving.
    """
    distance = marks_of(marks)
    solution = solve(network_of(plan))
    branches = tuple(b.name for b in plan.branches if abs(solution.flow(b.name)) > AT_REST)
    columns, idle = _columns(solution, branches)
    change = by_marks(solution, branches, columns, distance)
    at_work = [
        column
        for column in range(len(columns))
        if np.abs(change[:, column]).max(initial=0.0) > _NOTHING
    ]
    still = [columns[column] for column in range(len(columns)) if column not in at_work]
    columns = [columns[column] for column in at_work]
    change = change[:, at_work]
    own = {
        branch: place
        for place, column in enumerate(columns)
        if (branch := _branch_of(column, plan)) is not None
    }
    trimmed = _trimmed(solution, branches, own, change)
    handles = [own[b] for b in trimmed]
    square = change[np.ix_([branches.index(b) for b in trimmed], handles)]
    beside = {b: change[row, handles] for row, b in enumerate(branches) if b not in trimmed}
    kept = dict(zip(trimmed, trimming.kept(square), strict=True))
    return Interaction(
        title=plan.title,
        branches=branches,
        handles=tuple(
            _handle(column, change[:, place], branches, kept, plan, distance)
            for place, column in enumerate(columns)
        ),
        change=tuple(tuple(float(value) for value in row) for row in change),
        trimming=_trimming(solution, trimmed, square, beside) if len(trimmed) > 1 else None,
        left_out=(
            *(
                LeftOut(name=branch.name, kind="branch", why="no flow")
                for branch in plan.branches
                if branch.name not in branches
            ),
            *idle,
            *(LeftOut(name=column.name, kind="handle", why=_why_idle(column)) for column in still),
        ),
        plan=plan,
    )


def by_marks(
    solution: Solution,
    branches: tuple[str, ...],
    columns: list[Valve | Machine],
    marks: Marks,
) -> Floats:
    """Change of branches' flows by one mark of each handle, (B, H), as a share of each flow.

    All in one elimination.
    """
    network, flow = solution.network, solution.state.flow[:, 0]
    head = np.zeros((network.topology.runs, len(columns)))
    pumps = solution.laws.pumps
    by_speed = None if pumps is None else pumps.by_speed(flow[pumps.of, None])[:, 0]
    for place, column in enumerate(columns):
        if isinstance(column, Valve):
            slope = float(column.law.loss_coefficient(np.array(column.part.open)).slope)
            for row, scale in column.places:
                head[row, place] = slope * marks.step(column) * scale * abs(flow[row]) * flow[row]
        elif by_speed is not None:
            turn = float(column.shaft_slope(np.array([column.pump.speed]))[0])
            pump = network.machines.index(column)
            head[column.run, place] = -by_speed[pump] * turn * step_of(column)
    answer = respond(
        network.topology, solution.laws, solution.state, flow=np.zeros_like(head), head=head
    )
    rows = [network.row_of[branch] for branch in branches]
    return np.asarray(answer.flow[rows] / flow[rows, None])


def _columns(
    solution: Solution, branches: tuple[str, ...]
) -> tuple[list[Valve | Machine], list[LeftOut]]:
    """Handles that can be turned, those of branches first; and the shut ones."""
    network = solution.network
    found: list[Valve | Machine] = []
    shut: list[LeftOut] = []
    order = {branch: place for place, branch in enumerate(branches)}
    for valve in sorted(network.valves, key=lambda v: order.get(v.stretch, len(order))):
        if valve.part.locked:
            continue
        if np.isinf(valve.law.loss_coefficient(np.array(valve.part.open)).k):
            shut.append(LeftOut(name=valve.name, kind="handle", why="shut"))
        else:
            found.append(valve)
    found += (machine for machine in network.machines if is_free(machine))
    return found, shut


def _why_idle(column: Valve | Machine) -> str:
    is_full = isinstance(column, Valve) and column.part.open >= 1.0
    return "full open, where a mark changes nothing" if is_full else "nothing flows through it"


def _branch_of(column: Valve | Machine, plan: Plan) -> str | None:
    """The branch that a handle sets by itself."""
    if isinstance(column, Machine):
        return None
    ref = valve_of(plan, column.stretch)
    in_branch = any(branch.name == column.stretch for branch in plan.branches)
    return column.stretch if in_branch and ref is not None and ref.name == column.name else None


def _trimmed(
    solution: Solution, branches: tuple[str, ...], own: dict[str, int], change: Floats
) -> tuple[str, ...]:
    """Branches that a hand would trim: with an aim, or all that run forwards where none has one."""
    settable = [
        branch
        for row, branch in enumerate(branches)
        if branch in own and change[row, own[branch]] > _NOTHING and solution.flow(branch) > 0.0
    ]
    asked = [b for b in settable if _aim(solution.network.plan, b) is not None]
    return tuple(asked or settable)


def _aim(plan: Plan, branch: str) -> Aim | None:
    """What a branch is to come to; None where nothing is asked, or no flow is."""
    aims = dict(zip((b.name for b in plan.branches), aims_of(plan), strict=False))
    aim = aims[branch]
    return aim if aim.aim is not None and aim.aim > 0.0 and aim.asked != "bleed" else None


def _handle(
    column: Valve | Machine,
    change: Floats,
    branches: tuple[str, ...],
    kept: dict[str, float | None],
    plan: Plan,
    marks: Marks,
) -> Handle:
    branch = _branch_of(column, plan)
    own = float(change[branches.index(branch)]) if branch in branches else None
    others = [place for place, name in enumerate(branches) if name != branch]
    most = max(others, key=lambda place: abs(change[place]), default=None)
    measured = own is not None and abs(own) > _NOTHING and most is not None
    if isinstance(column, Valve):
        mark, at_its_end = marks.label(column), column.part.open >= 1.0
    else:
        top = column.pump.speed_range
        mark = f"{100.0 * step_of(column):g} % speed"
        at_its_end = top is not None and column.pump.speed >= top[1]
    return Handle(
        handle=column.name,
        kind="valve" if isinstance(column, Valve) else "pump",
        mark=mark,
        at_its_end=at_its_end,
        branch=branch,
        own=own,
        strongest=None if most is None else branches[most],
        strongest_share=float(change[most] / own)
        if measured and own and most is not None
        else None,
        kept=None if branch is None else kept.get(branch),
    )


def _trimming(
    solution: Solution, branches: tuple[str, ...], square: Floats, beside: dict[str, Floats]
) -> Trimming:
    """How trimming comes to rest.

    Parameters
    ----------
    square : (n, n) change of each branch by a mark of each one's handle
    beside : the same (n,) of branches that no hand trims, which are disturbed all the same
    """
    spill = trimming.spill(square)
    order = trimming.best_order(spill)
    by_others = dict(zip(branches, np.abs(spill).sum(axis=1).tolist(), strict=True))
    for name, change in beside.items():
        by_others[name] = float(np.abs(change / square.diagonal()).sum())
    most_disturbed = max(by_others, key=lambda name: by_others[name])
    disturbed = by_others[most_disturbed]
    return Trimming(
        order=tuple(branches[place] for place in order),
        disturbed=disturbed,
        most_disturbed=most_disturbed,
        hardly=disturbed <= HARDLY,
        left=tuple(trimming.left(spill, order, rounds=n) for n in ROUNDS),
        left_reversed=tuple(trimming.left(spill, order[::-1], rounds=n) for n in ROUNDS),
        each_round=trimming.lasting(trimming.a_round(spill, order)),
        all_at_once=trimming.lasting(-spill),
        rounds=_rounds(solution, branches, spill, order),
    )


def _rounds(
    solution: Solution, branches: tuple[str, ...], spill: Floats, order: tuple[int, ...]
) -> int | None:
    """Rounds from where the branches stand until all of them are within tolerance."""
    aims = [_aim(solution.network.plan, branch) for branch in branches]
    flow = np.array([solution.flow(branch) for branch in branches])
    wanted = np.array([aim.aim if aim and aim.aim else 0.0 for aim in aims])
    if not wanted.all():
        return None

    def met(off: Floats) -> bool:
        then = wanted + off * flow
        return all(aim is not None and aim.judged(q) for aim, q in zip(aims, then, strict=True))

    return trimming.rounds(spill, order, (flow - wanted) / flow, met)
