"""Which valves keep water under pressure from one of them: cuts of the graph of the plumbing."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from balance.questions.close.piping import LEVEL, End, Link, Piping, Place, turns

if TYPE_CHECKING:
    import networkx as nx

_UNAVOIDABLE = 10**6  # what a cut costs that no valve makes, in valves

_WATER: Place = ("water",)
_STUCK: Place = ("stuck",)


@dataclass(frozen=True)
class Cut:
    """What keeps all water from a valve.

    Attributes
    ----------
    dry : places around the valve to which no water comes then
    shut : valves to be shut, in the order of the plan
    keep_shut : valves that are shut already and hold water back
    stop : pumps from which no valve keeps the water
    standing : ends from whose vessels no valve keeps it
    """

    dry: frozenset[Place]
    shut: tuple[str, ...]
    keep_shut: tuple[str, ...]
    stop: tuple[str, ...]
    standing: tuple[End, ...]


@dataclass(frozen=True)
class Question:
    """One valve of the plumbing, and where water under pressure comes from.

    Attributes
    ----------
    link : of the valve
    pumps : links of pumps that turn
    ends : where vessels stand that are above it
    """

    piping: Piping
    link: Link
    pumps: tuple[Link, ...]
    ends: tuple[End, ...]

    def fewest(self, *, stopped: Collection[str] = ()) -> Cut:
        """The cut of the fewest valves; of several such, the one nearest to the valve.

        A pump is stopped, or a vessel's water told to stand, only where no valve can help.
        """
        import networkx as nx

        graph = self.piping.graph(self._open())
        for _, _, data in graph.edges(data=True):
            if data["link"].can_be_shut:
                data["capacity"] = 1  # without one an edge cannot be cut
        for place in (*self._pump_places(stopped), *(end.place for end in self.ends)):
            graph.add_edge(_WATER, place, capacity=_UNAVOIDABLE)
        graph.add_nodes_from((_WATER, _STUCK))
        for place in (self.link.start, self.link.end):
            graph.add_edge(place, _STUCK)
        # Of the two sides the second is the least: all from which water could still come.
        _, (_, dry) = nx.minimum_cut(graph, _WATER, _STUCK)
        return self._cut(dry, stopped)

    def nearest(self, *, stopped: Collection[str] = ()) -> Cut:
        """The cut of the next valves on every way out: it takes the flow from the least."""
        fixed = self.piping.graph(link for link in self._open() if not link.can_be_shut)
        dry = _around(fixed, (self.link.start, self.link.end))
        border = {link for link in self._open() if link.can_be_shut and _is_border(link, dry)}
        while True:
            # Beyond some of them no water waits: they stay as they are.
            outer = self.piping.graph(link for link in self._open() if link not in border)
            wet = _around(outer, (*self._pump_places(stopped), *(end.place for end in self.ends)))
            wet -= dry
            idle = {link for link in border if not {link.start, link.end} & wet}
            if not idle:
                return self._cut(dry, stopped)
            border -= idle
            inner = self.piping.graph(link for link in self._open() if link not in border)
            dry = _around(inner, (self.link.start, self.link.end))

    def only_if_a_check_leaks(self, cut: Cut, *, stopped: Collection[str]) -> Iterator[str]:
        """Valves of a cut behind which check valves already hold the water back."""
        sources = {*self._pump_places(stopped), *(end.place for end in self.ends)} - cut.dry
        for valve in cut.shut:
            others = {other for other in cut.shut if other != valve}
            if not self._comes(sources, others):
                yield valve

    def behind_a_check(self, end: End, cut: Cut) -> bool:
        """Whether a check valve holds back the water of an end."""
        return not self._comes({end.place}, set(cut.shut))

    def _comes(self, sources: Iterable[Place], shut: Collection[str]) -> bool:
        """Whether water comes to the valve where check valves are tight."""

        def along(link: Link) -> tuple[bool, bool]:
            is_shut = link.ref is not None and link.ref.name in shut
            if not link.passes or is_shut or link == self.link:
                return False, False
            return True, link.kind != "check"

        return bool({self.link.start, self.link.end} & self.piping.reached(sources, along))

    def _open(self) -> Iterator[Link]:
        """All that water could go through, the valve itself left out."""
        return (link for link in self.piping.links if link.passes and link != self.link)

    def _pump_places(self, stopped: Collection[str]) -> tuple[Place, ...]:
        return tuple(link.end for link in self.pumps if link.owner not in stopped)

    def _cut(self, dry: Collection[Place], stopped: Collection[str]) -> Cut:
        inside = frozenset(dry) - {_STUCK}
        wet = _around(
            self.piping.graph(self._open()),
            (*self._pump_places(stopped), *(end.place for end in self.ends)),
        )
        wet -= inside
        return Cut(
            dry=inside,
            shut=tuple(
                link.ref.name
                for link in self._open()
                if link.ref is not None and _is_border(link, inside)
            ),
            keep_shut=tuple(
                link.ref.name
                for link in self.piping.links
                if link.ref is not None
                and link.shut
                and link != self.link
                and _is_border(link, inside)
                and {link.start, link.end} & wet
            ),
            stop=tuple(
                link.owner
                for link in self.pumps
                if link.owner not in stopped and link.end in inside
            ),
            standing=tuple(end for end in self.ends if end.place in inside),
        )


def question_of(piping: Piping, link: Link) -> Question:
    """Where water under pressure can come from to a valve.

    From pumps that turn, and from vessels whose water stands higher than the valve.  How high that
    is no plan says.  A valve in a pump's suction is taken to lie below all water; any other above
    the lowest water that a pump draws from, as manifolds do, and in a plan without pumps above the
    lowest water of all.
    """
    pumps = tuple(each for each in piping.links if each.kind == "pump")
    around = piping.graph(each for each in piping.links if each.kind not in ("pump", "cap"))
    here = _around(around, (link.start, link.end))
    vessels = [end for end in piping.ends if not end.free]
    is_suction = any(pump.start in here for pump in pumps) and not any(
        pump.end in here for pump in pumps
    )
    drawn = {place for pump in pumps for place in _around(around, (pump.start,))}
    levels = [end.level for end in vessels if end.place in drawn] or [end.level for end in vessels]
    above = float("-inf") if is_suction else min(levels, default=0.0) + LEVEL
    return Question(
        piping,
        link,
        tuple(pump for pump in pumps if turns(piping.plan, pump.owner)),
        tuple(end for end in vessels if end.level > above),
    )


def _is_border(link: Link, inside: Collection[Place]) -> bool:
    return (link.start in inside) != (link.end in inside)


def _around(graph: nx.Graph, places: Iterable[Place]) -> set[Place]:
    """All places tied to some, themselves among them."""
    import networkx as nx

    found: set[Place] = set()
    for place in places:
        if place not in found:
            found |= nx.node_connected_component(graph, place)
    return found
