"""The joints of an assembly: what is cemented, screwed, clamped or pushed together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from balance.parts.pipes import PipeSize
from balance.questions.assembly.elements import Assembly, End, Line

How = Literal["cement", "thread", "hose", "dry", "special"]

CEMENTED = ("pvc", "pvc-u", "cpvc", "abs", "plastic")
"""Materials that solvent cement joins; of one that nobody named it is taken so."""


@dataclass(frozen=True)
class Joint:
    """Two ends that are joined.

    Attributes
    ----------
    line : of which it is one
    how : "cement"; "thread"; "hose" over a barb, with a clamp; "dry": pushed together; "special":
        of pipe that no cement joins, as its maker says
    size : of the pipe, thread or hose
    """

    line: str
    how: How
    size: PipeSize


def joints_of(assembly: Assembly) -> tuple[Joint, ...]:
    """Every joint that a person makes, each once, line by line."""
    return tuple(joint for line in assembly.lines for joint in _of_line(line))


def _of_line(line: Line) -> Iterator[Joint]:
    for first, second in pairs(line):
        if first is None or second is None:
            continue
        how = how_joined(first, second)
        if how is not None:
            yield Joint(line.name, how, _telling(how, first, second).size)


def _telling(how: How, first: End, second: End) -> End:
    """Which of two ends tells the size of their joint: a hose, and pipe that is not cemented."""
    if how == "hose":
        return first if first.form == "hose" else second
    if how == "special":
        return second if first.size.material in CEMENTED else first
    return first


def pairs(line: Line) -> Iterator[tuple[End | None, End | None]]:
    """What meets what along a line: pairs of ends; None at an end that meets nothing.

    A joint that another line tells is left out.
    """
    elements = line.elements
    if line.start is not None and line.start.told_there:
        pass
    elif elements:
        yield None if line.start is None else line.start.end, elements[0].begin
    for first, second in pairwise(elements):
        yield first.finish, second.begin
    if line.stop is not None and not line.stop.told_there:
        last = elements[-1].finish if elements else None if line.start is None else line.start.end
        yield last, line.stop.end


def how_joined(first: End, second: End) -> How | None:
    """How two ends that meet are joined; None where they are not, or nothing tells."""
    forms = {first.form, second.form}
    if forms & {"open", "wall", "shut"}:
        return None
    if "hose" in forms:
        return "hose"
    if "own" in forms:
        return None
    if forms & {"male thread", "female thread"}:
        return "thread"
    if "slips in" in forms:
        return "dry"
    if "barb" in forms or forms == {"fits"}:
        return None
    cemented = {first.size.material, second.size.material} <= set(CEMENTED)
    return "cement" if cemented else "special"
