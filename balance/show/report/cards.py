"""Cards to cut out and hang on valves: where each handle goes, and how to tell that it is right."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cos, floor, pi, sin
from typing import NamedTuple

from balance.plan.openings import Handle, opening_words
from balance.questions.drains.answer import Gate
from balance.questions.settings.answer import BranchFlow, HandleMark
from balance.questions.survey import Survey
from balance.questions.travel import ValveTravel
from balance.show.report import wording
from balance.show.words import between, percent, seconds
from balance.units import SYSTEMS, UnitSystem

_NEXT_TO_WHOLE = 1e-9  # of a turn, by which it is a whole one


class Tick(NamedTuple):
    """A graduation of a dial: its two ends, and its label with where that stands."""

    x1: float
    y1: float
    x2: float
    y2: float
    label: str
    x: float
    y: float


@dataclass(frozen=True)
class Dial:
    """The face of a valve, seen from the front, in the units of its picture (y down).

    Attributes
    ----------
    shape : a lever that turns by a quarter, a wheel that turns many times, or a scale of percent
    angle : from where the handle stands when shut, against the clock [deg]
    x, y : the tip of the handle; its pivot is at nought
    ticks : graduations
    is_long_way : the way that it turned is more than half a circle
    words : the same for who does not see it
    box : what of its plane is shown: left, top, width and height
    radius, reach : of its graduations, and of its handle
    """

    shape: str
    angle: float
    x: float
    y: float
    ticks: tuple[Tick, ...]
    is_long_way: bool
    words: str
    box: str
    radius: float
    reach: float


@dataclass(frozen=True)
class Card:
    """What stands on one card.

    Attributes
    ----------
    valve : its name, the largest but for the mark
    place : which stretch it is in, where its name does not say so
    mark : where its handle goes, as a hand reads it, from shut
    share : the same in percent of its travel
    dial : its face
    facts : what is to be read there: a name, and a figure or a sentence
    """

    valve: str
    place: str
    mark: str
    share: str
    dial: Dial
    facts: tuple[tuple[str, str], ...]


def cards(survey: Survey) -> Iterator[Card]:
    """A card for every valve that has a mark: those of settings, then the gates of siphons."""
    system = SYSTEMS[survey.plan.units]
    if survey.settings is not None:
        branches = {branch.branch: branch for branch in survey.settings.branches}
        travels = {} if survey.travel is None else {v.valve: v for v in survey.travel.valves}
        for handle in survey.settings.handles:
            branch = branches.get(handle.stretch)
            sets_it = branch is not None and branch.valve == handle.valve
            yield _of_handle(handle, branch if sets_it else None, travels.get(handle.valve), system)
    if survey.drains is not None:
        for vessel in survey.drains.vessels:
            for gate in vessel.gates:
                if gate.aim.opening is not None:
                    yield _of_gate(gate, gate.aim.opening, system)


def _of_handle(
    handle: HandleMark, branch: BranchFlow | None, travel: ValveTravel | None, system: UnitSystem
) -> Card:
    facts: list[tuple[str, str]] = []
    if handle.role != "set":
        facts.append((wording.HANDLE, wording.ROLES[handle.role]))
    if branch is not None:
        facts += _flows(branch, travel, system)
    return Card(
        valve=handle.valve,
        place="" if handle.stretch == handle.valve else wording.IN.format(handle.stretch),
        mark=opening_words(handle.opening, handle=handle.handle, travel=handle.travel),
        share=percent(handle.opening),
        dial=dial(handle.opening, handle=handle.handle, travel=handle.travel),
        facts=tuple(facts),
    )


def _flows(
    branch: BranchFlow, travel: ValveTravel | None, system: UnitSystem
) -> Iterator[tuple[str, str]]:
    yield wording.GIVES, system.text(branch.flow, "flow") if branch.flow else wording.NOTHING
    if wanted := between(system, branch.low, branch.high):
        yield wording.WANTED, f"{wanted} {system.unit('flow')}"
    if branch.bucket_time is not None:
        yield wording.BUCKET, wording.FILLS.format(branch.bucket, seconds(branch.bucket_time))
    low, high = branch.limits
    most = branch.high if high is None else high  # of what is wanted, where nothing else bounds it
    if most is not None:
        yield wording.NOT_ABOVE, system.text(most, "flow") + _where(travel, most)
    elif branch.flow:
        yield wording.NOT_ABOVE, wording.NO_LIMIT
    if low:
        yield wording.NOT_BELOW, system.text(low, "flow")


def _where(travel: ValveTravel | None, most: float) -> str:
    """At which mark a handle, turned alone, would bring its flow to the most that it should be."""
    if travel is None or travel.flow > most:
        return ""
    for (before, low), (after, high) in pairwise(zip(travel.openings, travel.flows, strict=True)):
        if low <= most < high:
            opening = before + (after - before) * (most - low) / (high - low)
            step = travel.step_travel / travel.travel
            mark = floor(opening / step) * step  # a step too far would exceed it
            return wording.AT_MARK.format(
                opening_words(mark, handle=travel.handle, travel=travel.travel)
            )
    return wording.NOT_REACHED


def _of_gate(gate: Gate, opening: float, system: UnitSystem) -> Card:
    facts = [
        (wording.HANDLE, wording.TRIM.format(gate.trickle)),
        (wording.CARRIES, system.text(gate.aim.siphon, "flow")),
        (wording.NOT_BEYOND, wording.WINDOW.format(gate.wet.mark, gate.dry.mark)),
    ]
    return Card(
        valve=gate.valve,
        place="" if gate.siphon == gate.valve else wording.IN.format(gate.siphon),
        mark=gate.aim.mark,
        share=percent(opening),
        dial=dial(opening, handle=gate.handle, travel=gate.travel),
        facts=tuple(facts),
    )


_RADIUS, _REACH, _LABELS = 50.0, 54.0, 62.0  # of the graduations, the handle and the figures
_LEVER = tuple((step / 6, {0: "0", 2: "30", 4: "60", 6: "90"}.get(step, "")) for step in range(7))
_WHEEL = tuple(
    (step / 8, {0: "0", 2: "1/4", 4: "1/2", 6: "3/4"}.get(step, "")) for step in range(8)
)
_SCALE = tuple((step / 4, f"{25 * step}") for step in range(5))


def dial(opening: float, *, handle: Handle, travel: float) -> Dial:
    """Draw the face of a valve.

    Parameters
    ----------
    opening : of its travel from shut [ratio]
    handle : degrees, turns or percent
    travel : of the handle in that unit

    A lever lies across the pipe when shut, along it when open.  A wheel's mark points up when shut;
    it shows the last part of a turn, its words how many whole turns come before.
    """
    mark = opening_words(opening, handle=handle, travel=travel)
    if handle == "degrees":
        words = wording.LEVER.format(mark)
        return _face("lever", 90.0 * opening, _LEVER, 90.0, 0.0, words, "-16 -84 94 122")
    if handle == "turns":
        turned = opening * travel
        whole = floor(turned + _NEXT_TO_WHOLE)
        part = 360.0 * max(turned - whole, 0.0)
        words = wording.WHEEL.format(mark, whole, wording.a_part(part))
        return _face("wheel", part, _WHEEL, 360.0, 90.0, words, "-76 -72 152 144")
    words = wording.SCALE.format(mark)
    return _face("scale", 180.0 * opening, _SCALE, 180.0, 0.0, words, "-76 -72 152 84")


def _face(
    shape: str,
    angle: float,
    marks: Sequence[tuple[float, str]],
    sweep: float,
    start: float,
    words: str,
    box: str,
) -> Dial:
    """Put a handle and graduations round a pivot; angles run against the clock from the right."""

    def at(degrees: float, radius: float) -> tuple[float, float]:
        turned = (start + degrees) * pi / 180.0
        return round(radius * cos(turned), 2), round(-radius * sin(turned), 2)

    ticks = tuple(
        Tick(*at(share * sweep, _RADIUS - 6.0), *at(share * sweep, _RADIUS), label,
             *at(share * sweep, _LABELS))
        for share, label in marks
    )  # fmt: skip
    return Dial(
        shape, round(angle, 1), *at(angle, _REACH), ticks, angle > 180.0, words, box, _RADIUS,
        _REACH,
    )  # fmt: skip
