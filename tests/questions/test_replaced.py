"""What small pumps drew that a manifold replaces."""

from __future__ import annotations

import pytest

from balance.plan.model import Plan
from balance.plan.read import read, read_text
from balance.questions.replaced import replaced
from tests.plan.plans import PLAN
from tests.test_demo import DEMO

TARGET = 'target = "120 gph"\n'
PRICE = "[power]\nprice = 0.25\nhours = 12\n"


def replacing(pumps: str, more: str = "") -> Plan:
    return read_text(PLAN.replace(TARGET, f"{TARGET}replaces = {pumps}\n") + more)


ALONE = ('like = "carbon reactor"', 'like = "carbon reactor"\nreplaces = []')


def test_a_plan_that_replaces_nothing() -> None:
    assert replaced(read_text(PLAN)) is None


def test_pumps_are_counted_and_their_power_is_added() -> None:
    text = PLAN.replace(
        TARGET, f"{TARGET}replaces = [{{ watts = 12, count = 2 }}, {{ watts = 6.5 }}]\n"
    ).replace(*ALONE)
    found = replaced(read_text(text))
    assert found is not None
    assert found.pumps == 3
    assert found.watts == found.heat == pytest.approx(30.5)
    # 30.5 W all day: 30.5 x 24 x 365 / 1000 kWh
    assert found.energy == pytest.approx(267.18)
    assert found.cost is None


def test_a_branch_that_is_like_it_replaces_as_many() -> None:
    found = replaced(replacing("[{ watts = 12 }]"))
    assert found is not None
    assert (found.pumps, found.watts) == (2, 24.0)


def test_hours_are_those_of_the_pump_or_of_the_plan() -> None:
    # the branch that is like it draws as much again: 2 x (10 W x 12 h + 20 W x 6 h) x 365 d
    found = replaced(replacing("[{ watts = 10 }, { watts = 20, hours = 6 }]", PRICE))
    assert found is not None
    assert found.energy == pytest.approx(2 * (10 * 12 + 20 * 6) * 365 / 1000)
    assert found.cost == pytest.approx(0.25 * 175.2)
    assert found.watts == 60.0


def test_the_keys_of_the_answer() -> None:
    found = replaced(read(DEMO / "lagoon.toml"))
    assert found is not None
    said = found.to_dict()
    assert list(said) == ["pumps", "watts", "energy_kwh", "cost", "heat_w"]
    # two pumps of 12 and 7 W, all day, at 0.30 USD
    assert said["watts"] == said["heat_w"] == 19.0
    assert said["energy_kwh"] == pytest.approx(166.44)
    assert said["cost"] == pytest.approx(49.932)
