"""What plumbing is put together from: elements with their ends, in lines, at nodes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, Self

from balance.parts.ends import Form
from balance.parts.pipes import PipeSize
from balance.plan.locate import Path

Family = Literal["pipe", "hose", "fitting", "valve", "check valve", "device", "nozzle", "pump"]


@dataclass(frozen=True)
class End:
    """One end of an element.

    Attributes
    ----------
    form : how it is made
    size : of the pipe, or for a hose and a barb of the hose, that belongs to it
    depth : how far pipe goes in [m]; zero where none does, None where nothing tells
    take_out : from the centre of its element to the bottom of its socket [m]; None where unknown
    estimated : makers differ in that, and a usual one stands for it
    """

    form: Form
    size: PipeSize
    depth: float | None = None
    take_out: float | None = None
    estimated: bool = False

    def fits(self, other: End) -> bool:
        """Both are of one size, whatever the thickness of their walls.

        Pipe that is told by its bore alone is taken to fit what it meets.
        """
        hose = {self.form, other.form} <= {"barb", "hose"}
        bare = not hose and not (self.size.series and other.size.series)
        return bare or self.size.trade_size == other.size.trade_size


@dataclass(frozen=True)
class Element:
    """One part as it stands in a line: what the plan names, or what joining it takes.

    Attributes
    ----------
    kind : what it is called on a list, such as "elbow 90" or "swing check valve"
    begin, finish : its ends in order of the water
    side : third end, of a tee
    length : of pipe and hose, as the plan has it [m]
    count : how many of it stand side by side here
    unions : how many unions are in it, each with a seal
    reversible : it may as well stand the other way round
    added : why it is there though the plan names none; empty where it does
    path : its place in the plan
    """

    kind: str
    family: Family
    begin: End
    finish: End
    side: End | None = None
    length: float | None = None
    count: int = 1
    unions: int = 0
    reversible: bool = False
    added: str = ""
    path: Path = ()

    def turned(self) -> Self:
        """The same element the other way round."""
        return replace(self, begin=self.finish, finish=self.begin)

    @property
    def is_pipe(self) -> bool:
        """It is cut from a length of pipe."""
        return self.family == "pipe"

    @property
    def comes_apart(self) -> bool:
        """By hand, without a saw: it has a union, or is a hose."""
        return self.unions > 0 or self.family == "hose"


@dataclass(frozen=True)
class Mate:
    """What a line is joined to where it begins or ends.

    Attributes
    ----------
    kind : "tee", "elbow 90", "pump", or the name of another line
    where : of which line or at which joint it is; the name of a pump
    end : its end there
    key : the place of the tee along a header, or ("joints", its name)
    told_there : the joint is one of another line, so that it is not counted twice
    """

    kind: str
    where: str
    end: End
    key: Path = ()
    told_there: bool = False

    @property
    def name(self) -> str:
        """What it is called: "tee of left header"."""
        return f"{self.kind} {self.where}".strip()


@dataclass(frozen=True)
class Line:
    """A run, header, branch or drain as it is put together, one element after the other.

    Attributes
    ----------
    name : in the plan
    kind : "run", "header", "branch" or "drain"
    start, stop : what it is joined to; None where it hangs in a vessel, or ends in the open
    from_, to : vessel or joint at its ends; empty where a cap closes it
    elements : in order of the water, none left out
    """

    name: str
    kind: Literal["run", "header", "branch", "drain"]
    start: Mate | None
    stop: Mate | None
    from_: str
    to: str
    elements: tuple[Element, ...]


@dataclass(frozen=True)
class Node:
    """A fitting where lines meet: a tee, a wye, a cross."""

    name: str
    element: Element
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Assembly:
    """All plumbing of a plan as it is put together.

    Attributes
    ----------
    lines : in the order of the plan: runs, headers, branches, drains
    nodes : fittings at joints; the tees along headers are among the headers' elements
    """

    lines: tuple[Line, ...]
    nodes: tuple[Node, ...]

    def elements(self) -> tuple[Element, ...]:
        """Every element, those at joints first."""
        at_joints = [node.element for node in self.nodes]
        return (*at_joints, *(each for line in self.lines for each in line.elements))
