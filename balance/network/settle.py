"""From laws, heads and held flows to the state in which all of them agree.

Wraps Newton's iteration in what it needs to end well: a first guess, chunks small enough for the
cache, check valves shut for good once they are found shut, a second try with softer check valves,
and a gradual switching-on of tee losses where the direct way stalls.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from balance.network.laws import RunLaws
from balance.network.newton import MOST_ITERATIONS as MOST
from balance.network.newton import Linear, Outcome, descend, iterate
from balance.network.topology import Topology

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

CHUNK = 24576  # numbers in one array over all runs: enough to hide the cost of a call, yet in cache
# Iterations of each round.  Scenarios that are not done after one fill up the next, so that hardly
# any step is taken for a few of them alone.
ROUNDS = (5, 3, MOST)
# Of the tees' losses, switched on by and by: in ever smaller steps, if need be.
TEE_SHARES = tuple(tuple(n / steps for n in range(1, steps + 1)) for steps in (1, 4, 20, 200))
SOFTER = 0.1  # of the reverse slope of check valves, where they drive Newton in circles
LEAST_RANGE = 1e-3  # [m]
AT_REST = 1e-11  # [m³/s], a teaspoon in a week: no larger flow anywhere means none
UNBALANCED = 1e-10  # of the largest flow, at any joint: more is not Newton's rounding
BACKWARD = 1e-15  # [m³/s]
MOST_ROUNDS = 6  # of shutting and opening check valves
REOPEN = 1e-7  # [m] of head in the open direction across a shut check valve that opens it again


@dataclass(frozen=True)
class State:
    """Flows and heads of all scenarios.

    Attributes
    ----------
    flow : (E, S) [m³/s]; exactly zero in shut valves and shut check valves
    heads : (joints + fixed, S) [m]
    lost : (E, S) head that the laws take along each run [m]
    held : (E, S) runs whose flow was held, shut check valves among them
    converged : (S,)
    iterations : (S,) linear solves
    """

    flow: Floats
    heads: Floats
    lost: Floats
    held: Bools
    converged: Bools
    iterations: Ints

    def repeated(self, scenarios: int) -> State:
        """The only scenario of this state, so many times."""
        return self.take(np.zeros(scenarios, dtype=np.intp))

    def take(self, columns: Ints) -> State:
        """Some of the scenarios."""
        return State(
            self.flow.take(columns, axis=1),
            self.heads.take(columns, axis=1),
            self.lost.take(columns, axis=1),
            self.held.take(columns, axis=1),
            self.converged.take(columns),
            self.iterations.take(columns),
        )

    def one(self, scenario: int) -> State:
        """One scenario alone."""
        here = slice(scenario, scenario + 1)
        return State(
            self.flow[:, here],
            self.heads[:, here],
            self.lost[:, here],
            self.held[:, here],
            self.converged[here],
            self.iterations[here],
        )


def settle(
    topology: Topology,
    laws: RunLaws,
    *,
    fixed_heads: Floats,
    held: Bools,
    held_flow: Floats | None = None,
    draw: Floats | None = None,
    near: State | None = None,
    scenarios: int = 1,
) -> State:
    """Solves all scenarios.

    Parameters
    ----------
    fixed_heads : (fixed, S) or (fixed, 1) [m]
    held : (E, S) or (E, 1) runs whose flow is given: shut valves, and targets of a search
    held_flow : (E, S) or (E, 1) those flows, read where `held` [m³/s]; zero if left out
    draw : (joints, S) or (joints, 1) flow taken out at joints [m³/s]
    near : a state of one scenario, or of as many, to start from
    """
    whole = _Problem(
        topology,
        laws,
        fixed_heads,
        held,
        np.zeros((topology.runs, 1)) if held_flow is None else held_flow,
        np.zeros((topology.joints, 1)) if draw is None else draw,
    )
    columns = max(1, CHUNK // max(1, topology.runs))
    every = np.arange(scenarios)
    if 1 < scenarios <= columns:
        whole = whole.take(every)

    def these(part: Ints) -> _Problem:
        return whole if len(part) == scenarios <= columns else whole.take(part)

    outcome = Outcome(
        np.empty((topology.runs, scenarios)),
        np.empty((topology.joints + topology.fixed, scenarios)),
        np.empty((topology.runs, scenarios)),
        np.zeros(scenarios, dtype=np.bool_),
        np.zeros(scenarios, dtype=np.intp),
    )
    for turn, most in enumerate(ROUNDS if scenarios > columns else ROUNDS[-1:]):
        for part in _parts(np.flatnonzero(~outcome.converged), columns):
            some = these(part)
            if turn:
                start = outcome.flow.take(part, axis=1), outcome.heads.take(part, axis=1)
                found = some.iterate(*start, most=most)
            else:
                found = some.cold(most=most) if near is None else some.warm(near, part, most=most)
            _merge(outcome, part, found)
    for part in _parts(np.flatnonzero(~outcome.converged), columns):
        some = these(part)
        _merge(outcome, part, some.roundabout() if near is None else some.from_nothing())
    shut = np.empty((topology.runs, scenarios), dtype=np.bool_)
    for part in _parts(every, columns):
        shut[:, part] = these(part).end(outcome, part)
    return State(
        outcome.flow, outcome.heads, outcome.lost, shut, outcome.converged, outcome.iterations
    )


def _parts(columns: Ints, most: int) -> Iterator[Ints]:
    return (columns[first : first + most] for first in range(0, len(columns), most))


def _spread(array: NDArray[Any], columns: Ints) -> NDArray[Any]:
    if array.shape[1] == 1:
        return np.repeat(array, len(columns), axis=1)
    return array.take(columns, axis=1)


@dataclass(frozen=True)
class _Problem:
    """Scenarios to be solved.  Arrays as those of `settle`."""

    topology: Topology
    laws: RunLaws
    fixed_heads: Floats
    held: Bools
    given: Floats
    draw: Floats

    def take(self, columns: Ints) -> _Problem:
        """Some of them, each with a column of its own in every array."""
        return _Problem(
            self.topology,
            self.laws.take(columns),
            _spread(self.fixed_heads, columns),
            _spread(self.held, columns),
            _spread(self.given, columns),
            _spread(self.draw, columns),
        )

    def iterate(
        self, flow: Floats, heads: Floats, *, first: Linear | None = None, most: int = MOST
    ) -> Outcome:
        """By Newton's method, from given flows and heads."""
        return iterate(
            self.topology,
            self.laws,
            held=self.held,
            draw=self.draw,
            flow=np.where(self.held, self.given, flow),
            heads=heads,
            first=first,
            most=most,
        )

    def cold(self, *, most: int = MOST) -> Outcome:
        """From a first guess."""
        joints = self.topology.joints
        span = self.laws.lift()
        heads = np.zeros((joints + self.topology.fixed, self.held.shape[1]))
        if self.topology.fixed:
            heads[joints:] = self.fixed_heads
            heads[:joints] = self.fixed_heads.mean(axis=0)
            span = span + np.ptp(self.fixed_heads, axis=0)
        span = np.broadcast_to(np.maximum(span, LEAST_RANGE), self.held.shape[1:])
        flow, chords = self.laws.start(span)
        return self.iterate(flow, heads, first=chords, most=most)

    def warm(self, near: State, part: Ints, *, most: int = MOST) -> Outcome:
        """From a state nearby."""
        flow, heads = _spread(near.flow, part), _spread(near.heads, part)
        heads[self.topology.joints :] = self.fixed_heads
        # A check valve that was shut starts on the shut side of its law, one held at a flow not.
        before = flow.take(self.laws.one_way, axis=0)
        shut = _spread(near.held, part).take(self.laws.one_way, axis=0) & (before == 0.0)
        flow[self.laws.one_way] = np.where(shut, -BACKWARD, before)
        return self.iterate(flow, heads, most=most)

    def from_nothing(self) -> Outcome:
        """From a first guess, and where that stalls by roundabout ways."""
        outcome = self.cold()
        stalled = np.flatnonzero(~outcome.converged)
        if len(stalled):
            _merge(outcome, stalled, self.take(stalled).roundabout())
        return outcome

    def roundabout(self) -> Outcome:
        """Softer check valves first, then the tees' losses by and by."""
        soft = replace(self.laws, reverse=self.laws.reverse * SOFTER)
        found = replace(self, laws=soft).cold()
        outcome = self.iterate(found.flow, found.heads)
        if outcome.converged.all() or self.laws.tees is None:
            return outcome
        plain = replace(self, laws=self.laws.with_tees(0.0)).cold()
        for shares in TEE_SHARES:
            outcome = plain
            for share in shares:
                outcome = descend(
                    self.topology,
                    self.laws.with_tees(share),
                    held=self.held,
                    draw=self.draw,
                    flow=outcome.flow,
                    heads=outcome.heads,
                )
            if outcome.converged.all():
                break
        return outcome

    def end(self, outcome: Outcome, part: Ints) -> Bools:
        """Shuts check valves for good and settles what is left, in place; returns all held runs.

        Parameters
        ----------
        outcome : of all scenarios, of which these are `part`
        """
        own = Outcome(
            outcome.flow.take(part, axis=1),
            outcome.heads.take(part, axis=1),
            outcome.lost.take(part, axis=1),
            outcome.converged[part],
            np.zeros(len(part), dtype=np.intp),
        )
        held = self.held
        for _ in range(MOST_ROUNDS):
            if len(self.laws.one_way):
                held = self._shut_check_valves(held, own)
            # What a last step moves may be a trace backwards through a check valve.
            if not self._rebalance(held, own):
                break
        # Where nothing flows at all, what is left of Newton's last step is not a flow.
        own.flow[:, np.abs(own.flow).max(axis=0, initial=0.0) <= AT_REST] = 0.0
        _merge(outcome, part, own)
        return held

    def _shut_check_valves(self, held: Bools, outcome: Outcome) -> Bools:
        """Holds at zero what leaks backwards, and solves what is left, in place.

        Newton sees a shut check valve as a very steep law, through which a trace flows.  Reported
        flows must balance without that trace.
        """
        topology, one_way = self.topology, self.laws.one_way
        if self.held.take(one_way, axis=0).all():
            return held  # none is left to itself
        now = held.copy()
        for last in (*[False] * MOST_ROUNDS, True):
            flow = outcome.flow.take(one_way, axis=0)
            shut = now.take(one_way, axis=0)
            given = self.held.take(one_way, axis=0)
            # At rest its run still has its opening head, and what a tee makes of passing flow.
            rest = outcome.lost.take(one_way, axis=0)
            pull = topology.drop(outcome.heads).take(one_way, axis=0) - rest
            stays = shut if last else pull <= REOPEN
            wanted = given | np.where(shut, stays, flow < 0.0)
            columns = np.flatnonzero((wanted != shut).any(axis=0))
            if len(columns) == 0:
                break
            now[one_way] = wanted
            some = replace(self, held=now).take(columns)
            renewed = some.iterate(
                outcome.flow.take(columns, axis=1), outcome.heads.take(columns, axis=1)
            )
            stalled = np.flatnonzero(~renewed.converged)
            if len(stalled):
                _merge(renewed, stalled, some.take(stalled).from_nothing())
            _merge(outcome, columns, renewed)
        return now

    def _rebalance(self, held: Bools, outcome: Outcome) -> bool:
        """Take one more step, in place, where flows do not balance; returns whether any did not.

        A network nearly at rest may come there from large flows, whose rounding outlasts them.
        """
        net = np.abs(self.topology.net_inflow(outcome.flow) - self.draw).max(axis=0, initial=0.0)
        largest = np.abs(outcome.flow).max(axis=0, initial=0.0)
        columns = np.flatnonzero(net > UNBALANCED * largest)
        if len(columns):
            some = replace(self, held=held).take(columns)
            again = some.iterate(
                outcome.flow.take(columns, axis=1), outcome.heads.take(columns, axis=1)
            )
            _merge(outcome, columns, again)
        return len(columns) > 0


def _merge(outcome: Outcome, columns: Ints, part: Outcome) -> None:
    outcome.flow[:, columns] = part.flow
    outcome.heads[:, columns] = part.heads
    outcome.lost[:, columns] = part.lost
    outcome.converged[columns] = part.converged
    outcome.iterations[columns] += part.iterations
