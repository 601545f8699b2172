"""The answer: the safe one, how it comes about, every case, and the restart."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from balance.network.course.answer import Kind
from balance.plan.model import Plan
from balance.questions.record import Record, frame, quantity
from balance.questions.traces import Trace

if TYPE_CHECKING:
    import pandas as pd

Ended = Literal["break", "nozzle", "crest", "inlet", "level", "empty", "still"]
"""Why a vessel gives no more.

break : air comes in by the hole of a siphon break
nozzle : air comes in by the mouth of a return
crest : the water stands at the edge of a weir
inlet : the water stands at the inlet of a drain
level : it stands level with the water at the other end
empty : nothing is left in it
still : nothing runs out of it at all
"""


@dataclass(frozen=True, kw_only=True)
class Gift(Record):
    """Water that a vessel gives by one way.

    Attributes
    ----------
    way : the run, branch, drain, pump or weir
    volume : [m³]
    """

    way: str
    volume: float = quantity("volume")


@dataclass(frozen=True, kw_only=True)
class VesselEnd(Record):
    """What becomes of one vessel.

    Attributes
    ----------
    vessel : name
    start, end : level before and after [m]
    highest : in between [m]
    rim : [m]; None where the plan tells none
    margin : from the highest level to the rim, negative above it [m]; None without a rim
    given : water that leaves it, negative if it gains [m³]
    by : of that, what leaves by each way, the most first
    ended : why it gives no more
    at : the stretch or weir that says so; empty where none does
    spilt : over its rim while the others run out, before pipes let go theirs [m³]
    """

    vessel: str
    start: float = quantity("length")
    end: float = quantity("length")
    highest: float = quantity("length")
    rim: float | None = quantity("length")
    margin: float | None = quantity("length")
    given: float = quantity("volume")
    by: tuple[Gift, ...]
    ended: Ended
    at: str
    spilt: float = quantity("volume")


@dataclass(frozen=True, kw_only=True)
class Pool(Record):
    """Vessels that a pump draws from, with those that share their water over weirs.

    Attributes
    ----------
    vessel : that the pump draws from
    sections : all of them, it among them
    failed : check valves that fail in the worst case for this pool, which its figures are of
    start, end : level of the vessel before and after [m]
    rim : the lowest of all of them [m]; None where none is told
    margin : of the vessel's level below that rim in the end [m]; None without one
    room : water that would still go in before one of them spills, negative: what has [m³]
    highest_start : the highest level at which the vessel may run, so that none spills [m]; None
        where there is no rim, or no such level above its floor
    highest_blocked : the same, about, with the holes of siphon breaks blocked [m]; None likewise,
        and where there is none
    """

    vessel: str
    sections: tuple[str, ...]
    failed: tuple[str, ...]
    start: float = quantity("length")
    end: float = quantity("length")
    rim: float | None = quantity("length")
    margin: float | None = quantity("length")
    room: float | None = quantity("volume")
    highest_start: float | None = quantity("length")
    highest_blocked: float | None = quantity("length")


@dataclass(frozen=True, kw_only=True)
class Happening(Record):
    """Something that happens on the way.

    Attributes
    ----------
    time : since the pump stopped [s]
    kind : what, see `balance.network.course.answer`
    name : of the stretch, pump or vessel that it happens to
    vessel : whose surface did it
    """

    time: float = quantity("time")
    kind: Kind
    name: str
    vessel: str


@dataclass(frozen=True, kw_only=True)
class Case(Record):
    """One combination of check valves.

    Attributes
    ----------
    failed : check valves that let water back
    holding : check valves that hold
    holes : siphon breaks let air in
    ends : level of each pool's vessel in the end [m]
    room : the least room left in a pool [m³]; None where no pool has a rim
    spilt : on the floor in all [m³]
    settled : when all stands still [s]
    at_rest : it does, within the time that was reckoned
    lost : water that its simulation lost or made [m³]
    """

    failed: tuple[str, ...]
    holding: tuple[str, ...]
    holes: bool
    ends: tuple[float, ...] = quantity("length")
    room: float | None = quantity("volume")
    spilt: float = quantity("volume")
    settled: float = quantity("time")
    at_rest: bool
    lost: float = quantity("volume")


@dataclass(frozen=True, kw_only=True)
class LowWater(Record):
    """How low the vessel of a pump goes when the pumps start again.

    Attributes
    ----------
    pump, vessel : names
    primes : whether siphons begin to run full once their inlets are well covered
    lowest : level of the vessel [m]
    when : since the start [s]
    steady : level in the end [m]
    intake : height of the pump's intake [m]; None where it is not told
    needed : level at which no vortex draws air, by the strainer's diameter [m]; None likewise
    covered : the intake stays under water; None where it is not told
    deep : it stays as deep as that; None likewise
    spills : vessels that spill meanwhile
    at_rest : levels become steady
    """

    pump: str
    vessel: str
    primes: bool
    lowest: float = quantity("length")
    when: float = quantity("time")
    steady: float = quantity("length")
    intake: float | None = quantity("length")
    needed: float | None = quantity("length")
    covered: bool | None
    deep: bool | None
    spills: tuple[str, ...]
    at_rest: bool


@dataclass(frozen=True, kw_only=True)
class Outage(Record):
    """What happens when every pump stops, and starts again.

    Attributes
    ----------
    title : of the plan
    safe : nothing spills in any case in which siphon breaks are open, no pump draws air on the
        restart, and the vessel that pumps draw from has a size
    checks : check valves that were taken to hold or to fail
    worst : the case that all else here is about: nothing counts on a check valve
    vessels : every vessel with a size
    pools : those that pumps draw from
    pipes : water that pipes and devices let go in the end [m³]
    pipes_by : of that, what each stretch lets go, the most first
    spilt : on the floor [m³]
    happenings : in their order
    time : of the traces [s]
    traces : level of each vessel over that time
    cases : all of them, the worst first
    blocked : the worst of them with the holes of siphon breaks blocked; None where there is none
    restart : how low each pump's vessel goes afterwards
    notes : what was taken for granted
    lost : water that all simulations lost or made, at most [m³]
    plan : as it stands
    """

    title: str
    safe: bool
    checks: tuple[str, ...]
    worst: Case
    vessels: tuple[VesselEnd, ...]
    pools: tuple[Pool, ...]
    pipes: float = quantity("volume")
    pipes_by: tuple[Gift, ...]
    spilt: float = quantity("volume")
    happenings: tuple[Happening, ...]
    time: tuple[float, ...] = quantity("time")
    traces: tuple[Trace, ...]
    cases: tuple[Case, ...]
    blocked: Case | None
    restart: tuple[LowWater, ...]
    notes: tuple[str, ...]
    lost: float = quantity("volume")
    plan: Plan = field(metadata={"private": True})

    def vessel(self, name: str) -> VesselEnd:
        """What becomes of one vessel."""
        return next(each for each in self.vessels if each.vessel == name)

    def to_frame(self) -> pd.DataFrame:
        """Levels over time as a pandas table, a column for each vessel."""
        import pandas as pd

        columns = {f"{trace.vessel}_m": trace.level for trace in self.traces}
        return pd.DataFrame({"time_s": self.time, **columns})

    def cases_frame(self) -> pd.DataFrame:
        """The cases as a pandas table."""
        return frame(self.cases)
