"""Heat warms water by what its specific heat says."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from balance.network.arrays import network_of
from balance.plan.model import Plan
from balance.plan.read import read, read_text
from balance.plan.starter import STARTER
from balance.questions.heat import dead_head_warming, rise, warming
from balance.questions.volumes import pressed_volume, system_volume
from balance.show.heat import dead_head_lines, heat_lines
from balance.units import SYSTEMS
from balance.water import water
from tests.test_demo import DEMO

SEA = water(temperature=25.0, salinity=35.165)
FRESH = water(temperature=15.0, salinity=0.0)
GALLON = 3.785411784e-3  # m³: by definition


def lagoon(*changes: tuple[str, str]) -> Plan:
    """The demo with other text in its place; its curve is read from beside it."""
    text = (DEMO / "lagoon.toml").read_text()
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return read_text(text, folder=DEMO)


def test_a_watt_warms_a_litre_of_sea_by_its_heat_capacity() -> None:
    # teos-10: 3999.0 J/(kg K) at 25 degC and 35.165 g/kg, and 1.0233 kg a litre; 0.12 % is claimed
    # of the specific heat
    assert rise(1.0, volume=1e-3, water=SEA) == pytest.approx(1 / (1.02334 * 3999.0), rel=1.3e-3)


def test_a_btu_warms_a_pound_by_a_degree() -> None:
    # By definition, near 15 degC: a BTU is the heat that makes a pound of water warmer by 1 degF.
    # The international one is by 4186.8 J/(kg K); 0.12 % is claimed.
    us = SYSTEMS["us"]
    pound = 0.45359237 / FRESH.density
    heat = 100.0 * us.units["heat"][1]
    assert us.number(rise(heat, volume=pound, water=FRESH), "warming") == pytest.approx(
        100.0, rel=1.2e-3
    )


@given(st.floats(1e-3, 1e5), st.floats(1e-4, 1e3), st.floats(1.1, 10.0))
def test_more_heat_warms_faster_and_more_water_slower(
    heat: float, volume: float, times: float
) -> None:
    once = rise(heat, volume=volume, water=SEA)
    assert rise(times * heat, volume=volume, water=SEA) == pytest.approx(times * once)
    assert rise(heat, volume=times * volume, water=SEA) == pytest.approx(once / times)


def test_the_water_of_the_vessels_takes_up_the_heat() -> None:
    plan = lagoon()
    found = warming(plan, SEA, heat=52.0)
    assert found is not None
    volume = system_volume(plan)
    assert volume is not None
    assert found.volume == volume
    assert found.rise == rise(52.0, volume=volume, water=SEA)
    assert found.chiller == pytest.approx(790 / 3.412, rel=1e-4)
    assert found.share == pytest.approx(52.0 / 231.5, rel=1e-3)


def test_the_plan_may_tell_the_volume() -> None:
    told = lagoon(('chiller = "790 BTU/h"', 'volume = "160 gal"'))
    found = warming(told, SEA, heat=52.0)
    assert found is not None
    assert found.volume == pytest.approx(160 * GALLON)
    assert found.chiller is None
    assert found.share is None


def test_without_a_known_volume_nothing_is_said() -> None:
    endless = lagoon(("[vessels.seagrass]", '[vessels.sea]\nlevel = "1 m"\n\n[vessels.seagrass]'))
    assert warming(endless, SEA, heat=52.0) is None
    told = lagoon(
        ("[vessels.seagrass]", '[vessels.sea]\nlevel = "1 m"\n\n[vessels.seagrass]'),
        ('chiller = "790 BTU/h"', 'volume = "160 gal"'),
    )
    assert warming(told, SEA, heat=52.0) is not None


def test_an_empty_system_takes_up_no_heat() -> None:
    text = '[vessels.dry]\nbottom = "1 m"\nlevel = "1 m"\nlength = "1 m"\nwidth = "1 m"\n'
    assert warming(read_text(text), SEA, heat=52.0) is None


def test_a_plan_need_not_speak_of_heat() -> None:
    found = warming(read_text(STARTER), SEA, heat=10.0)
    assert found is not None
    assert found.chiller is None


def test_at_dead_head_only_what_is_pressed_on_is_warmed() -> None:
    network = network_of(read(DEMO / "lagoon.toml"))
    found = dead_head_warming(network, power=40.0)
    assert found is not None
    volume = pressed_volume(network)
    assert found.volume == volume
    assert found.rise == rise(40.0, volume=volume, water=network.water)
    # a few cups, against the whole system's 155 gal
    assert 0.1 * GALLON < volume < 0.5 * GALLON


def test_a_pump_that_presses_on_nothing_known_says_nothing() -> None:
    text = (
        '[vessels.sump]\nlevel = "1 m"\n[vessels.tank]\nlevel = "2 m"\n[pumps.main]\n'
        'points = ["0 L/h at 4 m", "2000 L/h at 3 m", "4000 L/h at 0 m"]\n'
        'from = "sump"\nto = "tank"\n'
    )
    assert dead_head_warming(network_of(read_text(text)), power=40.0) is None


def test_the_keys_of_the_answers_carry_their_units() -> None:
    plan = lagoon()
    found = warming(plan, SEA, heat=52.0)
    assert found is not None
    said = found.to_dict()
    assert list(said) == ["heat_w", "volume_l", "rise_k_per_h", "chiller_w", "share_percent"]
    assert said["rise_k_per_h"] == pytest.approx(3600.0 * found.rise)
    assert said["volume_l"] == pytest.approx(155.06 * 3.785, rel=1e-3)
    dead = dead_head_warming(network_of(plan), power=40.0)
    assert dead is not None
    assert list(dead.to_dict()) == ["power_w", "volume_l", "rise_k_per_h"]


@pytest.mark.parametrize(
    ("units", "heat", "warmer", "rating"),
    # 52 W in 587.0 L of 1.02334 kg and 3999 J/(kg K) are 0.0780 K an hour.
    [
        ("us", "52.0 W of heat (177 BTU/h)", "0.14 degF/h in 155 gal", "790 BTU/h"),
        ("imperial", "52.0 W of heat (177 BTU/h)", "0.078 degC/h in 129 imp gal", "790 BTU/h"),
        ("metric", "52.0 W of heat", "0.078 degC/h in 587 L", "232 W"),
    ],
)
def test_heat_in_words(units: str, heat: str, warmer: str, rating: str) -> None:
    found = warming(lagoon(), SEA, heat=52.0)
    assert found is not None
    (said,) = heat_lines(found, SYSTEMS[units])
    assert said == f"{heat}: {warmer} if nothing left it; 22 % of the chiller's {rating}"


def test_heat_in_words_without_a_chiller() -> None:
    found = warming(lagoon(('chiller = "790 BTU/h"', 'volume = "1000 L"')), SEA, heat=52.0)
    assert found is not None
    (said,) = heat_lines(found, SYSTEMS["metric"])
    assert said == "52.0 W of heat: 0.046 degC/h in 1000 L if nothing left it"


def test_dead_head_in_words() -> None:
    found = dead_head_warming(network_of(lagoon()), power=40.0)
    assert found is not None
    (said,) = dead_head_lines(found, SYSTEMS["us"])
    assert said.startswith(
        "with every branch shut 40.0 W heat the 0.20 gal between pump and valves"
    )
    assert said.endswith(
        f"by up to {SYSTEMS['us'].text(found.rise, 'warming')}, and what stands in the pump faster"
    )
