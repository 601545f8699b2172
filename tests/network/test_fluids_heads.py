"""Our flows, put into head equations that are written anew, close round every loop."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from balance.network.arrays import network_of
from balance.network.solve import Solution, solve
from balance.plan.read import read
from tests.network.head_equations import closure
from tests.network.random_plans import draw_plan

DEMO = Path(__file__).parents[2] / "pump_curves_demo"
ONE_WAY_ONLY = {"mountain_suction", "smooth_pipe", "suction_limit"}  # no second way to any place
PUBLISHED = [
    path
    for path in sorted((Path(__file__).parents[1] / "published").glob("*.toml"))
    if path.stem not in {"cases", *ONE_WAY_ONLY}
]
CLOSES = 1e-6  # [m]
DRAWS = 120


def solved(path: Path) -> Solution:
    return solve(network_of(read(path)))


@pytest.mark.parametrize("plan", ["lagoon.toml", "fish-room.toml"])
def test_demo_closes(plan: str) -> None:
    solution = solved(DEMO / plan)
    found = closure(solution)
    assert solution.worst_imbalance < 1e-9 * np.abs(solution.state.flow).max()
    assert found.equations > 0
    assert found.worst < CLOSES


@pytest.mark.parametrize("plan", PUBLISHED, ids=lambda path: path.stem)
def test_published_plan_closes(plan: Path) -> None:
    solution = solved(plan)
    found = closure(solution)
    assert found.equations > 0
    # Mains under 10 to 100 m: the least slope of every law is set in parts of that.
    assert found.worst < CLOSES + 1e-7 * np.ptp(solution.state.heads)


def test_random_plans_close(tmp_path: Path) -> None:
    """A plan is drawn as text, and read as a person's; what fails is kept with its number."""
    equations = tees = backward = 0
    for seed in range(DRAWS):
        file = tmp_path / f"plan-{seed}.toml"
        file.write_text(draw_plan(np.random.default_rng(seed)), "utf-8")
        solution = solved(file)
        found = closure(solution)
        assert found.worst < CLOSES, file
        equations += found.equations
        tees += found.tees_in_print
        backward += int((solution.state.flow < 0.0).sum())
    # The draw reaches what it is meant to reach.
    assert equations > 5 * DRAWS
    assert tees > DRAWS // 4
    assert backward > DRAWS
