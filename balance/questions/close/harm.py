"""What breaks in each scenario that is whole as the plan stands.

Whatever may break is watched in all scenarios at once; what is broken as the plan stands is told
there, and is no news elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import inf

import numpy as np
from numpy.typing import NDArray

from balance.network.along import Along
from balance.plan.model import Plan
from balance.questions.aims import Aim, aims_of
from balance.questions.close.answer import Harm, HarmKind
from balance.questions.close.solved import BASE, Solved
from balance.questions.inflows import drained, inflows
from balance.questions.pressures import Pressure, pressures_of
from balance.questions.strains import Strain, strains
from balance.questions.suctions import suctions_of
from balance.units import SYSTEMS, G, UnitSystem

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

STARVED = 0.5
"""Share of what is wanted at least, or that a branch had of which nothing is asked, below which it
is called starved; our own choice."""

DRY = 1e-9  # [m³/s], a cup in three days: no water
ROUNDING = 1e-6  # of a bound, by which a flow may miss it and still keep it

WORST_FIRST: tuple[HarmKind, ...] = (
    "flood", "column", "dead head", "pressure", "limits", "dry", "suction", "pump", "starved",
    "air", "too little", "too much",
)  # fmt: skip


def harms_of(solved: Solved, *, closely: Sequence[int]) -> tuple[tuple[Harm, ...], ...]:
    """What breaks in every scenario, the worst first; in the first, what is broken already.

    Parameters
    ----------
    closely : columns whose pressures along the way are looked at as well, one by one
    """
    system = SYSTEMS[solved.network.plan.units]
    found: list[list[Harm]] = [[] for _ in solved.scenarios]
    for watch in _watches(solved):
        for column in watch.news():
            found[column].append(watch.harm(column, system))
    known = {(harm.kind, harm.name) for harm in _low_pressures(solved, BASE)}
    for column in closely:
        found[column] += (
            harm
            for harm in _low_pressures(solved, column)
            if column == BASE or (harm.kind, harm.name) not in known
        )
    return tuple(
        tuple(sorted(harms, key=lambda harm: WORST_FIRST.index(harm.kind))) for harms in found
    )


@dataclass(frozen=True)
class _Watch:
    """One thing that may break, in all scenarios.

    Attributes
    ----------
    kind, name, severe : as of a Harm
    broken : where it is, (S,)
    told : the number to tell of it, (S,)
    dimension : of that number
    words : a sentence about it, with {told} in it, and {bound} where it has one
    bound : that the number passes; None where there is none
    """

    kind: HarmKind
    name: str
    broken: Bools
    told: Floats
    dimension: str
    words: str
    bound: float | None = None
    severe: bool = True

    def news(self) -> list[int]:
        """Scenarios in which it is broken and was not before, and the first if it was."""
        broken = np.flatnonzero(self.broken)
        return [BASE] if self.broken[BASE] else [int(column) for column in broken]

    def harm(self, column: int, system: UnitSystem) -> Harm:
        """It, broken in one scenario."""
        told, bound, unit = float(self.told[column]), "", system.unit(self.dimension)
        if self.bound is None:
            figure = system.figure(told, self.dimension)
        else:
            figure, bound = system.apart(told, self.bound, self.dimension)
        words = self.words.format(told=f"{figure} {unit}", bound=bound, unit=unit)
        return Harm(kind=self.kind, name=self.name, severe=self.severe, text=f"{self.name} {words}")


def _watches(solved: Solved) -> Iterator[_Watch]:
    yield from _floods(solved)
    yield from _pumps(solved)
    yield from _pressures(solved)
    branches = _Branches(solved)
    yield from branches.limits()
    yield from branches.ways()
    yield from branches.aims()


def _floods(solved: Solved) -> Iterator[_Watch]:
    """Vessels that get more than their drains carry."""
    network = solved.network
    system = SYSTEMS[network.plan.units]
    flow = {name: solved.state.flow[row] for name, row in network.row_of.items()}
    for name, came in inflows(network.plan, flow).items():
        carried, _ = drained(network, name)
        if carried is not None:
            told = np.broadcast_to(came, solved.taken.shape)
            carries = system.text(carried, "flow")
            words = f"gets {{told}}, more than the {carries} or so that its drains carry"
            yield _Watch("flood", name, told > carried, told, "flow", words)


def _pumps(solved: Solved) -> Iterator[_Watch]:
    """Pumps that move no water, or run outside their useful range."""
    system = SYSTEMS[solved.network.plan.units]
    for pump in solved.pumps:
        if pump.speed == 0.0:
            continue
        flow, name = pump.flow, pump.machine.name
        dead = np.abs(flow) <= DRY
        words = "turns and moves no water, at {told} of head: it heats what stands in it"
        yield _Watch("dead head", name, dead, pump.head, "head", words)
        back = flow < -DRY
        words = "is too weak, and {told} run BACKWARDS through it: it lacks a check valve"
        yield _Watch("dead head", name, back, -flow, "flow", words)
        if pump.useful is None:
            continue
        low, high = pump.useful
        # One that moved less before, or none, has come nearer.
        below = (flow < low) & (flow <= flow[BASE]) & ~dead & ~back
        least, most = (system.figure(each, "flow") for each in (low, high))
        words = f"at {{told}} is BELOW its useful range of {{bound}} to {most} {{unit}}"
        yield _Watch("pump", name, below, flow, "flow", words, low)
        words = f"at {{told}} is ABOVE its useful range of {least} to {{bound}} {{unit}}"
        yield _Watch("pump", name, flow > high, flow, "flow", words, high)


def _pressures(solved: Solved) -> Iterator[_Watch]:
    """The weakest part of each stretch that a pump presses on, where it bears too much."""
    weakest: dict[str, Strain] = {}
    for strain in strains(solved.network):
        known = weakest.setdefault(strain.owner, strain)
        if strain.stands < known.stands:
            weakest[strain.owner] = strain
    for strain in weakest.values():
        bears = _borne(solved, strain)
        usual = "usually " if strain.guessed else ""
        part = strain.what or "weakest part"
        words = f"bears {{told}}, and its {part} {usual}stands {{bound}} {{unit}}"
        broken = bears > strain.stands
        yield _Watch("pressure", strain.owner, broken, bears, "pressure", words, strain.stands)


def _borne(solved: Solved, strain: Strain) -> Floats:
    """Gauge pressure on a part in each scenario, (S,) [Pa].

    That of the higher end of its stretch; where that would break it, its own.
    """
    network = solved.network
    weight = network.water.density * G
    ends = [
        node
        for run in network.layout.runs
        if run.owner == strain.owner
        for node in (run.start, run.end)
    ]
    highest = np.max([solved.heads(node) for node in ends], axis=0)
    bears = np.asarray(weight * (highest - strain.foot))
    section, owner, *inner = strain.path
    if section != "headers" and inner[:1] == ["parts"]:
        for column in np.flatnonzero(bears > strain.stands):
            own = _own_head(solved, int(column), str(owner), int(inner[1]))
            bears[column] = weight * (own - strain.foot)
    return bears


def _own_head(solved: Solved, column: int, stretch: str, part: int) -> float:
    """The greater head at the ends of a part [m]; the least there is, where nothing ties it."""
    along = Along(solved.solution(column))
    (found,) = (each for each in along.stretches() if each.name == stretch)
    known = [head for head in along.heads_of_parts(found)[part] if head is not None]
    return max(known, default=-inf)


@dataclass(frozen=True)
class _Branches:
    """The branches of all scenarios, watched."""

    solved: Solved

    @property
    def plan(self) -> Plan:
        """What was solved."""
        return self.solved.network.plan

    @property
    def system(self) -> UnitSystem:
        """Units to tell in."""
        return SYSTEMS[self.plan.units]

    @cached_property
    def shut(self) -> dict[str, Bools]:
        """Where each branch is shut on purpose, by the plan or the scenario, (S,)."""
        row_of = self.solved.network.row_of
        return {b.name: self.solved.given[row_of[b.name]] for b in self.plan.branches}

    @cached_property
    def touched(self) -> dict[str, Bools]:
        """Where each branch is shut on purpose, or turned, (S,)."""
        found = {name: shut.copy() for name, shut in self.shut.items()}
        for column, scenario in enumerate(self.solved.scenarios):
            for move in scenario.moves:
                if move.stretch in found:
                    found[move.stretch][column] = True
        return found

    def limits(self) -> Iterator[_Watch]:
        """Branches that do not keep the plan's limits of their flow."""
        for branch in self.plan.branches:
            flow = self.solved.flows(branch.name)
            least, most = branch.limits
            if most is not None:
                broken = flow > most * (1.0 + ROUNDING)
                words = "gets {told}, ABOVE its limit of {bound} {unit}"
                yield _Watch("limits", branch.name, broken, flow, "flow", words, most)
            if least is not None:
                broken = (flow < least * (1.0 - ROUNDING)) & ~self.shut[branch.name]
                words = "gets {told}, BELOW its limit of {bound} {unit}"
                yield _Watch("limits", branch.name, broken, flow, "flow", words, least)

    def ways(self) -> Iterator[_Watch]:
        """Branches that run dry, or backwards."""
        for branch in self.plan.branches:
            flow = self.solved.flows(branch.name)
            touched = self.touched[branch.name]
            dry = (np.abs(flow) <= DRY) & (flow[BASE] > DRY) & ~touched
            words = "runs dry: it had {told}"
            had = np.full_like(flow, flow[BASE])
            yield _Watch("dry", branch.name, dry, had, "flow", words)
            words = "runs BACKWARDS, {told}"
            yield _Watch("dry", branch.name, flow < -DRY, -flow, "flow", words)

    def aims(self) -> Iterator[_Watch]:
        """Branches and groups that are starved, or miss their targets.

        What a person shuts or turns is not judged, nor a total that it belongs to, nor too little
        where it was less before.
        """
        for aim in aims_of(self.plan):
            flow = np.sum([self.solved.flows(name) for name in aim.branches], axis=0)
            spared = np.any([self.touched[name] for name in aim.branches], axis=0)
            alive = (flow > DRY) & ~spared
            fallen = alive & (flow <= flow[BASE])
            least, words = _needed(aim, float(flow[BASE]))
            starved = fallen & (flow < STARVED * least)
            words = f"{_verb(aim, 'is starved: it gets', 'are starved: they get')} {words}"
            yield _Watch("starved", aim.name, starved, flow, "flow", words, least)
            low, high = aim.limits
            kept = ~starved & (flow >= (low or 0.0)) & (flow <= (inf if high is None else high))
            yield from _missed(aim, flow, short=fallen & kept, much=alive & kept)


def _needed(aim: Aim, before: float) -> tuple[float, str]:
    """Flow of less than half of which one starves [m³/s], and how that is said.

    What is wanted at least; what it had, where nothing is asked; where only too much is, nothing.
    """
    if aim.low is not None:
        return aim.low, "{told}, less than half of the {bound} {unit} wanted at least"
    asks = aim.asked not in ("", "share")
    return 0.0 if asks else before, "{told}, less than half of the {bound} {unit} before"


def _missed(aim: Aim, flow: Floats, *, short: Bools, much: Bools) -> Iterator[_Watch]:
    """Too little or too much for a target, judged where `short` and `much` say so."""
    gets = _verb(aim, "gets", "get")
    if aim.low is not None:
        broken = short & (aim.low - flow > ROUNDING * aim.scale)
        words = f"{gets} too little, {{told}}: at least {{bound}} {{unit}} is wanted"
        yield _Watch("too little", aim.name, broken, flow, "flow", words, aim.low, severe=False)
    if aim.high is not None:
        broken = much & (flow - aim.high > ROUNDING * aim.scale)
        words = f"{gets} too much, {{told}}: at most {{bound}} {{unit}} is wanted"
        yield _Watch("too much", aim.name, broken, flow, "flow", words, aim.high, severe=False)


def _verb(aim: Aim, one: str, several: str) -> str:
    """A verb of a branch, or of all branches of a group."""
    return f"together {several}" if aim.group else one


def _low_pressures(solved: Solved, column: int) -> Iterator[Harm]:
    """Columns that break, air that may be drawn in, and short suctions of one scenario."""
    system = SYSTEMS[solved.network.plan.units]
    along = Along(solved.solution(column))
    # What a clog takes along its own stretch is not told apart from part to part.
    clogged = {name for name, _ in solved.scenarios[column].clogs}
    least: dict[str, tuple[float, Pressure]] = {}
    for low in pressures_of(along):
        if low.pressure is None or (low.kind == "high point" and low.place in clogged):
            continue
        name = low.stretch if low.kind == "header" and low.stretch else low.place
        if low.below_atmosphere and low.pressure < least.get(name, (inf, low))[0]:
            least[name] = low.pressure, low
    for name, (pressure, low) in least.items():
        there = system.text(pressure, "pressure")
        if low.below_vapour:
            text = f"{low.words}: at {there} the water would boil and its column break"
            yield Harm(kind="column", name=name, severe=True, text=text)
        else:
            text = f"{name} may draw in air: pressure falls to {there}"
            yield Harm(kind="air", name=name, severe=False, text=text)
    for suction in suctions_of(along):
        short = suction.short(system)
        if short is not None:
            text = f"{suction.pump} {short}"
            yield Harm(kind="suction", name=suction.pump, severe=True, text=text)
