"""Exact slopes agree with central differences: valves, speeds and held flows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from balance.network.arrays import network_of
from balance.network.laws import RunLaws
from balance.network.settle import State, settle
from balance.network.slopes import respond
from balance.network.solve import solve
from balance.plan.read import read
from tests.network.random_networks import Draw, draw_network

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

DEMO = Path(__file__).parents[2] / "pump_curves_demo" / "lagoon.toml"
# A difference is off by curvature over a long step and by rounding over a short one: the best of
# several is taken for each change.
STEPS = (1e-3, 1e-4, 1e-5, 1e-6)
LIMIT = 1e-4  # of the largest answer to a change


@dataclass(frozen=True)
class Changed:
    """Laws and held flows a step up and a step down each change, and the changes' push."""

    laws: RunLaws
    held_flow: Floats
    flow: Floats
    head: Floats


def changes(draw: Draw, state: State, rng: np.random.Generator, step: float) -> Changed:
    """By ln K of up to ten runs, by the speed of each running pump, by the flow of a held run."""
    laws, runs = draw.laws, draw.topology.runs
    open_runs = rng.permutation(np.flatnonzero(~state.held[:, 0]))[:10]
    pumps = laws.pumps
    running = (
        np.zeros(0, dtype=np.intp)
        if pumps is None
        else np.flatnonzero((pumps.speed[:, 0] > 0.1) & ~state.held[pumps.of, 0])
    )
    held = np.flatnonzero(state.held[:, 0] & (state.flow[:, 0] != 0.0))
    count = len(open_runs) + len(running) + len(held)
    flow, head = np.zeros((runs, count)), np.zeros((runs, count))
    sign = np.repeat([step, -step], count)
    forward = np.repeat(laws.forward, 2 * count, axis=1)
    backward = np.repeat(laws.backward, 2 * count, axis=1)
    held_flow = np.where(draw.held, np.repeat(state.flow, 2 * count, axis=1), 0.0)
    now = state.flow[:, 0]
    for column, run in enumerate(open_runs):
        quadratic = laws.forward if now[run] >= 0.0 else laws.backward
        head[run, column] = float(quadratic[run, 0]) * abs(now[run]) * now[run]
        for side in (column, column + count):
            forward[run, side] *= 1.0 + sign[side]
            backward[run, side] *= 1.0 + sign[side]
    changed = replace(laws, forward=forward, backward=backward)
    if pumps is not None:
        speed = np.repeat(pumps.speed, 2 * count, axis=1)
        by_speed = pumps.by_speed(state.flow[pumps.of])
        for column, pump in enumerate(running, start=len(open_runs)):
            head[pumps.of[pump], column] = -by_speed[pump, 0]
            speed[pump, [column, column + count]] += sign[[column, column + count]]
        changed = replace(changed, pumps=replace(pumps, speed=speed))
    for column, run in enumerate(held, start=len(open_runs) + len(running)):
        flow[run, column] = now[run]
        held_flow[run, [column, column + count]] *= 1.0 + sign[[column, column + count]]
    return Changed(changed, held_flow, flow, head)


def pushed(draw: Draw) -> tuple[State, Bools]:
    """The network with a flow held in up to two of its shut runs, and the runs at isolated joints.

    Held at zero instead, dead ends behind them would be at the one point of their quadratic laws
    where slopes say nothing over any step.
    """
    topology = draw.topology

    def at(held_flow: Floats) -> State:
        return settle(
            topology,
            draw.laws,
            fixed_heads=draw.fixed_heads,
            held=draw.held,
            held_flow=held_flow,
        )

    given = np.zeros(draw.held.shape)
    plain = at(given)
    isolated = np.zeros(topology.joints + topology.fixed, dtype=np.bool_)
    isolated[: topology.joints] = topology.isolated(plain.held)[:, 0]
    stuck = isolated[topology.start] | isolated[topology.end]
    one_way = np.isin(np.arange(topology.runs), draw.laws.one_way)
    given[np.flatnonzero(draw.held[:, 0] & ~one_way & ~stuck)[:2]] = 0.1 * np.abs(plain.flow).max()
    state = at(given)
    if (topology.isolated(state.held)[:, 0] == isolated[: topology.joints]).all():
        return state, stuck
    return plain, stuck  # the push would shut its own way out


def compare(seed: int, *, tees: bool) -> int:
    """Compares all answers of one network; returns how many."""
    draw = draw_network(np.random.default_rng(seed), scenarios=1, tees=tees)
    state, stuck = pushed(draw)
    if np.abs(state.flow).max() < 1e-7:
        return 0
    best: Floats | None = None
    for step in STEPS:
        change = changes(draw, state, np.random.default_rng(seed), step)
        off = disagreement(draw, state, change, step, stuck)
        best = off if best is None else np.minimum(best, off)
    assert best is not None
    # Where a check valve opens or shuts on the way there is no slope to speak of.
    compared = best[~np.isnan(best)]
    assert compared.max(initial=0.0) < LIMIT, f"seed {seed}"
    return len(compared)


def disagreement(draw: Draw, state: State, change: Changed, step: float, stuck: Bools) -> Floats:
    """Largest difference of any answer to each change, as a share of the largest answer.

    NaN where a check valve opens or shuts on the way.
    """
    topology, count = draw.topology, change.head.shape[1]
    around = settle(
        topology,
        change.laws,
        fixed_heads=draw.fixed_heads,
        held=draw.held,
        held_flow=change.held_flow,
        near=state,
        scenarios=2 * count,
    )
    assert around.converged.all()
    same = (around.held == state.held).all(axis=0)
    answer = respond(topology, draw.laws, state, flow=change.flow, head=change.head)
    missing = topology.drop(around.heads) - change.laws(around.flow).head
    known = draw.held[:, 0] & ~stuck
    isolated = topology.isolated(state.held)[:, 0]
    largest = np.abs(state.flow).max()
    off = np.zeros(count)
    for exact, ends, size in (
        (answer.flow, around.flow, largest),
        (answer.heads[~isolated], around.heads[: topology.joints][~isolated], 1.0),
        (answer.missing[known], missing[known], 1.0),
    ):
        difference = (ends[:, :count] - ends[:, count:]) / (2 * step)
        scale = np.maximum(np.abs(exact).max(axis=0, initial=0.0), 0.01 * size)
        off = np.maximum(off, np.abs(exact - difference).max(axis=0, initial=0.0) / scale)
    return np.asarray(np.where(same[:count] & same[count:], off, np.nan))


@pytest.mark.parametrize("tees", [False, True])
def test_random_networks(*, tees: bool) -> None:
    compared = sum(compare(seed, tees=tees) for seed in range(100))
    assert compared > 500


def test_the_demo() -> None:
    """By every valve's opening and the pump's speed, through the laws of valves and pumps."""
    network = network_of(read(DEMO))
    solution = solve(network)
    state, runs = solution.state, network.topology.runs
    openings, speeds = network.openings, network.speeds
    valves, count = len(network.valves), len(network.valves) + 1
    head = np.zeros((runs, count))
    flow = state.flow[:, 0]
    for column, valve in enumerate(network.valves):
        slope = valve.law.loss_coefficient(openings[column]).slope[0]
        for row, scale in valve.places:
            head[row, column] = slope * scale * abs(flow[row]) * flow[row]
    pumps = solution.laws.pumps
    assert pumps is not None
    head[pumps.of[0], valves] = -pumps.by_speed(state.flow[pumps.of])[0, 0]
    answer = respond(
        network.topology, solution.laws, state, flow=np.zeros((runs, count)), head=head
    )
    step = 1e-5
    for column in range(count):
        sides = []
        for sign in (step, -step):
            moved, turned = openings.copy(), speeds.copy()
            if column < valves:
                moved[column] += sign
            else:
                turned[0] += sign
            sides.append(solve(network, openings=moved, speeds=turned, near=state))
        difference = (sides[0].state.flow - sides[1].state.flow)[:, 0] / (2 * step)
        exact = answer.flow[:, column]
        assert np.abs(exact - difference).max() < 1e-5 * max(
            np.abs(exact).max(), np.abs(flow).max()
        )
