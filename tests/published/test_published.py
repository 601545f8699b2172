"""Worked network problems in print, each a plan read and solved as a user's own."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

from balance.network.arrays import network_of
from balance.network.solve import Solution, solve
from balance.parts.sources import sources
from balance.plan.read import read
from balance.units import parse

HERE = Path(__file__).parent
CASES: dict[str, dict[str, Any]] = tomllib.loads((HERE / "cases.toml").read_text("utf-8"))
EXPECTED = [
    pytest.param(name, expected, id=f"{name}-{index}")
    for name, case in CASES.items()
    for index, expected in enumerate(case["expect"])
]

Read = Callable[[Solution, str], float]
QUANTITIES: dict[str, tuple[Read, str]] = {
    "flow": (Solution.flow, "flow"),
    "head": (Solution.head, "length"),
    "pump_head": (Solution.head_of_pump, "length"),
}


def solved(name: str) -> Solution:
    return solve(network_of(read(HERE / f"{name}.toml")))


def coefficient_for_equal(name: str, valve: str, runs: Sequence[str]) -> float:
    """K of a valve at the opening at which two runs carry the same."""
    network = network_of(read(HERE / f"{name}.toml"))
    (only,) = network.valves
    assert only.name == valve

    def excess(opening: float) -> float:
        at = solve(network, openings=np.array([[opening]]))
        return at.flow(runs[0]) - at.flow(runs[1])

    opening = brentq(excess, 0.2, 1.0, xtol=1e-12)
    return float(only.law.loss_coefficient(np.array([opening])).k[0])


@pytest.mark.parametrize(("name", "expected"), EXPECTED)
def test_printed_value(name: str, expected: dict[str, Any]) -> None:
    if "loss_coefficient" in expected:
        found = coefficient_for_equal(name, expected["loss_coefficient"], expected["for_equal"])
        assert found == pytest.approx(expected["is"], rel=0, abs=expected["within"])
        return
    (kind,) = QUANTITIES.keys() & expected.keys()
    value, dimension = QUANTITIES[kind]
    printed, within = (parse(expected[key], dimension) for key in ("is", "within"))
    assert value(solved(name), expected[kind]) == pytest.approx(printed, rel=0, abs=within)


@pytest.mark.parametrize("name", CASES)
def test_case_names_its_source(name: str) -> None:
    case = CASES[name]
    assert all(case[key] for key in ("author", "title", "example", "seen"))
    assert case["source"] in sources()
    assert 1900 <= case["year"] <= 2025
    assert all(expected["because"] for expected in case["expect"])


def test_every_plan_has_its_case() -> None:
    plans = {path.stem for path in HERE.glob("*.toml")} - {"cases"}
    assert plans == CASES.keys()
    assert len(plans) >= 8
