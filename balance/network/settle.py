"""From laws, heads and held flows to the state in which all of them agree.

Wraps Newton's iteration in what it needs to end well: a first guess, chunks small enough for the
cache, check valves shut for good once they are found shut, a second try with softer check valves,
and a gradual switching-on of tee losses where the direct way stalls.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from balance.network.laws import RunLaws
from balance.network.newton import Outcome, descend, iterate
from balance.network.topology import Topology

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

CHUNK = 16384  # numbers in one array over all runs; above it memory is mapped anew each time
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
    held : (E, S) runs whose flow was held, shut check valves among them
    converged : (S,)
    iterations : (S,) linear solves
    """

    flow: Floats
    heads: Floats
    held: Bools
    converged: Bools
    iterations: Ints


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
    columns = max(1, CHUNK // max(1, topology.runs))
    parts = []
    for first in range(0, scenarios, columns):
        part = np.arange(first, min(scenarios, first + columns))
        parts.append(
            _settle_chunk(
                topology,
                laws if scenarios <= columns else laws.take(part),
                _spread(fixed_heads, part),
                _spread(held, part),
                None if held_flow is None else _spread(held_flow, part),
                None if draw is None else _spread(draw, part),
                near,
                part,
            )
        )
    if len(parts) == 1:
        return parts[0]
    return State(
        *(
            np.concatenate([getattr(part, name) for part in parts], axis=-1)
            for name in ("flow", "heads", "held", "converged", "iterations")
        )
    )


def _spread(array: NDArray[Any], columns: Ints) -> NDArray[Any]:
    if array.shape[1] == 1:
        return np.repeat(array, len(columns), axis=1)
    return array.take(columns, axis=1)


def _settle_chunk(
    topology: Topology,
    laws: RunLaws,
    fixed_heads: Floats,
    held: Bools,
    held_flow: Floats | None,
    draw: Floats | None,
    near: State | None,
    part: Ints,
) -> State:
    scenarios = len(part)
    taken = np.zeros((topology.joints + 1, scenarios))
    if draw is not None:
        taken[:-1] = draw
    given = np.zeros(held.shape) if held_flow is None else held_flow
    problem = _Problem(topology, laws, fixed_heads, taken, given)
    outcome = problem.cold(held) if near is None else problem.warm(held, near, part)
    if near is not None and not outcome.converged.all():
        outcome = problem.again(outcome, held, np.flatnonzero(~outcome.converged))
    return problem.shut_check_valves(held, outcome)


@dataclass(frozen=True)
class _Problem:
    """One chunk of scenarios: everything but the runs that are held."""

    topology: Topology
    laws: RunLaws
    fixed_heads: Floats
    draw: Floats
    given: Floats

    def take(self, columns: Ints) -> _Problem:
        return _Problem(
            self.topology,
            self.laws.take(columns),
            self.fixed_heads.take(columns, axis=1),
            self.draw.take(columns, axis=1),
            self.given.take(columns, axis=1),
        )

    def iterate(
        self, laws: RunLaws, held: Bools, flow: Floats, heads: Floats, *, warm: bool
    ) -> Outcome:
        return iterate(
            self.topology,
            laws,
            held=held,
            draw=self.draw,
            flow=np.where(held, self.given, flow),
            heads=heads,
            warm=warm,
        )

    def cold(self, held: Bools) -> Outcome:
        """From nothing; where the direct way stalls, by roundabout ones."""
        outcome = self._cold(self.laws, held)
        stalled = np.flatnonzero(~outcome.converged)
        if len(stalled):
            some = self.take(stalled)
            _merge(outcome, stalled, some.roundabout(held.take(stalled, axis=1)))
        return outcome

    def _cold(self, laws: RunLaws, held: Bools) -> Outcome:
        joints = self.topology.joints
        span = laws.lift()
        heads = np.zeros((joints + self.topology.fixed, held.shape[1]))
        if self.topology.fixed:
            heads[joints:] = self.fixed_heads
            heads[:joints] = self.fixed_heads.mean(axis=0)
            span = span + np.ptp(self.fixed_heads, axis=0)
        flow = laws.start(np.broadcast_to(np.maximum(span, LEAST_RANGE), held.shape[1:]))
        return self.iterate(laws, held, flow, heads, warm=False)

    def roundabout(self, held: Bools) -> Outcome:
        """Softer check valves first, then the tees' losses by and by."""
        soft = self._cold(replace(self.laws, reverse=self.laws.reverse * SOFTER), held)
        outcome = self.iterate(self.laws, held, soft.flow, soft.heads, warm=True)
        if outcome.converged.all() or self.laws.tees is None:
            return outcome
        plain = self._cold(self.laws.with_tees(0.0), held)
        for shares in TEE_SHARES:
            outcome = plain
            for share in shares:
                outcome = descend(
                    self.topology,
                    self.laws.with_tees(share),
                    held=held,
                    draw=self.draw,
                    flow=outcome.flow,
                    heads=outcome.heads,
                )
            if outcome.converged.all():
                break
        return outcome

    def warm(self, held: Bools, near: State, part: Ints) -> Outcome:
        """From a state nearby."""
        flow, heads = _spread(near.flow, part), _spread(near.heads, part)
        heads[self.topology.joints :] = self.fixed_heads
        # A check valve that was shut starts on the shut side of its law.
        shut = _spread(near.held, part).take(self.laws.one_way, axis=0)
        flow[self.laws.one_way] = np.where(shut, -BACKWARD, flow.take(self.laws.one_way, axis=0))
        return self.iterate(self.laws, held, flow, heads, warm=True)

    def again(self, outcome: Outcome, held: Bools, columns: Ints) -> Outcome:
        """The same with some scenarios solved from nothing."""
        _merge(outcome, columns, self.take(columns).cold(held.take(columns, axis=1)))
        return outcome

    def shut_check_valves(self, held: Bools, outcome: Outcome) -> State:
        """Holds at zero what leaks backwards, and solves what is left.

        Newton sees a shut check valve as a very steep law, through which a trace flows.  Reported
        flows must balance without that trace.
        """
        topology, one_way = self.topology, self.laws.one_way
        now = held.copy()
        for last in (*[False] * MOST_ROUNDS, True):
            flow = outcome.flow.take(one_way, axis=0)
            shut = now.take(one_way, axis=0)
            given = held.take(one_way, axis=0)
            # At rest its run still has its opening head, and what a tee makes of passing flow.
            rest = self.laws(outcome.flow).head.take(one_way, axis=0) if shut.any() else 0.0
            pull = topology.drop(outcome.heads).take(one_way, axis=0) - rest
            stays = shut if last else pull <= REOPEN
            wanted = given | np.where(shut, stays, flow < 0.0)
            columns = np.flatnonzero((wanted != shut).any(axis=0))
            if len(columns) == 0:
                break
            now[one_way] = wanted
            some, still = self.take(columns), now.take(columns, axis=1)
            renewed = some.iterate(
                some.laws,
                still,
                outcome.flow.take(columns, axis=1),
                outcome.heads.take(columns, axis=1),
                warm=True,
            )
            if not renewed.converged.all():
                renewed = some.again(renewed, still, np.flatnonzero(~renewed.converged))
            _merge(outcome, columns, renewed)
        self._rebalance(now, outcome)
        # Where nothing flows at all, what is left of Newton's last step is not a flow.
        outcome.flow[:, np.abs(outcome.flow).max(axis=0, initial=0.0) <= AT_REST] = 0.0
        return State(outcome.flow, outcome.heads, now, outcome.converged, outcome.iterations)

    def _rebalance(self, held: Bools, outcome: Outcome) -> None:
        """One more step, in place, where flows do not balance as they should.

        A network nearly at rest may come there from large flows, whose rounding outlasts them.
        """
        net = np.abs(self.topology.net_inflow(outcome.flow) - self.draw).max(axis=0, initial=0.0)
        largest = np.abs(outcome.flow).max(axis=0, initial=0.0)
        columns = np.flatnonzero(net > UNBALANCED * largest)
        if len(columns):
            again = self.take(columns).iterate(
                self.laws.take(columns),
                held.take(columns, axis=1),
                outcome.flow.take(columns, axis=1),
                outcome.heads.take(columns, axis=1),
                warm=True,
            )
            _merge(outcome, columns, again)


def _merge(outcome: Outcome, columns: Ints, part: Outcome) -> None:
    outcome.flow[:, columns] = part.flow
    outcome.heads[:, columns] = part.heads
    outcome.converged[columns] = part.converged
    outcome.iterations[columns] += part.iterations
