"""All ways that water takes between vessels, and what flows in them at given levels."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from math import pi
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network, network_of
from balance.network.basins import basin_of
from balance.network.course.mouths import IN, OUT, Mouths, mouths_of
from balance.network.gravity import GravityDrain, gravity_drains
from balance.network.laws import RunLaws
from balance.network.settle import REOPEN, State, settle
from balance.network.solve import unsettled
from balance.network.topology import Topology
from balance.parts import weirs
from balance.parts.basins import Basin
from balance.plan.model import OUTSIDE, Plan, Run, Vessel, Weir

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

FLOOR = "floor"
NOTHING = 1e-11  # [m³/s]: where no store gains more, what is left is the solver's rounding
RIM_OF_A_TABLE = 1.0
"""Length [m] of the rim of a vessel whose table tells no side; our own choice."""


@dataclass(frozen=True)
class Modes:
    """What is as it is until something happens.

    Air that came in stays: a siphon does not mend itself, and a pump that drew air has to be
    started again.  So modes change in one direction only, and every simulation comes to an end.

    Attributes
    ----------
    aired : mouths that a surface has left: nothing is drawn in there any more
    empty : mouths by which runs begin, in the air from the start: nothing is drawn in there yet
    primed : drains that run full
    """

    aired: frozenset[int] = frozenset()
    empty: frozenset[int] = frozenset()
    primed: frozenset[str] = frozenset()


class Moment(NamedTuple):
    """What flows at one moment, or in many scenarios of one."""

    flow: Floats  # (E, S) of runs, branches, drains and pumps [m³/s]
    weir: Floats  # (W, S) over weirs, negative backwards [m³/s]
    spilt: Floats  # (V, S) over rims [m³/s]
    net: Floats  # (V + 2, S) what vessels, outside and floor gain [m³/s]
    state: State


@dataclass(frozen=True)
class Plumbing:
    """A plan with its drains among its runs, ready to be asked for any levels.

    Attributes
    ----------
    plan : as it is run: drains are runs, what is used for changes only is there if opened
    network, mouths : of that plan
    vessels : names; in arrays of all stores `OUTSIDE` and `FLOOR` follow
    basins : of vessels; None for endless ones
    drains : those that are open
    """

    plan: Plan
    network: Network
    mouths: Mouths
    vessels: tuple[str, ...]
    basins: tuple[Basin | None, ...]
    drains: tuple[GravityDrain, ...]

    @cached_property
    def _laws(self) -> tuple[RunLaws, Bools]:
        return self.network.at(self.network.openings, self.network.speeds)

    @cached_property
    def _steady_level(self) -> Floats:
        """Levels of endless vessels (V, 1); NaN for the others [m]."""
        return np.array(
            [
                [np.nan if basin else self.plan.vessels[name].level]
                for name, basin in zip(self.vessels, self.basins, strict=True)
            ]
        ).reshape(-1, 1)

    @cached_property
    def _rims(self) -> tuple[tuple[int, float, float], ...]:
        """Of each finite vessel with a rim: its row, the rim's height and length [m]."""
        return tuple(
            (row, vessel.rim, _rim_length(vessel))
            for row, (name, basin) in enumerate(zip(self.vessels, self.basins, strict=True))
            if (vessel := self.plan.vessels[name]).rim is not None and basin is not None
        )

    @cached_property
    def _number(self) -> dict[str, int]:
        return {name: row for row, name in enumerate((*self.vessels, OUTSIDE, FLOOR))}

    def levels(self, stores: Floats) -> Floats:
        """Levels of vessels (V, S) [m] at volumes of all stores (V + 2, S) [m³]."""
        found = np.repeat(self._steady_level, stores.shape[1], axis=1)
        for row, basin in enumerate(self.basins):
            if basin is not None:
                found[row] = basin.level(stores[row])
        return found

    def stores(self, levels: Floats) -> Floats:
        """Volumes of all stores (V + 2,) at levels of vessels (V,); endless ones count from 0."""
        found = np.zeros(len(self.vessels) + 2)
        for row, basin in enumerate(self.basins):
            if basin is not None:
                found[row] = basin.volume(levels[row])
        return found

    def moment(self, stores: Floats, modes: Modes, near: State | None) -> Moment:
        """What flows at volumes of all stores (V + 2, S).

        Raises
        ------
        SolveError
            The network did not settle.
        """
        levels = self.levels(stores)
        state = self._settled(levels, modes, near)
        flow, weir, spilt = state.flow, self._over_weirs(levels), self._over_rims(levels)
        if self.drains:
            flow = flow.copy()
            shared = self._limit_drains(flow, levels, modes)
            if shared:
                state = self._settled(levels, modes, state, given=(shared, flow))
                flow = state.flow
        net = self.mouths.inflow(flow, len(self.vessels) + 2)
        for row, over in zip(self.plan.weirs, weir, strict=True):
            net[self._number[row.from_]] -= over
            net[self._number[row.to]] += over
        net[: len(self.vessels)] -= spilt
        net[self._number[FLOOR]] += spilt.sum(axis=0)
        net[self._number[OUTSIDE]] += self.network.draw.sum()
        net[:, np.abs(net).max(axis=0) < NOTHING] = 0.0
        return Moment(flow, weir, spilt, net, state)

    def _settled(
        self,
        levels: Floats,
        modes: Modes,
        near: State | None,
        given: tuple[tuple[int, ...], Floats] = ((), np.zeros((0, 0))),
    ) -> State:
        """The network at levels (V, S), some of its runs held at flows."""
        shut = self._laws[1]
        each = self.mouths.each
        laws = self._laws_where(modes.aired)
        held = np.repeat(shut, levels.shape[1], axis=1) if shut.shape[1] == 1 else shut
        held[[each[m].run for m in modes.aired | modes.empty if each[m].way == OUT]] = True
        rows, flow = given
        held_flow = np.zeros(held.shape)
        for row in rows:
            held[row], held_flow[row] = True, flow[row]
        outside = np.full((1, levels.shape[1]), -np.inf)  # each mouth there has its own height
        heads = self.mouths.heads(np.concatenate([levels, outside]))
        for mouth, crest in self._behind_crests:
            heads[mouth] = np.minimum(heads[mouth], crest)

        def settled(held: Bools) -> State:
            return settle(
                self.mouths.topology,
                laws,
                fixed_heads=heads,
                held=held,
                held_flow=held_flow,
                draw=self.network.draw,
                near=near,
                scenarios=levels.shape[1],
            )

        # Most check valves that were shut a moment ago still are: Newton need not find that anew.
        before = _shut_before(near, laws, held)
        state = settled(_with(held, before))
        if len(before) and _opens(self.mouths.topology, state, before):
            state = settled(held)
        if not state.converged.all():
            raise unsettled(replace(self.network, topology=self.mouths.topology), laws, state)
        return state

    def _laws_where(self, aired: frozenset[int]) -> RunLaws:
        """The laws where air has come in at some mouths: nothing is drawn in there any more."""
        if aired not in self._found_laws:
            laws, each = self._laws[0], self.mouths.each
            forward = {each[m].run for m in aired if each[m].way == IN}
            forward |= {mouth.run for mouth in each if mouth.free}
            one_way = np.union1d(laws.one_way, sorted(forward)).astype(np.intp)
            self._found_laws[aired] = replace(laws, one_way=one_way)
        return self._found_laws[aired]

    @cached_property
    def _found_laws(self) -> dict[frozenset[int], RunLaws]:
        """Those that were asked for already: modes seldom change."""
        return {}

    @cached_property
    def _behind_crests(self) -> tuple[tuple[int, float], ...]:
        """Mouths of drains that lie behind their vessel's own weir, and its crest [m]."""
        names = {drain.name for drain in self.drains}
        return tuple(
            (place, crest)
            for place, mouth in enumerate(self.mouths.each)
            if mouth.way == OUT
            and mouth.name in names
            and (crest := self.plan.vessels[mouth.vessel].crest) is not None
        )

    def _limit_drains(self, flow: Floats, levels: Floats, modes: Modes) -> tuple[int, ...]:
        """Holds drains to what enters them, in place; gives those that end in a joint."""
        rows = self.network.row_of
        for vessel in dict.fromkeys(drain.vessel for drain in self.drains):
            here = [drain for drain in self.drains if drain.vessel == vessel]
            level = levels[self._number[vessel]]
            about = self.plan.vessels[vessel]
            if about.crest is not None and about.weir_length is not None:
                left = weirs.straight(level - about.crest, length=about.weir_length).flow
                # Behind the weir water is not stored: the lowest drains take it first.
                for drain in here:
                    most = flow[rows[drain.name]].clip(min=0.0)
                    if drain.name not in modes.primed:
                        most = np.minimum(most, drain.safe)
                    flow[rows[drain.name]] = taken = np.minimum(most, left)
                    left = left - taken
                continue
            for drain in here:
                enters = drain.lip_flow if drain.name in modes.primed else drain.open_flow
                row = rows[drain.name]
                flow[row] = np.minimum(flow[row].clip(min=0.0), enters(level))
        ends = (*self.vessels, OUTSIDE)
        return tuple(rows[drain.name] for drain in self.drains if drain.to not in ends)

    def _over_weirs(self, levels: Floats) -> Floats:
        found = np.zeros((len(self.plan.weirs), levels.shape[1]))
        for row, weir in enumerate(self.plan.weirs):
            found[row] = weirs.drowned(
                levels[self._number[weir.from_]] - weir.crest,
                self._below(weir, levels),
                length=weir.length * (1.0 - weir.teeth),
            )
        return found

    def _below(self, weir: Weir, levels: Floats) -> Floats:
        """Surface over the crest on the far side of a weir (S,); far below it in the open."""
        if weir.to in self.plan.vessels:
            return np.asarray(levels[self._number[weir.to]] - weir.crest)
        return np.full(levels.shape[1], -1.0)

    def _over_rims(self, levels: Floats) -> Floats:
        found = np.zeros_like(levels)
        for row, rim, length in self._rims:
            found[row] = weirs.straight(levels[row] - rim, length=length).flow
        return found


def _shut_before(near: State | None, laws: RunLaws, held: Bools) -> Ints:
    """Runs that let nothing back and let nothing through a moment ago, and are not held anyway."""
    if near is None:
        return np.zeros(0, dtype=np.intp)
    idle = (near.held & (near.flow == 0.0)).all(axis=1) & ~held.any(axis=1)
    return np.asarray(laws.one_way[idle[laws.one_way]])


def _with(held: Bools, rows: Ints) -> Bools:
    more = held.copy()
    more[rows] = True
    return more


def _opens(topology: Topology, state: State, shut: Ints) -> bool:
    """Whether the heads on either side of a run that is held shut would push water through it."""
    pull = topology.drop(state.heads).take(shut, axis=0)
    return bool((pull - state.lost.take(shut, axis=0) > REOPEN).any())


def _rim_length(vessel: Vessel) -> float:
    if vessel.length is not None and vessel.width is not None:
        return 2.0 * (vessel.length + vessel.width)
    return RIM_OF_A_TABLE if vessel.diameter is None else pi * vessel.diameter


def plumbing_of(plan: Plan, *, blocked: Iterable[str] = (), opened: Iterable[str] = ()) -> Plumbing:
    """The plumbing of a plan.

    Parameters
    ----------
    blocked : drains that carry nothing
    opened : drains of role `change`, and pumps and runs used for changes, that are in use
    """
    shut, used = frozenset(blocked), frozenset(opened)
    open_drains = [
        drain
        for drain in plan.drains
        if drain.name not in shut and (drain.role != "change" or drain.name in used)
    ]
    as_runs = tuple(
        Run.model_construct(
            name=drain.name,
            from_=drain.from_,
            to=drain.to,
            parts=drain.parts,
            high_point=drain.high_point,
            use="always",
        )
        for drain in open_drains
    )
    running = plan.model_copy(
        update={
            "drains": tuple(open_drains),
            "runs": (*(_if_used(run, used) for run in plan.runs), *as_runs),
            "pumps": {
                name: pump.model_copy(update={"use": "always"}) if name in used else pump
                for name, pump in plan.pumps.items()
            },
        }
    )
    network = network_of(running)
    vessels = tuple(plan.vessels)
    numbers = {name: row for row, name in enumerate((*vessels, OUTSIDE))}
    return Plumbing(
        running,
        network,
        mouths_of(network, numbers),
        vessels,
        tuple(basin_of(vessel) for vessel in plan.vessels.values()),
        tuple(
            sorted(
                gravity_drains(running, network.water),
                key=lambda drain: drain.inlet,
            )
        ),
    )


def _if_used(run: Run, used: frozenset[str]) -> Run:
    return run.model_copy(update={"use": "always"}) if run.name in used else run
