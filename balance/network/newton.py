"""Newton's method for the flows and joint heads of many scenarios at once.  Numbers only.

Each run carries ``head(start) - head(end) = f(flow)``, flows balance at each joint.  One step
solves the joint system that is left when the flows are eliminated (its Schur complement):

    L x = imbalance of t,  t = flow + J^-1 r,  r = drop of head - f(flow),
    heads += x,  flow += J^-1 (r + drop of x),

with J the runs' Jacobian: diagonal but for 2 x 2 blocks where a tee couples two legs.  A run whose
flow is *held* (a shut valve holds it at zero, a search at a target) has no row in J^-1.

Without tees the flows minimise a convex function, the network's content (Cherry 1951, Millar
1951), and its slope along the step decides how far to go; no integral is needed.  The first step
uses secants of the runs through zero flow, after which all joints balance and stay so.
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
SUFFICIENT = 0.5  # a full step may leave this much of the content's slope, with turned sign
SEARCHED = 0.1  # a searched step leaves this much
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

    def secant(self, flow: Floats) -> Linear:
        """The same with passive runs replaced by their secant through zero flow, uncoupled."""
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
    converged : (S,)
    iterations : (S,) linear solves
    """

    flow: Floats
    heads: Floats
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
    own = np.where(held, 0.0, 1.0 / linear.slope)
    if linear.crossed is None:
        return Conductance(own, None)
    first, second = pairs[:, 0], pairs[:, 1]
    slope_p, slope_q = linear.slope.take(first, axis=0), linear.slope.take(second, axis=0)
    tees = len(pairs)
    crossed_pq, crossed_qp = linear.crossed[:tees], linear.crossed[tees:]
    product = slope_p * slope_q
    determinant = product - crossed_pq * crossed_qp
    both = determinant > SAFE * product if safe else np.abs(determinant) > SINGULAR * product
    both &= ~(held.take(first, axis=0) | held.take(second, axis=0))
    share = np.where(both, 1.0 / np.where(both, determinant, 1.0), 0.0)
    own[first] = np.where(both, slope_q * share, own.take(first, axis=0))
    own[second] = np.where(both, slope_p * share, own.take(second, axis=0))
    return Conductance(own, np.concatenate([-crossed_pq * share, -crossed_qp * share]))


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

    def some(self, columns: Ints) -> _Columns:
        """Copies of some of them."""
        return _Columns(
            self.laws.take(columns),
            self.held.take(columns, axis=1),
            self.draw.take(columns, axis=1),
            self.flow.take(columns, axis=1),
            self.heads.take(columns, axis=1),
        )

    def missing(self, topology: Topology, linear: Linear) -> Floats:
        """Drop of head less the law on every run with free flow (E, S)."""
        head = topology.drop(self.heads)
        head -= linear.head
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
    warm: bool,
) -> Outcome:
    """Newton's iteration from given flows and heads.

    Parameters
    ----------
    held : (E, S) runs whose flow stays as given
    draw : (joints + 1, S) flow taken out at each joint, last row zero [m³/s]
    flow : (E, S) where to begin, and the flow of held runs [m³/s]
    heads : (joints + fixed, S) where to begin, and the fixed heads [m]
    warm : the start is near: begin with a tangent, not with secants
    """
    now = _Columns(laws, held, draw, flow.copy(), heads.copy())
    where = np.arange(flow.shape[1])
    out = Outcome(
        flow.copy(),
        heads.copy(),
        np.zeros(len(where), dtype=np.bool_),
        np.zeros(len(where), dtype=np.intp),
    )
    linear = laws(now.flow) if warm else laws.secant(now.flow)
    for iteration in range(1, MOST_ITERATIONS + 1):
        uncoupled = iteration == 1 and not warm
        residual = now.missing(topology, linear)
        inverse = _secant(linear, now.held) if uncoupled else conductance(
            topology.pairs, linear, now.held
        )  # fmt: skip
        step, change = _step(
            topology, topology.without_tees if uncoupled else topology, now, inverse, residual
        )
        now.heads[: topology.joints] += change
        before = now.flow
        now.flow = before + step
        linear = now.laws(now.flow)
        left = now.missing(topology, linear)
        done = _close(left, step, now.flow, inverse)
        if iteration > 1 and not done.all():
            downhill = np.einsum("es,es->s", step, residual)
            remaining = -np.einsum("es,es->s", step, left)
            short = np.flatnonzero(~done & (remaining > SUFFICIENT * np.abs(downhill)))
            if len(short):
                part = now.some(short)
                length = _search(
                    part,
                    topology.drop(part.heads),
                    before.take(short, axis=1),
                    step.take(short, axis=1),
                    downhill[short],
                    remaining[short],
                )
                now.flow[:, short] = before[:, short] + length * step[:, short]
                part.flow = now.flow.take(short, axis=1)
                again = part.laws(part.flow)
                linear.put(short, again)
                missing = part.missing(topology, again)
                done[short] = _close(
                    missing, step.take(short, axis=1), part.flow, inverse.some(short)
                )
        out.iterations[where] = iteration
        out.converged[where[done]] = True
        on = np.flatnonzero(~done)
        if len(on) == 0 or iteration == MOST_ITERATIONS:
            out.flow[:, where] = now.flow
            out.heads[:, where] = now.heads
            break
        if len(on) < SHRINK_AT * len(where):
            out.flow[:, where] = now.flow
            out.heads[:, where] = now.heads
            where = where[on]
            now = now.some(on)
            linear = linear.some(on)
    return out


def _secant(linear: Linear, held: Bools) -> Conductance:
    """Conductances of the first step, which knows no tees."""
    return Conductance(np.where(held, 0.0, 1.0 / linear.slope), None)


def _step(
    topology: Topology, system: Topology, now: _Columns, inverse: Conductance, residual: Floats
) -> tuple[Floats, Floats]:
    """Newton's step: changes of flows (E, S) and of joint heads (joints, S)."""
    factors = system.factor(*inverse)
    aimed = now.flow + apply(system.pairs, inverse, residual)
    change = factors.solve(topology.net_inflow(aimed) - now.draw)[:-1]
    spread = np.zeros_like(now.heads)
    spread[: topology.joints] = change
    return apply(system.pairs, inverse, residual + topology.drop(spread)), change


def descend(
    topology: Topology, laws: Laws, *, held: Bools, draw: Floats, flow: Floats, heads: Floats
) -> Outcome:
    """Newton's method led by the size of what does not close, where the content leads nowhere.

    Arguments as for `iterate`, of flows that balance.  Tees make losses that no content belongs
    to; but along Newton's own direction every residual shrinks at first, so a step that is short
    enough lowers their weighted sum of squares.
    """
    now = _Columns(laws, held, draw, flow.copy(), heads.copy())
    converged = np.zeros(flow.shape[1], dtype=np.bool_)
    iterations = np.full(flow.shape[1], MOST_DESCENT, dtype=np.intp)
    linear = laws(now.flow)
    for iteration in range(1, MOST_DESCENT + 1):
        residual = now.missing(topology, linear)
        inverse = conductance(topology.pairs, linear, held, safe=False)
        weight = np.abs(inverse.own)
        merit = np.einsum("es,es,es->s", weight, residual, residual)
        step, change = _step(topology, topology, now, inverse, residual)
        before, before_heads = now.flow, now.heads
        length = np.ones(flow.shape[1])
        left = residual
        searching = ~converged
        for _ in range(MOST_HALVINGS):
            now.flow = before + length * step
            now.heads = before_heads.copy()
            now.heads[: topology.joints] += length * change
            linear = now.laws(now.flow)
            left = now.missing(topology, linear)
            searching &= np.einsum("es,es,es->s", weight, left, left) > (1 - 0.5 * length) * merit
            if not searching.any():
                break
            length[searching] *= 0.5
        done = _close(left, step, now.flow, inverse) & (length == 1.0)
        iterations[done & ~converged] = iteration
        converged |= done
        if converged.all():
            break
    return Outcome(now.flow, now.heads, converged, iterations)


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


def _search(
    now: _Columns, drop: Floats, flow: Floats, step: Floats, downhill: Floats, remaining: Floats
) -> Floats:
    """Lengths (S,) in (0, 1] at which the content's slope along the step is nearly zero.

    Newton in one dimension, kept inside the bracket that the slopes seen so far give.
    """
    low, high = np.zeros(len(downhill)), np.ones(len(downhill))
    target = SEARCHED * np.abs(downhill)
    # Where the step itself points uphill (a tee out of the convex world) half of it is tried.
    uphill = downhill <= 0.0
    total = np.where(uphill, 1.0, downhill + remaining)
    length = np.where(uphill, 0.5, np.clip(downhill / total, 0.1, 0.9))
    for _ in range(MOST_SEARCH):
        linear = now.laws(flow + length * step)
        left = drop - linear.head
        left[now.held] = 0.0
        slope = -np.einsum("es,es->s", step, left)
        found = (np.abs(slope) <= target) | uphill
        if found.all():
            break
        curvature = np.einsum("es,es,es->s", step, step, linear.slope)
        high = np.where(slope > 0.0, length, high)
        low = np.where(slope <= 0.0, length, low)
        newton = length - slope / np.where(curvature > 0.0, curvature, np.inf)
        inside = (newton > low) & (newton < high)
        length = np.where(found, length, np.where(inside, newton, 0.5 * (low + high)))
    return length
