"""Shares against those that are known in closed form, and against indices of another library."""

from __future__ import annotations

from math import e

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import norm, sobol_indices

from balance.network.arrays import network_of
from balance.plan.read import read_text
from balance.questions.learning.doubts import Doubts
from balance.questions.spread import spread
from balance.questions.spread.monte_carlo import solve_drawn
from balance.questions.spread.shares import Tally
from tests.questions.spread.plans import SMALL, spread_table

Floats = NDArray[np.float64]


def shares_of(normal: Floats, results: Floats, *, blocks: int = 7) -> Floats:
    tally = Tally(len(normal), results.mean(axis=1))
    for some in np.array_split(np.arange(normal.shape[1]), blocks):
        tally.add(normal[:, some], results[:, some])
    return tally.shares()


def test_of_a_linear_function_they_are_the_squared_weights() -> None:
    # By definition: Var(sum a z) is the sum of a², to which each doubt adds its own.
    weights = np.array([3.0, 2.0, -1.0, 0.5, 0.0])
    normal = np.random.default_rng(1).standard_normal((5, 200_000))
    shares = shares_of(normal, (10.0 * weights @ normal - 1.0)[None, :])[:, 0]
    np.testing.assert_allclose(shares, weights**2 / (weights**2).sum(), atol=4e-3)


def test_what_is_not_in_proportion_is_left_over() -> None:
    # By definition: a square is as large on either side, a product of two belongs to neither, and
    # of z³ the line takes Cov(z, z³)² / Var z³ = 3² / 15.
    z = np.random.default_rng(2).standard_normal((2, 400_000))
    results = np.array([z[0] ** 2 - 9.0, z[0] * z[1] - 9.0, z[0] ** 3 - 99.0])
    np.testing.assert_allclose(shares_of(z, results), [[0.0, 0.0, 0.6], [0.0] * 3], atol=0.01)


def test_of_a_product_of_powers_the_logarithm_is_shared_out() -> None:
    # The logarithm is linear; of the product itself less would be in proportion: for e^z it is
    # Cov(z, e^z)² / Var e^z = e / (e² - e) = 1 / (e - 1).
    z = np.random.default_rng(3).standard_normal((2, 400_000))
    result = np.exp(z[0] + 0.5 * z[1])
    np.testing.assert_allclose(shares_of(z, result[None, :])[:, 0], [0.8, 0.2], atol=5e-3)
    bent = np.array([np.exp(z[0]) - 1e-9])
    bent[0, 0] = -1e-9  # one that is not above zero: no logarithm
    assert shares_of(z, bent)[0, 0] == pytest.approx(1.0 / (e - 1.0), abs=0.02)


def test_chance_adds_no_share() -> None:
    random = np.random.default_rng(4)
    found = []
    for _ in range(400):
        normal = random.standard_normal((30, 100))
        found.append(shares_of(normal, normal[:1])[1:].sum())
    # Without what is taken off it would be 29/100.
    assert np.mean(found) == pytest.approx(0.0, abs=4 * np.std(found) / 20.0)
    assert np.std(found) / 20.0 < 0.01


def test_what_does_not_vary_has_none() -> None:
    normal = np.random.default_rng(5).standard_normal((3, 100))
    assert np.isnan(shares_of(normal, np.full((1, 100), 0.7))).all()
    assert np.isnan(shares_of(normal, np.zeros((1, 100)))).all()


def test_shares_of_a_plan_are_its_first_order_indices() -> None:
    """By Saltelli's way of sampling, of a library that knows no plumbing."""
    text = spread_table(
        ball="0.3",
        hose_bore='"3 %"',
        speed='"3 %"',
        devices='"20 %"',
        tees='"30 %"',
        level='"5 mm"',
    )
    plan = read_text(SMALL + text)
    network = network_of(plan)
    sampler = Doubts(network)
    doubted = [row for row, doubt in enumerate(sampler.all) if doubt.sd > 0.0]
    rows = [network.row_of[name] for name in ("return", "reactor", "main")]
    clean = np.ones((network.topology.runs, 1))

    def log_flows(x: Floats) -> Floats:
        normal = np.zeros((len(sampler.all), x.shape[1]))
        normal[doubted] = x
        solved = solve_drawn(network, sampler.drawn(normal), factor=clean)
        assert solved.settled.all()
        return np.log(solved.state.flow[rows])

    dists = [norm()] * len(doubted)
    found = sobol_indices(
        func=log_flows,
        n=4096,
        dists=dists,  # type: ignore[arg-type]  # its stubs overlook what norm() has
        rng=np.random.default_rng(6),
    )
    kinds = np.array([sampler.all[row].about for row in doubted])
    answer = spread(plan, systems=40_000).before
    for place, band in enumerate((*answer.branches, *answer.pumps)):
        ours = {each.about: each.share for each in band.shares}
        assert set(ours) == set(kinds)
        for kind, share in ours.items():
            theirs = float(found.first_order[place, kinds == kind].sum())
            assert share == pytest.approx(theirs, abs=0.03), (band.name, kind)
        # Little is joint or bent here: total indices say the same.
        assert band.rest is not None
        assert band.rest == pytest.approx(1.0 - found.first_order[place].sum(), abs=0.06)
