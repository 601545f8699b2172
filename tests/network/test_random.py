"""Random networks obey the laws: flows balance, heads close, shut is shut.  No draw is skipped."""

from __future__ import annotations

import numpy as np
import pytest

from balance.network.settle import State, settle
from tests.laws import (
    check_check_valves,
    check_laws,
    check_loops,
    check_pumps,
)
from tests.network.random_networks import Draw, draw_network

SCENARIOS = 5


def solved(seed: int, *, tees: bool) -> tuple[Draw, State]:
    draw = draw_network(np.random.default_rng(seed), scenarios=SCENARIOS, tees=tees)
    state = settle(
        draw.topology,
        draw.laws,
        fixed_heads=draw.fixed_heads,
        held=draw.held,
        scenarios=SCENARIOS,
    )
    return draw, state


def check_plain(first: int, count: int) -> None:
    for seed in range(first, first + count):
        draw, state = solved(seed, tees=False)
        check_laws(draw.topology, draw.laws, state, shut=draw.held)
        check_loops(draw.topology, draw.laws, state, scenario=seed % SCENARIOS)
        check_pumps(draw.topology, draw.laws, state, curves=draw.curves)
        check_check_valves(draw.topology, draw.laws, state, shut=draw.held)


def check_tees(first: int, count: int) -> None:
    for seed in range(first, first + count):
        draw, state = solved(seed, tees=True)
        check_laws(draw.topology, draw.laws, state, shut=draw.held)
        check_loops(draw.topology, draw.laws, state, scenario=seed % SCENARIOS)
        check_check_valves(draw.topology, draw.laws, state, shut=draw.held)


@pytest.mark.parametrize("first", range(0, 800, 200))
def test_networks_without_tees(first: int) -> None:
    check_plain(first, 200)


def test_networks_with_tees() -> None:
    check_tees(0, 200)


@pytest.mark.slow
@pytest.mark.parametrize("first", range(0, 20_000, 2_000))
def test_a_hundred_thousand_networks(first: int) -> None:
    check_plain(first, 2_000)


@pytest.mark.slow
def test_ten_thousand_networks_with_tees() -> None:
    check_tees(0, 2_000)
