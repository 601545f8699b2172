"""What a plan says wrongly of fittings, outlets and beds: each is told, with the way out."""

from __future__ import annotations

import pytest

from balance.errors import Fault, PlanError
from balance.network.arrays import network_of
from balance.plan.model import FittingPart, OutletPart
from balance.plan.read import read_text
from tests.plan.plans import one_run

PIPE = '{ pipe = "3/4 in sch 40", length = "3 in" }'
NARROW = '{ pipe = "1/2 in sch 40", length = "3 in" }'


def the_fault(parts: str, *, to: str = "high") -> Fault:
    with pytest.raises(PlanError) as caught:
        read_text(one_run(parts, to=to))
    (fault,) = caught.value.faults
    assert fault.line == 9
    return fault


BED = '{ device = "reactor", bed = { diameter = "4 in", depth = "8 in", grain = "1 mm" '

# parts, place, part of the problem, part of the remedy
FAULTS = [
    (
        '{ fitting = "elbow 90", angle = "30 deg" }',
        "",
        "angle and taper are of the cone in a reducer, and this is an elbow 90",
        'fitting = "reducer"',
    ),
    (
        '{ fitting = "reducer", angle = "30 deg", taper = "20 mm" }, ' + NARROW,
        "",
        "angle and taper both tell its cone",
        "keep one",
    ),
    (
        '{ fitting = "reducer", angle = "200 deg" }, ' + NARROW,
        " > angle",
        "more than any plumbing has",
        "60 deg",
    ),
    ('{ fitting = "bushing" }', "", "a bushing has two sizes", 'to = "3/4 in", or neither'),
    (
        '{ fitting = "reducer", size = "3/4 in" }, ' + NARROW,
        "",
        "a reducer has two sizes",
        'write size = "1 1/2 in", to = "3/4 in"',
    ),
    ('{ outlet = "spray bar" }', "", "a spray bar needs holes and hole", "holes = 20"),
    ('{ outlet = "spray bar", holes = 20 }', "", "needs holes and hole", 'hole = "4 mm"'),
    ('{ outlet = "slot" }', "", "a slot needs slot_length and slot_width", 'slot_width = "4 mm"'),
    (
        '{ outlet = "slot", slot_length = "10 in", slot_width = "0 mm" }',
        " > slot_width",
        "must be more than zero",
        "15 mm",
    ),
    (
        '{ outlet = "slot", holes = 20, hole = "4 mm" }',
        "",
        'outlet = "slot" has no holes and hole',
        "take it out",
    ),
    (
        '{ outlet = "submerged", holes = 20, hole = "4 mm" }',
        "",
        'outlet = "submerged" has no holes and hole',
        '"spray bar"',
    ),
    (
        '{ outlet = "multi-jet nozzle", hole = "4 mm", holes = 6, k = 2 }',
        "",
        "both k and holes give its loss",
        "keep one",
    ),
    (
        '{ outlet = "eductor", k = 2, drop = "3 ft at 200 gph" }',
        "",
        "both drop and k give its loss",
        "keep one",
    ),
    (
        '{ outlet = "jet nozzle", height = "20 in" }',
        " > height",
        'a free outlet below the water surface of "high"',
        "give its depth instead",
    ),
    (BED + ', voidge = "35 %" } }', " > bed > voidge", "no key voidge", "nearest: voidage"),
    (BED + ', voidage = "100 %" } }', " > bed > voidage", "more than any plumbing has", "40 %"),
    (BED + ", sphericity = 1.4 } }", " > bed > sphericity", "out of range", "up to 1"),
    (
        BED + ', grain_density = "0.9 g/mL" } }',
        " > bed > grain_density",
        "less than any plumbing has",
        "1500 kg/m3",
    ),
    (
        '{ device = "reactor", bed = { diameter = "4 in", grain = "1 mm" } }',
        " > bed",
        "depth is missing",
        'add depth = "8 in"',
    ),
    (
        '{ device = "reactor", bed = { diameter = 4, depth = "8 in", grain = "1 mm" } }',
        " > bed > diameter",
        "the number 4 has no unit",
        'diameter = "4 in"',
    ),
    (
        BED + '}, drop = "1.2 ft at 120 gph" }',
        "",
        "drop and bed both give its loss",
        "write one, as printed or measured",
    ),
    (
        '{ device = "chiller" }',
        "",
        "nothing tells what the chiller loses, and there is no usual loss",
        'drop = "1.2 ft at 120 gph"',
    ),
    (
        '{ device = "chiller", k = 5, exponent = 1.8 }',
        "",
        "exponent goes with drop, and here k gives the loss",
        "take it out",
    ),
]


@pytest.mark.parametrize(("part", "place", "problem", "remedy"), FAULTS)
def test_fault(part: str, place: str, problem: str, remedy: str) -> None:
    fault = the_fault(f"{PIPE}, {part}")
    assert fault.path == f'runs "run" > parts[2]{place}'
    assert problem in fault.problem
    assert remedy in fault.remedy


@pytest.mark.parametrize(
    "outlet", ['"submerged", height = "40 in"', '"jet nozzle", depth = "1 in"']
)
def test_nothing_is_submerged_outside(outlet: str) -> None:
    fault = the_fault(f"{PIPE}, {{ outlet = {outlet} }}", to="outside")
    assert "it ends outside" in fault.problem
    assert 'outlet = "free", height = "62 in"' in fault.remedy


def test_a_jet_into_the_open_air_ends_at_its_own_height() -> None:
    text = one_run(f'{PIPE}, {{ outlet = "jet nozzle", height = "40 in" }}', to="outside")
    heads = network_of(read_text(text)).layout.heads
    assert heads["run outlet"] == pytest.approx(40 * 0.0254)


def part(parts: str, index: int) -> FittingPart | OutletPart:
    found = read_text(one_run(parts)).runs[0].parts[index]
    assert isinstance(found, FittingPart | OutletPart)
    return found


def test_a_change_of_size_takes_the_pipes_beside_it() -> None:
    """And what stands behind it takes its bore from behind it."""
    one, other = 0.810 * 0.0254, 0.608 * 0.0254  # average bores of schedule 40: pvc-makers
    parts = f'{PIPE}, {{ fitting = "reducer" }}, {{ fitting = "elbow 90" }}, {NARROW}'
    reducer, elbow = part(parts, 1), part(parts, 2)
    assert (reducer.bore_from, reducer.bore_to) == pytest.approx((one, other))
    assert elbow.bore == pytest.approx(other)
    back = f'{NARROW}, {{ fitting = "elbow 90" }}, {{ fitting = "bushing" }}, {PIPE}'
    assert part(back, 1).bore == pytest.approx(other)
    assert (part(back, 2).bore_from, part(back, 2).bore_to) == pytest.approx((other, one))


@pytest.mark.parametrize(
    ("cone", "angle"),
    [("", 60.0), (', angle = "25 deg"', 25.0), (', taper = "0 mm"', 180.0)],
)
def test_the_cone_of_a_reducer(cone: str, angle: float) -> None:
    reducer = part(f'{PIPE}, {{ fitting = "reducer"{cone} }}, {NARROW}', 1)
    assert isinstance(reducer, FittingPart)
    assert reducer.cone_angle == pytest.approx(angle)


@pytest.mark.parametrize(
    ("outlet", "bore", "before"),
    [
        # Half the pipe's bore is usual; a stated throat stands; a wide one is a step like any.
        ('"jet nozzle"', 10.287, 20.574),
        ('"jet nozzle", bore = "9 mm"', 9.0, 20.574),
        ('"jet nozzle", bore = "30 mm"', 30.0, 30.0),
        ('"submerged", bore = "9 mm"', 9.0, 9.0),
        ('"submerged", bore = "9 mm", k = 1.2', 9.0, 20.574),
        ('"submerged", bore = "30 mm", k = 1.2', 30.0, 20.574),
        ('"multi-jet nozzle", holes = 6, hole = "5 mm"', 20.574, 20.574),
        ('"eductor", points = ["3 ft at 200 gph", "9 ft at 350 gph"]', 20.574, 20.574),
    ],
)
def test_the_throat_of_an_outlet(outlet: str, bore: float, before: float) -> None:
    found = part(f"{PIPE}, {{ outlet = {outlet} }}", 1)
    assert 1e3 * found.bore == pytest.approx(bore, abs=1e-3)
    assert 1e3 * found.bore_from == pytest.approx(before, abs=1e-3)
