"""What is one rigid thing once its glue is dry, and what has no play between fixed ends."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from balance.questions.assembly.elements import Assembly, Line

if TYPE_CHECKING:
    import networkx as nx

WALLS = "walls of vessels"


@dataclass(frozen=True)
class Body:
    """What is one rigid thing once it is glued, between unions and hoses.

    Attributes
    ----------
    lines : that have a part in it
    pieces : number of pieces of pipe in it
    in_place : a bulkhead is in it, so that it is glued at its vessel, not on the bench
    """

    lines: tuple[str, ...]
    pieces: int
    in_place: bool


def bodies_of(assembly: Assembly) -> tuple[Body, ...]:
    """What is rigid as one: parts of lines between unions, hoses and ends; the largest first."""
    import networkx as nx

    found = []
    for nodes in nx.connected_components(_graph(assembly.lines)):
        inside = [
            (line, element)
            for line in assembly.lines
            for at, element in enumerate(line.elements)
            if {(line.name, at, "begin"), (line.name, at, "finish")} & nodes
        ]
        pieces = sum(element.is_pipe for _, element in inside)
        if pieces:
            lines = tuple(dict.fromkeys(line.name for line, _ in inside))
            walls = any(_in_a_wall(element.kind) for _, element in inside)
            found.append(Body(lines, pieces, walls))
    return tuple(sorted(found, key=lambda body: -body.pieces))


def is_tied(line: Line, assembly: Assembly) -> bool:
    """Whether the ends of a line are held to each other by what is beside it, and it has no play.

    Its last joint then closes a ring, of pipe or by way of the walls of vessels.
    """
    import networkx as nx

    if any(element.comes_apart for element in line.elements):
        return False
    first, last = _held_by(line, first=True), _held_by(line, first=False)
    if first is None or last is None:
        return False
    beside = _graph(tuple(other for other in assembly.lines if other is not line))
    for other in assembly.lines:
        if other is not line:
            for at, element in enumerate(other.elements):
                if _in_a_wall(element.kind):
                    beside.add_edge(WALLS, (other.name, at, "begin"))
    return first == last or (
        first in beside and last in beside and nx.has_path(beside, first, last)
    )


def _held_by(line: Line, *, first: bool) -> object:
    """What holds an end of a line: a joint, a tee, a wall; None where it hangs free."""
    mate = line.start if first else line.stop
    if mate is not None:
        return mate.key
    outer = line.elements[:2] if first else line.elements[-2:]
    return WALLS if any(_in_a_wall(element.kind) for element in outer) else None


def _in_a_wall(kind: str) -> bool:
    return "bulkhead" in kind


def _graph(lines: tuple[Line, ...]) -> nx.Graph[object]:
    import networkx as nx

    graph: nx.Graph[object] = nx.Graph()
    for line in lines:
        graph.add_edges_from(_rigid(line))
    return graph


def _rigid(line: Line) -> Iterator[tuple[object, object]]:
    """Pairs of things in a line that nothing lets come apart."""
    before: object = None if line.start is None else line.start.key
    for at, element in enumerate(line.elements):
        begin, finish = (line.name, at, "begin"), (line.name, at, "finish")
        if before is not None and element.family != "hose":
            yield before, begin
        if not element.comes_apart:
            yield begin, finish
            if element.path[-2:-1] == ("taps",):  # a tee or elbow from which a branch goes off
                yield begin, element.path
        before = None if element.family == "hose" else finish
    if before is not None and line.stop is not None:
        yield before, line.stop.key
