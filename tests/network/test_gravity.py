"""Drains by themselves, against the network's own solution and by hand."""

from __future__ import annotations

import numpy as np
import pytest

from balance.errors import PlanError
from balance.network.arrays import network_of, plan_water
from balance.network.gravity import GravityDrain, gravity_drains
from balance.network.solve import solve
from balance.parts import gravity, weirs
from balance.parts.pipes import pipe
from balance.plan.read import read_text

VESSELS = """
units = "metric"
[vessels.box]
bottom = "1 m"
level = "1.4 m"
length = "20 cm"
width = "10 cm"
[vessels.sump]
bottom = "0 m"
level = "0.2 m"
length = "1 m"
width = "50 cm"
"""


def drain(parts: str, more: str = "") -> GravityDrain:
    plan = read_text(
        f'{VESSELS}[[drains]]\nname = "pipe"\nfrom = "box"\nto = "sump"\nrole = "siphon"\n'
        f'inlet = "1.3 m"\nparts = [{parts}]\n{more}'
    )
    (found,) = gravity_drains(plan, plan_water(plan))
    return found


PLAIN = '{ pipe = "32 mm PN10", length = "1.1 m" }, { fitting = "elbow 90", size = "32 mm" }'
GATED = f'{PLAIN}, {{ valve = "gate", size = "32 mm", open = "40 %" }}'
FREE = f'{PLAIN}, {{ outlet = "free", height = "30 cm" }}'


@pytest.mark.parametrize("parts", [PLAIN, GATED, FREE])
@pytest.mark.parametrize("level", [1.31, 1.4, 1.6])
def test_full_bore_is_what_the_network_says_of_the_same_run(parts: str, level: float) -> None:
    run = read_text(
        f'{VESSELS.replace("1.4 m", f"{level} m")}[[runs]]\nname = "pipe"\nfrom = "box"\n'
        f'to = "sump"\nparts = [{parts}]\n'
    )
    expected = solve(network_of(run)).flow("pipe")
    assert float(drain(parts).full_flow(level, 0.2)) == pytest.approx(expected, rel=1e-7)


def test_the_head_closes_at_every_flow() -> None:
    pipe_drain = drain(GATED)
    levels = np.geomspace(1e-6, 5.0, 40) + 0.2
    flows = pipe_drain.full_flow(levels, 0.2)
    lost = pipe_drain.laws(flows[None]).head[0]
    np.testing.assert_allclose(lost, levels - 0.2, rtol=1e-9, atol=1e-12)
    assert (np.diff(flows) > 0.0).all()
    assert drain(GATED).full_flow(np.full((2, 3), 1.4), 0.2).shape == (2, 3)


def test_nothing_flows_uphill_nor_below_a_free_outlet() -> None:
    assert drain(PLAIN).full_flow(0.1, 0.2) == 0.0
    assert drain(FREE).full_flow(0.25, 0.2) == 0.0
    submerged, poured = drain(PLAIN).full_flow(1.4, 0.3), drain(FREE).full_flow(1.4, 0.2)
    assert float(poured) == pytest.approx(float(submerged), rel=1e-6)  # the same end


def test_what_it_carries_with_air() -> None:
    one = drain(PLAIN)
    bore = pipe("32 mm PN10").bore
    assert one.lip_bore == one.narrowest == one.widest == bore
    lip = float(weirs.lip(0.25 * bore, bore=bore).flow)
    assert one.safe == pytest.approx(min(lip, float(gravity.self_venting(bore))))
    levels = np.linspace(1.29, 1.5, 200)
    flows = one.open_flow(levels)
    assert flows[0] == 0.0
    assert flows[-1] == one.safe
    assert (np.diff(flows) >= 0.0).all()
    assert (flows <= one.lip_flow(levels)).all()


def test_a_sloping_leg_may_be_the_least() -> None:
    gentle = drain(f'{PLAIN}, {{ pipe = "32 mm PN10", length = "1 m", slope = "0.5 %" }}')
    steep = drain(f'{PLAIN}, {{ pipe = "32 mm PN10", length = "1 m", slope = "20 %" }}')
    bore = pipe("32 mm PN10").bore
    assert gentle.limit == "sloping leg"
    assert gentle.safe == pytest.approx(float(gravity.part_full(bore, slope=0.005)))
    assert steep.limit != "sloping leg"
    assert steep.safe == drain(PLAIN).safe


@pytest.mark.parametrize("slope", ["0 %", "-1 %", "150 %", "2"])
def test_a_slope_that_is_none_is_refused(slope: str) -> None:
    with pytest.raises(PlanError, match="slope"):
        drain(f'{{ pipe = "32 mm PN10", length = "1 m", slope = "{slope}" }}')


def test_a_narrow_place_vents_less_and_the_widest_decides_whether_it_runs_full() -> None:
    mixed = drain(
        '{ pipe = "40 mm PN10", length = "50 cm" }, { pipe = "25 mm PN10", length = "50 cm" }'
    )
    narrow, wide = pipe("25 mm PN10").bore, pipe("40 mm PN10").bore
    assert mixed.narrowest == pytest.approx(narrow)
    assert mixed.widest == pytest.approx(wide)
    assert mixed.limit == "venting"
    assert mixed.safe == pytest.approx(float(gravity.self_venting(narrow)))
    assert float(mixed.froude(1e-3)) == pytest.approx(float(gravity.froude(1e-3, bore=wide)))


def test_a_shut_gate_carries_nothing() -> None:
    shut = drain(GATED.replace("40 %", "0 %"))
    assert shut.shut
    assert shut.safe == 0.0
    assert (shut.lip_flow(np.array([1.4, 2.0])) == 0.0).all()
    assert shut.full_flow(1.4, 0.2) == 0.0


def test_a_plan_of_drains_alone_is_a_plan() -> None:
    plan = read_text(
        f'{VESSELS}[[drains]]\nname = "pipe"\nfrom = "box"\nto = "sump"\nparts = [{PLAIN}]\n'
    )
    assert solve(network_of(plan)).worst_imbalance == 0.0
    (found,) = gravity_drains(plan, plan_water(plan))
    assert not found.inlet_told
    assert found.inlet == 1.4  # of its vessel


# paradise, example 6.2, p. 96: a siphon of 14 in and 3200 ft, Fanning 0.01, falls 42 ft: 1974
# imperial gallons a minute, with the velocity head that is lost in the lower water.
def test_a_long_siphon() -> None:
    plan = read_text("""
units = "imperial"
[vessels.upper]
level = "42 ft"
[vessels.lower]
level = "0 ft"
[[drains]]
name = "siphon"
from = "upper"
to = "lower"
role = "siphon"
parts = [{ inlet = "ideal" },
  { pipe = "14 in bore", length = "3200 ft", friction_factor = 0.04 }]
""")
    (siphon,) = gravity_drains(plan, plan_water(plan))
    flow = float(siphon.full_flow(42 * 0.3048, 0.0)) / (4.54609e-3 / 60)
    assert flow == pytest.approx(1974, abs=2)  # the book's g is 32.2 ft/s2
