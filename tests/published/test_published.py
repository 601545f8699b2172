"""Worked network problems in print, each a plan read and solved as a user's own."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

from balance.network.along import Along
from balance.network.arrays import network_of
from balance.network.solve import Solution, solve
from balance.parts.sources import sources
from balance.plan.read import read
from balance.questions.pressures import Pressure, pressures_of
from balance.questions.suctions import suctions_of
from balance.units import parse

HERE = Path(__file__).parent
CASES: dict[str, dict[str, Any]] = tomllib.loads((HERE / "cases.toml").read_text("utf-8"))
EXPECTED = [
    pytest.param(name, expected, id=f"{name}-{index}")
    for name, case in CASES.items()
    for index, expected in enumerate(case["expect"])
]

Read = Callable[[Solution, str], float]


def pressure_at(solution: Solution, place: str) -> Pressure:
    (found,) = (each for each in pressures_of(Along(solution)) if each.place == place)
    return found


def pressure(solution: Solution, place: str) -> float:
    """Over the air's [Pa]."""
    found = pressure_at(solution, place).pressure
    assert found is not None
    return found


def over(solution: Solution, place: str) -> float:
    """Total head over the height of a place [m]."""
    found = pressure_at(solution, place)
    assert found.head is not None
    return found.head - found.height


def suction_head(solution: Solution, pump: str) -> float:
    """Net positive suction head that a pump has [m]."""
    (found,) = (each for each in suctions_of(Along(solution)) if each.pump == pump)
    assert found.available is not None
    return found.available


def spare_suction_head(solution: Solution, pump: str) -> float:
    """The same less what the pump needs [m]."""
    (found,) = (each for each in suctions_of(Along(solution)) if each.pump == pump)
    assert found.needed is not None
    return suction_head(solution, pump) - found.needed


QUANTITIES: dict[str, tuple[Read, str]] = {
    "flow": (Solution.flow, "flow"),
    "head": (Solution.head, "length"),
    "over": (over, "length"),
    "pressure": (pressure, "pressure"),
    "pump_head": (Solution.head_of_pump, "length"),
    "spare_suction_head": (spare_suction_head, "length"),
    "suction_head": (suction_head, "length"),
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
