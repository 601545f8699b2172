"""The answer to the main question: where each handle goes, and what then flows."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from balance.plan.model import Plan
from balance.questions.duty import PumpDuty
from balance.questions.record import Record, frame, quantity

if TYPE_CHECKING:
    import pandas as pd

ROUNDING = 1e-6  # of a bound, by which a flow may miss it and still keep it


@dataclass(frozen=True, kw_only=True)
class HandleMark(Record):
    """Where one handle goes.

    Attributes
    ----------
    valve, stretch : names in the plan
    handle : how its mark is read
    travel : of the handle in that unit: 90 degrees, its turns, or 100 percent
    opening : of the travel from shut, at the mark [ratio]
    mark : the same in the handle's unit
    stood : opening before, as the plan has it [ratio]
    exact : opening that would be best before rounding to a mark [ratio]
    role : what this answer does with it
    """

    valve: str
    stretch: str
    handle: Literal["degrees", "turns", "percent"]
    travel: float
    opening: float = quantity("ratio")
    mark: float
    stood: float = quantity("ratio")
    exact: float = quantity("ratio")
    role: Literal["set", "stays", "locked"]


@dataclass(frozen=True, kw_only=True)
class Remedy(Record):
    """A fixed restriction that would make a coarse valve fine, computed.

    Attributes
    ----------
    text : what to put in
    head : that it takes at the target [m]
    opening : at which the valve would then stand [ratio]
    flow_per_step : share of the flow that a step of the handle would then move [ratio]
    """

    text: str
    head: float = quantity("head")
    opening: float = quantity("ratio")
    flow_per_step: float = quantity("ratio")


@dataclass(frozen=True, kw_only=True)
class BranchFlow(Record):
    """What one branch gets at the marks.

    Attributes
    ----------
    branch : name
    valve : that sets it, or else its first, which is locked; None if it has none
    flow : at the marks [m³/s]
    exact : flow that was best before rounding to marks [m³/s]
    aim : what it was brought close to; None without a target [m³/s]
    low, high : flows between which it counts as met; None where open [m³/s]
    asked : what the plan asks, in words of kind: flow, range, at least, at most, share, or ""
    met : within low and high
    missing : how far outside, as a share of the target [ratio], 0 if met
    limits : the plan's limits of its flow [m³/s]
    within_limits : the flow keeps them
    velocity : greatest along the branch [m/s]
    step : what a step of the handle is called: "1 deg", "1/8 turn", "1 %"
    flow_per_step : share of the flow that a step moves [ratio], None without a valve
    index : the branch with the least head to spare, whose valve stands wide open
    bucket : label of the bucket to time it with, and
    bucket_time : how long it takes [s]; None where nothing flows
    read_by : "bucket" or how a branch that ends under water is read
    coarse : a little of the handle moves the flow by more than half the tolerance
    remedy : the first thing to do about that
    """

    branch: str
    valve: str | None
    flow: float = quantity("flow")
    exact: float = quantity("flow")
    aim: float | None = quantity("flow")
    low: float | None = quantity("flow")
    high: float | None = quantity("flow")
    asked: str
    met: bool
    missing: float = quantity("ratio")
    limits: tuple[float | None, float | None] = quantity("flow")
    within_limits: bool
    velocity: float = quantity("velocity")
    step: str
    flow_per_step: float | None = quantity("ratio")
    index: bool
    bucket: str
    bucket_time: float | None = quantity("time")
    read_by: str
    coarse: bool
    remedy: Remedy | None

    @property
    def is_short(self) -> bool:
        """Whether it gets less than what counts as met."""
        return not self.met and self.low is not None and self.flow < self.low

    @property
    def lost_to_rounding(self) -> bool:
        """Whether its target or its limits are missed through rounding to marks alone."""
        if not self.within_limits:
            return _between(self.exact, *self.limits)
        return not self.met and self.exact > 0.0 and _between(self.exact, self.low, self.high)


def _between(flow: float, low: float | None, high: float | None) -> bool:
    keeps_low = low is None or flow >= low * (1 - ROUNDING)
    return keeps_low and (high is None or flow <= high * (1 + ROUNDING))


@dataclass(frozen=True, kw_only=True)
class Total(Record):
    """What several branches get together, where the plan asks for that.

    Attributes
    ----------
    group : name in the plan
    branches : whose flows add up
    flow : at the marks [m³/s]
    low, high : flows between which it counts as met; None where open [m³/s]
    asked : by the branches themselves, where each of them has an aim of its own [m³/s]
    met : within low and high
    """

    group: str
    branches: tuple[str, ...]
    flow: float = quantity("flow")
    low: float | None = quantity("flow")
    high: float | None = quantity("flow")
    asked: float | None = quantity("flow")
    met: bool


@dataclass(frozen=True, kw_only=True)
class SingleChange(Record):
    """One change to the plumbing, tried: how far the targets are missed with it.

    Attributes
    ----------
    text : what is changed
    missed_before, missed : sum of the shares by which targets are missed [ratio]
    meets : branches, and totals of groups, that are met with it and were not before
    meets_all : with it all targets are met
    """

    text: str
    missed_before: float = quantity("ratio")
    missed: float = quantity("ratio")
    meets: tuple[str, ...]
    meets_all: bool


@dataclass(frozen=True, kw_only=True)
class Bleed(Record):
    """A spare that, opened this far, brings a pump back into its useful range.

    Attributes
    ----------
    valve, branch : of the spare
    opening : of its travel from shut [ratio]
    flow : that it then carries [m³/s]
    pump : that runs well then
    loss : share of its flow that a branch loses by it at the most [ratio]
    meets : all that was met without it is met with it
    """

    valve: str
    branch: str
    opening: float = quantity("ratio")
    flow: float = quantity("flow")
    pump: str
    loss: float = quantity("ratio")
    meets: bool


@dataclass(frozen=True, kw_only=True)
class Settings(Record):
    """Where each handle goes.

    Attributes
    ----------
    title : of the plan
    met : every target is met within its tolerance, and every limit kept
    handles : every valve but those of drains
    branches : every branch
    totals : every group that has a target
    pumps : every pump
    out_of_reach : branches that the pump cannot lift water to, in words; a branch that a locked
        valve keeps dry stands in `binding`
    binding : what stands in the way of targets that are not met, in words
    changes : single changes that would help, the best first; empty if met
    tried : single changes that were tried and would not help enough, in words
    bleed : what brings the pump into its useful range, if it is outside
    notes : what a person should know about how this was found
    worst_imbalance : of flow at any joint [m³/s]
    worst_mismatch : of head along any run [m]
    plan : the plan with valves and speeds at the marks
    """

    title: str
    met: bool
    handles: tuple[HandleMark, ...]
    branches: tuple[BranchFlow, ...]
    totals: tuple[Total, ...]
    pumps: tuple[PumpDuty, ...]
    out_of_reach: tuple[str, ...]
    binding: tuple[str, ...]
    changes: tuple[SingleChange, ...]
    tried: tuple[str, ...]
    bleed: Bleed | None
    notes: tuple[str, ...]
    worst_imbalance: float = quantity("flow")
    worst_mismatch: float = quantity("head")
    plan: Plan = field(metadata={"private": True})

    def to_frame(self) -> pd.DataFrame:
        """Branches as a pandas table."""
        return frame(self.branches)

    def handles_frame(self) -> pd.DataFrame:
        """Handles as a pandas table."""
        return frame(self.handles)
