"""The plumbing as a graph: what leads where, and what can stop the water on its way.

Each stretch is a chain of links from part to part, so that it matters on which side of a valve
something stands.  Drains are in it too, though the solver leaves them out.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np

from balance.network.arrays import plan_water
from balance.network.layout import OUTSIDE, lay_out
from balance.network.stretch import valve_law
from balance.parts import fittings
from balance.plan.model import CheckPart, FittingPart, OutletPart, Part, Plan, ValvePart, ValveRef

if TYPE_CHECKING:
    import networkx as nx

Place = tuple[str, ...]

NOWHERE: Place = ()
LEVEL = 1e-3  # [m], by which a water surface must stand higher to count as higher


@dataclass(frozen=True)
class Link:
    """One thing that water goes through, from one place to the next as drawn.

    Attributes
    ----------
    owner : the run, branch, header, drain or pump that it is of
    ref : its valve in the plan; None for all else
    shut : of a valve, that it lets nothing pass as it stands
    """

    kind: Literal["pipe", "valve", "check", "cap", "pump"]
    start: Place
    end: Place
    owner: str
    ref: ValveRef | None = None
    shut: bool = False

    @property
    def passes(self) -> bool:
        """Whether water can go through it as it stands, one way at least."""
        return self.kind != "cap" and not self.shut

    @property
    def can_be_shut(self) -> bool:
        """Whether it is an open valve that a hand may turn."""
        return self.ref is not None and not self.shut and not self.ref.part.locked


@dataclass(frozen=True)
class End:
    """Where a stretch meets the water of a vessel, or the air.

    Attributes
    ----------
    place : in the graph; each end has one of its own, so that no way leads through a vessel
    vessel : that it meets; "outside" and free outlets meet none that could run back
    level : of that one's water [m]
    owner : the run, branch, drain or pump that ends there
    begins : the stretch begins here, so that the vessel feeds it
    free : it ends in the air
    """

    place: Place
    vessel: str
    level: float
    owner: str
    begins: bool
    free: bool


@dataclass(frozen=True)
class Piping:
    """All plumbing of a plan."""

    plan: Plan
    links: tuple[Link, ...]
    ends: tuple[End, ...]

    @cached_property
    def _chains(self) -> dict[str, list[Link]]:
        """The links of each run, branch, header, drain and pump."""
        found: dict[str, list[Link]] = {}
        for link in self.links:
            found.setdefault(link.owner, []).append(link)
        return found

    def reached(
        self, starts: Iterable[Place], along: Callable[[Link], tuple[bool, bool]]
    ) -> set[Place]:
        """Places that water comes to from some.

        Parameters
        ----------
        along : whether water goes through a link as drawn, and whether against it
        """
        import networkx as nx

        graph = nx.DiGraph()
        for link in self.links:
            onwards, backwards = along(link)
            if onwards:
                graph.add_edge(link.start, link.end)
            if backwards:
                graph.add_edge(link.end, link.start)
        found: set[Place] = set(starts)
        for start in tuple(found):
            if start in graph:
                found |= nx.descendants(graph, start)
        return found

    def fed(
        self,
        *,
        shut: Collection[str] = (),
        stopped: Collection[str] = (),
        plugged: Collection[End] = (),
    ) -> set[str]:
        """Branches that water is led to, with valves shut, pumps stopped and ends plugged.

        From the vessels where stretches begin, through pumps that turn, never backwards through
        them nor through check valves.  Heads are not asked: what is fed may still get nothing.
        """

        def along(link: Link) -> tuple[bool, bool]:
            if not link.passes or (link.ref is not None and link.ref.name in shut):
                return False, False
            if link.kind == "pump":
                return turns(self.plan, link.owner) and link.owner not in stopped, False
            return True, link.kind != "check"

        feeding = [end.place for end in self.ends if end.begins and end not in plugged]
        reached = self.reached(feeding, along)
        return {
            branch.name
            for branch in self.plan.branches
            if branch.to is not None
            and all(
                along(link)[0] and {link.start, link.end} <= reached
                for link in self._chains[branch.name]
            )
        }

    def graph(self, links: Iterable[Link]) -> nx.Graph:
        """Places joined by links, whichever way the water goes; each with its link."""
        import networkx as nx

        graph = nx.Graph()
        graph.add_nodes_from(place for link in self.links for place in (link.start, link.end))
        graph.add_edges_from((link.start, link.end, {"link": link}) for link in links)
        return graph


def turns(plan: Plan, pump: str) -> bool:
    """Whether a pump turns as the plan stands."""
    return plan.pumps[pump].speed > 0.0


def piping_of(plan: Plan) -> Piping:
    """The graph of a plan; what serves for water changes alone is left out."""
    refs = {id(ref.part): ref for ref in plan.valves()}
    links: list[Link] = []
    inside: Iterable[Link]
    ends: list[End] = []
    layout = lay_out(plan, plan_water(plan))
    for run in layout.runs:
        places = []
        for node, begins in ((run.start, True), (run.end, False)):
            place: Place = ("joint", node)
            if node in layout.heads:
                place = ("end", run.name, "start" if begins else "end")
                free = node not in plan.vessels
                ends.append(End(place, node, layout.heads[node], run.owner, begins, free))
            places.append(place)
        inside = (
            (Link("pump", NOWHERE, NOWHERE, run.owner),)
            if run.kind == "pump"
            else _stoppers(run.parts, run.owner, refs)
        )
        links += _chain(run.name, run.owner, places, inside)
    for drain in plan.drains:
        if drain.role != "change":
            places = []
            for node, begins in ((drain.from_, True), (drain.to, False)):
                place = ("joint", node)
                if node in plan.vessels or node == OUTSIDE:
                    place = ("end", drain.name, "start" if begins else "end")
                    level = plan.vessels[node].level if node in plan.vessels else 0.0
                    free = node == OUTSIDE or (not begins and _ends_in_air(drain.parts))
                    ends.append(End(place, node, level, drain.name, begins, free))
                places.append(place)
            inside = _stoppers(drain.parts, drain.name, refs)
            links += _chain(drain.name, drain.name, places, inside)
    return Piping(plan, tuple(links), tuple(ends))


def _chain(name: str, owner: str, ends: Sequence[Place], inside: Iterable[Link]) -> Iterator[Link]:
    """The links of a stretch: what is inside it, with pipe before, between and after.

    So no two links join the same two places.
    """
    start, end = ends
    before: Place = ("inside", name, "0")
    yield Link("pipe", start, before, owner)
    for number, link in enumerate(inside, start=1):
        after = ("inside", name, str(number))
        yield replace(link, start=before, end=after)
        before = after
    yield Link("pipe", before, end, owner)


def _stoppers(parts: Sequence[Part], owner: str, refs: dict[int, ValveRef]) -> Iterator[Link]:
    """What can stop water in a stretch, in order, without places."""
    for part in parts:
        if isinstance(part, ValvePart):
            shut = bool(np.isinf(valve_law(part).loss_coefficient(np.array(part.open)).k))
            yield Link("valve", NOWHERE, NOWHERE, owner, refs[id(part)], shut)
        elif isinstance(part, CheckPart) and not part.failed:
            yield Link("check", NOWHERE, NOWHERE, owner)
        elif isinstance(part, FittingPart) and np.isinf(
            fittings.fitting(part.fitting, part.bore).k
        ):
            yield Link("cap", NOWHERE, NOWHERE, owner)


def _ends_in_air(parts: Sequence[Part]) -> bool:
    return bool(parts) and isinstance(parts[-1], OutletPart) and parts[-1].is_free
