"""What is written and drawn beside a line: handles, devices and pumps on it, names and numbers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from balance.plan.model import CheckPart, DevicePart, Drain, OutletPart, Part, Plan, ValvePart
from balance.plan.openings import words_of
from balance.questions.duty import PumpDuty
from balance.questions.flows import Flows
from balance.show.pictures.canvas import lines_of, text_width
from balance.show.pictures.plumbing.things import Role
from balance.show.pictures.plumbing.ways import Line, Way
from balance.show.words import speed
from balance.units import SYSTEMS, significant

NAME, NOTE = 13.0, 12.0  # sizes of letters
LEADING = 15.0  # from line to line
ROOM, MOST = 92.0, 3  # of names: the width of a line, and how many lines
WIDE = 190.0  # room of a line that stands alone
DIAL = 22.0  # radius
QUARTERS = 6  # a handle that turns by a quarter is marked off every 15 deg


@dataclass(frozen=True)
class Text:
    """A line of text and how it is written."""

    text: str
    size: float = NOTE
    bold: bool = False
    role: Role = "ink"

    @property
    def width(self) -> float:
        """In pixels."""
        return text_width(self.text, self.size, bold=self.bold)


@dataclass(frozen=True)
class Cell:
    """A piece of a stack beside a line: what is drawn on the line, and lines of text beside it."""

    kind: Literal["valve", "check", "device", "pump", "words"]
    texts: tuple[Text, ...] = ()
    valve: ValvePart | None = None
    along: bool = True
    light: bool = False

    @property
    def figure(self) -> float:
        """Height of what is drawn on the line."""
        return {"valve": DIAL + 8.0, "check": 20.0, "device": 54.0, "pump": 40.0, "words": 0.0}[
            self.kind
        ]

    @property
    def aside(self) -> bool:
        """Whether its texts stand beside what is drawn, and not under it."""
        return self.kind == "pump"

    @property
    def indent(self) -> float:
        """From the line to its texts."""
        return 24.0 if self.kind == "pump" else 6.0

    @property
    def height(self) -> float:
        """Of all of it."""
        texts = LEADING * len(self.texts)
        return max(self.figure, texts) + 4.0 if self.aside else self.figure + texts + 3.0

    @property
    def right(self) -> float:
        """How far it reaches to the right of the line."""
        figure = {"valve": DIAL + 8.0, "check": 9.0, "device": 20.0, "pump": 20.0, "words": 0.0}
        texts = max((text.width for text in self.texts), default=0.0)
        return max(figure[self.kind], self.indent + texts if self.texts else 0.0)

    @property
    def left(self) -> float:
        """How far it reaches to the left of the line."""
        return {"valve": 5.0, "check": 8.0, "device": 20.0, "pump": 20.0, "words": 0.0}[self.kind]


def stack_of(line: Line, answer: Flows, *, sunk: bool) -> tuple[Cell, ...]:
    """Cells of a line in the order of its ways, what is written of it after the first of them.

    Parameters
    ----------
    sunk : its first pump stands in its vessel, and only its figures stand here
    """
    cells = [cell for step in line.steps for cell in _cells(step.way, along=step.along)]
    words = Cell("words", tuple(_words(line, answer)))
    if sunk:
        cells = [cell for cell in cells if cell.kind != "pump"] if _one_pump(line) else cells[1:]
    if not words.texts:
        return tuple(cells)
    return (*cells[:1], words, *cells[1:])


def _one_pump(line: Line) -> bool:
    return len(line.pumps) == 1


def _cells(way: Way, *, along: bool) -> Iterator[Cell]:
    if way.kind == "pump":
        yield Cell("pump", light=way.light)
    for part in way.parts if along else reversed(way.parts):
        cell = cell_of(part, way, along=along)
        if cell is not None:
            yield cell


def cell_of(part: Part, way: Way, *, along: bool) -> Cell | None:
    """Give what is drawn of a part; None of pipe, hose and fittings."""
    if isinstance(part, ValvePart):
        return Cell("valve", handle_words(part), valve=part, light=way.light)
    if isinstance(part, CheckPart):
        failed = (Text("failed open", role="mark"),) if part.failed else ()
        return Cell("check", failed, along=along, light=way.light)
    if isinstance(part, DevicePart):
        named = () if part.device == way.name else lines_of(part.device, NOTE, room=78, most=3)
        return Cell("device", tuple(Text(line, role="soft") for line in named), light=way.light)
    return None


def handle_words(valve: ValvePart) -> tuple[Text, ...]:
    """Where its handle stands; a locked one says so."""
    said = words_of(valve.open, valve)
    if valve.locked:
        return (Text(said, bold=True), Text("locked", role="soft"))
    return (Text(said, bold=True, role="mark"),)


def steps_of(valve: ValvePart) -> int:
    """Give into how many parts the travel of its handle is marked off."""
    turns = valve.turns if valve.handle == "turns" else None
    return QUARTERS if turns is None else min(max(round(turns), 1), 12)


def _words(line: Line, answer: Flows) -> Iterator[Text]:
    """Names of branches, drains and pumps on a line, or failing them of its run, with its flow."""
    system = SYSTEMS[answer.plan.units]
    duties = {duty.pump: duty for duty in answer.pumps}
    ways = [step.way for step in line.steps]
    told = [way for way in ways if way.kind in ("branch", "drain", "draw", "pump")]
    for way in told or [way for way in ways if way.kind == "run"]:
        if way.kind == "pump":
            yield from _pump_words(way, duties.get(way.name), answer.plan)
            continue
        loud = way.kind != "run"
        for text in lines_of(way.name, NAME if loud else NOTE, room=ROOM, most=MOST):
            yield Text(text, NAME if loud else NOTE, role="ink" if loud else "soft")
        if way.kind == "draw":
            yield Text("drawn off", role="soft")
        if way.kind == "branch" and way.end.endswith(", outside"):
            yield Text("to outside", role="soft")
        if way.flow is not None:
            yield Text(system.text(way.flow, "flow"), bold=loud, role="ink" if loud else "soft")
        elif way.light:
            yield Text("for changes", role="soft")


def _pump_words(way: Way, duty: PumpDuty | None, plan: Plan) -> Iterator[Text]:
    system = SYSTEMS[plan.units]
    for text in lines_of(way.name, NAME, room=ROOM, most=MOST, bold=duty is not None):
        yield Text(text, NAME, bold=duty is not None)
    if duty is None:
        yield Text("for changes", role="soft")
        return
    if duty.speed == 0.0:
        yield Text("stopped", bold=True, role="mark")
        return
    yield Text(f"{speed(duty.speed)} speed", role="mark")
    yield Text(system.text(duty.flow, "flow"), bold=True)
    yield Text(f"at {system.text(duty.head, 'head')}")
    if duty.power is not None:
        yield Text(f"{significant(duty.power)} W")


def drain_words(drain: Drain, flow: float | None, plan: Plan) -> tuple[Text, ...]:
    """Name, flow, role, where water first enters and how its valve stands, of a drain."""
    system = SYSTEMS[plan.units]
    name = lines_of(drain.name, NAME, room=WIDE, most=1)[0]
    texts = [Text(name, NAME)]
    if flow is not None:
        texts.append(Text(system.text(flow, "flow"), bold=True))
    role = drain.role if drain.role != "change" else "for changes"
    if role not in drain.name.casefold():
        texts.append(Text(role, role="soft"))
    if drain.inlet is not None:
        texts.append(Text(f"from {system.text(drain.inlet, 'length')}", role="soft"))
    valves = [part for part in drain.parts if isinstance(part, ValvePart)]
    texts += [Text(f"valve {words_of(valve.open, valve)}", role="soft") for valve in valves]
    return tuple(texts)


def vessel_words(plan: Plan, name: str, more: tuple[str, ...]) -> tuple[Text, ...]:
    """Name of a vessel, its level and rim, and what else is to be said of it."""
    system, vessel = SYSTEMS[plan.units], plan.vessels[name]
    texts = [Text(line, NAME, bold=True) for line in lines_of(name, NAME, room=150, most=2)]
    texts.append(Text(f"water {system.text(vessel.level, 'length')}", role="soft"))
    if vessel.rim is not None:
        texts.append(Text(f"rim {system.text(vessel.rim, 'length')}", role="soft"))
    texts += [Text(lines_of(text, NOTE, room=WIDE, most=1)[0], role="soft") for text in more]
    return tuple(texts)


def outlet_of(parts: tuple[Part, ...]) -> OutletPart | None:
    """Give the outlet at the end of some parts, if it is told."""
    last = parts[-1] if parts else None
    return last if isinstance(last, OutletPart) else None
