"""Drawn systems obey the laws, and are the same whatever the blocks."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from balance.network.arrays import Network, network_of
from balance.plan.read import read, read_text
from balance.questions.clogs import clog_factor
from balance.questions.flows import flows
from balance.questions.learning.doubts import Doubts
from balance.questions.spread import spread
from balance.questions.spread.monte_carlo import Block, blocks, solve_drawn
from tests.laws import check_check_valves, check_laws, check_loops
from tests.network.random_plans import draw_plan
from tests.questions.spread.plans import SMALL, spread_table

DEMO = Path(__file__).parents[3] / "pump_curves_demo"


def clean(network: Network) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return np.ones((network.topology.runs, 1))


def all_blocks(network: Network, *, systems: int, seed: int = 1, block: int = 4096) -> list[Block]:
    sampler = Doubts(network)
    return list(
        blocks(network, sampler, systems=systems, seed=seed, factor=clean(network), block=block)
    )


def check_drawn(network: Network, systems: int) -> int:
    """Laws hold in drawn systems; returns how many settled."""
    sampler = Doubts(network)
    normal = np.random.default_rng(7).standard_normal((len(sampler.all), systems))
    solved = solve_drawn(network, sampler.drawn(normal), factor=clean(network))
    kept = np.flatnonzero(solved.settled)
    laws = solved.laws.take(kept)
    shut = np.broadcast_to(solved.shut, solved.state.held.shape)[:, kept]
    state = solved.state.take(kept)
    check_laws(network.topology, laws, state, shut=shut, draw=network.draw)
    check_check_valves(network.topology, laws, state, shut=shut)
    for column in range(min(5, len(kept))):
        check_loops(network.topology, laws, state, scenario=column)
    return len(kept)


@pytest.mark.parametrize("plan", ["lagoon.toml", "fish-room.toml"])
def test_laws_hold_in_every_system_of_the_demo(plan: str) -> None:
    assert check_drawn(network_of(read(DEMO / plan)), 300) == 300


@pytest.mark.parametrize("seed", range(25))
def test_laws_hold_in_systems_of_random_plans(seed: int) -> None:
    network = network_of(read_text(draw_plan(np.random.default_rng(seed))))
    assert check_drawn(network, 40) == 40


def test_blocks_decide_nothing() -> None:
    network = network_of(read(DEMO / "lagoon.toml"))
    whole = np.concatenate([each.flow for each in all_blocks(network, systems=700)], axis=1)
    for block in (1, 97, 512):
        systems = 700 if block > 1 else 20
        pieces = all_blocks(network, systems=systems, block=block)
        assert len(pieces) == -(-systems // block)
        parts = np.concatenate([each.flow for each in pieces], axis=1)
        np.testing.assert_allclose(parts, whole[:, :systems], rtol=1e-8, atol=1e-15)


def test_fewer_systems_are_the_first_of_more_and_seeds_differ() -> None:
    network = network_of(read_text(SMALL))
    (more,), (fewer,) = (all_blocks(network, systems=systems) for systems in (500, 200))
    np.testing.assert_array_equal(fewer.normal, more.normal[:, :200])
    (other,) = all_blocks(network, systems=200, seed=2)
    assert not np.allclose(other.flow, fewer.flow)


def test_without_doubt_bands_have_no_width_and_are_the_flows() -> None:
    plan = read_text(SMALL + spread_table())
    answer = spread(plan, systems=5000).before
    states = {state.branch: state.flow for state in flows(plan).branches}
    for band in answer.branches:
        wanted = pytest.approx(states[band.name], rel=1e-9)
        for flow in (band.flow, band.low, band.middle, band.high):
            assert flow == wanted
        assert band.high - band.low <= 1e-12 * band.flow
        assert band.shares == ()
        assert band.rest is None
        assert band.within in {0.0, 1.0}
    assert answer.matters == ()


@pytest.mark.parametrize("plan", ["lagoon.toml", "fish-room.toml"])
def test_flows_without_doubt_are_those_of_flows(plan: str) -> None:
    asked = read(DEMO / plan)
    states = {state.branch: state.flow for state in flows(asked).branches}
    for band in spread(asked, systems=100).before.branches:
        assert band.flow == pytest.approx(states[band.name], rel=1e-9, abs=1e-15)


def test_a_clog_is_that_of_a_device_that_is_fouled() -> None:
    plan = read_text(SMALL)
    network = network_of(plan)
    sampler = Doubts(network)
    normal = np.random.default_rng(8).standard_normal((len(sampler.all), 50))
    drawn = sampler.drawn(normal)
    factor = clog_factor(network, [("reactor", 0.5)])
    flow = solve_drawn(network, drawn, factor=factor).state.flow
    # Of every system the laws but for valves, tees and pumps, half as much again.
    row = network.row_of["reactor"]
    plain, more = drawn.real.passive, drawn.real.passive.lossier(factor)
    lost, then = (laws.with_tees(0.0)(flow).head for laws in (plain, more))
    np.testing.assert_allclose(then[row], 1.5 * lost[row], rtol=1e-9)
    np.testing.assert_array_equal(np.delete(then, row, axis=0), np.delete(lost, row, axis=0))
    before, after = (
        {band.name: band for band in spread(plan, systems=200, clogged=clog).before.branches}
        for clog in ({}, {"Reactor": 0.5})
    )
    assert after["reactor"].flow < 0.97 * before["reactor"].flow
    assert after["reactor"].high < before["reactor"].high
    assert after["return"].low > before["return"].low
