"""What is drawn as a graph: stretches in series as lines, and bars on which they meet.

A bar is a header with its taps, or a joint of three legs or more.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from balance.network.layout import tap_joint
from balance.plan.model import OUTSIDE, Drain, Header, Part, Plan
from balance.questions.flows import Flows

if TYPE_CHECKING:
    import networkx as nx

Kind = Literal["pump", "run", "header", "branch", "drain", "draw", "link"]
Terminal = Literal["cap", "outside", "draw", "end"]


@dataclass(frozen=True)
class Way:
    """A stretch of the plan, from its start to its end.

    Attributes
    ----------
    kind : "draw" is what is drawn off at a joint, "link" a header's own way to its joint
    flow : [m³/s]; None where it is not known
    light : in use for water changes only
    """

    name: str
    kind: Kind
    start: str
    end: str
    parts: tuple[Part, ...] = ()
    flow: float | None = None
    light: bool = False


@dataclass(frozen=True)
class Step:
    """A stretch on a line, along with it or against it."""

    way: Way
    along: bool


@dataclass(frozen=True)
class Line:
    """Stretches in series between two vessels, bars or open ends."""

    steps: tuple[Step, ...]
    start: str
    end: str

    @property
    def flow(self) -> float | None:
        """From its start to its end [m³/s]; None where it is not known."""
        step = self.steps[0]
        if step.way.flow is None:
            return None
        return step.way.flow if step.along else -step.way.flow

    @property
    def light(self) -> bool:
        """Whether it is in use for water changes only."""
        return all(step.way.light for step in self.steps)

    @property
    def pumps(self) -> tuple[str, ...]:
        """Its pumps."""
        return tuple(step.way.name for step in self.steps if step.way.kind == "pump")


@dataclass
class Bar:
    """Joints side by side on a level.

    Attributes
    ----------
    places : of its joints along it
    pieces : of headers, between two joints
    names : of headers, or of the joint, with their places and the flow that begins there
    height : above the datum [m]; None where it is not told
    sides : of its first joint that headers have taken
    """

    places: dict[str, float]
    pieces: list[Way] = field(default_factory=list)
    names: dict[str, tuple[float, float | None]] = field(default_factory=dict)
    height: float | None = None
    sides: int = 0

    @property
    def is_joint(self) -> bool:
        """Whether it is a joint alone, on which lines stand in a row."""
        return not self.pieces


@dataclass
class Works:
    """All that is drawn.

    Attributes
    ----------
    terminals : ends that are neither in a vessel nor on a bar
    """

    plan: Plan
    bars: list[Bar] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    terminals: dict[str, Terminal] = field(default_factory=dict)
    home: dict[str, Bar] = field(default_factory=dict)


def works_of(answer: Flows) -> Works:
    """Take a plan and what flows in it apart into bars and lines."""
    import networkx as nx

    works = Works(answer.plan)
    flows = {run.run: run.flow for run in answer.runs}
    graph = nx.MultiGraph()
    ways = (*_headers(works, flows), *_ways(works, flows))
    for way in ways:
        graph.add_edge(way.start, way.end, way=way)
    through = _find_bars(works, graph)
    places = {id(way): place for place, way in enumerate(ways)}
    works.lines = sorted(
        _lines(graph, through),
        key=lambda line: (line.light, min(places[id(step.way)] for step in line.steps)),
    )
    return works


def bundles_of(plan: Plan) -> dict[tuple[str, str, bool], list[Drain]]:
    """Drains side by side: those that share the vessel they leave and the one they come to."""
    found: dict[tuple[str, str, bool], list[Drain]] = {}
    for drain in plan.drains:
        if drain.to in plan.vessels or drain.to == OUTSIDE:
            key = drain.from_, drain.to, drain.role == "change"
            found.setdefault(key, []).append(drain)
    return found


def _headers(works: Works, flows: dict[str, float]) -> Iterator[Way]:
    """Lay headers out as bars; give the links that tie those which cannot share a joint's bar."""
    plan = works.plan
    origins = [header.from_ for header in plan.headers]
    for header in plan.headers:
        joints, pieces = _pieces(header, flows)
        start = joints[0]
        bar = works.home.get(start)
        fits = bar is None or (bar.places.get(start) == 0.0 and bar.sides == 1)
        if start in plan.vessels or start == OUTSIDE or not fits:
            fresh = f"{header.name} start"
            yield Way(header.name, "link", start, fresh, flow=pieces[0].flow)
            start, bar = fresh, None
        if bar is None:
            bar = Bar({start: 0.0})
            works.bars.append(bar)
            works.home[start] = bar
        leftward = origins.count(header.from_) > 1 and bar.sides == 0
        bar.sides += 1
        last = joints[-1]
        if last in works.home or last in plan.vessels or last == OUTSIDE:
            joints[-1] = f"{header.name} end"
            yield Way(header.name, "link", joints[-1], last, flow=pieces[-1].flow)
        for step, joint in enumerate(joints[1:], start=1):
            bar.places[joint] = float(-step if leftward else step)
            works.home[joint] = bar
        bar.pieces.extend(
            Way(piece.name, "header", near, far, piece.parts, piece.flow)
            for piece, near, far in zip(pieces, [start, *joints[1:-1]], joints[1:], strict=True)
        )
        bar.names[header.name] = (-0.5 if leftward else 0.5, pieces[0].flow)
        bar.height = header.height if bar.height is None else bar.height


def _pieces(header: Header, flows: dict[str, float]) -> tuple[list[str], list[Way]]:
    """Joints of a header in its order, and the pieces between them."""
    joints, pieces, parts = [header.from_], [], list[Part]()
    for place, tap in enumerate(header.taps, start=1):
        parts += tap.parts
        if tap.branch is None and place < len(header.taps):
            continue
        closing = tap.branch is None and header.to is not None
        joint = str(header.to) if closing else tap_joint(tap.branch or header.name)
        name = f"{header.name} to {joint if tap.branch is None else tap.branch}"
        pieces.append(Way(name, "header", joints[-1], joint, tuple(parts), flows.get(name, 0.0)))
        joints.append(joint)
        parts = []
    return joints, pieces


def _ways(works: Works, flows: dict[str, float]) -> Iterator[Way]:
    plan = works.plan

    def end(name: str | None, way: str) -> str:
        if name is not None and name != OUTSIDE:
            return name
        terminal = f"{way}, {name or 'cap'}"
        works.terminals[terminal] = "cap" if name is None else "outside"
        return terminal

    for name, pump in plan.pumps.items():
        light = pump.use == "change"
        yield Way(
            name, "pump", end(pump.from_, f"{name} from"), end(pump.to, name),
            flow=flows.get(name), light=light,
        )  # fmt: skip
    for run in plan.runs:
        yield Way(
            run.name, "run", end(run.from_, f"{run.name} from"), end(run.to, run.name), run.parts,
            flows.get(run.name), light=run.use == "change",
        )  # fmt: skip
    for branch in plan.branches:
        start = tap_joint(branch.name) if branch.from_ is None else branch.from_
        yield Way(
            branch.name, "branch", end(start, f"{branch.name} from"), end(branch.to, branch.name),
            branch.parts, flows.get(branch.name),
        )  # fmt: skip
    for drain in plan.drains:
        if drain.to not in plan.vessels and drain.to != OUTSIDE:
            light = drain.role == "change"
            yield Way(drain.name, "drain", drain.from_, drain.to, drain.parts, light=light)
    for name, joint in plan.joints.items():
        if joint.draw > 0.0:
            works.terminals[f"{name}, drawn off"] = "draw"
            yield Way(name, "draw", name, f"{name}, drawn off", flow=joint.draw)


def _find_bars(works: Works, graph: nx.MultiGraph[str]) -> set[str]:
    """Make bars of joints where lines meet; give the joints that lines run through."""
    import networkx as nx

    plan = works.plan
    joints = [
        node
        for node in graph
        if not (node in works.home or node in plan.vessels or node in works.terminals)
    ]
    through = {joint for joint in joints if graph.degree(joint) == 2}
    for ring in nx.connected_components(graph):
        if ring <= through:
            through.remove(next(joint for joint in joints if joint in ring))
    for joint in joints:
        if joint in through:
            continue
        if graph.degree(joint) == 1:
            works.terminals[joint] = "end"
            continue
        spec = plan.joints.get(joint)
        bar = Bar({joint: 0.0}, height=None if spec is None else spec.height)
        bar.names[joint] = 0.5, None
        works.bars.append(bar)
        works.home[joint] = bar
    return through


def _lines(graph: nx.MultiGraph[str], through: set[str]) -> list[Line]:
    """Join stretches that follow one another without a side leg."""
    used: set[int] = set()

    def walk(node: str) -> Iterator[Step]:
        """Stretches from a joint on, as far as nothing branches off."""
        while node in through:
            ways = [data["way"] for _, _, data in graph.edges(node, data=True)]
            way = next((each for each in ways if id(each) not in used), None)
            if way is None:
                return
            used.add(id(way))
            along = way.start == node
            yield Step(way, along)
            node = way.end if along else way.start

    lines = []
    for _, _, data in graph.edges(data=True):
        way = data["way"]
        if id(way) in used:
            continue
        used.add(id(way))
        before = [Step(step.way, not step.along) for step in walk(way.start)][::-1]
        steps = (*before, Step(way, along=True), *walk(way.end))
        first, last = steps[0], steps[-1]
        lines.append(
            Line(
                steps,
                first.way.start if first.along else first.way.end,
                last.way.end if last.along else last.way.start,
            )
        )
    return lines
