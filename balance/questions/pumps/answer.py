"""The answer to the second question: which pump."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from balance.plan.model import Arrangement, Plan
from balance.questions.duty import PumpDuty
from balance.questions.head_lines import HeadLine
from balance.questions.heat import Warming
from balance.questions.record import Record, frame, quantity
from balance.questions.replaced import Replaced

if TYPE_CHECKING:
    import pandas as pd

RankBy = Literal["watts", "margin", "cost"]


@dataclass(frozen=True, kw_only=True)
class Shortfall(Record):
    """A target or limit that is missed.

    Attributes
    ----------
    name : of the branch, or of the group whose total it is; and
    is_total : which of the two
    flow : that it gets [m³/s]
    bound : what would count as met, or the limit [m³/s]
    missing : how far outside, as a share of the target or limit [ratio]
    out_of_reach : no water comes there, however the rest is set
    lift_missing : head that the pump lacks to lift any there [m]; None where that is not what bars
        it
    """

    name: str
    is_total: bool
    flow: float = quantity("flow")
    bound: float = quantity("flow")
    missing: float = quantity("ratio")
    out_of_reach: bool
    lift_missing: float | None = quantity("head")


@dataclass(frozen=True, kw_only=True)
class DeadHead(Record):
    """The pressure with every valve shut and the pump at top speed, beside what parts stand.

    Attributes
    ----------
    pressure : gauge, at the foot of the plumbing where the weakest part stands [Pa]; None where
        nothing is known to be pressed on
    at_least : the curve begins above zero flow, so it may be more
    weakest : the part that comes nearest to its limit, in words
    stands : what that one stands [Pa]
    too_much : the pressure is above it
    """

    pressure: float | None = quantity("pressure")
    at_least: bool
    weakest: str
    stands: float | None = quantity("pressure")
    too_much: bool


@dataclass(frozen=True, kw_only=True)
class OneStopped(Record):
    """What remains when one of several pumps fails, the handles left as they are.

    Attributes
    ----------
    pump : that stands still
    flow : of all water that still leaves vessels [m³/s]
    share : of the flow before [ratio]
    least_branch : the branch that keeps the smallest share of its flow
    least_share : that share [ratio]
    dry : branches that get nothing
    check_failed_share : of the flow before, should its check valve stand open too [ratio]; None
        where it has none
    """

    pump: str
    flow: float = quantity("flow")
    share: float = quantity("ratio")
    least_branch: str
    least_share: float = quantity("ratio")
    dry: tuple[str, ...]
    check_failed_share: float | None = quantity("ratio")


@dataclass(frozen=True, kw_only=True)
class Crossing(Record):
    """Where a pump works with the valves as the plan has them.

    Attributes
    ----------
    speed : setting [ratio]
    flow : through it [m³/s]
    head : it gives [m]
    """

    speed: float = quantity("ratio")
    flow: float = quantity("flow")
    head: float = quantity("head")


@dataclass(frozen=True, kw_only=True)
class HandleOpening(Record):
    """Where a valve stands.

    Attributes
    ----------
    valve : name
    opening : of its travel from shut, before rounding to marks [ratio]
    """

    valve: str
    opening: float = quantity("ratio")


@dataclass(frozen=True, kw_only=True)
class PumpTrial(Record):
    """What one candidate does on the plan, its valves and speed at their best.

    Attributes
    ----------
    rank : from 1, as the person ranks them
    name : of the candidate
    arrangement : single, parallel, series, both ends
    as_planned : it is the pump that the plan has
    own : names of its pumps on the plan; others of the plan may work beside them
    meets : every target within its tolerance, and every limit kept, by pumps that all move water
    backwards : pumps through which water runs home
    idle : pumps that turn and move no water
    shortfalls : what is missed, the worst first
    reach : times its target that every branch can have at once, at top speed [ratio]; below 1: how
        much of all targets it can give.  None where one is out of reach, and where nothing is
        asked for that a valve could set
    speeds : settings of its own pumps [ratio]; and
    speed_is_free : whether they can be set
    flow : of all water that leaves vessels [m³/s]
    pumps : where each of its pumps works
    in_useful_range : all of them; None: not judged
    power : of all of them at the wire [W]; None where a curve has none
    efficiency : wire to water, of all of them together [ratio]
    heat : into the water [W]
    energy : a year [kWh]
    cost : a year, in the plan's currency; None without a price of electricity or without power
    price : of purchase, of all of them; None where not given
    total_cost : of purchase and of the years' electricity; None where one is not known
    fouling_loss : share of its flow that the branch hit hardest loses once all has fouled as
        stated, handles and speed as they are [ratio]
    fouling_hits : that branch
    fouled_reach : `reach` once all has fouled, handles and speed set anew [ratio]
    dead_head : beside what the weakest part stands
    wide_open : flow with every valve wide open, at top speed [m³/s]
    one_stopped : what remains when one of several pumps fails
    line : head that its pumps together give at top speed; None where unlike pumps work together
    crossing : its duty with the valves as the plan has them, at top speed
    handles : where the search put the valves that it turned
    why : why it does not rank first, or what makes it first, in words
    doubts : what was changed in its curve, and where the laws are stretched, in words
    """

    rank: int
    name: str
    arrangement: Arrangement
    as_planned: bool
    own: tuple[str, ...]
    meets: bool
    backwards: tuple[str, ...]
    idle: tuple[str, ...]
    shortfalls: tuple[Shortfall, ...]
    reach: float | None = quantity("ratio")
    speeds: tuple[float, ...] = quantity("ratio")
    speed_is_free: bool
    flow: float = quantity("flow")
    pumps: tuple[PumpDuty, ...]
    in_useful_range: bool | None
    power: float | None = quantity("power")
    efficiency: float | None = quantity("ratio")
    heat: float | None = quantity("power")
    energy: float | None = quantity("energy")
    cost: float | None
    price: float | None
    total_cost: float | None
    fouling_loss: float = quantity("ratio")
    fouling_hits: str
    fouled_reach: float | None = quantity("ratio")
    dead_head: DeadHead
    wide_open: float = quantity("flow")
    one_stopped: tuple[OneStopped, ...]
    line: HeadLine | None
    crossing: Crossing | None
    handles: tuple[HandleOpening, ...]
    why: str
    doubts: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Pumps(Record):
    """Candidates compared on a plan.

    Attributes
    ----------
    title : of the plan
    rank_by : watts, margin or cost
    trials : every candidate, in order of rank
    any_meets : one of them at least meets every target
    fouling : that was stated: rise of every loss at equal flow [ratio]
    years : over which costs are added up
    currency : of all amounts
    warming : of the system's water by the first of them; None without a known volume or power
    replaced : the branches' own small pumps that the plan lists; None without any
    system : head that the plumbing asks of its pump, the valves as the plan has them; None where
        the plan has several pumps, or where no flow through its pump can be had
    notes : what a person should know about how this was found
    plan : as asked
    """

    title: str
    rank_by: RankBy
    trials: tuple[PumpTrial, ...]
    any_meets: bool
    fouling: float = quantity("ratio")
    years: float
    currency: str
    warming: Warming | None
    replaced: Replaced | None
    system: HeadLine | None
    notes: tuple[str, ...]
    plan: Plan = field(metadata={"private": True})

    def to_frame(self) -> pd.DataFrame:
        """Candidates as a pandas table."""
        return frame(self.trials)
