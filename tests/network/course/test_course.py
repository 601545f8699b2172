"""What happens to levels over time, in small plants where the end follows by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balance.errors import UsageError
from balance.network.arrays import network_of
from balance.network.course import Course, Stop, course
from balance.network.solve import solve
from balance.plan.model import Plan
from balance.plan.read import read_text

HOUR = 3600.0
# Over a sump a tank with two returns from a header; the pump stands still behind a check valve.
PLANT = """
units = "metric"
[vessels.sump]
bottom = "0 cm"
level = "20 cm"
rim = "60 cm"
length = "100 cm"
width = "50 cm"
[vessels.tank]
bottom = "100 cm"
level = "140 cm"
rim = "145 cm"
length = "100 cm"
width = "60 cm"
[pumps.main]
points = ["0 L/h at 4 m", "2000 L/h at 3 m", "4000 L/h at 0 m"]
from = "sump"
to = "foot"
speed = "0 %"
[[runs]]
name = "riser"
from = "foot"
to = "cross"
parts = [{ check = "swing", size = "25 mm", failed = FAILED },
  { pipe = "25 mm PN16", length = "50 cm" }]
[[headers]]
name = "header"
from = "cross"
pipe = "32 mm PN10"
taps = [
  { branch = "return", after = "20 cm" },
  { branch = "reactor", after = "20 cm", end = "elbow" },
]
[[branches]]
name = "return"
to = "tank"
parts = [{ valve = "ball", size = "25 mm" }, { pipe = "25 mm PN16", length = "120 cm" },
  { outlet = "submerged", depth = "4 cm", siphon_break = "1 cm" }]
[[branches]]
name = "reactor"
to = "sump"
parts = [{ valve = "ball", size = "20 mm", open = "REACTOR" },
  { pipe = "20 mm PN16", length = "40 cm" }, { outlet = "submerged", depth = "5 cm" }]
"""


def plant(*, failed: bool, reactor: str = "full", more: str = "") -> Plan:
    text = PLANT.replace("FAILED", str(failed).lower()).replace("REACTOR", reactor)
    return read_text(text + more)


def conserved(found: Course) -> bool:
    total = found.volume[:, 0].sum()
    return bool(abs(found.lost) <= 1e-9 * total)


def kinds(found: Course) -> list[tuple[str, str]]:
    return [(event.kind, event.name) for event in found.events]


@pytest.mark.parametrize("failed", [False, True])
def test_a_tank_siphons_through_the_header_until_the_hole_lets_air_in(*, failed: bool) -> None:
    # Held by the check valve or not, water goes out by the reactor's branch: 1 cm of the tank.
    found = course(plant(failed=failed), until=HOUR)
    assert kinds(found) == [("uncovered", "return")]
    assert found.last["tank"] == pytest.approx(1.39, abs=2e-6)
    assert found.last["sump"] == pytest.approx(0.20 + 0.01 * 0.6 / 0.5, abs=2e-6)
    assert conserved(found)
    assert found.at_rest
    back = found.flow["riser"][0]
    assert (back < 0.0) if failed else (back == 0.0)


def test_nothing_runs_back_once_air_broke_the_siphon() -> None:
    # But for the drain of a change, which goes on as long as its inlet is covered.
    more = """
[[drains]]
name = "change"
from = "tank"
to = "outside"
role = "change"
inlet = "120 cm"
parts = [{ pipe = "20 mm PN16", length = "50 cm" }, { outlet = "free", height = "50 cm" }]
"""
    found = course(plant(failed=True, more=more), until=HOUR, opened=["change"])
    broken = next(event.time for event in found.events if event.kind == "uncovered")
    after = found.time > broken
    for name in ("return", "riser"):
        assert found.flow[name][0] < 0.0
        assert (np.abs(found.flow[name][after]) < 1e-12).all()
    assert found.flow["change"][after].max() > 1e-5
    assert found.last["tank"] < 1.39 - 0.01
    assert conserved(found)


def test_with_the_branch_shut_a_check_valve_holds_the_tank() -> None:
    found = course(plant(failed=False, reactor="shut"), until=HOUR)
    assert found.events == ()
    assert found.last["tank"] == pytest.approx(1.40, abs=1e-9)
    assert found.settled == 0.0


def test_a_blocked_hole_leaves_the_nozzle_to_break_it() -> None:
    found = course(plant(failed=True), until=HOUR, holes=False)
    assert found.last["tank"] == pytest.approx(1.36, abs=2e-6)


def test_flow_of_the_first_moment_is_that_of_the_network() -> None:
    plan = plant(failed=True)
    found, now = course(plan, until=HOUR), solve(network_of(plan))
    for name in ("riser", "return", "reactor"):
        assert found.flow[name][0] == pytest.approx(now.flow(name), rel=1e-7, abs=1e-12)


def test_flow_at_any_moment_is_that_of_the_network_at_its_levels() -> None:
    plan = plant(failed=True)
    found = course(plan, until=HOUR)
    at = int(np.searchsorted(found.time, 0.6 * found.events[0].time))
    levels = {name: float(found.level_of(name)[at]) for name in found.vessels}
    vessels = {n: v.model_copy(update={"level": levels[n]}) for n, v in plan.vessels.items()}
    now = solve(network_of(plan.model_copy(update={"vessels": vessels})))
    assert found.flow["return"][at] == pytest.approx(now.flow("return"), rel=1e-6)


DRAINED = """
[[drains]]
name = "siphon"
from = "tank"
to = "sump"
role = "siphon"
inlet = "138 cm"
parts = [{ pipe = "32 mm PN10", length = "110 cm" }]
"""


def test_a_drain_takes_the_tank_down_to_its_inlet() -> None:
    found = course(plant(failed=False, reactor="shut", more=DRAINED), until=2 * HOUR)
    assert found.last["tank"] == pytest.approx(1.38, abs=3e-4)  # the last of it comes slowly
    assert conserved(found)


def test_a_blocked_drain_takes_nothing() -> None:
    plan = plant(failed=False, reactor="shut", more=DRAINED)
    assert course(plan, until=HOUR, blocked=["siphon"]).last["tank"] == pytest.approx(1.40)


def test_a_crest_holds_what_a_deeper_drain_would_take() -> None:
    text = PLANT.replace("FAILED", "false").replace("REACTOR", "shut") + DRAINED
    text = text.replace(
        'level = "140 cm"', 'level = "140 cm"\ncrest = "139 cm"\nweir_length = "20 cm"'
    )
    found = course(read_text(text.replace('inlet = "138 cm"', 'inlet = "120 cm"')), until=2 * HOUR)
    assert found.last["tank"] == pytest.approx(1.39, abs=3e-4)
    assert conserved(found)


def test_sections_of_a_sump_keep_their_levels_until_the_baffle_drowns() -> None:
    sections = """
[vessels.filter]
bottom = "0 cm"
level = "30 cm"
rim = "60 cm"
length = "50 cm"
width = "50 cm"
[[weirs]]
name = "baffle"
from = "filter"
to = "sump"
crest = "29 cm"
length = "40 cm"
"""
    text = PLANT.replace("FAILED", "false").replace("REACTOR", "shut")
    found = course(read_text(text + sections), until=2 * HOUR)
    assert found.last["filter"] == pytest.approx(0.29, abs=1e-4)
    assert found.last["sump"] == pytest.approx(0.205, abs=1e-4)
    # With the sump above it the baffle runs backwards, until both are level.
    high = course(read_text(text + sections), until=2 * HOUR, start={"sump": 0.40})
    assert high.flow["baffle"][0] < 0.0
    even = (0.40 * 0.5 + 0.30 * 0.25) / 0.75
    assert high.last["filter"] == pytest.approx(even, abs=1e-4)
    assert high.last["sump"] == pytest.approx(even, abs=1e-4)
    assert conserved(high)


def test_what_passes_a_rim_is_on_the_floor() -> None:
    found = course(plant(failed=False, reactor="shut"), until=HOUR, start={"tank": 1.47})
    assert found.last["tank"] == pytest.approx(1.45, abs=1e-4)
    assert found.floor[-1] == pytest.approx(0.02 * 0.6, rel=1e-2)
    assert conserved(found)
    # The other way round it is told when it happens.
    sump = course(plant(failed=True), until=HOUR, start={"sump": 0.595})
    assert ("rim", "sump") in kinds(sump)
    assert sump.floor[-1] == pytest.approx(0.006 - 0.005 * 0.5, abs=1e-4)


def test_a_pump_fills_a_tank_until_enough_has_passed() -> None:
    plan = plant(failed=False, reactor="shut").with_speed({"main": 1.0})
    found = course(plan, until=HOUR, stop=Stop("return", 0.01), metered=["riser"])
    assert found.passed["return"] == pytest.approx(0.01, rel=1e-9)
    assert found.passed["riser"] == pytest.approx(0.01, rel=1e-6)
    assert found.events[-1].kind == "enough"
    assert found.last["sump"] == pytest.approx(0.20 - 0.01 / 0.5, abs=1e-6)
    assert conserved(found)


def test_a_pump_whose_intake_falls_dry_moves_nothing_more() -> None:
    text = PLANT.replace("FAILED", "false").replace("REACTOR", "shut")
    text = text.replace(
        'from = "sump"\nto = "foot"', 'from = "sump"\nintake = "15 cm"\nto = "foot"'
    )
    text = text.replace('rim = "145 cm"', 'rim = "180 cm"')
    found = course(read_text(text).with_speed({"main": 1.0}), until=HOUR)
    assert ("dry", "main") in kinds(found)
    assert found.last["sump"] == pytest.approx(0.15, abs=1e-6)
    assert conserved(found)


def test_a_siphon_primes_where_it_is_told_to() -> None:
    plan = plant(failed=False, reactor="shut", more=DRAINED).with_speed({"main": 1.0})
    open_ = course(plan, until=HOUR, start={"tank": 1.38}, primed=[])
    primed = course(plan, until=HOUR, start={"tank": 1.38}, primed=[], primes={"siphon": 1.395})
    assert ("primed", "siphon") in kinds(primed)
    assert open_.level_of("tank").max() > primed.level_of("tank").max() + 0.01
    assert conserved(primed)


def test_a_free_outlet_that_hangs_is_told_and_counted_on_for_nothing() -> None:
    text = PLANT.replace("FAILED", "false").replace("REACTOR", "full")
    text = text.replace(
        '{ outlet = "submerged", depth = "5 cm" }', '{ outlet = "free", height = "150 cm" }'
    )
    found = course(read_text(text), until=HOUR)
    assert kinds(found) == [("air", "reactor")]
    assert found.last["tank"] == pytest.approx(1.40, abs=1e-9)


def test_tiers_empty_into_one_another_until_they_are_level() -> None:
    # Two tanks on one header, no way to the sump: the higher fills the lower.
    text = PLANT.replace("FAILED", "false").replace("REACTOR", "full")
    text = text.replace(
        'to = "sump"\nparts = [{ valve = "ball", size = "20 mm"',
        'to = "low"\nparts = [{ valve = "ball", size = "20 mm"',
    )
    text = text.replace('depth = "4 cm", siphon_break = "1 cm"', 'height = "105 cm"')
    low = """
[vessels.low]
bottom = "100 cm"
level = "120 cm"
rim = "150 cm"
length = "60 cm"
width = "60 cm"
"""
    found = course(read_text(text + low), until=4 * HOUR)
    even = (1.40 * 0.6 + 1.20 * 0.36) / 0.96
    assert found.last["tank"] == pytest.approx(even, abs=1e-4)
    assert found.last["low"] == pytest.approx(even, abs=1e-4)
    assert ("level", "return") in kinds(found)
    assert conserved(found)


@settings(max_examples=25, deadline=None)
@given(
    tank=st.floats(1.02, 1.44),
    sump=st.floats(0.03, 0.59),
    width=st.floats(0.1, 1.5),
    failed=st.booleans(),
    reactor=st.sampled_from(["full", "30 deg", "shut"]),
    speed=st.sampled_from([0.0, 0.4, 1.0]),
    inlet=st.floats(1.05, 1.4),
    role=st.sampled_from(["siphon", "open", "emergency"]),
    holes=st.booleans(),
)
def test_no_water_is_won_or_lost(
    tank: float,
    sump: float,
    width: float,
    failed: bool,  # noqa: FBT001
    reactor: str,
    speed: float,
    inlet: float,
    role: str,
    holes: bool,  # noqa: FBT001
) -> None:
    more = DRAINED.replace("138 cm", f"{inlet} m").replace('role = "siphon"', f'role = "{role}"')
    plan = plant(failed=failed, reactor=reactor, more=more).with_speed({"main": speed})
    vessel = plan.vessels["tank"].model_copy(update={"width": width})
    plan = plan.model_copy(update={"vessels": plan.vessels | {"tank": vessel}})
    found = course(plan, until=HOUR, start={"tank": tank, "sump": sump}, holes=holes)
    assert conserved(found)
    assert (found.volume > -1e-7).all()
    assert (np.diff(found.time) >= 0.0).all()
    # Whatever passed a rim is on the floor, and nothing else is.
    assert found.floor[-1] >= -1e-12
    spills = {event.name for event in found.events if event.kind == "rim"}
    assert spills or found.floor[-1] == pytest.approx(0.0, abs=1e-9)


def test_a_name_that_carries_nothing_is_refused() -> None:
    with pytest.raises(UsageError, match="nothing flows through"):
        course(plant(failed=False), until=HOUR, metered=["riddle"])
