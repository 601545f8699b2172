"""The answer: the steps of a water change, what it does to the water, and what may go wrong."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from balance.plan.model import Plan
from balance.questions.record import Record, frame, quantity
from balance.questions.traces import Trace

if TYPE_CHECKING:
    import pandas as pd

StepKind = Literal["pumps off", "drain", "fill", "together", "pumps on", "rest"]
TroubleKind = Literal["short", "overflow", "pump dry", "slow"]
LineKind = Literal["out", "in"]


@dataclass(frozen=True, kw_only=True)
class LevelAt(Record):
    """Where the surface of a vessel stands at the end of a step.

    Attributes
    ----------
    vessel : name
    level : above the plan's datum [m]
    depth : of the water; None where nothing tells the vessel's floor [m]
    rise : since the change began, negative if it fell [m]
    lowest, highest : in the course of the step [m]
    """

    vessel: str
    level: float = quantity("length")
    depth: float | None = quantity("length")
    rise: float = quantity("length")
    lowest: float = quantity("length")
    highest: float = quantity("length")


@dataclass(frozen=True, kw_only=True)
class Step(Record):
    """One step of a change.

    Attributes
    ----------
    kind : pumps off (the system's own, until all stands still), drain, fill, together (both),
        pumps on, rest (until the levels are steady)
    begins, lasts : [s]
    taken, brought : old and new water that moves in it [m³]
    levels : of every vessel with a size, at its end
    tells : vessel that comes to its level only then, so that it says when to stop; None without
    """

    kind: StepKind
    begins: float = quantity("time")
    lasts: float = quantity("time")
    taken: float = quantity("volume")
    brought: float = quantity("volume")
    levels: tuple[LevelAt, ...]
    tells: str | None

    def level(self, vessel: str) -> LevelAt:
        """Where one vessel stands at its end."""
        return next(each for each in self.levels if each.vessel == vessel)


@dataclass(frozen=True, kw_only=True)
class Trouble(Record):
    """Something that goes wrong.

    Attributes
    ----------
    kind : short (not all of the volume moves), slow (not in a day), overflow, pump dry
    name : of the drain, pump or vessel
    time : since the change began [s]
    text : the whole in words
    """

    kind: TroubleKind
    name: str
    time: float = quantity("time")
    text: str


@dataclass(frozen=True, kw_only=True)
class Way(Record):
    """A way out of trouble, simulated and without any.

    Attributes
    ----------
    order : which goes first
    running : whether the system's own pumps go on
    volume : that goes so [m³]
    """

    order: Literal["drain first", "fill first", "together"]
    running: bool
    volume: float = quantity("volume")


@dataclass(frozen=True, kw_only=True)
class Handle(Record):
    """A valve of one of the lines.

    Attributes
    ----------
    valve : name
    line : that it stands in: out or in
    stood, opening : as the plan has it, and while its line is used [ratio]
    mark : the second as a hand reads it
    """

    valve: str
    line: LineKind
    stood: float = quantity("ratio")
    opening: float = quantity("ratio")
    mark: str


@dataclass(frozen=True, kw_only=True)
class Left(Record):
    """Old water left after some changes alike.

    Attributes
    ----------
    changes : how many
    new : water that they take [m³]
    left : old water in the system then [ratio]
    left_exchanging : the same if all of it were exchanged at once [ratio]
    """

    changes: int
    new: float = quantity("volume")
    left: float = quantity("ratio")
    left_exchanging: float = quantity("ratio")


@dataclass(frozen=True, kw_only=True)
class Reach(Record):
    """What it takes to come down to a share of old water.

    Attributes
    ----------
    share : of old water [ratio]
    changes : so many like this one; None where one changes nothing
    new : water that they take [m³]; None likewise
    exchanged : new water that an exchange at once takes [m³]
    """

    share: float = quantity("ratio")
    changes: int | None
    new: float | None = quantity("volume")
    exchanged: float = quantity("volume")


@dataclass(frozen=True, kw_only=True)
class Mixing(Record):
    """What becomes of the old water.

    Attributes
    ----------
    system : water in the system, without what pipes hold [m³]
    left : old water left after this change [ratio]
    after : after one change, two, and so on
    reach : what it takes to leave half and a tenth of it
    """

    system: float = quantity("volume")
    left: float = quantity("ratio")
    after: tuple[Left, ...]
    reach: tuple[Reach, ...]


@dataclass(frozen=True, kw_only=True)
class Salt(Record):
    """The salt of the new water.

    Attributes
    ----------
    salinity : of the new water [g/kg]
    density : of it, at the temperature of the system's [kg/m³]
    volume : of it, as asked [m³]
    comes : what of it really comes [m³]
    salt : dry, without any water in it, for the volume asked [kg]
    fresh : water that it goes into [m³]
    before, after : salinity of the system [g/kg]; after is None where its volume is open
    """

    salinity: float = quantity("salinity")
    density: float = quantity("density")
    volume: float = quantity("volume")
    comes: float = quantity("volume")
    salt: float = quantity("mass")
    fresh: float = quantity("volume")
    before: float = quantity("salinity")
    after: float | None = quantity("salinity")


@dataclass(frozen=True, kw_only=True)
class Stuck(Record):
    """What passes in a time through a line that does not shut.

    Attributes
    ----------
    time : since it should have been shut [s]
    passed : water that has gone through it [m³]; of the new water's line negative if it runs back
    levels : of every vessel with a size by then
    over : vessels that have come to their rims
    """

    time: float = quantity("time")
    passed: float = quantity("volume")
    levels: tuple[LevelAt, ...]
    over: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Open(Record):
    """A line that stays open when it should be shut.

    Attributes
    ----------
    line : out, by the drain; in, through the new water's line with its pump at rest
    name : of the drain or pump
    valves : in series in it, in the order of the plan
    in_air : its end lets the water fall, so that none runs back through it
    fastest : flow through it, in either direction [m³/s]
    after : in some times
    most : what passes until nothing moves any more [m³]; None if that takes more than a day
    rests : when that is [s]; None likewise
    dry : system pumps that run dry on the way
    second_valve : what a second valve would do, and where it goes, in words
    """

    line: LineKind
    name: str
    valves: tuple[str, ...]
    in_air: bool
    fastest: float = quantity("flow")
    after: tuple[Stuck, ...]
    most: float | None = quantity("volume")
    rests: float | None = quantity("time")
    dry: tuple[str, ...]
    second_valve: str


@dataclass(frozen=True, kw_only=True)
class Cover(Record):
    """The water over the intake of one of the system's own pumps.

    Attributes
    ----------
    pump, vessel : names
    least : in the course of the change, as long as the pump turns [m]
    step : in which that is
    wanted : so that no vortex draws air; None where nothing tells its strainer [m]
    """

    pump: str
    vessel: str
    least: float = quantity("length")
    step: StepKind
    wanted: float | None = quantity("length")


@dataclass(frozen=True, kw_only=True)
class Limits(Record):
    """How much could be changed at most, in the order asked.

    Attributes
    ----------
    drained : by the drain until nothing comes to its inlet, after the new water if that goes first
        [m³]; None where that takes more than a day, where both run to the end, or without a drain
    new : that the pump can take from its vessel as it stands [m³]; None where that is open
    over : where new water goes first, the vessel that it brings to its rim; None where it does not
    room : new water by then [m³]; None likewise
    """

    drained: float | None = quantity("volume")
    new: float | None = quantity("volume")
    over: str | None
    room: float | None = quantity("volume")


@dataclass(frozen=True, kw_only=True)
class WaterChange(Record):
    """A water change by drain and pump.

    Attributes
    ----------
    title : of the plan
    volume : to be changed [m³]
    order : which goes first
    running : whether the system's own pumps go on
    drain, pump : by which old water leaves and new comes; None without
    source : vessel of the new water; None without
    handles : valves of both lines, as they stand meanwhile
    evens : the valve, and its mark, at which both lines carry alike at first; None where they do
        already, where only one runs at a time, and where none may be turned
    done : all of the volume leaves and comes, and nothing overflows or runs dry
    taken, brought : old and new water that moves in all [m³]
    before : levels before it begins
    steps : in their order
    lasts : from the first to the last of the steps that move water [s]
    troubles : what goes wrong, in its order
    ways : out of it; none without trouble
    limits : how much could be changed at most
    intakes : water over those of the system's own pumps
    time : of the traces, since the first step began [s]
    traces : level of each vessel over that time
    mixing : what becomes of the old water; None where the system's volume is open
    salt : of the new water; None for fresh water and where none comes
    stuck : the lines that stay open
    notes : what a person should know about how it was reckoned
    lost : water that the simulation of a step has lost or made, at most [m³]
    plan : as it stands in all of this
    """

    title: str
    volume: float = quantity("volume")
    order: Literal["drain first", "fill first", "together"]
    running: bool
    drain: str | None
    pump: str | None
    source: str | None
    handles: tuple[Handle, ...]
    evens: Handle | None
    done: bool
    taken: float = quantity("volume")
    brought: float = quantity("volume")
    before: tuple[LevelAt, ...]
    steps: tuple[Step, ...]
    lasts: float = quantity("time")
    troubles: tuple[Trouble, ...]
    ways: tuple[Way, ...]
    limits: Limits
    intakes: tuple[Cover, ...]
    time: tuple[float, ...] = quantity("time")
    traces: tuple[Trace, ...]
    mixing: Mixing | None
    salt: Salt | None
    stuck: tuple[Open, ...]
    notes: tuple[str, ...]
    lost: float = quantity("volume")
    plan: Plan = field(metadata={"private": True})

    def to_frame(self) -> pd.DataFrame:
        """Levels over time as a pandas table, a column for each vessel."""
        import pandas as pd

        columns = {f"{trace.vessel}_m": trace.level for trace in self.traces}
        return pd.DataFrame({"time_s": self.time, **columns})

    def steps_frame(self) -> pd.DataFrame:
        """The steps as a pandas table."""
        return frame(self.steps)
