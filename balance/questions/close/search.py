"""The one move, and the two, after which the remaining branches are least badly off.

Single moves are tried at every mark.  For pairs, what two moves do together is first put together
from what each does alone; the likeliest are then solved and moved on from mark to mark until no
neighbour is better.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from balance.questions.close.trials import Bench, Tried

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

MOST_AT_ONCE = 20_000  # single moves solved in one batch; beyond, not every mark at first
MOST_SCREENED = 60_000  # pairs of positions put together for one case
MOST_OF_ALL = 600_000  # the same for all cases
MARKS_SCREENED = (5, 24)  # of one handle, at least and at most
STARTS = 8  # handles, or pairs of them, that are moved on from mark to mark in each case
MOST_ROUNDS = 60


@dataclass(frozen=True)
class Walkers:
    """Handles on their way from mark to mark, each column for itself.

    Attributes
    ----------
    case : (W,) in which they are moved
    handles : (n, W) which movables
    at : (n, W) their positions
    stride : (W,) of the next steps, in positions
    """

    case: Ints
    handles: Ints
    at: Ints
    stride: Ints


def best_singles(bench: Bench, cases: Ints) -> tuple[Tried, Tried]:
    """The best single move of each case, one column a case, and all that were tried."""
    tried, stride = _single_moves(bench, cases)
    if stride > 1:
        tried = _joined(tried, _descend(bench, _likeliest(bench, tried, stride)))
    return tried.take(_best_of_each(bench, tried, cases)), tried


def best_pairs(bench: Bench, singles: Tried, cases: Ints) -> Tried:
    """The best two moves of each case, one column a case.

    Parameters
    ----------
    singles : single moves of these cases that were tried
    """
    starts = [_screened(bench, singles, int(case), len(cases)) for case in cases]
    kept = [start for start in starts if start is not None]
    if not kept:
        return singles.take(_best_of_each(bench, singles, cases))
    walkers = Walkers(
        np.concatenate([w.case for w in kept]),
        np.concatenate([w.handles for w in kept], axis=1),
        np.concatenate([w.at for w in kept], axis=1),
        np.concatenate([w.stride for w in kept]),
    )
    tried = _joined(singles, _descend(bench, walkers))
    return tried.take(_best_of_each(bench, tried, cases))


def _single_moves(bench: Bench, cases: Ints) -> tuple[Tried, int]:
    """No move and every single one of some cases, or every so many marks where that is too many."""
    sizes = np.array([len(each.positions) for each in bench.movables])
    total = int((bench.usable[:, cases] * sizes[:, None]).sum())
    stride = max(1, -(-total // MOST_AT_ONCE))
    # Each case once as it is: then its moves.
    case, handle, position = (
        [cases],
        [np.zeros_like(cases)],
        [np.repeat(bench.stands[0], len(cases))],
    )
    for place, each in enumerate(bench.movables):
        last = len(each.positions) - 1
        there = np.setdiff1d([*range(0, last, stride), last], each.stands)
        for one in cases[bench.usable[place, cases]]:
            case.append(np.full(len(there), one))
            handle.append(np.full(len(there), place))
            position.append(there)
    columns = np.concatenate(case)
    at = np.repeat(bench.stands, len(columns), axis=1)
    at[np.concatenate(handle), np.arange(len(columns))] = np.concatenate(position)
    return bench.tried(columns, at), stride


def _likeliest(bench: Bench, tried: Tried, stride: int) -> Walkers:
    """The handles that did best in each case, to be moved on from there."""
    moved = (tried.at != bench.stands).argmax(axis=0)
    kept: list[int] = []
    for case in np.unique(tried.case):
        columns = np.flatnonzero(tried.case == case)
        ranked = columns[np.argsort(tried.cost[columns], kind="stable")]
        _, first = np.unique(moved[ranked], return_index=True)
        kept.extend(ranked[np.sort(first)[:STARTS]])
    chosen = np.array(kept, dtype=np.intp)
    handles = moved[chosen]
    at = tried.at[handles, chosen]
    return Walkers(tried.case[chosen], handles[None], at[None], np.full(len(chosen), stride // 2))


def _screened(bench: Bench, singles: Tried, case: int, cases: int) -> Walkers | None:
    """Pairs of a case that promise most, judged by what their moves do alone."""
    usable = np.flatnonzero(bench.usable[:, case])
    if len(usable) < 2:
        return None
    first, second = np.triu_indices(len(usable), 1)
    room = min(MOST_SCREENED, MOST_OF_ALL / cases) / len(first)
    most = int(np.clip(np.sqrt(room), *MARKS_SCREENED))
    columns = np.flatnonzero(singles.case == case)
    moved = singles.at[:, columns] != bench.stands
    still = columns[~moved.any(axis=0)][0]
    alone = np.array([_spread(singles, columns[moved[h]], int(still), most) for h in usable])
    one, other = alone[first][:, :, None], alone[second][:, None, :]  # (pairs, k, k) columns
    shape = (len(first), most, most)
    one, other = np.broadcast_to(one, shape).ravel(), np.broadcast_to(other, shape).ravel()
    cost = bench.measure.cost(
        _together(singles.flow, one, other, int(still)),
        _together(singles.pumped, one, other, int(still)),
        singles.speeds[:, one] + singles.speeds[:, other] - singles.speeds[:, [still]],
        np.full(len(one), case),
    ).reshape(len(first), -1)
    ranked = np.argsort(cost.min(axis=1), kind="stable")[:STARTS]
    chosen = ranked * most**2 + cost[ranked].argmin(axis=1)
    handles = usable[np.array([first[ranked], second[ranked]])]
    at = singles.at[handles, np.array([one[chosen], other[chosen]])]
    sizes = np.array([len(each.positions) for each in bench.movables])
    stride = np.maximum(sizes[handles].max(axis=0) // most, 1)
    return Walkers(np.full(len(ranked), case), handles, at, stride)


def _spread(tried: Tried, moves: Ints, still: int, most: int) -> Ints:
    """Columns of a handle's moves, its best and none among them, `most` in all."""
    if not len(moves):
        return np.full(most, still)
    best = moves[tried.cost[moves].argmin()]
    spread = moves[np.linspace(0, len(moves) - 1, most - 2).round().astype(np.intp)]
    return np.array([still, best, *spread], dtype=np.intp)


def _together(flow: Floats, one: Ints, other: Ints, still: int) -> Floats:
    """Flows after two moves, from those after each alone: shares multiply, else they add up."""
    rest = flow[:, [still]]
    shares = flow[:, one] * flow[:, other] / np.where(rest == 0.0, 1.0, rest)
    return np.where(rest == 0.0, flow[:, one] + flow[:, other], shares)


def _descend(bench: Bench, walkers: Walkers) -> Tried:
    """From each walker's place to the best of its neighbours until none is better.

    Long steps first; where none helps, half as long ones.
    """
    count = len(walkers.handles)
    moves = np.array([m for m in product((-1, 0, 1), repeat=count) if any(m)], dtype=np.intp).T
    last = np.array([len(each.positions) - 1 for each in bench.movables], dtype=np.intp)
    at, stride = walkers.at.copy(), walkers.stride.copy()
    here = bench.tried(walkers.case, _placed(bench, walkers.handles, at))
    found = [here]
    best = here.cost.copy()
    for _ in range(MOST_ROUNDS):
        active = np.flatnonzero(stride > 0)
        if not len(active):
            break
        handles = walkers.handles[:, active, None]
        beside = at[:, active, None] + stride[active, None] * moves[:, None, :]
        beside = np.clip(beside, 0, last[handles])  # (n, active, moves)
        spread = np.broadcast_to(handles, beside.shape).reshape(count, -1)
        case = np.repeat(walkers.case[active], moves.shape[1])
        tried = bench.tried(case, _placed(bench, spread, beside.reshape(count, -1)))
        cost = tried.cost.reshape(len(active), -1)
        winner = cost.argmin(axis=1)
        rows = np.arange(len(active))
        better = cost[rows, winner] < best[active] - bench.telling[walkers.case[active]]
        gone, chosen = active[better], winner[better]
        at[:, gone] = beside[:, rows[better], chosen]
        best[gone] = cost[rows[better], chosen]
        found.append(tried.take(rows[better] * moves.shape[1] + chosen))
        stride[active[~better]] //= 2
    return _joined(*found)


def _placed(bench: Bench, handles: Ints, at: Ints) -> Ints:
    """Positions (H, S) of all movables, those of some (n, S) given."""
    found = np.repeat(bench.stands, at.shape[1], axis=1)
    for row, position in zip(handles, at, strict=True):
        found[row, np.arange(at.shape[1])] = position
    return found


def _best_of_each(bench: Bench, tried: Tried, cases: Ints) -> Ints:
    """Column of the best of each case; of those that nobody could tell apart, the least moved."""
    sizes = np.array([[len(each.positions)] for each in bench.movables])
    travel = (np.abs(tried.at - bench.stands) / sizes).sum(axis=0)
    found = []
    for case in cases:
        columns = np.flatnonzero(tried.case == case)
        cost = tried.cost[columns]
        alike = columns[cost <= cost.min() + bench.telling[case]]
        found.append(alike[travel[alike].argmin()])
    return np.array(found, dtype=np.intp)


def _joined(*parts: Tried) -> Tried:
    return Tried(
        np.concatenate([part.case for part in parts]),
        np.concatenate([part.at for part in parts], axis=1),
        np.concatenate([part.flow for part in parts], axis=1),
        np.concatenate([part.pumped for part in parts], axis=1),
        np.concatenate([part.speeds for part in parts], axis=1),
        np.concatenate([part.cost for part in parts]),
    )
