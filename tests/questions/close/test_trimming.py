"""Rounds of trimming, numbers only."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from balance.questions.close import trimming

Floats = NDArray[np.float64]


def drawn(seed: int, count: int) -> Floats:
    """Handles that each take from all other branches, all together less than they give."""
    rng = np.random.default_rng(seed)
    change = -rng.uniform(0.0, 0.99 / count, (count, count))
    np.fill_diagonal(change, 1.0)
    return np.asarray(change * rng.uniform(0.01, 0.1, count))


def test_two_branches_by_hand() -> None:
    """Opening the first by one takes a half from the second, that takes a fifth."""
    change = np.array([[2.0, -0.3], [-1.0, 1.5]])
    spill = trimming.spill(change)
    assert spill == pytest.approx(np.array([[0.0, -0.2], [-0.5, 0.0]]))
    # Off by one each: trimming the first leaves 1.5 to the second, trimming that 0.3 to the first.
    assert trimming.left(spill, (0, 1)) == pytest.approx(0.3)
    assert trimming.left(spill, (1, 0)) == pytest.approx(0.6)
    assert trimming.left(spill, (0, 1), rounds=2) == pytest.approx(0.03)
    assert trimming.best_order(spill) == (0, 1)
    for order in ((0, 1), (1, 0)):
        assert trimming.lasting(trimming.a_round(spill, order)) == pytest.approx(0.1)
    assert trimming.lasting(-spill) == pytest.approx(0.1**0.5)
    assert trimming.kept(change) == pytest.approx([0.9, 0.9])


@given(st.integers(0, 10**6), st.integers(2, 5))
def test_no_order_leaves_less(seed: int, count: int) -> None:
    spill = trimming.spill(drawn(seed, count))
    least = min(trimming.left(spill, order) for order in permutations(range(count)))
    assert trimming.left(spill, trimming.best_order(spill)) == pytest.approx(least, rel=1e-6)


@pytest.mark.parametrize("seed", range(10))
def test_a_search_for_many_comes_near_to_the_best(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    spill = trimming.spill(drawn(seed, 6))
    best = trimming.left(spill, trimming.best_order(spill))
    monkeypatch.setattr(trimming, "ALL_ORDERS", 1)
    searched = trimming.left(spill, trimming.best_order(spill))
    assert best <= searched * (1 + 1e-9) <= 1.1 * best
    worst = max(trimming.left(spill, order) for order in permutations(range(6)))
    assert searched < 0.9 * worst


def test_many_branches_are_put_in_order() -> None:
    spill = trimming.spill(drawn(0, 40))
    order = trimming.best_order(spill)
    assert sorted(order) == list(range(40))
    rng = np.random.default_rng(1)
    random = [trimming.left(spill, rng.permutation(40).tolist()) for _ in range(200)]
    assert trimming.left(spill, order) < min(random)


@given(st.integers(0, 10**6), st.integers(2, 7))
def test_a_round_is_each_in_turn(seed: int, count: int) -> None:
    """The same in moves of the handles, of any sign."""
    rng = np.random.default_rng(seed)
    change = rng.normal(size=(count, count)) + 5 * np.eye(count)
    spill, order, off = trimming.spill(change), rng.permutation(count), rng.normal(size=count)
    after = trimming.a_round(spill, order.tolist()) @ off
    turned = np.zeros(count)
    for place in order:
        now = off + change @ turned
        turned[place] -= now[place] / change[place, place]
    assert after == pytest.approx(off + change @ turned)
    assert np.abs(after).max() <= trimming.left(spill, order.tolist()) * np.abs(off).max() + 1e-12


@given(st.integers(0, 10**6), st.integers(2, 7))
def test_in_turn_settles_and_is_the_faster_way(seed: int, count: int) -> None:
    """For handles that take less than they give (the theorem of Stein and Rosenberg)."""
    spill = trimming.spill(drawn(seed, count))
    in_turn = trimming.lasting(trimming.a_round(spill, list(range(count))))
    assert in_turn < 1.0
    assert in_turn <= trimming.lasting(-spill) + 1e-9


def test_rounds_are_counted() -> None:
    """Off by one each, and each takes half of what it gives: 0.75 is left, then a quarter each."""
    spill = np.array([[0.0, -0.5], [-0.5, 0.0]])
    start = np.array([1.0, 1.0])

    def rounds(limit: float) -> int | None:
        return trimming.rounds(spill, (0, 1), start, lambda off: bool(np.abs(off).max() <= limit))

    assert [rounds(limit) for limit in (1.0, 0.8, 0.75, 0.2, 0.1875)] == [0, 1, 1, 2, 2]
    assert rounds(-1.0) is None


def test_nothing_is_kept_where_handles_say_the_same() -> None:
    assert trimming.kept(np.array([[1.0, -1.0], [-1.0, 1.0]])) == [None, None]
    assert trimming.kept(np.zeros((0, 0))) == []
