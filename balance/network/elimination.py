"""Elimination of joints, planned once per topology and run for all scenarios at a time.

The joint system of a pipe network is a table of conductances between joints plus one conductance
from each joint to the fixed heads (its ground).  Eliminating a joint k spreads its conductances
over its neighbours (the star becomes a mesh):

    s = ground_k + sum_i w_ki,   m_i = w_ik / s,
    w_ij += m_i w_kj,   ground_i += m_i ground_k,   rhs_i += m_i rhs_k.

Rows are kept as conductances and a row sum, never as a diagonal.  For non-negative conductances
there is no subtraction anywhere, so a joint that no open run ties to a fixed head meets s == 0
exactly and no rounding can hide it (after grassmann-1985, who eliminate Markov chains in this way).
The rule holds for unsymmetric tables too, which tees make.

Joints that are not neighbours are eliminated together, a level at a time, so the number of numpy
calls grows with the logarithm of a tree's size.  Inside, joints and conductances stand in the order
of their elimination, so that a level is a slice of each array, cut into few blocks: the first
conductance of each of its joints, the second one of those that have two or more, and so on; or, of
a few joints with many neighbours, joint by joint.  All arrays are (rows, S), scenarios last.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from balance.network.rows import Rows, RowSum, pick, row_sum, rows

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
_Stars = list[tuple[int, list[int]]]  # joints with their neighbours


class _Level(NamedTuple):
    joints: slice  # places of the joints eliminated here, none a neighbour of another
    out: slice  # rows of w_kj
    back: slice  # rows of w_jk, in the same order
    blocks: tuple[tuple[slice, slice], ...]  # joints, and one conductance each or all of one's
    owners: Ints  # which of `joints` k is, for each conductance
    neighbours: Rows  # places of j, in the same order
    onto: RowSum  # from the conductances to the places of j
    mesh_in: Rows  # for each new or raised w_ij: m_i ...
    mesh_out: Rows  # ... and w_kj
    mesh: RowSum  # ... and the row of w_ij

    def times(self, conductances: Floats, joints: Floats) -> Floats:
        """Conductances of the level times a value of the joint that each belongs to."""
        return conductances * joints.take(self.owners, axis=0)

    def add(self, joints: Floats, conductances: Floats) -> None:
        """Adds a value of each conductance to that of its joint, in place."""
        for owners, block in self.blocks:
            if owners.stop - owners.start == 1:
                joints[owners] += conductances[block].sum(axis=0)
            else:
                joints[owners] += conductances[block]


@dataclass(frozen=True)
class Elimination:
    """Order of elimination and the rows of all conductances.

    Attributes
    ----------
    order : (joints,) joints in the order of their elimination
    place : (joints,) place of each joint in that order
    slots : row of w_ij in the table given to `factor`; w_ij and w_ji share one where the table is
        symmetric
    rows : of that table
    """

    order: Ints
    place: Ints
    slots: dict[tuple[int, int], int]
    rows: int
    levels: tuple[_Level, ...]

    def factor(self, table: Floats, ground: Floats) -> Factors:
        """Eliminates all joints.

        Parameters
        ----------
        table : (rows, S) conductances w_ij [m²/s]; overwritten
        ground : (joints, S) row sums: conductance to fixed heads [m²/s]
        """
        grounds = ground.take(self.order, axis=0)
        steps = []
        for level in self.levels:
            out, own = table[level.out], grounds[level.joints]
            pivot = own.copy()
            level.add(pivot, out)
            # A pivot of exactly zero is an isolated joint: it moves nothing.
            pivot[pivot == 0.0] = np.inf
            inverse = np.divide(1.0, pivot, out=pivot)
            spread = level.times(table[level.back], inverse)
            if level.mesh.rounds:
                level.mesh.add(table, pick(spread, level.mesh_in) * pick(out, level.mesh_out))
            level.onto.add(grounds, level.times(spread, own))
            steps.append(_Step(level, out, spread, inverse))
        return Factors(self, tuple(steps))


class _Step(NamedTuple):
    level: _Level
    out: Floats
    spread: Floats
    inverse: Floats


@dataclass(frozen=True)
class Factors:
    """An eliminated joint system, ready for right-hand sides."""

    plan: Elimination
    steps: tuple[_Step, ...]

    def solve(self, rhs: Floats) -> Floats:
        """Heads (joints, S) for right-hand sides of that shape; isolated joints give 0."""
        heads = rhs.take(self.plan.order, axis=0)
        for level, _, spread, _ in self.steps:
            level.onto.add(heads, level.times(spread, heads[level.joints]))
        for level, out, _, inverse in reversed(self.steps):
            own = heads[level.joints]
            level.add(own, out * pick(heads, level.neighbours))
            own *= inverse
        return heads.take(self.plan.place, axis=0)


def plan_elimination(joints: int, pairs: set[tuple[int, int]], *, symmetric: bool) -> Elimination:
    """Order by minimum degree, many joints at a time, and the rows of all conductances.

    Parameters
    ----------
    joints : number of joints
    pairs : pairs (i, j) of joints that a run or a tee ties together, in either order
    symmetric : w_ij and w_ji are always equal
    """
    around: list[set[int]] = [set() for _ in range(joints)]
    for i, j in pairs:
        around[i].add(j)
        around[j].add(i)
    left = set(range(joints))
    stars: list[_Stars] = []
    while left:
        # Joints of degree two or less never cost fill-in worth the name: take all of them.
        worth = max(2, min(len(around[k]) for k in left))
        blocked: set[int] = set()
        level = []
        for k in sorted(left, key=lambda k: (len(around[k]), k)):
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
        stars.append(sorted(level, key=lambda star: -len(star[1])))
    order = [k for level in stars for k, _ in level]
    place = {k: number for number, k in enumerate(order)}
    slots: dict[tuple[int, int], int] = {}
    planned: list[tuple[_Stars, slice, slice]] = []
    count = 0
    for level in stars:
        outward = [pair for _, block in _blocks(level) for pair in block]
        out = slice(count, count + len(outward))
        back = out if symmetric else slice(out.stop, out.stop + len(outward))
        slots.update(zip(outward, range(out.start, out.stop), strict=True))
        slots.update(zip(((j, k) for k, j in outward), range(back.start, back.stop), strict=True))
        planned.append((level, out, back))
        count = back.stop
    return Elimination(
        np.array(order, dtype=np.intp),
        np.array([place[k] for k in range(joints)], dtype=np.intp),
        slots,
        count,
        tuple(
            _level(level, out, back, place, slots, symmetric=symmetric)
            for level, out, back in planned
        ),
    )


def _blocks(level: _Stars) -> list[tuple[slice, list[tuple[int, int]]]]:
    """Pairs (k, j) of a level in blocks, each with the joints k that it belongs to.

    The joints come with the most neighbours first.
    """
    most = len(level[0][1])
    if len(level) < most:
        return [
            (slice(n, n + 1), [(k, j) for j in neighbours])
            for n, (k, neighbours) in enumerate(level)
            if neighbours
        ]
    ranks = [
        [(k, neighbours[rank]) for k, neighbours in level if rank < len(neighbours)]
        for rank in range(most)
    ]
    return [(slice(0, len(pairs)), pairs) for pairs in ranks]


def _level(
    level: _Stars,
    out: slice,
    back: slice,
    place: dict[int, int],
    slots: dict[tuple[int, int], int],
    *,
    symmetric: bool,
) -> _Level:
    blocks: list[tuple[slice, slice]] = []
    outward: list[tuple[int, int]] = []
    for owners, pairs in _blocks(level):
        blocks.append((owners, slice(len(outward), len(outward) + len(pairs))))
        outward += pairs
    row = {pair: number for number, pair in enumerate(outward)}
    mesh = [
        (row[k, i], row[k, j], slots[i, j])
        for k, neighbours in level
        for i in neighbours
        for j in neighbours
        if i < j or (i != j and not symmetric)
    ]
    start = place[level[0][0]]
    return _Level(
        joints=slice(start, start + len(level)),
        out=out,
        back=back,
        blocks=tuple(blocks),
        owners=np.array([place[k] - start for k, _ in outward], dtype=np.intp),
        neighbours=rows(place[j] for _, j in outward),
        onto=row_sum((number, place[j]) for number, (_, j) in enumerate(outward)),
        mesh_in=rows(a for a, _, _ in mesh),
        mesh_out=rows(b for _, b, _ in mesh),
        mesh=row_sum((number, into) for number, (_, _, into) in enumerate(mesh)),
    )
