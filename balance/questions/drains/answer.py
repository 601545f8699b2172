"""The answer: where the water stands in each case, how gates are set, and what floods."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

from balance.plan.model import Plan
from balance.questions.record import Record, frame, quantity

if TYPE_CHECKING:
    import pandas as pd

Supplied = Literal["as it stands", "full speed", "greatest"]
Regime = Literal["surely full", "full bore", "sucks air", "gulps", "open", "dry", "blocked"]
SUPPLIED: tuple[Supplied, ...] = ("as it stands", "full speed", "greatest")


@dataclass(frozen=True, kw_only=True)
class DrainFacts(Record):
    """One drain by itself.

    Attributes
    ----------
    drain, role : in the plan
    inlet : height at which water first enters [m]
    inlet_told : the plan says it; else it is taken to be the vessel's own level
    bore : of its narrowest pipe [m]
    open_capacity : what it carries with air in it, on which one may count [m³/s]
    limit : what sets that; "uphill" where its end lies above its inlet
    full_at : level at which a rim is passed if all run open [m]
    full, full_froude : what it would carry full there, whatever its role [m³/s]; None where it
        would not run so, its inlet not covered or its Froude number below 1
    shut : a valve or cap in it lets nothing pass
    """

    drain: str
    role: str
    inlet: float = quantity("length")
    inlet_told: bool
    bore: float = quantity("length")
    open_capacity: float = quantity("flow")
    limit: Literal["lip", "venting", "sloping leg", "uphill"]
    full_at: float = quantity("length")
    full: float | None = quantity("flow")
    full_froude: float | None
    shut: bool


@dataclass(frozen=True, kw_only=True)
class Inflow(Record):
    """What may come into a vessel.

    Attributes
    ----------
    when : handles and pumps as they stand; pumps at full speed; and all branches shut besides that
        lead elsewhere
    flow : [m³/s]
    shut : names of those branches
    """

    when: Supplied
    flow: float = quantity("flow")
    shut: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class DrainFlow(Record):
    """One drain in one case.

    Attributes
    ----------
    drain : name
    flow : [m³/s]
    regime : how it runs
    froude : V / √(g D) in its widest pipe
    velocity : in its narrowest pipe [m/s]
    """

    drain: str
    flow: float = quantity("flow")
    regime: Regime
    froude: float
    velocity: float = quantity("velocity")


@dataclass(frozen=True, kw_only=True)
class Surface(Record):
    """How high a tank that spills into the vessel stands.

    Attributes
    ----------
    tank : name
    level : [m], its rim where that is passed
    rim : [m]; None where the plan does not say
    spills : flow over that rim [m³/s]
    """

    tank: str
    level: float = quantity("length")
    rim: float | None = quantity("length")
    spills: float = quantity("flow")


@dataclass(frozen=True, kw_only=True)
class Case(Record):
    """Where the water stands, with some drains blocked and siphons running full or not.

    Attributes
    ----------
    blocked : names
    primed : siphons that are not blocked run full
    lasts : that state keeps up: covered inlets and a Froude number of 1 or more where they run
        full; where they do not, one below that, or inlets that are not covered
    when, inflow : what comes [m³/s]
    level : in the vessel [m]; at its rim where that is passed, None where nothing bounds it
    rim : of the vessel [m]; None for a box that is not in the plan, or not told
    spills : flow over the vessel's own rim, or more than drains carry at any level [m³/s]
    tanks : that spill into it
    drains : all of them
    margin : height left below the nearest rim [m]; None where no rim is known
    floods : what runs over: the vessel or a tank; empty where nothing does
    overflow : flow that runs over in all [m³/s]
    running_full : the most that is carried before a rim is passed if each drain, whatever its
        role, runs full that then may; not counted on [m³/s]
    """

    blocked: tuple[str, ...]
    primed: bool
    lasts: bool
    when: Supplied
    inflow: float = quantity("flow")
    level: float | None = quantity("length")
    rim: float | None = quantity("length")
    spills: float = quantity("flow")
    tanks: tuple[Surface, ...]
    drains: tuple[DrainFlow, ...]
    margin: float | None = quantity("length")
    floods: tuple[str, ...]
    overflow: float = quantity("flow")
    running_full: float = quantity("flow")

    @property
    def surely(self) -> bool:
        """It floods even if all drains run full that may."""
        return bool(self.floods) and self.running_full < self.inflow


@dataclass(frozen=True, kw_only=True)
class Capacity(Record):
    """The most that a vessel takes before a rim is passed.

    Attributes
    ----------
    blocked : how many drains are blocked
    which : those of that number whose loss leaves least
    primed : what the rest carry with siphons running full [m³/s]
    unprimed : the same with siphons counted as open pipes [m³/s]
    safe : the one of them on which one may count: siphons full where they surely fill once the
        water stands so high [m³/s]
    """

    blocked: int
    which: tuple[str, ...]
    primed: float = quantity("flow")
    unprimed: float = quantity("flow")
    safe: float = quantity("flow")


@dataclass(frozen=True, kw_only=True)
class Mark(Record):
    """One position of a gate, and where the water then stands.

    Attributes
    ----------
    opening : from shut [ratio]; None where even the open valve loses too much, or the siphon's lip
        does not let in what it has to carry
    mark : the same as a hand reads it
    k : loss coefficient of the valve on the velocity in its bore; None where it is shut
    level : in the vessel [m]
    siphon : flow of the siphon [m³/s]
    trickle : share of the inflow that the trickle carries [ratio]
    """

    opening: float | None = quantity("ratio")
    mark: str
    k: float | None
    level: float = quantity("length")
    siphon: float = quantity("flow")
    trickle: float = quantity("ratio")


@dataclass(frozen=True, kw_only=True)
class Gate(Record):
    """Where the gate of a siphon goes, for the inflow as it stands.

    Attributes
    ----------
    siphon, valve, trickle : names; trickle is the next drain above
    role : of that; an emergency where there is no trickle
    handle : how its mark is read
    travel : of the handle in that unit
    dry : the most that it may be open: the water stands at the trickle's inlet
    aim : the trickle carries a few percent
    wet : the least: the trickle carries all that is safe, or the water stands at the next inlet
    upper : what bounds it there
    height : between the levels at the two [m]
    narrow : a hand cannot tell the two marks apart
    falls, rises : by how much the inflow may change with the gate at its aim before the window is
        left [ratio]
    covered : the siphon's lip lets in what it has to carry at the aim
    froude : of the siphon at its aim
    now : as the gate stands
    state : where that is
    """

    siphon: str
    valve: str
    trickle: str
    role: str
    handle: Literal["degrees", "turns", "percent"]
    travel: float
    dry: Mark
    aim: Mark
    wet: Mark
    upper: Literal["safe flow", "next inlet"]
    height: float = quantity("length")
    narrow: bool
    falls: float = quantity("ratio")
    rises: float = quantity("ratio")
    covered: bool
    froude: float
    now: Mark
    state: Literal["inside", "too far open", "not far enough open"]


@dataclass(frozen=True, kw_only=True)
class Siphon(Record):
    """Whether a siphon fills, and whether it keeps full, at the inflow as it stands.

    Attributes
    ----------
    siphon : name
    level, unprimed_level : of the vessel with siphons running full, and not [m]
    full, open : what it carries either way at the former level [m³/s]
    covered_at : level at which its inlet is covered [m]
    fills : once the water stands as it does unprimed: "surely" full, "yes", "no", or "never
        covered"
    covered : at the former level as much enters over its lip as it carries full
    froude : running full at the level
    least : flow at which it still holds [m³/s]
    velocity : in its narrowest pipe, running full [m/s]
    depth, vortex_depth : of water over its inlet, and that at which no vortex draws air [m]
    """

    siphon: str
    level: float = quantity("length")
    unprimed_level: float = quantity("length")
    full: float = quantity("flow")
    open: float = quantity("flow")
    covered_at: float = quantity("length")
    fills: Literal["surely", "yes", "no", "never covered"]
    covered: bool
    froude: float
    least: float = quantity("flow")
    velocity: float = quantity("velocity")
    depth: float = quantity("length")
    vortex_depth: float = quantity("length")


@dataclass(frozen=True, kw_only=True)
class Line(Record):
    """Level in a vessel against what comes in, in one state.

    Attributes
    ----------
    state : in words
    inflow, level : along it, up to where a rim is passed [m³/s], [m]
    """

    state: str
    inflow: tuple[float, ...] = quantity("flow")
    level: tuple[float, ...] = quantity("length")


@dataclass(frozen=True, kw_only=True)
class Remedy(Record):
    """An open drain that would carry what a blockage lets run over.

    Attributes
    ----------
    flow : that it would have to carry by itself [m³/s]
    bore : that it needs at least [m]
    """

    flow: float = quantity("flow")
    bore: float = quantity("length")


@dataclass(frozen=True, kw_only=True)
class Quiet(Record):
    """The speed up to which no single blockage floods, with handles as they stand.

    Attributes
    ----------
    pump : whose
    speed : its highest step at which that is so [ratio]
    flow : that comes in then [m³/s]
    """

    pump: str
    speed: float = quantity("ratio")
    flow: float = quantity("flow")


@dataclass(frozen=True, kw_only=True)
class Rise(Record):
    """The level of a vessel over the time of a filling [m], and its rim."""

    vessel: str
    rim: float | None = quantity("length")
    level: tuple[float, ...] = quantity("length")


@dataclass(frozen=True, kw_only=True)
class Filling(Record):
    """How the water rises from the moment when a drain is blocked.

    Attributes
    ----------
    blocked, when : the case
    spills, spills_after : vessel that comes to its rim first, and when; None if none does [s]
    dry, dry_after : pump that draws air first, and when; None if none does [s]
    settled : when levels are steady; None if they are not within an hour [s]
    room : least height left below a rim meanwhile [m]; None where no rim is told
    time : of the levels [s]
    rises : of the vessel and of tanks that spill into it
    lost : water that the simulation lost or made [m³]
    """

    blocked: str
    when: Supplied
    spills: str | None
    spills_after: float | None = quantity("time")
    dry: str | None
    dry_after: float | None = quantity("time")
    settled: float | None = quantity("time")
    room: float | None = quantity("length")
    time: tuple[float, ...] = quantity("time")
    rises: tuple[Rise, ...]
    lost: float = quantity("volume")


@dataclass(frozen=True, kw_only=True)
class VesselDrains(Record):
    """One vessel with drains.

    Attributes
    ----------
    vessel : name
    behind : levels are of the water behind the vessel's own weir, whose box is not in the plan
    safe : no single blockage floods, gates as they stand or where they are told to go, and the
        capacity is enough
    rim : of the vessel, or of that tank which it belongs to [m]; None where it is not told
    drains : each by itself
    inflows : what may come in
    capacities : whole, with the worst one blocked and with the worst two
    cases : every combination of blockage, state and inflow
    gates : of siphons that have a valve and a trickle beside them
    aimed : cases of one blockage at most with gates where they are told to go; empty where none is
    siphons : whether they fill and hold
    remedy : where a single blockage floods
    quiet : the speed to stay at or below instead; None where no speed is the cure
    lines : level against inflow
    filling : over time, once the worst single blockage comes; None where that was not
        followed, see `balance.questions.drains.filling`
    notes : about this vessel, in words
    """

    vessel: str
    behind: bool
    safe: bool
    rim: float | None = quantity("length")
    drains: tuple[DrainFacts, ...]
    inflows: tuple[Inflow, ...]
    capacities: tuple[Capacity, ...]
    cases: tuple[Case, ...]
    gates: tuple[Gate, ...]
    aimed: tuple[Case, ...]
    siphons: tuple[Siphon, ...]
    remedy: Remedy | None
    quiet: Quiet | None
    lines: tuple[Line, ...]
    filling: Filling | None
    notes: tuple[str, ...]

    def with_verdict(
        self, *, safe: bool, remedy: Remedy | None, notes: tuple[str, ...]
    ) -> VesselDrains:
        """The same with what follows from its cases."""
        return replace(self, safe=safe, remedy=remedy, notes=notes)

    @property
    def as_it_runs(self) -> Case:
        """Nothing blocked and nothing touched, siphons full if they keep so."""
        return self.judged((), "as it stands")

    def judged(self, blocked: tuple[str, ...], when: Supplied) -> Case:
        """The case of a blockage that counts: siphons full where they keep so, else not."""
        return _judged(self.cases, blocked, when)

    @property
    def floods(self) -> tuple[Case, ...]:
        """Cases in which one blockage at most, or a siphon that does not fill, floods something."""
        return _floods(self.cases)

    @property
    def floods_at_aim(self) -> tuple[Case, ...]:
        """The same with gates where they are told to go."""
        return _floods(self.aimed)


def _judged(cases: tuple[Case, ...], blocked: tuple[str, ...], when: Supplied) -> Case:
    """The case of a blockage that counts: siphons full where they keep so, else not.

    Where neither state keeps up, siphons fill and lose their water in turn; filling, they stop
    the level from rising.
    """
    found = [case for case in cases if (case.blocked, case.when) == (blocked, when)]
    full, *unprimed = sorted(found, key=lambda case: not case.primed)
    return unprimed[0] if unprimed and unprimed[0].lasts and not full.lasts else full


def _floods(cases: tuple[Case, ...]) -> tuple[Case, ...]:
    blockages = dict.fromkeys(case.blocked for case in cases if len(case.blocked) < 2)
    counted = [_judged(cases, blocked, when) for blocked in blockages for when in SUPPLIED]
    counted += [
        case
        for case in cases
        if not case.blocked and not case.primed and case.lasts and case not in counted
    ]
    return tuple(case for case in counted if case.floods)


@dataclass(frozen=True, kw_only=True)
class Drains(Record):
    """Every vessel with drains.

    Attributes
    ----------
    title : of the plan
    safe : all vessels are
    vessels : from the highest down
    notes : what a person should know about how it was reckoned, in words
    worst_unclosed : of flow in any vessel and case, as a share of its inflow [ratio]
    worst_imbalance : of flow at any joint [m³/s]
    worst_mismatch : of head along any run [m]
    plan : that was asked about
    """

    title: str
    safe: bool
    vessels: tuple[VesselDrains, ...]
    notes: tuple[str, ...]
    worst_unclosed: float = quantity("ratio")
    worst_imbalance: float = quantity("flow")
    worst_mismatch: float = quantity("head")
    plan: Plan = field(metadata={"private": True})

    def to_frame(self) -> pd.DataFrame:
        """Every drain of every case as a pandas table."""
        import pandas as pd

        return pd.concat(
            [
                frame(case.drains).assign(
                    vessel=vessel.vessel,
                    blocked=" + ".join(case.blocked),
                    primed=case.primed,
                    when=case.when,
                    floods=", ".join(case.floods),
                )
                for vessel in self.vessels
                for case in vessel.cases
            ],
            ignore_index=True,
        )
