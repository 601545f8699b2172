"""The answer of `check`: what a plan describes, and what is doubtful about it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from balance.plan.locate import Path
from balance.plan.model import Plan
from balance.questions.record import Record, frame, quantity

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, kw_only=True)
class VesselRow(Record):
    """A vessel: where its water stands, and what comes and can go.

    Attributes
    ----------
    vessel : name
    bottom, level, rim : heights above the plan's datum [m]; None where not given
    inflow : that comes when all targets are met, less what pumps and branches take [m³/s];
        None where it could not be reckoned
    carried : that its drains and weirs carry, roughly [m³/s]; None without any, or where some
        cannot be reckoned
    reserve : what of that emergency drains carry [m³/s]
    """

    vessel: str
    bottom: float | None = quantity("length")
    level: float = quantity("length")
    rim: float | None = quantity("length")
    inflow: float | None = quantity("flow")
    carried: float | None = quantity("flow")
    reserve: float = quantity("flow")


@dataclass(frozen=True, kw_only=True)
class PumpRow(Record):
    """A pump: where it stands and what it can do at the highest speed it may run at.

    Attributes
    ----------
    pump, start, end : names
    speed : as it stands [ratio]
    top_speed : the highest it may run at [ratio]
    dead_head : head at zero flow, at top speed [m]
    dead_head_at_least : the curve was measured from above zero flow, so it may be more
    run_out : flow at the end of its curve, at top speed [m³/s]
    """

    pump: str
    start: str
    end: str
    speed: float = quantity("ratio")
    top_speed: float = quantity("ratio")
    dead_head: float = quantity("head")
    dead_head_at_least: bool
    run_out: float = quantity("flow")


@dataclass(frozen=True, kw_only=True)
class HeaderRow(Record):
    """A header: the pipe with tees along it.

    Attributes
    ----------
    header, start : names
    end : joint that feeds it from its other end too; None without
    pipe : size
    length : of that pipe [m]
    taps : how many tees it has
    """

    header: str
    start: str
    end: str | None
    pipe: str
    length: float = quantity("length")
    taps: int


@dataclass(frozen=True, kw_only=True)
class BranchRow(Record):
    """A branch: where it leads, and what is asked of it.

    Attributes
    ----------
    branch, start : names
    end : vessel or joint; None for a capped spare
    lift : from the surface of the vessel that its water comes from to where it ends [m]
    length : of its pipe and hose [m]
    valve : that sets it, None if none does
    mark : where that stands, as a hand reads it
    locked : no answer turns that valve
    aim : flow that an answer comes close to [m³/s]; None where nothing or nothing yet is known
    low, high : flows between which it counts as met; None where open [m³/s]
    velocity : in its pipe and hose at that aim [m/s]
    """

    branch: str
    start: str
    end: str | None
    lift: float | None = quantity("length")
    length: float = quantity("length")
    valve: str | None
    mark: str
    locked: bool
    aim: float | None = quantity("flow")
    low: float | None = quantity("flow")
    high: float | None = quantity("flow")
    velocity: float | None = quantity("velocity")


@dataclass(frozen=True, kw_only=True)
class PipeRow(Record):
    """All pipe or hose of one size: in runs, headers, branches and drains.

    Attributes
    ----------
    kind : pipe or hose
    size : as the plan writes it
    bore : [m]
    length : in total [m]
    stands : gauge pressure that it stands in the plan's water [Pa]; zero where it is not made for
        pressure, None where nothing is known of it
    """

    kind: str
    size: str
    bore: float = quantity("length")
    length: float = quantity("length")
    stands: float | None = quantity("pressure")


@dataclass(frozen=True, kw_only=True)
class EvaporationRow(Record):
    """What becomes of a pump's vessel as water evaporates anywhere in the system.

    Attributes
    ----------
    pump, vessel : it, and the vessel that it draws from, where it shows
    fall_of_a_litre : by which the level there falls when one litre is gone [m]
    rate : at which water evaporates; None where the plan does not say [m³/s]
    to_intake : water that may be gone before the pump's intake is bare; None without intake [m³]
    to_vortex : before a vortex may draw air into its strainer; None without strainer [m³]
    time_to_intake, time_to_vortex : at that rate [s]
    """

    pump: str
    vessel: str
    fall_of_a_litre: float = quantity("length")
    rate: float | None = quantity("flow")
    to_intake: float | None = quantity("volume")
    to_vortex: float | None = quantity("volume")
    time_to_intake: float | None = quantity("time")
    time_to_vortex: float | None = quantity("time")


@dataclass(frozen=True, kw_only=True)
class Doubt(Record):
    """Something in a plan that may not be meant, or not be wise.

    Attributes
    ----------
    line : of the file, None if it has none
    where : in words
    text : what is doubtful
    remedy : what to do about it; may be empty
    unsafe : water may reach the floor
    """

    line: int | None
    where: str
    text: str
    remedy: str
    unsafe: bool

    @classmethod
    def at(
        cls, plan: Plan, path: Path, text: str, remedy: str = "", *, unsafe: bool = False
    ) -> Doubt:
        """A doubt about what stands at a path of a plan."""
        return cls(
            line=plan.line_of(path),
            where=plan.words(path),
            text=text,
            remedy=remedy,
            unsafe=unsafe,
        )


@dataclass(frozen=True, kw_only=True)
class Check(Record):
    """What a plan describes, and what is doubtful about it.

    Attributes
    ----------
    title : of the plan
    safe : no doubt is one of safety
    vessels, pumps, headers, branches, pipes : what there is
    valves : how many a hand can set, drains included
    drains : how many
    evaporation : where it shows, and how much may be gone
    doubts : in the order of the file
    notes : what is left out, in words
    plan : that was looked at
    """

    title: str
    safe: bool
    vessels: tuple[VesselRow, ...]
    pumps: tuple[PumpRow, ...]
    headers: tuple[HeaderRow, ...]
    branches: tuple[BranchRow, ...]
    pipes: tuple[PipeRow, ...]
    valves: int
    drains: int
    evaporation: tuple[EvaporationRow, ...]
    doubts: tuple[Doubt, ...]
    notes: tuple[str, ...]
    plan: Plan = field(metadata={"private": True})

    def to_frame(self) -> pd.DataFrame:
        """Branches as a pandas table."""
        return frame(self.branches)

    def doubts_frame(self) -> pd.DataFrame:
        """Doubts as a pandas table."""
        return frame(self.doubts)
