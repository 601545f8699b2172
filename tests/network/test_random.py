"""Random networks obey the laws: flows balance, heads close, shut is shut.  No draw is skipped."""

from __future__ import annotations

import numpy as np
import pytest

from balance.network.settle import State, settle
from tests.network.random_networks import Draw, draw_network

SCENARIOS = 5
BALANCE = 1e-9  # of the largest flow
CLOSING = 1e-6  # [m]
NOTHING = 1e-12  # [m³/s], beside which a balance means nothing


def settled(draw: Draw) -> State:
    """The network solved."""
    return settle(
        draw.topology,
        draw.laws,
        fixed_heads=draw.fixed_heads,
        held=draw.held,
        scenarios=SCENARIOS,
    )


def check_laws(draw: Draw, state: State) -> None:
    """What must hold of any solved network, whatever solved it."""
    assert state.converged.all()
    net = np.abs(draw.topology.net_inflow(state.flow)).max(axis=0)
    largest = np.maximum(np.abs(state.flow).max(axis=0), NOTHING)
    assert (net <= BALANCE * largest).all()
    missing = draw.topology.drop(state.heads) - draw.laws(state.flow).head
    assert np.abs(missing[~state.held]).max(initial=0.0) <= CLOSING
    assert (state.flow[draw.held] == 0.0).all()
    assert (state.flow[state.held] == 0.0).all()


def check_check_valves(draw: Draw, state: State) -> None:
    """No flow backwards, and none is shut that would open."""
    rows = draw.laws.one_way
    assert (state.flow[rows] >= 0.0).all()
    isolated = np.concatenate(
        [
            draw.topology.isolated(state.held),
            np.zeros((draw.topology.fixed, SCENARIOS), dtype=np.bool_),
        ]
    )
    known = ~(isolated[draw.topology.start[rows]] | isolated[draw.topology.end[rows]])
    shut = state.held[rows] & ~draw.held[rows] & known
    pull = draw.topology.drop(state.heads)[rows] - draw.laws.constant[rows]
    assert np.max(pull[shut], initial=0.0) <= CLOSING


def drawn(first: int, count: int, *, tees: bool) -> None:
    """Draws, solves and checks some networks of `SCENARIOS` scenarios each."""
    for seed in range(first, first + count):
        draw = draw_network(np.random.default_rng(seed), scenarios=SCENARIOS, tees=tees)
        state = settled(draw)
        check_laws(draw, state)
        if not tees:
            check_check_valves(draw, state)


@pytest.mark.parametrize("first", range(0, 800, 200))
def test_networks_without_tees(first: int) -> None:
    drawn(first, 200, tees=False)


@pytest.mark.parametrize("first", range(0, 200, 100))
def test_networks_with_tees(first: int) -> None:
    drawn(first, 100, tees=True)


@pytest.mark.slow
@pytest.mark.parametrize("first", range(0, 20_000, 2_000))
def test_a_hundred_thousand_networks(first: int) -> None:
    drawn(first, 2_000, tees=False)


@pytest.mark.slow
@pytest.mark.parametrize("first", range(0, 2_000, 500))
def test_ten_thousand_networks_with_tees(first: int) -> None:
    drawn(first, 500, tees=True)
