"""Drawn systems are those of a plan in which the changed figures are written by hand.

Every figure is written into the file of the plan and read again, so that what a doubt does to the
laws is checked against what the reader and the solver make of the figure itself.
"""

from __future__ import annotations

import re
from dataclasses import replace
from math import exp, log

import numpy as np
import pytest
from numpy.typing import NDArray

from balance.network.arrays import Network, network_of
from balance.network.solve import solve
from balance.parts.valves import valve
from balance.plan.model import Spread
from balance.plan.read import read_text
from balance.questions.learning import doubts
from balance.questions.learning.doubts import Doubts
from balance.questions.spread.monte_carlo import solve_drawn
from tests.network.test_cut_runs import PLAN as RINGS

Floats = NDArray[np.float64]

# No fitting has a 1/Re term and all bores stand in the file, so that each figure acts alone.
PLAN = """
units = "metric"

[water]
temperature = "25 degC"

[vessels.sump]
level = "200 mm"

[vessels.tank]
level = "1100 mm"

[pumps.main]
points = ["0 lph at 3.5 m", "1500 lph at 3.1 m", "3000 lph at 2.0 m", "4200 lph at 0 m"]
from = "sump"
to = "foot"
speed = "80 %"
wear = "0 %"

[[runs]]
name = "riser"
from = "foot"
to = "cross"
parts = [
  { pipe = "24 mm bore", length = "2 m", roughness = "0.1 mm" },
  { fitting = "elbow 90", bore = "24 mm", k = 1.5 },
]

[[branches]]
name = "return"
from = "cross"
to = "tank"
parts = [
  { valve = "ball", size = "3/4 in", bore = "24 mm", open = "50 deg", k = 0.2 },
  { pipe = "24 mm bore", length = "3 m", roughness = "0.1 mm" },
  { outlet = "submerged" },
]

[[branches]]
name = "reactor"
from = "cross"
to = "sump"
parts = [
  { fitting = "barb", bore = "9 mm", hose = "13 mm", size = "3/4 in", k = 0.9 },
  { hose = "13 mm", length = "2 m" },
  { device = "reactor", drop = "0.3 m at 300 lph" },
  { hose = "13 mm", length = "1 m" },
  { outlet = "submerged" },
]

[[branches]]
name = "bed"
from = "cross"
to = "sump"
parts = [
  { valve = "gate", bore = "24 mm", size = "3/4 in", open = "2 turns", turns = 5, k = 0.3 },
  { device = "bed", drop = "0.5 m at 300 lph", exponent = 1.3 },
  { device = "sock", points = ["0.1 m at 200 lph", "0.3 m at 400 lph"] },
  { check = "swing", bore = "24 mm", k = 0.7 },
  { pipe = "24 mm bore", length = "1 m", roughness = "0.1 mm" },
]

[[branches]]
name = "sump stir"
from = "cross"
to = "sump"
parts = [
  { fitting = "barb", hose = "16 mm", size = "3/4 in", k = 12 },
  { hose = "16 mm", length = "3 m" },
  { outlet = "jet nozzle" },
]
"""

SPREAD = Spread()
BALL = '{ valve = "ball", size = "3/4 in", bore = "24 mm", open = "50 deg", k = 0.2 }'
GATE = '{ valve = "gate", bore = "24 mm", size = "3/4 in", open = "2 turns", turns = 5, k = 0.3 }'


def throttled(kind: str, opening: float, k_open: float, log_factor: float) -> float:
    """K of a valve in a bore of 24 mm whose throttling is off by a factor."""
    planned = valve(kind, bore=0.024, k_open=k_open)
    excess = float(planned.loss_coefficient(np.array([opening])).k[0]) - k_open
    return k_open + exp(log_factor) * excess


def flows_by_hand(*changes: tuple[str, str], text: str = PLAN) -> Floats:
    """Flows of all runs, (E,), of the plan with some words of its file changed."""
    for before, after in changes:
        assert before in text
        text = text.replace(before, after)
    return np.asarray(solve(network_of(read_text(text))).state.flow[:, 0])


def drawn_flows(network: Network, *moved: tuple[str, str, float]) -> Floats:
    """Flows of all runs, (E,), with doubts moved: about, beginning of the name, by how much."""
    sampler = Doubts(network)
    normal = np.zeros((len(sampler.all), 1))
    for about, name, by in moved:
        rows = [
            row
            for row, doubt in enumerate(sampler.all)
            if doubt.about == about and doubt.name.startswith(name)
        ]
        assert rows
        for row in rows:
            normal[row] = by / sampler.all[row].sd
    solved = solve_drawn(network, sampler.drawn(normal), factor=np.ones((network.topology.runs, 1)))
    assert solved.settled.all()
    return np.asarray(solved.state.flow[:, 0])


def with_k(valve_text: str, k: float) -> str:
    """The text of a valve, full open, with another coefficient."""
    return re.sub(
        r"k = .* }", f"k = {k!r} }}", re.sub(r'open = "[^"]*"', 'open = "full"', valve_text)
    )


@pytest.fixture(scope="module")
def network() -> Network:
    return network_of(read_text(PLAN))


# Of the greatest change of any flow: rounding, or what a slope in place of a curve is off.
EXACT = 1e-6
CASES = {
    "wear of the pump": (
        [(doubts.PUMPS, "main", log(0.9))],
        [('wear = "0 %"', 'wear = "10 %"')],
        EXACT,
    ),
    "speed of the pump": (
        [(doubts.SPEEDS, "main", log(1.03))],
        [('speed = "80 %"', 'speed = "82.4 %"')],
        EXACT,
    ),
    "a level": (
        [(doubts.LEVELS, "tank", 0.003)],
        [('level = "1100 mm"', 'level = "1103 mm"')],
        EXACT,
    ),
    "levels of both": (
        [(doubts.LEVELS, "tank", -0.005), (doubts.LEVELS, "sump", 0.004)],
        [('level = "1100 mm"', 'level = "1095 mm"'), ('level = "200 mm"', 'level = "204 mm"')],
        EXACT,
    ),
    "a device with a drop": (
        [(doubts.DEVICES, "reactor", log(1.2))],
        [('drop = "0.3 m at 300 lph"', 'drop = "0.36 m at 300 lph"')],
        EXACT,
    ),
    "devices with an exponent and with points": (
        [(doubts.DEVICES, "bed", log(1.2))],
        [
            ('drop = "0.5 m at 300 lph"', 'drop = "0.6 m at 300 lph"'),
            ('"0.1 m at 200 lph", "0.3 m at 400 lph"', '"0.12 m at 200 lph", "0.36 m at 400 lph"'),
        ],
        EXACT,
    ),
    "a fitting with a coefficient": (
        [(doubts.FITTINGS, "riser, 1", log(1.25))],
        [("k = 1.5", "k = 1.875")],
        EXACT,
    ),
    "a nozzle": (
        [(doubts.DEVICES, "sump stir", log(1.2))],
        [('outlet = "jet nozzle"', 'outlet = "jet nozzle", k = 1.404')],
        EXACT,
    ),
    "a barb": (
        [(doubts.BARBS, "reactor", log(1.4))],
        [("k = 0.9", "k = 1.26")],
        EXACT,
    ),
    "an open valve": (
        [(doubts.FITTINGS, "return open", log(1.25))],
        [("k = 0.2 }", "k = 0.25 }")],
        EXACT,
    ),
    "all fittings together": (
        [(doubts.COMMON, "", log(1.2))],
        [
            ("k = 1.5", "k = 1.8"),
            ("k = 0.2 }", "k = 0.24 }"),
            ("k = 0.3 }", "k = 0.36 }"),
            ("k = 0.7 }", "k = 0.84 }"),
        ],
        0.01,  # the terms of the Reynolds number of the valves change with it
    ),
    "a handle": (
        [(doubts.HANDLES, "return", 2.0 / 90.0)],
        [('open = "50 deg"', 'open = "52 deg"')],
        EXACT,
    ),
    "a spindle": (
        [(doubts.HANDLES, "bed", -0.1 / 5.0)],
        [('open = "2 turns"', 'open = "1.9 turns"')],
        EXACT,
    ),
    "where shut is on a handle": (
        [(doubts.OFFSETS, "return", 3.0 / 90.0)],
        [('open = "50 deg"', 'open = "47 deg"')],
        EXACT,
    ),
    "the curve of a ball valve": (
        [(doubts.CURVES, "return", 0.5)],
        [(BALL, with_k(BALL, throttled("ball", 50.0 / 90.0, 0.2, 0.5)))],
        EXACT,
    ),
    "the curve of a gate valve": (
        [(doubts.CURVES, "bed", -0.4)],
        [(GATE, with_k(GATE, throttled("gate", 2.0 / 5.0, 0.3, -0.4)))],
        EXACT,
    ),
    "bore of a hose": (
        [(doubts.HOSES, "reactor", log(1.03))],
        [('hose = "13 mm"', 'hose = "13.39 mm"')],
        0.002,
    ),
    "bore of a hose with the barb and the nozzle that fit it": (
        [(doubts.HOSES, "sump stir", log(0.97))],
        [('hose = "16 mm"', 'hose = "15.52 mm"')],
        0.02,  # so does the step between the two, as that to the thread
    ),
    "bore of a pipe": (
        [(doubts.PIPES, "return", log(1.01))],
        [('{ pipe = "24 mm bore", length = "3 m"', '{ pipe = "24.24 mm bore", length = "3 m"')],
        0.1,  # a step from the valve comes in, and the pipe is smoother beside its bore
    ),
    "roughness": (
        [(doubts.ROUGHNESS, "", log(1.5))],
        [('roughness = "0.1 mm"', 'roughness = "0.15 mm"')],
        0.1,  # its slope is that at 1 m/s
    ),
    "water temperature": (
        [(doubts.TEMPERATURE, "", 1.0)],
        [('temperature = "25 degC"', 'temperature = "26 degC"')],
        0.02,
    ),
    "many at once": (
        [
            (doubts.PUMPS, "main", log(0.95)),
            (doubts.LEVELS, "tank", 0.003),
            (doubts.FITTINGS, "riser, 1", log(0.8)),
            (doubts.DEVICES, "reactor", log(1.2)),
            (doubts.HANDLES, "return", -1.0 / 90.0),
            (doubts.BARBS, "reactor", log(0.7)),
        ],
        [
            ('wear = "0 %"', 'wear = "5 %"'),
            ('level = "1100 mm"', 'level = "1103 mm"'),
            ("k = 1.5", "k = 1.2"),
            ('drop = "0.3 m at 300 lph"', 'drop = "0.36 m at 300 lph"'),
            ('open = "50 deg"', 'open = "49 deg"'),
            ("k = 0.9", "k = 0.63"),
        ],
        EXACT,
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_a_doubt_does_what_the_figure_in_the_file_does(network: Network, case: str) -> None:
    moved, changes, within = CASES[case]
    planned = flows_by_hand()
    drawn, by_hand = drawn_flows(network, *moved), flows_by_hand(*changes)
    effect = np.abs(by_hand / planned - 1.0).max()
    assert effect > 2e-4
    assert np.abs(drawn / by_hand - 1.0).max() < within * effect


def test_without_any_doubt_it_is_the_plan(network: Network) -> None:
    np.testing.assert_allclose(drawn_flows(network), flows_by_hand(), rtol=1e-12)


def test_a_fitting_with_a_term_of_the_reynolds_number() -> None:
    text = PLAN.replace(", k = 1.5", "")
    moved = drawn_flows(network_of(read_text(text)), (doubts.FITTINGS, "riser, 1", log(2.0)))
    by_hand = flows_by_hand(('bore = "24 mm" },', 'bore = "24 mm", count = 2 },'), text=text)
    np.testing.assert_allclose(moved, by_hand, rtol=1e-9)


def test_a_handle_at_a_stop_is_not_set_by_eye() -> None:
    text = PLAN.replace('open = "50 deg"', 'open = "full"').replace(
        'open = "2 turns"', 'open = "shut"'
    )
    there = network_of(read_text(text))
    moved = drawn_flows(there, (doubts.HANDLES, "", -0.1))
    np.testing.assert_allclose(moved, flows_by_hand(text=text), rtol=1e-12, atol=1e-18)
    assert moved[there.row_of["bed"]] == 0.0


def test_tees_lose_more_by_their_factor() -> None:
    text = PLAN.replace(
        '[[runs]]\nname = "riser"', '[joints.cross]\nside = "riser"\n\n[[runs]]\nname = "riser"'
    )
    text = text[: text.index('[[branches]]\nname = "bed"')]
    there = network_of(read_text(text))
    assert len(there.layout.tees) == 1
    sampler = Doubts(there)
    normal = np.zeros((len(sampler.all), 1))
    (row,) = [row for row, doubt in enumerate(sampler.all) if doubt.about == doubts.TEES]
    normal[row] = log(1.3) / SPREAD.tees
    flow = solve(there).state.flow
    plain = there.passive.with_tees(0.0)(flow).head
    by_tees = there.passive(flow).head - plain
    assert np.abs(by_tees).max() > 1e-3
    drawn = sampler.drawn(normal).real.passive(flow).head
    np.testing.assert_allclose(drawn - plain, 1.3 * by_tees, rtol=1e-9, atol=1e-12)


def test_halves_of_a_run_that_was_cut_share_their_doubts() -> None:
    there = network_of(read_text(RINGS))
    sampler = Doubts(there)
    names = [(doubt.about, doubt.name) for doubt in sampler.all]
    assert len(set(names)) == len(names)
    normal = np.random.default_rng(3).standard_normal((len(names), 5))
    laws = sampler.drawn(normal).real.passive
    flow = np.full((there.topology.runs, 5), 2e-4)
    lost = replace(laws, tees=None)(flow).head
    halves = [run for run in there.layout.runs if run.name != run.whole]
    assert len(halves) >= 2
    for half in halves:
        ends = there.row_of[half.whole], there.row_of[half.name]
        np.testing.assert_allclose(lost[ends[0]], lost[ends[1]], rtol=1e-12)
