"""Trimming one branch after another: what a round leaves, and in which order it leaves least.

Numbers only. A branch is off by a share of its flow; trimming it brings it back to its own and
moves each other by its `spill`. A round is one step of Gauss and Seidel's way of solving equations;
turning all at once after one reading is Jacobi's.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

ALL_ORDERS = 7  # branches up to which all orders are tried, 5040 of them
MOST_ROUNDS = 50
SAME = 1e-9  # orders that leave no less than this less are as good


def spill(change: Floats) -> Floats:
    """How far trimming branch j by one moves branch i, (n, n) with a diagonal of zeros.

    Parameters
    ----------
    change : (n, n) of branch i by a mark of the handle of branch j, as shares of their flows
    """
    found = change / change.diagonal()
    np.fill_diagonal(found, 0.0)
    return np.asarray(found)


def a_round(spill: Floats, order: Sequence[int]) -> Floats:
    """What each branch is off by after a round, (n, n), for each that was off by one before."""
    off = np.eye(len(spill))
    for place in order:
        moved = off[place].copy()
        off -= np.outer(spill[:, place], moved)
        off[place] = 0.0
    return off


def left(spill: Floats, order: Sequence[int], *, rounds: int = 1) -> float:
    """The most that a branch can be off after rounds, where none was off by more than one."""
    after = np.linalg.matrix_power(a_round(spill, order), rounds)
    return float(np.abs(after).sum(axis=1).max(initial=0.0))


def lasting(step: Floats) -> float:
    """What a step leaves in the long run: the greatest eigenvalue's size."""
    return float(np.abs(np.linalg.eigvals(step)).max(initial=0.0))


def best_order(spill: Floats) -> tuple[int, ...]:
    """The order in which a round leaves least.

    All are tried for a few branches. For many: those that disturb the others most come first, and
    one after another is then moved to where it leaves less, until none does.
    """
    count = len(spill)
    if count <= ALL_ORDERS:
        return _least(spill, np.array(list(permutations(range(count))), dtype=np.intp))[0]
    best: tuple[int, ...] = tuple(int(n) for n in np.argsort(-np.abs(spill).sum(axis=0)))
    least, before = float(_worst(spill, np.array([best]))[0]), np.inf
    while least < before - SAME:
        before = least
        for branch in range(count):
            moved, leaves = _least(spill, _moves(best, branch))
            if leaves < least - SAME:
                best, least = moved, leaves
    return best


def _moves(order: tuple[int, ...], branch: int) -> Ints:
    """Orders with one branch moved to each place."""
    rest = [other for other in order if other != branch]
    return np.array([[*rest[:there], branch, *rest[there:]] for there in range(len(order))])


def _least(spill: Floats, orders: Ints) -> tuple[tuple[int, ...], float]:
    """The first of the orders (N, n) that leaves least, and how much."""
    worst = _worst(spill, orders)
    first = int(np.flatnonzero(worst <= worst.min() + SAME)[0])
    return tuple(int(n) for n in orders[first]), float(worst[first])


def _worst(spill: Floats, orders: Ints) -> Floats:
    """A bound on `left` for orders (N, n), all at once.

    All are off by one, and every disturbance adds to it: exact where opening one branch takes from
    all others, as it does in any manifold without tees.
    """
    size = np.abs(spill).T
    off = np.ones(orders.shape)
    rows = np.arange(len(orders))
    for turn in orders.T:
        moved = off[rows, turn]
        off += moved[:, None] * size[turn]
        off[rows, turn] = 0.0
    return np.asarray(off.max(axis=1))


def rounds(
    spill: Floats, order: Sequence[int], off: Floats, met: Callable[[Floats], bool]
) -> int | None:
    """Rounds until all are met, from what the branches are off by; None if they never are."""
    step = a_round(spill, order)
    for count in range(MOST_ROUNDS + 1):
        if met(off):
            return count
        off = step @ off
    return None


def kept(change: Floats) -> list[float | None]:
    """Share of each handle's effect on its own branch that is left once all others are back.

    One over the relative gain, own effect with the other handles at rest over own effect with the
    other flows held.

    Source: bristol-1966.
    """
    if len(change) == 0 or np.linalg.cond(change / np.abs(change).max()) > 1e9:
        return [None] * len(change)
    gain = change.diagonal() * np.linalg.inv(change).diagonal()
    return [float(1.0 / each) if each else None for each in gain]
