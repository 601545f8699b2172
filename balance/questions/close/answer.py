"""The answer: what each scenario does to every branch and pump, and what it breaks."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from balance.plan.model import Plan
from balance.questions.close.advice import Holding
from balance.questions.close.interaction import Interaction
from balance.questions.duty import PumpDuty
from balance.questions.heat import DeadHeadWarming
from balance.questions.record import Record, frame, quantity

if TYPE_CHECKING:
    import pandas as pd

Part = Literal["shut", "turned", "clogged", ""]
HarmKind = Literal[
    "flood", "column", "dead head", "pressure", "limits", "dry", "pump", "suction", "starved",
    "air", "too little", "too much",
]  # fmt: skip
Place = Literal["stopped", "below", "inside", "above"]


@dataclass(frozen=True, kw_only=True)
class Done(Record):
    """One thing that a scenario does.

    Attributes
    ----------
    name : of the branch, run or valve that is shut or turned, or the stretch that clogs
    what : which of these
    valve : that does it; None where the stretch has none and is capped off, and for a clog
    stood : opening of that valve before [ratio]
    opening : afterwards [ratio]
    mark : the same as a hand reads it
    more : by how much a clogged stretch loses more at equal flow [ratio]
    """

    name: str
    what: Literal["shut", "turned", "clogged"]
    valve: str | None
    stood: float | None = quantity("ratio")
    opening: float | None = quantity("ratio")
    mark: str
    more: float | None = quantity("ratio")


@dataclass(frozen=True, kw_only=True)
class BranchChange(Record):
    """What becomes of one branch.

    Attributes
    ----------
    branch : name
    part : what the scenario does to it, empty for most
    before, flow : before and then [m³/s], negative if backwards
    change : of its flow [m³/s]
    by : the same as a share of the flow before; None where it had none, or turns round [ratio]
    """

    branch: str
    part: Part
    before: float = quantity("flow")
    flow: float = quantity("flow")
    change: float = quantity("flow")
    by: float | None = quantity("ratio")


@dataclass(frozen=True, kw_only=True)
class PumpMove(Record):
    """How a pump moves along its curve.

    Attributes
    ----------
    pump : name
    flow_before, head_before, flow, head : [m³/s], [m]
    power : at the wire then [W]; None where its curve has none
    place_before, place : where that is in its useful range; None where that is not judged
    """

    pump: str
    flow_before: float = quantity("flow")
    head_before: float = quantity("head")
    flow: float = quantity("flow")
    head: float = quantity("head")
    power: float | None = quantity("power")
    place_before: Place | None
    place: Place | None


@dataclass(frozen=True, kw_only=True)
class HeadMove(Record):
    """Head where the water comes to a header, above the surface that it is drawn from.

    Attributes
    ----------
    joint : where one or more headers begin; without headers, where a pump delivers
    before, head : before and then [m]; None where nothing ties the joint to a vessel
    rise : from one to the other [m]
    """

    joint: str
    before: float | None = quantity("head")
    head: float | None = quantity("head")
    rise: float | None = quantity("head")


@dataclass(frozen=True, kw_only=True)
class Harm(Record):
    """One thing that breaks in a scenario, or is broken as the plan stands.

    Attributes
    ----------
    kind : flood (more comes into a vessel than its drains carry), column (of water that breaks),
        dead head (a pump turns and moves no water, or water runs back through it), pressure (above
        what a part stands), limits (of a branch), dry (no water any more, or backwards), pump
        (outside its useful range), suction (too little for the pump), starved (less than half of
        what is wanted at least, or of what it had), air (drawn in), too little or too much for its
        target
    name : branch, group, pump, stretch, vessel or place
    severe : it harms something; else it is only told
    text : the whole in words
    """

    kind: HarmKind
    name: str
    severe: bool
    text: str


@dataclass(frozen=True, kw_only=True)
class Case(Record):
    """What happens in one scenario.

    Attributes
    ----------
    label : what is done, in few words
    done : every part of it
    branches : every branch
    most : the branch that rises most for what it had; None where none rises
    pumped_before, pumped : flow of all water that leaves vessels [m³/s]
    pumps : every pump
    heads : where the water comes to the headers
    harms : what breaks that was whole before, the worst first
    holding : how the other branches are held by moving one or two handles; None unless asked for
    """

    label: str
    done: tuple[Done, ...]
    branches: tuple[BranchChange, ...]
    most: BranchChange | None
    pumped_before: float = quantity("flow")
    pumped: float = quantity("flow")
    pumps: tuple[PumpMove, ...]
    heads: tuple[HeadMove, ...]
    harms: tuple[Harm, ...]
    holding: Holding | None

    @property
    def harmed(self) -> bool:
        """Whether something is harmed that was not before."""
        return any(harm.severe for harm in self.harms)

    @property
    def rise(self) -> float:
        """The greatest rise of a branch as a share of what it had [ratio], 0 where none rises."""
        return 0.0 if self.most is None else self.most.by or 0.0


@dataclass(frozen=True, kw_only=True)
class Weakest(Record):
    """The part that comes nearest to what it stands.

    Attributes
    ----------
    stretch : that it is in
    what : size and kind of a pipe or hose; empty for a part that states what it stands
    stands : gauge pressure that it stands [Pa]
    guessed : which is printed nowhere, only usual
    """

    stretch: str
    what: str
    stands: float = quantity("pressure")
    guessed: bool


@dataclass(frozen=True, kw_only=True)
class DeadHead(Record):
    """Every branch shut.

    Attributes
    ----------
    pumps : every pump
    moves_water : some pump still moves water, by a way that is no branch
    pressure : gauge, at the foot of what pumps press on, as they turn [Pa]; None without such
    pressure_at_top_speed : the same with pumps at their top speed [Pa]
    weakest : the part that comes nearest to what it stands; None where that is known of none
    heat : power of all pumps that goes into the water [W]; None where a curve has no power
    warming : of the water that is pressed on; None where that heat or that water is not known
    """

    pumps: tuple[PumpMove, ...]
    moves_water: bool
    pressure: float | None = quantity("pressure")
    pressure_at_top_speed: float | None = quantity("pressure")
    weakest: Weakest | None
    heat: float | None = quantity("power")
    warming: DeadHeadWarming | None


@dataclass(frozen=True, kw_only=True)
class Close(Record):
    """What happens when branches are shut, turned down or clog up.

    Attributes
    ----------
    title : of the plan
    each : every open branch was done in turn, then what else was asked for
    safe : no case harms what was whole before
    pumps : every pump as the plan stands
    heads : as the plan stands, where the water comes to the headers
    pumped : flow of all water that leaves vessels as the plan stands [m³/s]
    already : what is broken as the plan stands
    cases : what was asked for, each on its own
    pairs : every two branches together, the worst first; empty unless asked for
    dead_head : every branch shut; None where that would leave a joint's draw without water
    interaction : what one mark of each handle does; None unless asked for
    notes : what a person should know about these cases, in words
    worst_imbalance : of flow at any joint in any case [m³/s]
    worst_mismatch : of head along any run in any case [m]
    plan : as it stands in all of this
    """

    title: str
    each: bool
    safe: bool
    pumps: tuple[PumpDuty, ...]
    heads: tuple[HeadMove, ...]
    pumped: float = quantity("flow")
    already: tuple[Harm, ...]
    cases: tuple[Case, ...]
    pairs: tuple[Case, ...]
    dead_head: DeadHead | None
    interaction: Interaction | None
    notes: tuple[str, ...]
    worst_imbalance: float = quantity("flow")
    worst_mismatch: float = quantity("head")
    plan: Plan = field(metadata={"private": True})

    def to_frame(self) -> pd.DataFrame:
        """Every branch of every case as a pandas table."""
        import pandas as pd

        return pd.concat(
            [frame(case.branches).assign(case=case.label) for case in (*self.cases, *self.pairs)],
            ignore_index=True,
        )
