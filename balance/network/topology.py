"""Which run joins which joints, and how the joint system is assembled from that.

Numbers only: joints are 0 .. joints-1, fixed heads follow as joints .. joints+fixed-1.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from balance.network.elimination import Elimination, Factors, plan_elimination
from balance.network.rows import Rows, RowSum, pick, row_sum, rows
from balance.network.sparse import SparseFactors, SparseSystem

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

# Above this many joints one network alone is solved by a sparse LU instead.
SPARSE_FROM = 400


@dataclass(frozen=True)
class Topology:
    """Runs between nodes, and the pairs of runs whose losses a tee couples.

    Attributes
    ----------
    joints : joints whose head is unknown
    fixed : nodes whose head is given
    start, end : (E,) node at which each run starts and ends
    pairs : (T, 2) the two legs of each tee that carry its loss.  A run is in one pair at most,
        so the inverse of the runs' Jacobian stays in 2 x 2 blocks.
    """

    joints: int
    fixed: int
    start: Ints
    end: Ints
    pairs: Ints = field(default_factory=lambda: np.zeros((0, 2), dtype=np.intp))

    @property
    def runs(self) -> int:
        """Number of runs E."""
        return len(self.start)

    @cached_property
    def _ends(self) -> list[list[tuple[int, int]]]:
        """For each run its free ends as (joint, +1 at the start or -1 at the end)."""
        return [
            [(n, s) for n, s in ((int(i), 1), (int(j), -1)) if n < self.joints]
            for i, j in zip(self.start, self.end, strict=True)
        ]

    @cached_property
    def _stamps(self) -> tuple[list[tuple[int, int, int]], list[tuple[int, int]]]:
        """Conductances between joints as (i, j, source row) and to ground as (i, source row).

        Source rows: own conductances of the E runs, then for each tee the two crossed
        conductances, then the same two with the sign turned.
        """
        runs, tees = self.runs, len(self.pairs)
        between: list[tuple[int, int, int]] = []
        ground: list[tuple[int, int]] = []
        for row, ends in enumerate(self._ends):
            if len(ends) == 2 and ends[0][0] != ends[1][0]:
                (i, _), (j, _) = ends
                between += [(i, j, row), (j, i, row)]
            elif len(ends) == 1:
                ground.append((ends[0][0], row))
        for tee, (p, q) in enumerate(self.pairs):
            for crossed, (row, column) in enumerate(((p, q), (q, p))):
                plus = runs + tees * crossed + tee
                minus = plus + 2 * tees
                for i, sign_i in self._ends[row]:
                    for j, sign_j in self._ends[column]:
                        if i != j:
                            between.append((i, j, minus if sign_i * sign_j > 0 else plus))
                    if len(self._ends[column]) == 1:
                        sign = sign_i * self._ends[column][0][1]
                        ground.append((i, plus if sign > 0 else minus))
        return between, ground

    @cached_property
    def _symmetric(self) -> bool:
        return len(self.pairs) == 0

    @cached_property
    def elimination(self) -> Elimination:
        """The elimination planned for this topology."""
        pairs = {(i, j) for i, j, _ in self._stamps[0]}
        return plan_elimination(self.joints, pairs, symmetric=self._symmetric)

    @cached_property
    def sparse(self) -> SparseSystem:
        """The sparse joint system, for one large network alone."""
        return SparseSystem(self.joints, [(i, j) for i, j, _ in self._stamps[0]])

    @cached_property
    def _sparse_rows(self) -> Ints:
        return np.array([row for _, _, row in self._stamps[0]], dtype=np.intp)

    @cached_property
    def _between(self) -> RowSum:
        """Adds conductances to the table of the elimination."""
        slots = self.elimination.slots
        return row_sum(
            (row, slots[i, j]) for i, j, row in self._stamps[0] if i < j or not self._symmetric
        )

    @cached_property
    def _ground(self) -> RowSum:
        """Adds conductances to the ground of each joint."""
        return row_sum((row, i) for i, row in self._stamps[1])

    @cached_property
    def _inflow(self) -> RowSum:
        """Adds flows to the joints at which their runs end."""
        return row_sum((run, int(j)) for run, j in enumerate(self.end) if j < self.joints)

    @cached_property
    def _outflow(self) -> RowSum:
        """Adds flows to the joints at which their runs start."""
        return row_sum((run, int(i)) for run, i in enumerate(self.start) if i < self.joints)

    @cached_property
    def _end_rows(self) -> tuple[Rows, Rows]:
        return rows(self.start), rows(self.end)

    def net_inflow(self, flow: Floats) -> Floats:
        """Inflow less outflow at each joint, (joints, S) [m³/s]."""
        total = self._inflow.total(flow, rows=self.joints)
        self._outflow.subtract(total, flow)
        return total

    def taken(self, flow: Floats) -> Floats:
        """Flow of all water that leaves nodes of fixed head, (S,) [m³/s], at flows (E, S)."""
        out = flow[self.start >= self.joints].clip(min=0.0).sum(axis=0)
        back = flow[self.end >= self.joints].clip(max=0.0).sum(axis=0)
        return np.asarray(out - back)

    def drop(self, heads: Floats) -> Floats:
        """Head at the start less head at the end of each run, (E, S); heads over all nodes."""
        start, end = self._end_rows
        return pick(heads, start) - pick(heads, end)

    def ground_of(self, source: Floats) -> Floats:
        """Conductance of each joint to fixed heads (joints, S) [m²/s]."""
        return self._ground.total(source, rows=self.joints)

    def factor(self, conductance: Floats, crossed: Floats | None = None) -> Factors | SparseFactors:
        """Eliminates the joint system.

        Parameters
        ----------
        conductance : (E, S) own conductance of each run, zero where its flow is held [m²/s]
        crossed : (2 T, S) crossed conductances of the tees, first legs then second; none where
            the topology has no tees
        """
        source = conductance
        if crossed is not None:
            source = np.concatenate([conductance, crossed, -crossed])
        ground = self.ground_of(source)
        if source.shape[1] == 1 and self.joints >= SPARSE_FROM:
            return self.sparse.factor(source[self._sparse_rows, 0], ground[:, 0])
        table = self._between.total(source, rows=self.elimination.rows)
        return self.elimination.factor(table, ground)

    @cached_property
    def without_tees(self) -> Topology:
        """The same runs with their losses uncoupled."""
        if self._symmetric:
            return self
        return Topology(self.joints, self.fixed, self.start, self.end)

    def isolated(self, held: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Joints (joints, S) that no run with a free flow ties to a fixed head.

        Every free run conducts one, every fixed head stands at one: a joint that is tied to any
        then stands at one as well, and an isolated joint at zero.
        """
        plain = self.without_tees
        free = np.where(held, 0.0, 1.0)
        heads = plain.factor(free).solve(plain.ground_of(free))
        return heads < 0.5
