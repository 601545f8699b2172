"""Heads along the way against the solver's own, and against sums by hand."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from balance.network.along import END, START, Along, Section
from balance.network.arrays import network_of
from balance.network.solve import solve
from balance.plan.model import OutletPart, PipePart
from balance.plan.read import read_text
from tests.network.head_equations import Flowing
from tests.network.random_plans import draw_plan
from tests.network.test_cut_runs import PLAN as TRIANGLES

G = 9.80665
HANDMADE = """
units = "metric"

[vessels.high]
level = "10 m"

[vessels.low]
level = "0 m"

[[runs]]
name = "run"
from = "high"
to = "low"
parts = [
  {{ pipe = "50 mm bore", length = "10 m", friction_factor = 0.02 }},
  {middle}
  {{ pipe = "30 mm bore", length = "5 m", friction_factor = 0.03 }},
]
"""


def along(text: str) -> Along:
    return Along(solve(network_of(read_text(text))))


def sections(found: Along, name: str) -> tuple[Section, ...]:
    (stretch,) = (each for each in found.stretches() if each.name == name)
    return found.sections(stretch)


def test_heads_of_two_pipes_by_hand() -> None:
    found = along(HANDMADE.format(middle="{ k = 3.0, bore = '50 mm' },"))
    flow = found.solution.flow("run")
    wide, narrow = (flow / (pi / 4 * bore**2) for bore in (0.05, 0.03))
    heads = [10.0 - 0.5 * wide**2 / (2 * G)]  # behind a square entrance
    heads.append(heads[-1] - 0.02 * 10 / 0.05 * wide**2 / (2 * G))
    heads += [heads[-1], heads[-1] - 3.0 * wide**2 / (2 * G)]
    heads.append(narrow**2 / (2 * G) + 0.03 * 5 / 0.03 * narrow**2 / (2 * G))  # from the end, K = 1
    heads.append(narrow**2 / (2 * G))
    there = sections(found, "run")
    assert [each.head for each in there] == pytest.approx(heads, rel=1e-6)
    assert [each.velocity for each in there] == pytest.approx([wide] * 4 + [narrow] * 2)
    assert [each.bore for each in there] == pytest.approx([0.05] * 4 + [0.03] * 2)
    # Before an exit under water stands just the water that it leads into.
    assert there[-1].standing == pytest.approx(0.0, abs=1e-6)


def test_a_shut_valve_leaves_the_water_level_on_either_side() -> None:
    shut = '{ valve = "gate", size = "1 1/2 in", open = "shut" },'
    there = sections(along(HANDMADE.format(middle=shut)), "run")
    assert [each.head for each in there] == pytest.approx([10.0] * 3 + [0.0] * 3)
    assert {each.velocity for each in there} == {0.0}


def test_water_between_two_shut_valves_hangs_there_untold() -> None:
    shut = '{ valve = "gate", size = "1 1/2 in", open = "shut", locked = true },'
    middle = f'{shut} {{ pipe = "40 mm bore", length = "1 m" }}, {shut}'
    there = sections(along(HANDMADE.format(middle=middle)), "run")
    assert [each.head for each in there] == pytest.approx([10.0] * 3 + [0.0] * 3)


def test_a_check_valve_that_is_shut_parts_the_water_too() -> None:
    text = HANDMADE.format(middle='{ check = "swing", size = "1 1/2 in" },')
    uphill = text.replace('level = "10 m"', 'level = "-10 m"')
    there = sections(along(uphill), "run")
    assert [each.head for each in there] == pytest.approx([-10.0] * 3 + [0.0] * 3)


def test_backwards_heads_rise_along_a_stretch() -> None:
    text = HANDMADE.format(middle="").replace('level = "10 m"', 'level = "-10 m"')
    found = along(text)
    flow = -found.solution.flow("run")
    assert flow > 0.0
    wide, narrow = (flow / (pi / 4 * bore**2) for bore in (0.05, 0.03))
    there = sections(found, "run")
    assert there[-1].head == pytest.approx(-0.5 * narrow**2 / (2 * G), rel=1e-6)
    assert there[0].head == pytest.approx(-10.0 + wide**2 / (2 * G), rel=1e-6)


def test_a_capped_spare_stands_at_the_head_of_its_tap() -> None:
    text = HANDMADE.replace('to = "low"', 'to = "tee"').format(middle="")
    found = along(
        text
        + """
[[runs]]
name = "on"
from = "tee"
to = "low"
parts = [{ pipe = "30 mm bore", length = "5 m", friction_factor = 0.03 }]

[[branches]]
name = "spare"
from = "tee"
parts = [{ pipe = "30 mm bore", length = "1 m" }]
"""
    )
    assert {each.head for each in sections(found, "spare")} == {found.solution.head("tee")}


def test_a_throat_is_read_in_the_pipe_beside_it() -> None:
    found = along(HANDMADE.format(middle="{ k = 0.1, bore = '10 mm' },"))
    there = sections(found, "run")
    assert [each.bore for each in there] == pytest.approx([0.05] * 3 + [0.03] * 3)


def test_inlets_and_outlets_are_no_places_for_a_gauge() -> None:
    text = HANDMADE.format(middle="").replace("parts = [", "parts = [{ inlet = 'bell' },")
    found = along(text.replace("0.03 },\n]", "0.03 },\n  { outlet = 'jet nozzle' },\n]"))
    there = sections(found, "run")
    assert [each.bore for each in there] == pytest.approx([0.05, 0.05, 0.03, 0.03])
    # Before a nozzle there is pressure: 1.17 velocity heads of its throat, half as wide.
    throat = 16 * there[-1].velocity ** 2
    assert there[-1].head == pytest.approx(1.17 * throat / (2 * G), rel=1e-6)


@pytest.mark.parametrize("seed", range(60))
def test_parts_lose_what_their_run_does(seed: int) -> None:
    """From the end of a run back to its start one comes to the head of the joint there."""
    plan = read_text(draw_plan(np.random.default_rng(seed)))
    found = Along(solve(network_of(plan)))
    scale = max([1.0, *(abs(head) for head in found.heads.values() if head is not None)])
    network = found.solution.network
    for stretch in found.stretches():
        row = network.row_of[stretch.name]
        first = found.head_in(row, START)
        there = found.sections(stretch)
        if first is None or not there or stretch.from_ in plan.vessels:
            continue
        if isinstance(stretch.parts[0], PipePart):
            assert there[0].head == pytest.approx(first, abs=1e-6 * scale), stretch.name


def test_each_part_loses_what_print_says_of_it() -> None:
    """Between its two ends, of every kind of part, by laws that are written anew."""
    seen = set()
    for seed in range(60):
        found = along(draw_plan(np.random.default_rng(seed)))
        viscosity = found.solution.network.water.kinematic_viscosity
        for stretch in found.stretches():
            flow = found.solution.flow(stretch.name)
            if abs(flow) < 1e-9:
                continue
            water = Flowing(abs(flow), viscosity, flow > 0.0)
            parts = [part for part in stretch.parts if not isinstance(part, OutletPart)]
            there = found.sections(stretch)
            for part, before, after in zip(parts, there[::2], there[1::2], strict=True):
                lost = water.through(part)
                assert (before.head - after.head) * np.sign(flow) == pytest.approx(lost, abs=1e-6)
                seen.add(getattr(part, "fitting", type(part).__name__))
    assert seen >= {"PipePart", "HosePart", "ValvePart", "CheckPart", "DevicePart", "LossPart"}
    assert seen >= {"barb", "bushing", "reducer", "elbow 90", "tee run"}


def test_a_cap_leaves_the_water_level_on_either_side() -> None:
    capped = HANDMADE.format(middle='{ fitting = "cap", size = "1 1/2 in" },')
    there = sections(along(capped), "run")
    assert [each.head for each in there] == pytest.approx([10.0] * 3 + [0.0] * 3)


@pytest.mark.parametrize("seed", range(60))
def test_legs_differ_by_the_losses_of_their_tee(seed: int) -> None:
    """Without its tees' losses, a run loses the head from one end to the other inside it."""
    legs_apart(draw_plan(np.random.default_rng(seed)))


def test_legs_differ_by_the_losses_of_their_tee_where_runs_are_cut() -> None:
    legs_apart(TRIANGLES)


def legs_apart(text: str) -> None:
    found = along(text)
    solution = found.solution
    lost = solution.laws.with_tees(0.0)(solution.state.flow).head[:, 0]
    for row, run in enumerate(solution.network.layout.runs):
        start, end = found.head_in(row, START), found.head_in(row, END)
        if start is None or end is None or solution.state.held[row, 0]:
            continue
        assert start - end == pytest.approx(lost[row], abs=1e-5), run.name


def test_a_leg_has_the_bore_of_its_own_end() -> None:
    found = along(TRIANGLES)
    legs = {run.owner: section for run, section in found.legs("a")}
    assert legs.keys() == {"ab", "ca", "ad"}
    flows = {name: abs(found.solution.flow(name)) for name in legs}
    for name, section in legs.items():
        assert section.velocity == pytest.approx(flows[name] / (pi / 4 * section.bore**2))
    straight = {name: section.head for name, section in legs.items()}
    assert len({round(head, 6) for head in straight.values()}) > 1
