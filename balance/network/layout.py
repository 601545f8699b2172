"""From a plan to runs, joints and tees with names: the drawing before the arithmetic."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import log
from typing import Literal

from balance.network.stretch import Stretch, stretch_of
from balance.parts import fittings
from balance.parts.pipes import nominal_bore
from balance.plan.learnt import Learnt
from balance.plan.model import Branch, Header, Part, PipePart, Plan, Run
from balance.plan.pieces import StraightPart
from balance.plan.reading import GaugePlace
from balance.water import Water

RunKind = Literal["pump", "run", "header", "branch"]
OUTSIDE = "outside"


def tap_joint(branch: str) -> str:
    """Name of the joint at which a branch leaves its header."""
    return f"{branch} tap"


SECOND_HALF = ", second half"  # of a run that is cut in two, behind its name


@dataclass(frozen=True)
class LaidRun:
    """A run between two nodes.

    Attributes
    ----------
    name : of the run, branch, pump or piece of header
    owner : name in the plan: of the run, branch, pump or header
    start, end : names of joints and fixed nodes
    stretch : its coefficients; None for a pump
    capped : it leads nowhere, or a cap closes it
    parts : what it was made of, in order, before any run was cut in two
    """

    name: str
    owner: str
    kind: RunKind
    start: str
    end: str
    stretch: Stretch
    capped: bool = False
    parts: tuple[Part, ...] = ()

    @property
    def whole(self) -> str:
        """Name of the run before it was cut in two, if it was."""
        return self.name.removesuffix(SECOND_HALF)

    @property
    def uncut(self) -> str:
        """Name of the run before it was cut at gauges too, which are in runs and branches only."""
        return self.whole if self.kind == "header" else self.owner


@dataclass(frozen=True)
class LaidTee:
    """A tee: its joint, and its legs as runs, the two straights first and the side last."""

    joint: str
    legs: tuple[int, int, int]
    area_ratio: float
    straight_bore: float
    angle: float


@dataclass
class Layout:
    """Everything of a plan that water flows through, drains left out.

    Attributes
    ----------
    runs : pumps first
    heads : of the fixed nodes: vessel levels, axes of free outlets, the open air [m]
    tees : joints with flow-dependent losses
    plain_joints : joints of three legs or more where no tee is taken into account
    """

    runs: list[LaidRun] = field(default_factory=list)
    heads: dict[str, float] = field(default_factory=dict)
    tees: list[LaidTee] = field(default_factory=list)
    plain_joints: list[str] = field(default_factory=list)

    def joints(self) -> list[str]:
        """Names of all joints, in the order in which runs reach them."""
        nodes = [node for run in self.runs for node in (run.start, run.end)]
        return [node for node in dict.fromkeys(nodes) if node not in self.heads]


def gauge_joint(gauge: GaugePlace) -> str:
    """Name of the joint in the middle of a pipe where a level is read."""
    return f"gauge in part {gauge.part + 1} of {gauge.stretch}"


def lay_out(plan: Plan, water: Water, *, gauges: Iterable[GaugePlace] = ()) -> Layout:
    """Runs, fixed heads and tees of a plan.

    Parameters
    ----------
    gauges : pipes that are cut at their middle, since a level is read there
    """
    layout = Layout()
    ends = _Ends(plan, layout)
    for name, pump in plan.pumps.items():
        if pump.use != "change":
            layout.runs.append(
                LaidRun(name, name, "pump", ends.at(pump.from_), ends.at(pump.to), Stretch())
            )
    for run in plan.runs:
        if run.use != "change":
            layout.runs.append(_plain(run, ends, water))
    tapped = {}
    for header in plan.headers:
        tapped.update(_lay_header(header, layout, water))
    for branch in plan.branches:
        layout.runs.append(_lay_branch(branch, tapped, ends, water))
    # From the last to the first of a stretch: what is before a cut keeps its name and its parts.
    for gauge in sorted(set(gauges), key=lambda each: -each.part):
        _cut_at(layout, gauge, water)
    _find_tees(plan, layout, tapped)
    if plan.learnt is not None:
        names = {id(ref.part): ref.name for ref in plan.valves()}
        layout.runs = [
            replace(run, stretch=as_learnt(run.stretch, plan.learnt, run=run, valves=names))
            for run in layout.runs
        ]
    return layout


def as_learnt(
    stretch: Stretch, learnt: Learnt, *, run: LaidRun, valves: Mapping[int, str]
) -> Stretch:
    """A stretch of a run, or a piece of it, as readings told.

    Parameters
    ----------
    run : that it belongs to
    valves : names of the plan's valves by the identity of their parts
    """
    if run.kind == "pump":
        return stretch
    factor = (
        learnt.value("loss", run.owner, default=1.0)
        if run.kind == "branch"
        else learnt.value("mains", default=1.0)
    )
    laws = [
        placed.law.learnt(
            open_factor=factor,
            log_factor=log(learnt.value("throttling", valves[id(placed.part)], default=1.0)),
            offset=learnt.value("offset", valves[id(placed.part)], default=0.0),
        )
        for placed in stretch.valves
    ]
    return stretch.lossier(factor, laws)


@dataclass(frozen=True)
class _Ends:
    """Turns names of the plan into nodes, and notes the heads of the fixed ones."""

    plan: Plan
    layout: Layout

    def is_vessel(self, name: str | None) -> bool:
        return name is not None and (name in self.plan.vessels or name == OUTSIDE)

    def at(self, name: str) -> str:
        if name in self.plan.vessels:
            self.layout.heads[name] = self.plan.vessels[name].level
        elif name == OUTSIDE:
            self.layout.heads.setdefault(OUTSIDE, 0.0)
        return name

    def end(self, name: str, run: str, stretch: Stretch) -> str:
        """Node at which a stretch ends: its vessel, or the axis of its free outlet."""
        if stretch.outlet_height is None or not self.is_vessel(name):
            return self.at(name)
        node = f"{run} outlet"
        self.layout.heads[node] = stretch.outlet_height
        return node


def _plain(run: Run, ends: _Ends, water: Water) -> LaidRun:
    stretch = stretch_of(
        run.parts,
        water=water,
        from_vessel=ends.is_vessel(run.from_),
        to_vessel=ends.is_vessel(run.to),
    )
    return LaidRun(
        run.name,
        run.name,
        "run",
        ends.at(run.from_),
        ends.end(run.to, run.name, stretch),
        stretch,
        capped=stretch.closed,
        parts=run.parts,
    )


@dataclass(frozen=True)
class _Tap:
    """Where a branch leaves its header: the runs before and after it, and its bores."""

    before: int
    after: int | None
    header_bore: float
    side_bore: float
    turn: Literal["tee", "elbow", "cap"]


def _lay_header(header: Header, layout: Layout, water: Water) -> dict[str, _Tap]:
    """Adds the pieces of a header; returns its taps by branch."""
    here = header.from_
    bore = header.pipe.bore
    taps: dict[str, _Tap] = {}
    parts: list[Part] = []
    for place, tap in enumerate(header.taps):
        last = place == len(header.taps) - 1
        parts.append(
            PipePart.model_construct(
                pipe=header.pipe,
                length=tap.after,
                roughness=header.roughness,
                friction_factor=header.friction_factor,
                count=1,
            )
        )
        parts.extend(tap.parts)
        if tap.branch is None and not last:
            continue
        closing = tap.branch is None
        there = header.to if closing and header.to else tap_joint(tap.branch or header.name)
        stretch = stretch_of(parts, water=water, bore_before=bore, bore_after=bore)
        toward = there if closing else tap.branch
        layout.runs.append(
            LaidRun(
                f"{header.name} to {toward}",
                header.name,
                "header",
                here,
                there,
                stretch,
                capped=stretch.closed,
                parts=tuple(parts),
            )
        )
        if tap.branch is not None:
            here_run = len(layout.runs) - 1
            ends_here = last and header.to is None
            taps[tap.branch] = _Tap(
                before=here_run,
                after=None if last else here_run + 1,
                header_bore=bore,
                side_bore=nominal_bore(tap.side_size) if tap.side_size else bore,
                turn="tee" if not ends_here else ("elbow" if tap.end == "elbow" else "cap"),
            )
        here, parts = there, []
    return taps


def _lay_branch(branch: Branch, tapped: dict[str, _Tap], ends: _Ends, water: Water) -> LaidRun:
    tap = tapped.get(branch.name)
    start = branch.from_ if branch.from_ is not None else tap_joint(branch.name)
    stretch = stretch_of(
        branch.parts,
        water=water,
        from_vessel=ends.is_vessel(branch.from_),
        to_vessel=ends.is_vessel(branch.to),
        bore_before=tap.side_bore if tap else None,
    )
    if tap is not None and tap.turn != "tee":
        # The last tap of a header turns all of the flow, as an elbow does, or a tee with one
        # straight leg capped.
        kind = "elbow 90" if tap.turn == "elbow" else "tee branch"
        loss = fittings.fitting(kind, tap.side_bore)
        stretch.lose(loss.k, tap.side_bore)
        stretch.laminar(loss.k_laminar, tap.side_bore, water.kinematic_viscosity)
    end = f"{branch.name} cap" if branch.to is None else ends.end(branch.to, branch.name, stretch)
    return LaidRun(
        branch.name,
        branch.name,
        "branch",
        ends.at(start),
        end,
        stretch,
        capped=branch.to is None or stretch.closed,
        parts=branch.parts,
    )


def _find_tees(plan: Plan, layout: Layout, tapped: dict[str, _Tap]) -> None:
    legs: dict[str, list[int]] = {}
    for row, run in enumerate(layout.runs):
        for node in (run.start, run.end):
            if node not in layout.heads:
                legs.setdefault(node, []).append(row)
    by_tap = {tap_joint(branch): (branch, tap) for branch, tap in tapped.items()}
    for joint, rows in legs.items():
        if len(rows) < 3:
            continue
        spec = plan.joints.get(joint)
        side = spec.side if spec is not None else None
        if side is None and joint in by_tap:
            side = by_tap[joint][0]
        sides = [row for row in rows if side is not None and layout.runs[row].owner == side]
        if len(rows) != 3 or not sides:
            layout.plain_joints.append(joint)
            continue
        side_row = sides[0]
        straights = [row for row in rows if row != side_row]
        # The straight leg that runs towards the joint as drawn comes first: a wye leans away
        # from it.
        straights.sort(key=lambda row: layout.runs[row].end != joint)
        tap = by_tap[joint][1] if joint in by_tap else None
        straight = tap.header_bore if tap else _bore(layout.runs, straights, joint)
        at_side = tap.side_bore if tap else _bore(layout.runs, [side_row], joint, straight)
        angle = 45.0 if spec is not None and spec.kind == "wye 45" else 90.0
        layout.tees.append(
            LaidTee(
                joint,
                (straights[0], straights[1], side_row),
                (at_side / straight) ** 2,
                straight,
                angle,
            )
        )


def _bore(
    runs: Sequence[LaidRun], rows: Sequence[int], joint: str, default: float = 0.025
) -> float:
    """Bore of the first of some legs that has one, at its joint [m]."""
    for row in rows:
        stretch = runs[row].stretch
        bore = stretch.bore_end if runs[row].end == joint else stretch.bore_start
        if bore is not None:
            return bore
    return default


def _cut_at(layout: Layout, gauge: GaugePlace, water: Water) -> None:
    """Cuts a run at the middle of one of its pipes; what follows is a run with the same owner.

    What follows begins in a pipe, so it is known by its parts; what leads there is the rest, with
    whatever stands before the first part.
    """
    row = next(row for row, run in enumerate(layout.runs) if run.name == gauge.stretch)
    run, joint = layout.runs[row], gauge_joint(gauge)
    pipe = run.parts[gauge.part]
    if not isinstance(pipe, StraightPart):
        raise TypeError(f'part {gauge.part + 1} of "{gauge.stretch}" is no pipe')
    half = pipe.model_copy(update={"length": pipe.length * pipe.count / 2, "count": 1})
    after = (half, *run.parts[gauge.part + 1 :])
    tail = stretch_of(after, water=water, to_vessel=run.end in layout.heads)
    before = (*run.parts[: gauge.part], half)
    head = run.stretch.less(tail, bore_end=half.bore_to)
    head.one_way = stretch_of(before, water=water).one_way
    layout.runs[row] = replace(run, end=joint, stretch=head, parts=before)
    layout.runs.append(
        replace(
            run,
            name=f"{run.name} from {joint}",
            start=joint,
            end=run.end,
            stretch=tail,
            parts=after,
        )
    )


def cut_in_two(layout: Layout, run: int) -> int:
    """Cuts a run at its middle; returns the row of the second half.

    The second half keeps the end, so a tee there must be told.
    """
    laid = layout.runs[run]
    middle = f"middle of {laid.name}"
    first, second = laid.stretch.halves()
    layout.runs[run] = replace(laid, end=middle, stretch=first)
    layout.runs.append(
        replace(laid, name=f"{laid.name}{SECOND_HALF}", start=middle, stretch=second)
    )
    return len(layout.runs) - 1
