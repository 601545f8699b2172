"""Each straight piece of pipe: what is seen of it, what goes into sockets, how long it is cut."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import floor

from balance.parts.pipes import INCH, PipeSize
from balance.plan.locate import Path
from balance.plan.model import Plan
from balance.questions.assembly.elements import Assembly, Element, End, Line, Mate
from balance.questions.assembly.mating import NOTHING

MARKS = {"us": INCH / 16, "imperial": INCH / 16, "metric": 1e-3}
"""Finest mark of the tape by which pipe is cut [m], by the system of units."""


def mark_of(plan: Plan) -> float:
    """Finest mark of the tape by which the pipe of a plan is cut [m]."""
    return MARKS[plan.units]


def to_mark(length: float | None, mark: float) -> float | None:
    """A length to the nearest mark of the tape [m]; of two as near, the longer."""
    return None if length is None else floor(length / mark + 0.5 + 1e-9) * mark


LEAST = INCH / 32
"""Want of room that no tape shows, half of its mark [m]; our own choice."""


UNNAMED = ("adapter", "female adapter", "bushing", "reducer")
"""What stands between a pipe and the part to whose centre the plan measures, unnamed by it."""


@dataclass(frozen=True)
class Piece:
    """A straight piece of pipe.

    Attributes
    ----------
    label : to be written on it: the line and its number there, "riser #2"
    line : of which it is one
    at : its index among the elements of the line
    pipe : of which it is cut
    before, after : what it goes into at both ends, in words; empty where nothing is
    visible : length between what it goes into [m]; below zero where there is no room for it, None
        where nothing tells
    depths : how far it goes in at both ends, to a mark of the tape [m]; None where nothing tells
    cut : how long it is cut, to a mark of the tape [m]; None where nothing tells
    centres : from centre to centre, where the plan is measured so [m]
    threaded : bought with threads at both ends
    added : why it is there though the plan names none; empty where it does
    path : its place in the plan
    estimated : what it goes into of whose centre an estimate stands
    """

    label: str
    line: str
    at: int
    pipe: PipeSize
    before: str
    after: str
    visible: float | None
    depths: tuple[float | None, float | None]
    cut: float | None
    centres: float | None
    threaded: bool
    added: str
    path: Path
    estimated: tuple[str, ...] = ()

    @property
    def short(self) -> float:
        """How much there is too little for both sockets [m]; zero where there is room."""
        missing = 0.0 if self.visible is None else -self.visible
        return missing if missing > LEAST else 0.0


def pieces_of(assembly: Assembly, plan: Plan) -> tuple[Piece, ...]:
    """Every piece of pipe, line by line in order of the water."""
    return tuple(piece for line in assembly.lines for piece in _of_line(line, plan))


def _of_line(line: Line, plan: Plan) -> Iterator[Piece]:
    number = 0
    for at, element in enumerate(line.elements):
        if not element.is_pipe:
            continue
        number += 1
        before = _mate(line.elements[at - 1], line.start, finish=True, inside=at > 0)
        last = at == len(line.elements) - 1
        after = _mate(
            line.elements[min(at + 1, len(line.elements) - 1)],
            line.stop,
            finish=False,
            inside=not last,
        )
        yield _piece(f"{line.name} #{number}", line, at, element, (before, after), plan)


def _mate(element: Element, outer: Mate | None, *, finish: bool, inside: bool) -> Mate | None:
    """What stands beside a piece: an element of its line, or what the line is joined to."""
    if not inside:
        return outer
    if element.added and element.kind in UNNAMED:
        element = replace(
            element,
            begin=replace(element.begin, take_out=None),
            finish=replace(element.finish, take_out=None),
        )
    return Mate(element.kind, "", element.finish if finish else element.begin)


def _piece(
    label: str,
    line: Line,
    at: int,
    element: Element,
    mates: tuple[Mate | None, Mate | None],
    plan: Plan,
) -> Piece:
    before, after = mates
    ends = tuple(None if mate is None else mate.end for mate in mates)
    mark = mark_of(plan)
    depths = (to_mark(_depth(ends[0]), mark), to_mark(_depth(ends[1]), mark))
    length = element.length or 0.0
    by_centres = plan.measured == "centre" and not element.added
    hidden = None if None in depths else sum(depth or 0.0 for depth in depths)
    visible: float | None
    if not by_centres:
        visible = length
        cut = None if hidden is None else to_mark(length + hidden, mark)
    else:
        # Whether there is room is judged before anything is rounded to a mark.
        out, deep = [_take_out(end) for end in ends], [_depth(end) for end in ends]
        whole = None if None in out else length - sum(each or 0.0 for each in out)
        cut = to_mark(whole, mark)
        visible = None
        if whole is not None and None not in deep:
            visible = whole - sum(each or 0.0 for each in deep)
    return Piece(
        label=label,
        line=line.name,
        at=at,
        pipe=element.begin.size,
        before="" if before is None else before.kind,
        after="" if after is None else after.kind,
        visible=visible,
        depths=depths,
        cut=cut,
        centres=length if by_centres else None,
        threaded=element.begin.form == "male thread",
        added=element.added,
        path=element.path,
        estimated=tuple(
            mate.kind for mate in mates if by_centres and mate is not None and mate.end.estimated
        ),
    )


def _depth(end: End | None) -> float | None:
    return 0.0 if end is None or end.form in NOTHING else end.depth


def _take_out(end: End | None) -> float | None:
    return 0.0 if end is None or end.form in NOTHING else end.take_out
