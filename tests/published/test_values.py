"""Single values of parts in print, one file in `values/` for each table or example.

A file names its print (`author`, `title`, `year`, `place`, and how it was `seen`), the `law` that
it speaks of, a key of LAWS, and its `values`. Of each, `given` holds the arguments of that law in
words of a plan, `is` what is printed, `within` how far the law may be from it (a share of it, where
that is a percentage) and `because` why so far. A value that was seen in another way than the rest
says so itself.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from balance.parts.valves import ValveLaw, valve
from balance.plan.openings import fraction
from balance.units import dimension_of, parse
from balance.water import Water, water

HERE = Path(__file__).parent / "values"
FILES: dict[str, dict[str, Any]] = {
    path.stem: tomllib.loads(path.read_text("utf-8")) for path in sorted(HERE.glob("*.toml"))
}
VALUES = [
    pytest.param(case["law"], value, id=f"{name}-{index}")
    for name, case in FILES.items()
    for index, value in enumerate(case["values"])
]
LEAST = 45  # values that there must be


def valve_excess(*, valve: str, at: str) -> float:
    """K beyond that of the open valve, on the velocity in its port."""
    law = _valve(valve)
    return (_loss(law, at) - law.k_open) / law.scale


def vapour_pressure(*, temperature: str, salinity: str) -> float:
    """Of fresh or salt water [Pa]."""
    return _water(temperature, salinity).vapour_pressure


def water_density(*, temperature: str, salinity: str) -> float:
    """Of fresh or salt water [kg/m³]."""
    return _water(temperature, salinity).density


def water_viscosity(*, temperature: str, salinity: str) -> float:
    """Kinematic, of fresh or salt water [m²/s]."""
    return _water(temperature, salinity).kinematic_viscosity


def _water(temperature: str, salinity: str) -> Water:
    return water(
        temperature=parse(temperature, "temperature"), salinity=parse(salinity, "salinity")
    )


def _valve(kind: str) -> ValveLaw:
    return valve(kind, bore=0.0254)


def _loss(law: ValveLaw, at: str) -> float:
    opening = fraction(at, handle=law.handle, turns=None)
    return float(law.loss_coefficient(np.array(opening)).k)


LAWS: dict[str, Callable[..., float]] = {
    "valve excess": valve_excess,
    "vapour pressure": vapour_pressure,
    "water density": water_density,
    "water viscosity": water_viscosity,
}


@pytest.mark.parametrize(("law", "value"), VALUES)
def test_value_in_print(law: str, value: dict[str, Any]) -> None:
    printed = number(value["is"])
    found = LAWS[law](**value["given"])
    assert found == pytest.approx(printed, rel=0, abs=limit(value["within"], printed))


def number(written: float | str) -> float:
    """A bare number, or a quantity in SI."""
    if not isinstance(written, str):
        return float(written)
    dimension = dimension_of(written)
    assert dimension is not None, f"{written} has no unit"
    return parse(written, dimension)


def limit(within: float | str, printed: float) -> float:
    share = isinstance(within, str) and within.endswith("%")
    return number(within) * (abs(printed) if share else 1.0)


@pytest.mark.parametrize("name", FILES)
def test_file_names_its_print(name: str) -> None:
    case = FILES[name]
    assert all(case[key].strip() for key in ("author", "title", "place", "seen"))
    assert 1840 <= case["year"] <= 2025
    assert case.keys() <= {"author", "title", "year", "place", "seen", "note", "law", "values"}
    assert case["values"]


@pytest.mark.parametrize(("law", "value"), VALUES)
def test_value_says_how_near_and_why(law: str, value: dict[str, Any]) -> None:
    assert value["because"].strip()
    assert value.keys() <= {"given", "is", "within", "because", "seen"}
    assert limit(value["within"], number(value["is"])) > 0.0


def test_every_law_is_spoken_of() -> None:
    assert {case["law"] for case in FILES.values()} == LAWS.keys()
    assert list(LAWS) == sorted(LAWS)


def test_there_are_enough_of_them() -> None:
    assert len(VALUES) >= LEAST
