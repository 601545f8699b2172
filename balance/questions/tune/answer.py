"""What `balance tune` answers: one step of a walk."""

from __future__ import annotations

from dataclasses import dataclass, field

from balance.plan.model import Plan
from balance.plan.reading import Turned
from balance.questions.record import Record, quantity
from balance.questions.tune.steps import Kind
from balance.questions.tune.view import View


@dataclass(frozen=True, kw_only=True)
class Handle(Record):
    """Where one handle of the walk stands.

    Attributes
    ----------
    valve : its name
    mark : as its handle is read
    set : it has been set since the first readings
    """

    valve: str
    mark: str
    set: bool


@dataclass(frozen=True, kw_only=True)
class Expected(Record):
    """What a branch, or a group together, carries as everything stands.

    Attributes
    ----------
    name : of the branch or group
    flow : most likely
    low, high : between which it lies in nine cases of ten
    wanted_low, wanted_high : what counts as met; None: open
    chance : that it is met
    """

    name: str
    flow: float = quantity("flow")
    low: float = quantity("flow")
    high: float = quantity("flow")
    wanted_low: float | None = quantity("flow")
    wanted_high: float | None = quantity("flow")
    chance: float = quantity("ratio")


@dataclass(frozen=True, kw_only=True)
class Advice(Record):
    """One step.

    Attributes
    ----------
    title : of the plan
    kind : read, read again, odd, move (set a handle to a mark), nudge, speed, done, or stuck
    open_first : valves that are to be opened fully before the first reading
    name : of the valve or pump to set; empty where none is
    branch : to be read then; empty where none is
    stands, to, by : where the handle stands, where it goes and how far that is, as it is read;
        speeds in percent.  Empty where nothing is set
    speed : of the pump, where one is set; else None
    way : how the branch is read: "bucket", or what must be done where it ends under water
    bucket : label of the bucket to time it with, and
    volume : what it holds
    flow : that is to be expected then, below zero where water would run back; low and high : where
        that is trimmed to it, near enough; at a first reading where it lies in nine of
        ten systems
    seconds, least_seconds, most_seconds : that the bucket takes at these flows
    handles : of the walk
    readings : so far
    moves : so far, each handle as often as it was come back to
    chance : that all targets are met as everything stands; None while handles are still to be set
    expected : flows as everything stands, where chance is told
    unmet : targets that this plumbing cannot meet
    turned, view, plan : for the next step
    """

    title: str
    kind: Kind
    open_first: tuple[str, ...]
    name: str
    branch: str
    stands: str
    to: str
    by: str
    speed: float | None = quantity("ratio")
    way: str
    bucket: str
    volume: float | None = quantity("volume")
    flow: float | None = quantity("flow")
    low: float | None = quantity("flow")
    high: float | None = quantity("flow")
    seconds: float | None = quantity("time")
    least_seconds: float | None = quantity("time")
    most_seconds: float | None = quantity("time")
    handles: tuple[Handle, ...]
    readings: int
    moves: int
    chance: float | None = quantity("ratio")
    expected: tuple[Expected, ...]
    unmet: tuple[str, ...]
    turned: tuple[Turned, ...] = field(metadata={"private": True})
    view: View = field(metadata={"private": True})
    plan: Plan = field(metadata={"private": True})
