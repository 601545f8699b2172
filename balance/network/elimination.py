"""Elimination of joints, planned once per topology and run for all scenarios at a time.

The joint system of a pipe network is a table of conductances between joints plus one conductance
from each joint to the fixed heads (its ground).  Eliminating a joint k spreads its conductances
over its neighbours (the star becomes a mesh):

    s = ground_k + sum_i w_ki,   m_i = w_ik / s,
    w_ij += m_i w_kj,   ground_i += m_i ground_k,   rhs_i += m_i rhs_k.

Rows are kept as conductances and a row sum, never as a diagonal.  For non-negative conductances
there is no subtraction anywhere, so a joint that no open run ties to a fixed head meets s == 0
exactly and no rounding can hide it (after Grassmann, Taksar & Heyman, "Regenerative analysis and
steady state distributions for Markov chains", 1985, who eliminate Markov chains in this way).
The rule holds for unsymmetric tables too, which tees make.

Joints that are not neighbours are eliminated together, a level at a time, so the number of numpy
calls grows with the logarithm of a tree's size.  All arrays are (rows, S), scenarios last.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


class SlotSum(NamedTuple):
    """Adds rows of one array into rows of another: target[into] += sum of source rows."""

    order: Ints  # rows of the source, those of one target side by side
    starts: Ints  # where each target's group begins in `order`
    into: Ints  # the target rows, each once
    single: bool  # every group has one row, nothing to add up

    def of(self, source: Floats) -> Floats:
        """Sums of the source rows, one row a target, (targets, S)."""
        rows = source.take(self.order, axis=0)
        return rows if self.single else np.add.reduceat(rows, self.starts, axis=0)


def slot_sum(targets: list[int] | Ints) -> SlotSum:
    """Plan of an addition in which source row r goes to row targets[r]."""
    wanted = np.asarray(targets, dtype=np.intp)
    order = np.argsort(wanted, kind="stable")
    into, starts = np.unique(wanted[order], return_index=True)
    return SlotSum(order, starts.astype(np.intp), into, len(into) == len(wanted))


class _Level(NamedTuple):
    joints: Ints  # the joints eliminated here, none a neighbour of another
    out_slots: Ints  # slot of w_kj, grouped by k
    in_slots: Ints  # slot of w_jk, in the same order
    neighbours: Ints  # j, in the same order
    owner: Ints  # which of `joints` k is, in the same order
    starts: Ints  # where the group of each k begins
    mesh_in: Ints  # for each new or raised w_ij: row of m_i ...
    mesh_out: Ints  # ... row of w_kj
    mesh: SlotSum  # ... and the slot of w_ij
    onto: SlotSum  # from the rows above to the joints j


@dataclass(frozen=True)
class Elimination:
    """Order of elimination and the places of all conductances.

    ``slots[(i, j)]`` is the row of w_ij in the table given to `factor`; with ``symmetric``
    w_ij and w_ji share one row.  The last row of the table is always zero.
    """

    joints: int
    symmetric: bool
    slots: dict[tuple[int, int], int]
    levels: tuple[_Level, ...]

    @property
    def rows(self) -> int:
        """Rows of the table of conductances, the zero row included."""
        return (max(self.slots.values()) + 1 if self.slots else 0) + 1

    def factor(self, table: Floats, ground: Floats) -> Factors:
        """Eliminates all joints.  Both arrays are overwritten.

        Parameters
        ----------
        table : (rows, S) conductances w_ij [m²/s], last row zero
        ground : (joints + 1, S) row sums: conductance to fixed heads [m²/s], last row zero
        """
        steps = []
        for level in self.levels:
            out = table.take(level.out_slots, axis=0)
            own = ground.take(level.joints, axis=0)
            pivot = own + np.add.reduceat(out, level.starts, axis=0)
            # A pivot of exactly zero is an isolated joint: it moves nothing.
            inverse = np.divide(1.0, pivot, out=np.zeros_like(pivot), where=pivot != 0.0)
            spread = (out if self.symmetric else table.take(level.in_slots, axis=0)) * inverse.take(
                level.owner, axis=0
            )
            if len(level.mesh_in):
                table[level.mesh.into] += level.mesh.of(
                    spread.take(level.mesh_in, axis=0) * out.take(level.mesh_out, axis=0)
                )
            ground[level.onto.into] += level.onto.of(spread * own.take(level.owner, axis=0))
            steps.append(_Step(level, out, spread, inverse))
        return Factors(tuple(steps))


class _Step(NamedTuple):
    level: _Level
    out: Floats
    spread: Floats
    inverse: Floats


@dataclass(frozen=True)
class Factors:
    """An eliminated joint system, ready for right-hand sides."""

    steps: tuple[_Step, ...]

    def solve(self, rhs: Floats) -> Floats:
        """Heads (joints + 1, S) for right-hand sides of that shape; isolated joints give 0.

        The last row stands for the neighbour of joints that have none left: zero in, zero out.
        """
        rhs = np.array(rhs)
        heads = np.zeros(rhs.shape)
        own_rhs = []
        for step in self.steps:
            own = rhs.take(step.level.joints, axis=0)
            own_rhs.append(own)
            onto = step.level.onto
            rhs[onto.into] += onto.of(step.spread * own.take(step.level.owner, axis=0))
        for step, own in zip(reversed(self.steps), reversed(own_rhs), strict=True):
            level = step.level
            pulled = np.add.reduceat(
                step.out * heads.take(level.neighbours, axis=0), level.starts, axis=0
            )
            heads[level.joints] = (own + pulled) * step.inverse
        return heads


def plan_elimination(joints: int, pairs: set[tuple[int, int]], *, symmetric: bool) -> Elimination:
    """Order by minimum degree, many joints at a time, and the places of all fill-in.

    Parameters
    ----------
    joints : number of joints
    pairs : pairs (i, j) of joints that a run or a tee ties together, in either order
    symmetric : w_ij and w_ji are always equal
    """
    slots: dict[tuple[int, int], int] = {}

    def slot(i: int, j: int) -> int:
        key = (i, j) if not symmetric or i < j else (j, i)
        return slots.setdefault(key, len(slots))

    around: list[set[int]] = [set() for _ in range(joints)]
    for i, j in sorted(pairs):
        around[i].add(j)
        around[j].add(i)
        slot(i, j)
        slot(j, i)
    left = set(range(joints))
    orders: list[list[tuple[int, list[int]]]] = []
    while left:
        # Joints of degree two or less never cost fill-in worth the name: take all of them.
        worth = max(2, min(len(around[k]) for k in left))
        blocked: set[int] = set()
        level = []
        for k in sorted(left, key=lambda k: len(around[k])):
            if len(around[k]) > worth:
                break
            if k not in blocked:
                level.append((k, sorted(around[k])))
                blocked |= around[k]
        for k, neighbours in level:
            left.discard(k)
            for i in neighbours:
                around[i].discard(k)
                around[i].update(j for j in neighbours if j != i)
                for j in neighbours:
                    if i != j:
                        slot(i, j)
        orders.append(level)
    zero = len(slots)
    levels = tuple(_level(order, slot, zero, joints, symmetric=symmetric) for order in orders)
    return Elimination(joints, symmetric, slots, levels)


def _level(
    order: list[tuple[int, list[int]]],
    slot: Callable[[int, int], int],
    zero: int,
    nobody: int,
    *,
    symmetric: bool,
) -> _Level:
    out_slots: list[int] = []
    in_slots: list[int] = []
    around: list[int] = []
    owner: list[int] = []
    starts: list[int] = []
    mesh_in: list[int] = []
    mesh_out: list[int] = []
    mesh_slots: list[int] = []
    for place, (k, neighbours) in enumerate(order):
        first = len(out_slots)
        starts.append(first)
        for j in neighbours or [nobody]:
            out_slots.append(slot(k, j) if neighbours else zero)
            in_slots.append(slot(j, k) if neighbours else zero)
            around.append(j)
            owner.append(place)
        for a, i in enumerate(neighbours):
            for b, j in enumerate(neighbours):
                if i < j or (i != j and not symmetric):
                    mesh_in.append(first + a)
                    mesh_out.append(first + b)
                    mesh_slots.append(slot(i, j))
    return _Level(
        joints=np.array([k for k, _ in order], dtype=np.intp),
        out_slots=np.array(out_slots, dtype=np.intp),
        in_slots=np.array(in_slots, dtype=np.intp),
        neighbours=np.array(around, dtype=np.intp),
        owner=np.array(owner, dtype=np.intp),
        starts=np.array(starts, dtype=np.intp),
        mesh_in=np.array(mesh_in, dtype=np.intp),
        mesh_out=np.array(mesh_out, dtype=np.intp),
        mesh=slot_sum(mesh_slots),
        onto=slot_sum(around),
    )
