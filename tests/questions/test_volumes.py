"""Volumes of water are those of the tape measure."""

from __future__ import annotations

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from balance.network.arrays import network_of
from balance.plan.model import Plan, Vessel
from balance.plan.read import read, read_text
from balance.questions.volumes import (
    pressed_volume,
    stretch_volume,
    system_volume,
    vessel_volume,
    volume_below,
)
from tests.test_demo import DEMO

INCH = 0.0254
GALLON = 231 * INCH**3  # by definition
BOX = {"bottom": "3 in", "level": "12 in", "length": "36 in", "width": "18 in"}
TABLE = [["36 in", "10 gal"], ["40 in", "30 gal"], ["60 in", "70 gal"]]


def vessel(**keys: object) -> Vessel:
    return Vessel.model_validate(keys)


def test_a_box_holds_length_times_width_times_depth() -> None:
    # 36 x 18 x 9 cubic inches
    assert vessel_volume(vessel(**BOX)) == pytest.approx(5832 * INCH**3)
    assert volume_below(vessel(**BOX), 4 * INCH) == pytest.approx(648 * INCH**3)
    assert volume_below(vessel(**BOX), 3 * INCH) == 0.0
    assert volume_below(vessel(**BOX), 0.0) == 0.0


def test_a_round_one_holds_a_cylinder() -> None:
    barrel = vessel(bottom="0 m", level="0.8 m", diameter="0.5 m")
    assert vessel_volume(barrel) == pytest.approx(pi / 4 * 0.5**2 * 0.8)


@pytest.mark.parametrize(
    ("inches", "gallons"),
    # between rows, at one, and beyond both ends by 5 gal an inch below and 2 gal an inch above
    [(38, 20), (40, 30), (50, 50), (65, 80), (35, 5), (34, 0), (10, 0)],
)
def test_a_table_is_read_between_its_rows_and_goes_on_beyond(inches: int, gallons: int) -> None:
    odd = vessel(level="50 in", table=TABLE)
    assert volume_below(odd, inches * INCH) == pytest.approx(gallons * GALLON, abs=1e-12)


def test_rock_and_sand_are_taken_off() -> None:
    reef = vessel(**BOX, displaced=f"{5832 / 231 / 4} gal")  # a quarter of what is below the level
    assert vessel_volume(reef) == pytest.approx(0.75 * 5832 * INCH**3)
    # half as deep: half of the rock is under water; above the level there is none
    assert volume_below(reef, 7.5 * INCH) == pytest.approx(0.375 * 5832 * INCH**3)
    assert volume_below(reef, 13 * INCH) == pytest.approx((0.75 * 5832 + 648) * INCH**3)


def test_more_rock_than_room_is_refused() -> None:
    with pytest.raises(ValidationError, match="take up all the room"):
        vessel(**BOX, displaced="900 gal")


@pytest.mark.parametrize(
    "keys",
    [
        {"level": "9 in"},
        {"level": "9 in", "bottom": "0 in"},
        {"level": "9 in", "length": "36 in", "width": "18 in"},
        {"level": "9 in", "diameter": "36 in"},
    ],
)
def test_without_size_or_floor_there_is_no_volume(keys: dict[str, str]) -> None:
    assert vessel_volume(vessel(**keys)) is None
    assert volume_below(vessel(**keys), 0.1) is None


SHAPES = st.sampled_from(
    [
        {"length": "36 in", "width": "18 in", "bottom": "3 in", "level": "50 in"},
        {"diameter": "24 in", "bottom": "3 in", "level": "50 in"},
        {"table": TABLE, "level": "50 in"},
    ]
)


@given(SHAPES, st.floats(0.0, 49.0), st.floats(0.0, 2.0), st.floats(1e-3, 1.0))
def test_volume_rises_with_level(
    shape: dict[str, object], gallons: float, level: float, more: float
) -> None:
    reef = vessel(**shape, displaced=f"{gallons:.6f} gal")
    low, high = volume_below(reef, level), volume_below(reef, level + more)
    assert low is not None
    assert high is not None
    assert 0.0 <= low <= high
    if gallons < 49.0 and level + more > 40 * INCH:  # there is water, and room for more
        assert low < high


@given(SHAPES, st.floats(0.0, 49.0))
def test_volume_does_not_jump_at_the_level(shape: dict[str, object], gallons: float) -> None:
    reef = vessel(**shape, displaced=f"{gallons:.6f} gal")
    below, above = (volume_below(reef, reef.level + step) for step in (-1e-9, 1e-9))
    assert below == pytest.approx(above, abs=1e-8)


def test_water_of_the_demo() -> None:
    # 25.2 gal in the sump, 109.1 less 9 in the lagoon, 2.0 in its box, 32.7 less 5 in the seagrass;
    # the bin of new water is no part of it
    plan = read(DEMO / "lagoon.toml")
    gallons = (36 * 18 * 9 + 60 * 30 * 14 + 14 * 5 * 6.6 + 30 * 18 * 14) / 231 - 14
    assert system_volume(plan) == pytest.approx(gallons * GALLON)
    assert gallons == pytest.approx(155.1, abs=0.05)


MANIFOLD = """
[vessels.sump]
level = "0.3 m"
bottom = "0 m"
length = "1 m"
width = "0.5 m"

[vessels.tank]
level = "1.3 m"
bottom = "0.8 m"
diameter = "1 m"

[pumps.main]
points = ["0 L/h at 4 m", "2000 L/h at 3 m", "4000 L/h at 0 m"]
from = "sump"
to = "foot"
{speed}

[[runs]]
name = "riser"
from = "foot"
to = "split"
parts = [
  {{ pipe = "20 mm bore", length = "0.5 m" }},
  {riser}
  {{ fitting = "elbow 90" }},
]

[[headers]]
name = "header"
from = "split"
pipe = "20 mm bore"
taps = [
  {{ branch = "reactor", after = "0.1 m" }},
  {{ branch = "spare", after = "0.1 m", parts = [{tap}] }},
  {{ branch = "return", after = "0.2 m", end = "elbow" }},
]

[[branches]]
name = "reactor"
to = "sump"
parts = [
  {{ hose = "10 mm", length = "0.3 m" }},
  {{ valve = "ball", bore = "10 mm" }},
  {{ hose = "10 mm", length = "2 m" }},
  {{ device = "reactor", drop = "0.3 m at 300 L/h", volume = "3 L" }},
]

[[branches]]
name = "spare"
parts = [{{ pipe = "10 mm bore", length = "0.05 m" }}, {{ valve = "ball", open = "shut" }}]

[[branches]]
name = "return"
to = "tank"
parts = [{{ valve = "ball", bore = "20 mm" }}, {{ pipe = "20 mm bore", length = "1 m" }}]
"""
WIDE, NARROW = pi / 4 * 0.02**2, pi / 4 * 0.01**2  # m²
PRESSED = 0.9 * WIDE + 0.35 * NARROW
"""Riser and header, and the hose and the pipe before two of the valves."""


def manifold(more: str = "", *, speed: str = "", riser: str = "", tap: str = "") -> Plan:
    return read_text(MANIFOLD.format(speed=speed, riser=riser, tap=tap) + more)


def test_a_system_holds_what_its_vessels_hold() -> None:
    assert system_volume(manifold()) == pytest.approx(0.15 + pi / 8)


def test_an_endless_vessel_leaves_the_volume_open() -> None:
    assert system_volume(manifold('[vessels.sea]\nlevel = "1 m"\n')) is None


def test_the_vessel_of_new_water_is_no_part_of_the_system() -> None:
    more = (
        '[vessels.barrel]\nlevel = "1 m"\n'
        '[change]\nfrom = "barrel"\nvolume = "20 L"\npump = "main"\n'
    )
    assert system_volume(manifold(more)) == pytest.approx(0.15 + pi / 8)


def test_a_stretch_holds_what_its_pipes_hoses_and_devices_hold() -> None:
    reactor = manifold().branches[0]
    assert stretch_volume(reactor.parts) == pytest.approx(2.3 * NARROW + 3e-3)
    assert stretch_volume(()) == 0.0


BED = 'diameter = "10 cm", depth = "10 cm", grain = "1 mm"'


@pytest.mark.parametrize(
    ("part", "litres"),
    [
        ('{ pipe = "20 mm bore", length = "1 m", count = 3 }', 3e3 * WIDE),
        ('{ device = "filter", drop = "1 m at 100 L/h", volume = "2 L", count = 2 }', 4.0),
        ('{ device = "filter", drop = "1 m at 100 L/h" }', 0.0),
        ('{ fitting = "elbow 90", size = "1 in" }', 0.0),
        # 100 mm of 10 cm bore, of which 40 % are water
        (f'{{ device = "r", bed = {{ {BED}, voidage = "40 %" }} }}', 0.4 * pi / 4),
    ],
)
def test_what_each_part_holds(part: str, litres: float) -> None:
    old = '{ hose = "10 mm", length = "2 m" },'
    text = MANIFOLD.format(speed="", riser="", tap="")
    (branch, *_) = read_text(text.replace(old, old + part + ",")).branches
    assert 1e3 * branch.parts[3].holds == pytest.approx(litres, abs=1e-12)


def test_the_network_knows_what_its_runs_hold() -> None:
    network = network_of(manifold())
    held = {run.name: run.stretch.volume for run in network.layout.runs}
    assert held["riser"] == pytest.approx(0.5 * WIDE)
    assert held["header to return"] == pytest.approx(0.2 * WIDE)
    assert held["reactor"] == pytest.approx(2.3 * NARROW + 3e-3)


def test_pumps_press_on_all_before_the_valves_of_branches() -> None:
    assert pressed_volume(network_of(manifold())) == pytest.approx(PRESSED)


def test_a_stopped_pump_presses_on_nothing() -> None:
    assert pressed_volume(network_of(manifold(speed='speed = "0 %"'))) == 0.0


def test_a_valve_that_stands_shut_keeps_out_what_is_beyond() -> None:
    riser = '{ valve = "ball", open = "shut" }, { pipe = "20 mm bore", length = "1 m" },'
    assert pressed_volume(network_of(manifold(riser=riser))) == pytest.approx(0.5 * WIDE)
    tap = '{ valve = "ball", open = "shut" }'
    found = pressed_volume(network_of(manifold(tap=tap)))
    assert found == pytest.approx(0.6 * WIDE + 0.3 * NARROW)


def test_a_branch_without_a_valve_is_capped_off_where_it_begins() -> None:
    open_pipe = (
        '[[branches]]\nname = "drip"\nfrom = "foot"\nto = "sump"\n'
        'parts = [{ pipe = "20 mm bore", length = "9 m" }]\n'
    )
    assert pressed_volume(network_of(manifold(open_pipe))) == pytest.approx(PRESSED)
    spare = open_pipe.replace('to = "sump"\n', "")
    assert pressed_volume(network_of(manifold(spare))) == pytest.approx(PRESSED + 9.0 * WIDE)


def test_a_valve_between_pump_and_branches_is_passed_when_open() -> None:
    riser = '{ valve = "ball" }, { pipe = "20 mm bore", length = "1 m" },'
    assert pressed_volume(network_of(manifold(riser=riser))) == pytest.approx(PRESSED + WIDE)


SECOND = """
[pumps.second]
points = ["0 L/h at 4 m", "2000 L/h at 3 m", "4000 L/h at 0 m"]
from = "sump"
to = "second foot"
speed = "{speed}"

[[runs]]
name = "second riser"
from = "second foot"
to = "split"
parts = [{{ pipe = "20 mm bore", length = "0.7 m" }}, {{ check = "swing" }}]
"""


def test_a_check_valve_holds_against_the_other_pump() -> None:
    stopped = manifold(SECOND.format(speed="0 %"))
    assert pressed_volume(network_of(stopped)) == pytest.approx(PRESSED)
    both = manifold(SECOND.format(speed="100 %"))
    assert pressed_volume(network_of(both)) == pytest.approx(PRESSED + 0.7 * WIDE)


def test_a_run_to_a_vessel_is_shut_at_its_valve_too() -> None:
    # drawn from the vessel, so that its valve is met from behind
    more = (
        '[[runs]]\nname = "well"\nfrom = "tank"\nto = "split"\nparts = ['
        '{ pipe = "20 mm bore", length = "3 m" }, { valve = "ball" }, '
        '{ pipe = "20 mm bore", length = "0.4 m" }]\n'
    )
    assert pressed_volume(network_of(manifold(more))) == pytest.approx(PRESSED + 0.4 * WIDE)


def test_a_pump_behind_a_pump_presses_on_as_well() -> None:
    text = MANIFOLD.format(speed="", riser="", tap="").replace('to = "foot"', 'to = "between"')
    text += (
        '[pumps.booster]\npoints = ["0 L/h at 4 m", "2000 L/h at 3 m", "4000 L/h at 0 m"]\n'
        'from = "between end"\nto = "foot"\n'
        '[[runs]]\nname = "link"\nfrom = "between"\nto = "between end"\n'
        'parts = [{ pipe = "20 mm bore", length = "0.6 m" }]\n'
    )
    assert pressed_volume(network_of(read_text(text))) == pytest.approx(PRESSED + 0.6 * WIDE)
