"""The same answer however it is asked for: alone or in a batch, cold or warm, sparse or dense."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

import balance.network.settle
import balance.network.topology
from balance.network.settle import State, settle
from balance.network.topology import Topology
from tests.network.random_networks import Draw, draw_network

Floats = NDArray[np.float64]
SEEDS = range(20)
SCENARIOS = 8
BOTH = pytest.mark.parametrize("tees", [False, True], ids=["without tees", "with tees"])


def drawn(seed: int, *, tees: bool) -> Draw:
    return draw_network(np.random.default_rng(seed), scenarios=SCENARIOS, tees=tees)


def settled(draw: Draw, *, near: State | None = None) -> State:
    state = settle(
        draw.topology,
        draw.laws,
        fixed_heads=draw.fixed_heads,
        held=draw.held,
        near=near,
        scenarios=draw.held.shape[1],
    )
    assert state.converged.all()
    return state


def one(draw: Draw, column: int) -> Draw:
    """One scenario of a drawn network."""
    columns = np.array([column])
    return Draw(
        draw.topology,
        draw.laws.take(columns),
        draw.fixed_heads[:, columns],
        draw.held[:, columns],
        draw.kind,
    )


def same(flow: Floats, other: Floats) -> None:
    """Equal to what the solver stops at: 1e-9 of the largest flow, each."""
    assert np.all(np.abs(flow - other) <= 1e-8 * np.abs(flow).max(axis=0) + 1e-11)


@BOTH
def test_a_batch_is_its_scenarios_one_by_one(*, tees: bool) -> None:
    for seed in SEEDS:
        draw = drawn(seed, tees=tees)
        alone = [settled(one(draw, column)).flow for column in range(SCENARIOS)]
        same(settled(draw).flow, np.concatenate(alone, axis=1))


@BOTH
def test_chunks_change_nothing(*, tees: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    for seed in SEEDS:
        draw = drawn(seed, tees=tees)
        whole = settled(draw)
        with monkeypatch.context() as patch:
            patch.setattr(balance.network.settle, "CHUNK", 3 * draw.topology.runs)
            chunked = settled(draw)
        same(whole.flow, chunked.flow)
        assert chunked.heads.shape == whole.heads.shape


@BOTH
def test_a_warm_start_ends_where_a_cold_one_does(*, tees: bool) -> None:
    for seed in SEEDS:
        draw = drawn(seed, tees=tees)
        first = settled(one(draw, 0))
        same(settled(draw).flow, settled(draw, near=first).flow)


@BOTH
def test_a_state_is_its_own_warm_start(*, tees: bool) -> None:
    for seed in SEEDS:
        draw = drawn(seed, tees=tees)
        state = settled(draw)
        again = settled(draw, near=state)
        same(state.flow, again.flow)


@BOTH
def test_sparse_is_elimination(*, tees: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    for seed in SEEDS:
        draw = one(drawn(seed, tees=tees), 0)
        eliminated = settled(draw)
        with monkeypatch.context() as patch:
            patch.setattr(balance.network.topology, "SPARSE_FROM", 0)
            fresh = draw.topology
            again = Draw(
                Topology(fresh.joints, fresh.fixed, fresh.start, fresh.end, fresh.pairs),
                draw.laws,
                draw.fixed_heads,
                draw.held,
                draw.kind,
            )
            same(eliminated.flow, settled(again).flow)
