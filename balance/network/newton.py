"""Newton's method for the flows and joint heads of many scenarios at once.  Numbers only.

Each run carries ``head(start) - head(end) = f(flow)``, flows balance at each joint.  One step
solves the joint system that is left when the flows are eliminated (its Schur complement):

    L x = imbalance of t,  t = flow + J^-1 r,  r = drop of head - f(flow),
    heads += x,  flow += J^-1 (r + drop of x),

with J the runs' Jacobian: diagonal but for 2 x 2 blocks where a tee couples two legs.  A run whose
flow is *held* (a shut valve holds it at zero, a search at a target) has no row in J^-1.

Without tees the flows minimise a convex function, the network's content (cherry-1951,
millar-1951), and its slope along the step decides how far to go; no integral is needed.  The first
step uses secants of the runs through zero flow, after which all joints balance and stay so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, Protocol, Self

import numpy as np
from numpy.typing import NDArray

from balance.network.topology import Topology

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

HEAD_TOLERANCE = 1e-9  # [m], on every run, or ...
HEAD_ROUNDING = 1e-12  # [m], on every run: nothing is left to gain
FLOW_TOLERANCE = 1e-13  # ... [m³/s] what that head is worth in flow
CONTENT_TOLERANCE = 1e-9  # of the largest flow, on the weighted norm of all
MOST_ITERATIONS = 60
SUFFICIENT = 0.8  # a full step may leave this much of the content's slope, with turned sign
SEARCHED = 0.8  # a searched step leaves this much
MOST_SEARCH = 12
SAFE = 1e-3  # of the product of its diagonal, that a tee's determinant must exceed
SINGULAR = 1e-9
MOST_DESCENT = 150
MOST_HALVINGS = 8
SHRINK_AT = 0.7  # columns are dropped once this share of them is left


class Linear(NamedTuple):
    """The runs' laws at given flows."""

    head: Floats  # (E, S) f [m]
    slope: Floats  # (E, S) df/dflow of the run itself [m/(m³/s)]
    crossed: Floats | None  # (2 T, S) df_p/dflow_q, then df_q/dflow_p, of the tees' pairs

    def put(self, columns: Ints, part: Linear) -> None:
        """Replaces those of some scenarios, in place."""
        self.head[:, columns] = part.head
        self.slope[:, columns] = part.slope
        if self.crossed is not None and part.crossed is not None:
            self.crossed[:, columns] = part.crossed

    def some(self, columns: Ints) -> Linear:
        """Those of some scenarios."""
        return Linear(
            self.head.take(columns, axis=1),
            self.slope.take(columns, axis=1),
            None if self.crossed is None else self.crossed.take(columns, axis=1),
        )


class Laws(Protocol):
    """What Newton asks of the runs."""

    def __call__(self, flow: Floats) -> Linear:
        """Head lost along each run and its slopes, at flows (E, S)."""
        ...

    def take(self, columns: Ints) -> Self:
        """The laws of some of the scenarios."""
        ...


class Conductance(NamedTuple):
    """The inverse of the runs' Jacobian."""

    own: Floats  # (E, S) diagonal, zero where held [m²/s]
    crossed: Floats | None  # (2 T, S) off the diagonal of the tees' blocks

    def some(self, columns: Ints) -> Conductance:
        """That of some scenarios."""
        return Conductance(
            self.own.take(columns, axis=1),
            None if self.crossed is None else self.crossed.take(columns, axis=1),
        )


@dataclass(frozen=True)
class Outcome:
    """Flows and heads of every scenario, and how far Newton got.

    Attributes
    ----------
    flow : (E, S) [m³/s]
    heads : (joints + fixed, S) [m]
    lost : (E, S) head that the laws take at these flows [m]
    converged : (S,)
    iterations : (S,) linear solves
    """

    flow: Floats
    heads: Floats
    lost: Floats
    converged: Bools
    iterations: Ints


def conductance(pairs: Ints, linear: Linear, held: Bools, *, safe: bool = True) -> Conductance:
    """Inverse of the runs' Jacobian, block by block; held flows have none.

    Parameters
    ----------
    safe : replace a block that is not safely positive (a tee whose loss falls with flow beyond
        what the legs themselves lose) by its diagonal: a shorter step in a direction that still
        closes.  Otherwise only a singular block is replaced.
    """
    own = 1.0 / linear.slope
    own[held] = 0.0
    if linear.crossed is None:
        return Conductance(own, None)
    first, second = pairs[:, 0], pairs[:, 1]
    slope_p, slope_q = linear.slope.take(first, axis=0), linear.slope.take(second, axis=0)
    tees = len(pairs)
    crossed_pq, crossed_qp = linear.crossed[:tees], linear.crossed[tees:]
    product = slope_p * slope_q
    determinant = product - crossed_pq * crossed_qp
    coupled = determinant > SAFE * product if safe else np.abs(determinant) > SINGULAR * product
    coupled &= ~(held.take(first, axis=0) | held.take(second, axis=0))
    alone, column = np.nonzero(~coupled)
    determinant[alone, column] = np.inf
    share = np.divide(1.0, determinant, out=determinant)
    kept_p, kept_q = own[first[alone], column], own[second[alone], column]
    own[first], own[second] = slope_q * share, slope_p * share
    own[first[alone], column], own[second[alone], column] = kept_p, kept_q
    return Conductance(own, np.concatenate([crossed_pq * -share, crossed_qp * -share]))


def apply(pairs: Ints, inverse: Conductance, head: Floats) -> Floats:
    """Flows J^-1 head, (E, S)."""
    flow = inverse.own * head
    if inverse.crossed is not None:
        first, second = pairs[:, 0], pairs[:, 1]
        tees = len(pairs)
        flow[first] += inverse.crossed[:tees] * head.take(second, axis=0)
        flow[second] += inverse.crossed[tees:] * head.take(first, axis=0)
    return flow


@dataclass
class _Columns:
    """The scenarios still being solved."""

    laws: Laws
    held: Bools
    draw: Floats
    flow: Floats
    heads: Floats
    drop: Floats  # of head along each run, (E, S)
    linear: Linear

    def some(self, columns: Ints) -> _Columns:
        """Copies of some of them."""
        return _Columns(
            self.laws.take(columns),
            self.held.take(columns, axis=1),
            self.draw.take(columns, axis=1),
            self.flow.take(columns, axis=1),
            self.heads.take(columns, axis=1),
            self.drop.take(columns, axis=1),
            self.linear.some(columns),
        )

    def missing(self) -> Floats:
        """Drop of head less the law on every run with free flow (E, S)."""
        head = self.drop - self.linear.head
        head[self.held] = 0.0
        return head


def iterate(
    topology: Topology,
    laws: Laws,
    *,
    held: Bools,
    draw: Floats,
    flow: Floats,
    heads: Floats,
    first: Linear | None = None,
    most: int = MOST_ITERATIONS,
) -> Outcome:
    """Newton's iteration from given flows and heads.

    Parameters
    ----------
    held : (E, S) runs whose flow stays as given
    draw : (joints, S) flow taken out at each joint [m³/s]
    flow : (E, S) where to begin, and the flow of held runs [m³/s]
    heads : (joints + fixed, S) where to begin, and the fixed heads [m]
    first : what the first step takes for the laws; left out: their tangents at `flow`
    most : iterations
    """
    now = _Columns(
        laws,
        held,
        draw,
        flow.copy(),
        heads.copy(),
        topology.drop(heads),
        laws(flow) if first is None else first,
    )
    where = np.arange(flow.shape[1])
    out = Outcome(
        flow.copy(),
        heads.copy(),
        np.zeros_like(flow),
        np.zeros(len(where), dtype=np.bool_),
        np.zeros(len(where), dtype=np.intp),
    )
    for iteration in range(1, most + 1):
        system = topology if now.linear.crossed is not None else topology.without_tees
        residual = now.missing()
        inverse = conductance(system.pairs, now.linear, now.held)
        before, step, _ = _step(system, now, inverse, residual)
        now.linear = now.laws(now.flow)
        left = now.missing()
        done = _close(left, step, now.flow, inverse)
        # The first step of chords goes all the way: from it on, flows balance at all joints.
        if (iteration > 1 or first is None) and not done.all():
            downhill = np.einsum("es,es->s", step, residual)
            remaining = -np.einsum("es,es->s", step, left)
            short = np.flatnonzero(~done & (remaining > SUFFICIENT * np.abs(downhill)))
            if len(short):
                part = now.some(short)
                steps = step.take(short, axis=1)
                _search(part, before.take(short, axis=1), steps, downhill[short], remaining[short])
                now.flow[:, short] = part.flow
                now.linear.put(short, part.linear)
                done[short] = _close(part.missing(), steps, part.flow, inverse.some(short))
        out.iterations[where] = iteration
        out.converged[where[done]] = True
        on = np.flatnonzero(~done)
        if len(on) == 0 or iteration == most:
            out.flow[:, where] = now.flow
            out.heads[:, where] = now.heads
            out.lost[:, where] = now.linear.head
            break
        if len(on) < SHRINK_AT * len(where):
            out.flow[:, where] = now.flow
            out.heads[:, where] = now.heads
            out.lost[:, where] = now.linear.head
            where = where[on]
            now = now.some(on)
    return out


def _step(
    topology: Topology, now: _Columns, inverse: Conductance, residual: Floats
) -> tuple[Floats, Floats, Floats]:
    """Takes Newton's whole step, in place.

    Returns the flows before it, and the changes of flows (E, S) and of heads (nodes, S).
    """
    aimed = apply(topology.pairs, inverse, residual)
    aimed += now.flow
    change = np.zeros_like(now.heads)
    change[: topology.joints] = topology.factor(*inverse).solve(
        topology.net_inflow(aimed) - now.draw
    )
    now.heads += change
    now.drop = topology.drop(now.heads)
    before = now.flow
    # Not from the new heads: near the end their difference is all rounding, the change's is not.
    step = apply(topology.pairs, inverse, residual + topology.drop(change))
    now.flow = before + step
    return before, step, change


def descend(
    topology: Topology, laws: Laws, *, held: Bools, draw: Floats, flow: Floats, heads: Floats
) -> Outcome:
    """Newton's method led by the size of what does not close, where the content leads nowhere.

    Arguments as for `iterate`, of flows that balance.  Tees make losses that no content belongs
    to; but along Newton's own direction every residual shrinks at first, so a step that is short
    enough lowers their weighted sum of squares.
    """
    now = _Columns(laws, held, draw, flow.copy(), heads.copy(), topology.drop(heads), laws(flow))
    converged = np.zeros(flow.shape[1], dtype=np.bool_)
    iterations = np.full(flow.shape[1], MOST_DESCENT, dtype=np.intp)
    for iteration in range(1, MOST_DESCENT + 1):
        residual = now.missing()
        inverse = conductance(topology.pairs, now.linear, held, safe=False)
        weight = np.abs(inverse.own)
        merit = np.einsum("es,es,es->s", weight, residual, residual)
        before_heads = now.heads.copy()
        before, step, change = _step(topology, now, inverse, residual)
        length = np.ones(flow.shape[1])
        left = residual
        searching = ~converged
        for _ in range(MOST_HALVINGS):
            now.flow = before + length * step
            now.heads = before_heads + length * change
            now.drop = topology.drop(now.heads)
            now.linear = now.laws(now.flow)
            left = now.missing()
            searching &= np.einsum("es,es,es->s", weight, left, left) > (1 - 0.5 * length) * merit
            if not searching.any():
                break
            length[searching] *= 0.5
        done = _close(left, step, now.flow, inverse) & (length == 1.0)
        iterations[done & ~converged] = iteration
        converged |= done
        if converged.all():
            break
    return Outcome(now.flow, now.heads, now.linear.head, converged, iterations)


def _close(left: Floats, step: Floats, flow: Floats, inverse: Conductance) -> Bools:
    """Scenarios (S,) whose heads and flows are as good as their tolerances ask."""
    size = np.abs(left)
    weight = np.abs(inverse.own)
    worth = size * weight
    done: Bools = np.asarray(((size <= HEAD_TOLERANCE) | (worth <= FLOW_TOLERANCE)).all(axis=0))
    if done.any():
        tolerance = FLOW_TOLERANCE + CONTENT_TOLERANCE * np.abs(flow).max(axis=0, initial=0.0)
        norm = np.sqrt(np.einsum("es,es->s", worth, size) * weight.max(axis=0, initial=0.0))
        done &= (
            (norm <= tolerance)
            | (np.abs(step).max(axis=0, initial=0.0) <= tolerance)
            | (size.max(axis=0, initial=0.0) <= HEAD_ROUNDING)
        )
    return done


def _search(now: _Columns, flow: Floats, step: Floats, downhill: Floats, remaining: Floats) -> None:
    """Shortens the step from `flow` to where the content's slope along it is nearly zero, in place.

    Newton in one dimension, kept inside the bracket that the slopes seen so far give.
    """
    low, high = np.zeros(len(downhill)), np.ones(len(downhill))
    target = SEARCHED * np.abs(downhill)
    # Where the step itself points uphill (a tee out of the convex world) half of it is tried.
    uphill = downhill <= 0.0
    total = np.where(uphill, 1.0, downhill + remaining)
    length = np.where(uphill, 0.5, np.clip(downhill / total, 0.1, 0.9))
    for _ in range(MOST_SEARCH):
        now.flow = flow + length * step
        now.linear = now.laws(now.flow)
        slope = -np.einsum("es,es->s", step, now.missing())
        found = (np.abs(slope) <= target) | uphill
        if found.all():
            break
        curvature = np.einsum("es,es,es->s", step, step, now.linear.slope)
        high = np.where(slope > 0.0, length, high)
        low = np.where(slope <= 0.0, length, low)
        newton = length - slope / np.where(curvature > 0.0, curvature, np.inf)
        inside = (newton > low) & (newton < high)
        length = np.where(found, length, np.where(inside, newton, 0.5 * (low + high)))
