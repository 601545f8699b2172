"""What the answer says: bands of flow, chances, and what contributes most."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from balance.plan.model import Plan
from balance.questions.record import Record, frame, quantity

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, kw_only=True)
class Contribution(Record):
    """What one kind of doubt contributes to the variance of a flow.

    Attributes
    ----------
    about : the kind
    share : of the variance, by itself and in proportion to the doubt [ratio]
    """

    about: str
    share: float = quantity("ratio")


@dataclass(frozen=True, kw_only=True)
class Band(Record):
    """Where the flow of a branch, a group's total or a pump lies.

    Attributes
    ----------
    name : of the branch, group or pump
    flow : without any doubt [m³/s]
    low, middle, high : what 5, 50 and 95 % of the systems stay below [m³/s]
    wanted : flows between which its target counts as met; None where open [m³/s]
    within : chance that the target is met; None where nothing is asked [ratio]
    too_little, too_much : chance to miss it on either side [ratio]
    limits : the plan's limits of its flow [m³/s]
    beyond_limits : chance to break one of them; None where there is none [ratio]
    dry, backwards : chance that no water flows, or that it runs back [ratio]
    logarithmic : shares are of the variance of the logarithm of the flow
    shares : of its variance, the largest first; empty where the flow does not vary
    rest : of its variance: joint effects of several doubts, and bent ones [ratio]
    """

    name: str
    flow: float = quantity("flow")
    low: float = quantity("flow")
    middle: float = quantity("flow")
    high: float = quantity("flow")
    wanted: tuple[float | None, float | None] = quantity("flow")
    within: float | None = quantity("ratio")
    too_little: float | None = quantity("ratio")
    too_much: float | None = quantity("ratio")
    limits: tuple[float | None, float | None] = quantity("flow")
    beyond_limits: float | None = quantity("ratio")
    dry: float = quantity("ratio")
    backwards: float = quantity("ratio")
    logarithmic: bool
    shares: tuple[Contribution, ...]
    rest: float | None = quantity("ratio")

    @property
    def has_water(self) -> bool:
        """Whether water flows without any doubt, or in some system."""
        return self.flow != 0.0 or self.dry < 1.0


@dataclass(frozen=True, kw_only=True)
class Matter(Record):
    """One kind of doubt and what to do about it.

    Attributes
    ----------
    about : the kind
    share : of the variance of a branch's flow, mean of all branches whose flow varies [ratio]
    most_in : branches in which none contributes more
    advice : how to make it less
    """

    about: str
    share: float = quantity("ratio")
    most_in: tuple[str, ...]
    advice: str


@dataclass(frozen=True, kw_only=True)
class Outcome(Record):
    """What comes of systems drawn from one state of knowledge.

    Attributes
    ----------
    systems : drawn
    unsettled : of them, whose flows were not found; they are left out of all the rest
    asked : how many branches and totals have a target
    missed : of them, those whose target is missed without any doubt
    within_all : chance that all targets are met at once; None where nothing is asked [ratio]
    within_all_error : standard deviation of that by the number of systems [ratio]
    within_limits : chance that no limit is broken; None where there is none [ratio]
    branches : every branch
    totals : of groups with a target
    pumps : every pump
    matters : kinds of doubt, the one that contributes most first
    worst_imbalance : of flow at any joint in any system [m³/s]
    worst_mismatch : of head along any run in any system [m]
    """

    systems: int
    unsettled: int
    asked: int
    missed: tuple[str, ...]
    within_all: float | None = quantity("ratio")
    within_all_error: float | None = quantity("ratio")
    within_limits: float | None = quantity("ratio")
    branches: tuple[Band, ...]
    totals: tuple[Band, ...]
    pumps: tuple[Band, ...]
    matters: tuple[Matter, ...]
    worst_imbalance: float = quantity("flow")
    worst_mismatch: float = quantity("head")


@dataclass(frozen=True, kw_only=True)
class Clogged(Record):
    """A branch, run or header that loses more in every system.

    Attributes
    ----------
    name : of it
    more : at equal flow, as a share of what it loses clean [ratio]
    """

    name: str
    more: float = quantity("ratio")


@dataclass(frozen=True, kw_only=True)
class Spread(Record):
    """How sure the flows of a plan are.

    Attributes
    ----------
    title : of the plan
    begins : where the handles stand: as the plan has them, or where `settings` puts them
    clogged : what loses more than it does clean
    seed : of the random numbers
    before : by what the plan says
    after : by what readings say besides; None where there are none
    notes : what a person should know about these figures, in words
    plan : as it was asked about
    """

    title: str
    begins: Literal["as it stands", "at the settings"]
    clogged: tuple[Clogged, ...]
    seed: int
    before: Outcome
    after: Outcome | None
    notes: tuple[str, ...]
    plan: Plan = field(metadata={"private": True})

    def to_frame(self) -> pd.DataFrame:
        """Bands of the branches as a pandas table, without their shares."""
        last = self.before if self.after is None else self.after
        return frame(last.branches).drop(columns="shares")
