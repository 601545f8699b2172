"""What a fit may learn of the real plumbing, and what is thought of it beforehand.

For each pump a strength, with which its flow goes, and its head with the square; for each branch a
factor of what it loses beside its valve's throttling; for each valve a factor of that throttling,
and the offset of its handle where it may be told; one factor of the mains, that is of all runs and
headers, where a level or watts tell it from the pump's strength; the bucket's true volume; and
the hidden error of each setting of a handle.  All but offsets and errors are logarithms.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.network.real import Real, stronger
from balance.network.solve import solve
from balance.questions.aims import aims_of
from balance.questions.learning.doubts import Doubts, curve_spread, offset_spread
from balance.questions.learning.handles import Setting, Stand, covariance_of

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Kind = Literal["pump", "mains", "loss", "throttling", "offset", "bucket", "handle"]

STEP = 0.05  # of each doubt's standard deviation, for the prior's slopes
MOST_LOSS = 0.6
"""Standard deviation of a branch's loss at the most.  A trickle past a header's tee may owe most of
its head to the tee, for whose doubt no factor of its own loss can stand; our own choice."""
LEAST = 1e-6
"""Standard deviation of what a plan calls sure, so that no prior is infinitely sharp."""
LEAST_FLOW = 0.2  # [m/s] of velocity, at which losses of branches without flow are compared


@dataclass(frozen=True)
class Unknown:
    """One number to be learnt.

    Attributes
    ----------
    of : what it is of
    name : of the pump, branch or valve; empty for mains and bucket
    place : its row among the network's pumps, branches or valves, or the settings of handles
    """

    of: Kind
    name: str
    place: int


@dataclass(frozen=True)
class Unknowns:
    """All of them, with their prior: mean zero and a covariance.

    Attributes
    ----------
    network : as the plan has it
    settings : of handles, each with a hidden error
    all : in the order of the rows
    covariance : (P, P) of the prior
    """

    network: Network
    settings: tuple[Setting, ...]
    all: tuple[Unknown, ...]
    covariance: Floats

    @cached_property
    def rows(self) -> dict[tuple[Kind, str], int]:
        """Row of each, errors of handles left out."""
        return {(each.of, each.name): row for row, each in enumerate(self.all)}

    def of(self, kind: Kind) -> Ints:
        """Rows of one kind."""
        return np.array(
            [row for row, each in enumerate(self.all) if each.of == kind], dtype=np.intp
        )

    @cached_property
    def first_setting(self) -> int:
        """Row of the error of the first setting; those of the others follow."""
        return len(self.all) - len(self.settings)

    @cached_property
    def loss_rows(self) -> Ints:
        """For each run the row of the unknown that multiplies what it loses, -1 for none."""
        mains = self.rows.get(("mains", ""), -1)
        return np.array(
            [
                self.rows.get(("loss", run.owner), mains) if run.kind == "branch"
                else mains if run.kind != "pump" else -1
                for run in self.network.layout.runs
            ],
            dtype=np.intp,
        )  # fmt: skip

    def real(self, z: Floats) -> Real:
        """The laws at unknowns z (P, S), handles apart."""
        network = self.network
        valves = len(network.valves)
        logs = np.vstack([z, np.zeros((1, z.shape[1]))])  # the last row stands for none
        loss = np.exp(logs[self.loss_rows])
        passive = network.passive.lossier(loss)
        pumps = self.of("pump")
        if len(pumps):
            passive = stronger(passive, np.exp(z[pumps]))
        log_factor, offset = np.zeros((valves, z.shape[1])), np.zeros((valves, z.shape[1]))
        for row, each in enumerate(self.all):
            if each.of == "throttling":
                log_factor[each.place] = z[row]
            elif each.of == "offset":
                offset[each.place] = z[row]
        of_valves = np.array([valve.run for valve in network.valves], dtype=np.intp)
        return Real(passive, loss[of_valves], log_factor, offset)

    def handles(self, z: Floats, stands: Sequence[Stand]) -> Floats:
        """How far beyond their marks handles stand, (V, T), at unknowns z (P,)."""
        found = np.zeros((len(self.network.valves), len(stands)))
        for column, stand in enumerate(stands):
            for valve, errors in enumerate(stand.errors):
                found[valve, column] = sum(z[self.first_setting + error] for error in errors)
        return found

    def handles_of(self, z: Floats, stand: Stand) -> Floats:
        """The same of one stand for many systems, (V, S), at unknowns z (P, S)."""
        return np.array(
            [
                z[[self.first_setting + error for error in errors]].sum(axis=0)
                for errors in stand.errors
            ]
        ).reshape(-1, z.shape[1])


def unknowns_of(
    network: Network,
    settings: tuple[Setting, ...],
    *,
    told: Sequence[bool],
    supply_told: bool,
) -> Unknowns:
    """The unknowns of a network and a log.

    Parameters
    ----------
    settings : of handles in the log
    told : (V,) valves of which the offset may be told
    supply_told : a level or watts tell pump and mains apart
    """
    plan, spread = network.plan, network.plan.spread
    kinds: list[Unknown] = [
        Unknown("pump", machine.name, place) for place, machine in enumerate(network.machines)
    ]
    if supply_told:
        kinds.append(Unknown("mains", "", 0))
    kinds += [
        Unknown("loss", branch.name, place)
        for place, branch in enumerate(plan.branches)
        if not network.capped[network.row_of[branch.name], 0]
    ]
    supply = _supply_prior(network, kinds)
    sizes: list[float] = []
    for place, valve in enumerate(network.valves):
        kinds.append(Unknown("throttling", valve.name, place))
        sizes.append(curve_spread(valve, spread))
    for place, valve in enumerate(network.valves):
        if told[place]:
            kinds.append(Unknown("offset", valve.name, place))
            sizes.append(offset_spread(valve, spread))
    kinds.append(Unknown("bucket", "", 0))
    sizes.append(spread.bucket)
    kinds += handles_in(network, settings)
    covariance = np.zeros((len(kinds), len(kinds)))
    first, last = len(supply), len(kinds) - len(settings)
    covariance[:first, :first] = supply
    covariance[range(first, last), range(first, last)] = np.square(sizes)
    covariance[last:, last:] = covariance_of(settings)
    covariance[range(len(kinds)), range(len(kinds))] += LEAST**2
    return Unknowns(network, settings, tuple(kinds), covariance)


def handles_in(network: Network, settings: Sequence[Setting]) -> tuple[Unknown, ...]:
    """The errors of settings, as unknowns."""
    return tuple(
        Unknown("handle", network.valves[setting.valve].name, place)
        for place, setting in enumerate(settings)
    )


def mains_spread(network: Network) -> float:
    """Standard deviation of the logarithm of what all runs and headers lose, before any reading."""
    return float(np.sqrt(_supply_prior(network, [Unknown("mains", "", 0)])[0, 0]))


def _supply_prior(network: Network, kinds: Sequence[Unknown]) -> Floats:
    """Covariance of strengths, mains and losses, from what the plan's doubts do to them.

    To first order, at the flows of the plan: each doubt moves the head that a pump gives and that
    runs lose there, and so the factors that would stand for it.
    """
    doubts = Doubts(network)
    count = len(doubts.all)
    nudges = STEP * np.concatenate([np.eye(count), -np.eye(count)], axis=1)
    flow = _usual_flows(network)
    planned = _losses(network, network.as_planned, flow[:, None])
    moved = _losses(network, doubts.drawn(nudges).real, np.repeat(flow[:, None], 2 * count, 1))
    slope = (moved[:, :count] - moved[:, count:]) / (2 * STEP)  # (E, doubts) [m] a unit of each
    runs = network.layout.runs
    own = planned.copy()
    if network.passive.tees is not None:
        bare = replace(network, passive=replace(network.passive, tees=None))
        own = _losses(bare, bare.as_planned, flow[:, None])
    mains = [row for row, run in enumerate(runs) if run.kind not in ("pump", "branch")]
    has_mains = any(each.of == "mains" for each in kinds)
    pumps = network.passive.pumps
    by_strength = [] if pumps is None else pumps.by_strength(flow[pumps.of][:, None])[:, 0].tolist()
    rows = []
    for each in kinds:
        if each.of == "loss":
            pieces = [row for row, run in enumerate(runs) if run.owner == each.name]
            moves = slope[pieces].sum(axis=0) / max(float(own[pieces, 0].sum()), 1e-9)
            rows.append(moves * min(1.0, MOST_LOSS / max(float(np.linalg.norm(moves)), 1e-9)))
        elif each.of == "mains":
            lost = float(np.abs(flow[mains] * own[mains, 0]).sum())
            rows.append((flow[mains] @ slope[mains]) / max(lost, 1e-12))
        else:
            row = network.machines[each.place].run
            through = max(abs(float(flow[row])), 1e-9)
            given = -slope[row]
            if not has_mains:
                given = given - (flow[mains] @ slope[mains]) / through / len(network.machines)
            rows.append(given / by_strength[each.place])
    matrix = np.array(rows).reshape(len(kinds), count)
    return np.asarray(matrix @ matrix.T)


def _usual_flows(network: Network) -> Floats:
    """Flows (E,) at which losses are compared: as planned, and where there is none as aimed at."""
    flow = solve(network).state.flow[:, 0].copy()
    aims = {aim.branches[0]: aim.aim for aim in aims_of(network.plan) if not aim.group}
    for row, run in enumerate(network.layout.runs):
        if run.kind == "branch" and abs(flow[row]) < 1e-9:
            usual = LEAST_FLOW * float(network.passive.area[row, 0])
            flow[row] = max(aims.get(run.owner) or 0.0, usual)
    return flow


def _losses(network: Network, real: Real, flow: Floats) -> Floats:
    """Head lost along runs (E, S) at flows (E, S), valves wide open; a pump's head is negative."""
    laws = real.passive
    open_loss = np.zeros((network.topology.runs, max(real.scenarios, flow.shape[1])))
    for place, valve in enumerate(network.valves):
        for row, scale in valve.places:
            open_loss[row] += valve.law.k_open * scale * real.open_factor[place]
    constant = replace(laws, constant=np.zeros_like(laws.constant))
    return np.asarray(constant(flow).head + open_loss * flow * np.abs(flow))
