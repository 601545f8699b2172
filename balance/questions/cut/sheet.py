"""The dry-fit sheet: in which order each line goes together, what stays open, what to mark."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from balance.parts.cement import Cure, cure_times
from balance.questions.assembly.elements import Assembly, Element, Line
from balance.questions.assembly.joints import How, how_joined, joints_of
from balance.questions.assembly.pieces import Piece
from balance.questions.cut.bodies import Body, bodies_of, is_tied

DRY_SHARES = (1 / 3, 2 / 3)
"""How far pipe goes into a tapered socket without cement, of its depth: astm-d2855, from memory."""
TURNS = ("elbow", "tee", "wye", "bend", "sweep", "cross", "y branch")
"""Words of fittings that look a way, so that a mark over the joint keeps it."""


@dataclass(frozen=True)
class Step:
    """One thing that is put to what stands already.

    Attributes
    ----------
    thing : a fitting, a valve, a hose, or a piece by its label
    piece : the piece, where it is one
    how : its joint with what stands before it; None where there is none
    stays_open : a union: its nut is closed when all glue is dry
    glued_last : the joint before it is glued last, since both ends of the line are fixed
    aim : it looks a way, or its handle or arrow does: mark it against its neighbour
    """

    thing: str
    piece: Piece | None
    how: How | None
    stays_open: bool = False
    glued_last: bool = False
    aim: bool = False


@dataclass(frozen=True)
class Walk:
    """One line, put together from its beginning.

    Attributes
    ----------
    start, stop : what it is joined to at its ends; empty where it hangs free
    tied : both ends are fixed and nothing in it comes apart
    """

    line: str
    kind: str
    start: str
    stop: str
    steps: tuple[Step, ...]
    tied: bool


@dataclass(frozen=True)
class Sheet:
    """How all lines go together.

    Attributes
    ----------
    walks : line by line
    bodies : what is glued as one, the largest first
    cure : of the largest cemented joint; None where nothing tells
    cure_size : its size; empty where there is none
    """

    walks: tuple[Walk, ...]
    bodies: tuple[Body, ...]
    cure: Cure | None
    cure_size: str

    def to_dict(self) -> dict[str, Any]:
        """Plain values, ready for JSON."""
        return {
            "lines": [
                {
                    "line": walk.line,
                    "start": walk.start,
                    "stop": walk.stop,
                    "tied": walk.tied,
                    "steps": [
                        {
                            "thing": step.thing,
                            "joint": step.how,
                            "stays_open": step.stays_open,
                            "glued_last": step.glued_last,
                            "mark_against_neighbour": step.aim,
                        }
                        for step in walk.steps
                    ],
                }
                for walk in self.walks
            ],
            "bodies": [
                {"lines": list(body.lines), "pieces": body.pieces, "in_place": body.in_place}
                for body in self.bodies
            ],
            "set_s": None if self.cure is None else self.cure.set,
            "cure_s": None if self.cure is None else self.cure.cure,
        }


def sheet_of(assembly: Assembly, pieces: Sequence[Piece], *, temperature: float) -> Sheet:
    """The dry-fit sheet of an assembly.

    Parameters
    ----------
    temperature : of the air where it is glued [degC]
    """
    by_place = {(piece.line, piece.at): piece for piece in pieces}
    walks = tuple(_walk(line, by_place, tied=is_tied(line, assembly)) for line in assembly.lines)
    joints = (joint for joint in joints_of(assembly) if joint.how == "cement")
    cemented = [joint.size for joint in joints if joint.size.series]
    largest = max(cemented, key=lambda size: size.outside or size.bore, default=None)
    size = "" if largest is None else largest.trade_size
    cure = cure_times(size, temperature=temperature) if size else None
    return Sheet(walks, bodies_of(assembly), cure, size)


def _walk(line: Line, by_place: dict[tuple[str, int], Piece], *, tied: bool) -> Walk:
    before = None if line.start is None else line.start.end
    steps = []
    for at, element in enumerate(line.elements):
        how = None if before is None else how_joined(before, element.begin)
        steps.append(_step(element, by_place.get((line.name, at)), how))
        before = element.finish
    if line.stop is not None:
        how = None if before is None else how_joined(before, line.stop.end)
        steps.append(Step(line.stop.name, None, how))
    if tied:
        glued = [at for at, step in enumerate(steps) if step.how == "cement"]
        if glued:
            steps[glued[-1]] = replace(steps[glued[-1]], glued_last=True)
    return Walk(
        line.name,
        line.kind,
        "" if line.start is None else line.start.name,
        "" if line.stop is None else line.stop.name,
        tuple(steps),
        tied,
    )


def _step(element: Element, piece: Piece | None, how: How | None) -> Step:
    aim = element.family in ("valve", "check valve") or any(word in element.kind for word in TURNS)
    thing = element.kind if piece is None else piece.label
    return Step(thing, piece, how, stays_open=element.unions > 0, aim=aim and piece is None)
