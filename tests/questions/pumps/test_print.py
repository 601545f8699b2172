"""Pumps of worked problems, compared on the plans of those problems."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from balance.plan.model import Candidate, Plan
from balance.plan.read import read, read_text
from balance.questions.head_lines import HeadLine
from balance.questions.pumps import Pumps, pumps
from tests.questions.pumps.invented import candidate, tried

PUBLISHED = Path(__file__).parents[2] / "published"
GPM = 231 * 0.0254**3 / 60.0 * 3.6e6  # [L/h], by definition
FOOT, HP, CFM = 0.3048, 745.699872, 0.3048**3 / 60.0 * 3.6e6
AT_60_DEGF, AT_TEST = 999.0, 998.2  # kg/m³ of fresh water: from memory, and as curves are tested


def asked(plan: Plan) -> Plan:
    """The plan with a wish, as the question wants one; the branch is shut and changes nothing."""
    spare = read_text(
        """
[vessels.a]
level = "1 m"
[vessels.b]
level = "0 m"
[[branches]]
name = "bleed"
from = "a"
to = "b"
target = ">= 0 gph"
parts = [{ valve = "ball", bore = "15 mm", open = "shut" }]
"""
    )
    (pump,) = plan.pumps.values()
    (bleed,) = spare.branches
    return plan.model_copy(
        update={"branches": (bleed.model_copy(update={"from_": pump.to, "to": pump.from_}),)}
    )


def compared(name: str, *more: Candidate) -> Pumps:
    plan = asked(read(PUBLISHED / f"{name}.toml"))
    (pump,) = plan.pumps.values()
    other = Candidate.model_construct(
        name="again", curve=pump.curve, speed_range=(1.0, 1.0), speed_step=0.01
    )
    return pumps(plan, [other, *more])


def at(line: HeadLine, flow: float) -> float:
    """Head on a line drawn through points."""
    return float(np.interp(flow, line.flow, line.head))


# The printed duty: flow [L/h], head [m], limits of both as tests/published has them.
DUTIES = {
    # white-2011, example 11.6, from memory
    "duty_point": (15_200 * GPM, 430 * FOOT, 50 * GPM, 1 * FOOT),
    # cengel-cimbala, example 14-1: 0.83 in of water is 699.6 in of air
    "fan_and_duct": (650 * CFM, 699.6 * 0.0254, 5 * CFM, 4.2 * 0.0254),
    # cengel-cimbala, example 8-7, p. 358
    "pump_and_parallel_pipes": (0.0300 * 3.6e6, 19.1, 0.00005 * 3.6e6, 0.05),
}


@pytest.mark.parametrize("name", DUTIES)
def test_pump_and_plumbing_cross_at_the_printed_duty(name: str) -> None:
    flow, head, flow_within, head_within = DUTIES[name]
    answer = compared(name)
    for trial in answer.trials:
        assert trial.crossing is not None
        assert trial.crossing.flow * 3.6e6 == pytest.approx(flow, abs=flow_within)
        assert trial.crossing.head == pytest.approx(head, abs=head_within)
        # Both lines go through the printed point: at the printed flow each has the printed head,
        # within its limit and what the head changes over the limit of the flow.
        for line in (answer.system, trial.line):
            assert line is not None
            steep = abs(at(line, (flow + flow_within) / 3.6e6) - at(line, flow / 3.6e6))
            assert at(line, flow / 3.6e6) == pytest.approx(head, abs=head_within + steep)


def test_the_plumbing_of_the_parallel_pipes_by_hand() -> None:
    # cengel-cimbala, example 8-7: 11.1 m is lost on top of 8 m of lift, at 0.0300 m³/s.
    system = compared("pump_and_parallel_pipes").system
    assert system is not None
    assert at(system, 0.0300) - 8.0 == pytest.approx(11.1, abs=0.05)


def test_eight_kilowatts_at_seven_tenths() -> None:
    # cengel-cimbala, example 8-7: the electric power is given, the efficiency is what comes of it.
    plan = asked(read(PUBLISHED / "pump_and_parallel_pipes.toml"))
    measured = plan.pumps["pump"].curve[0].curve.measured
    motor = candidate(measured.flow * 3.6e6, measured.head, np.full(len(measured.flow), 8000.0))
    trial = tried(plan, motor)
    assert trial.power == pytest.approx(8000.0, rel=1e-3)
    assert trial.efficiency == pytest.approx(0.70, abs=0.001)


PIPE = """
units = "us"

[water]
density = "998.2 kg/m3"
kinematic_viscosity = "1e-6 m2/s"

[vessels.lower]
level = "0 ft"

[vessels.upper]
level = "{lift} ft"

[pumps.main]
points = ["0 gpm at 10 ft", "50 gpm at 5 ft", "100 gpm at 0 ft"]
from = "lower"
to = "foot"

[power]
price = 0.12
hours = {hours}

[[branches]]
name = "line"
from = "foot"
to = "upper"
target = "{target} gpm"
parts = [
  {{ valve = "ball", bore = "{bore} in" }},
  {parts}
]
"""


def test_a_pump_meets_a_house_line_of_munsons() -> None:
    # munson, example 12.4, from memory: the plumbing asks 10 + 4.43 Q² ft, Q in cfs (6 in, 200 ft,
    # f .02, K 3.0 in all), and meets the pump at 1600 gpm and 66.5 ft, where 84 % make 32.0 hp.
    # The pump's curve is not printed: here it is any that goes through that point.
    plan = read_text(
        PIPE.format(
            lift=10,
            hours=24,
            target=1600,
            bore=6,
            parts='{ pipe = "6 in bore", length = "200 ft", friction_factor = 0.02 }, '
            '{ k = 2.95, bore = "6 in" }, { outlet = "ideal" }',
        ).replace(
            '{ valve = "ball", bore = "6 in" }', '{ valve = "ball", bore = "6 in", k = 0.05 }'
        )
    )
    power = 32.0 * HP
    pump = candidate(
        np.array([0.0, 800.0, 1600.0, 2400.0]) * GPM,
        np.array([90.0, 85.0, 66.5, 30.0]) * FOOT,
        np.full(4, power),
    )
    answer = pumps(plan, [pump])
    trial = next(trial for trial in answer.trials if not trial.as_planned)
    assert trial.crossing is not None
    # printed to 100 gpm and to 0.5 ft
    assert trial.crossing.flow * 3.6e6 / GPM == pytest.approx(1600, abs=50)
    assert trial.crossing.head / FOOT == pytest.approx(66.5, abs=0.5)
    assert answer.system is not None
    cfs = 60.0 * CFM / 3.6e6
    for flow in np.linspace(1.0, 4.0, 7):
        # the coefficient is printed to 0.005
        assert at(answer.system, flow * cfs) / FOOT == pytest.approx(
            10.0 + 4.43 * flow**2, abs=0.006 * flow**2 + 0.06
        )
    assert trial.efficiency == pytest.approx(0.84, abs=0.015)  # of 1600 gpm at 66.3 to 66.5 ft


def test_wire_to_water_and_what_it_costs_by_crane() -> None:
    # crane-tp410, example 7.34: 428 ft and 700 gpm at 60 degF, efficiencies .707 of the pump, .95
    # of the motor and .96 of the drive; .6448 wire to water, 117.39 hp at the wire, and 84 033 $
    # for 8000 h at 0.12 $ (83 970 in print).  Power at the wire is all that a curve holds.
    wire = 117.39 * HP
    plan = read_text(
        PIPE.format(
            lift=400, hours=8000 / 365, target=700, bore=6, parts='{ outlet = "ideal" }'
        ).replace("998.2 kg/m3", f"{AT_60_DEGF} kg/m3")
    )
    pump = candidate(
        np.array([0.0, 350.0, 700.0, 1000.0]) * GPM,
        np.array([520.0, 500.0, 428.0, 300.0]) * FOOT,
        np.full(4, wire * AT_TEST / AT_60_DEGF),
    )
    trial = tried(plan, pump)
    assert trial.meets
    assert trial.pumps[0].head / FOOT == pytest.approx(428.0, rel=1e-4)
    assert trial.power == pytest.approx(wire, rel=1e-4)
    assert trial.efficiency == pytest.approx(0.6448, abs=0.0002)  # printed to four figures
    assert trial.energy == pytest.approx(117.39 * HP / 1e3 * 8000, rel=1e-4)
    assert trial.cost == pytest.approx(84_033, rel=2e-4)  # the worked solution in code
    assert trial.cost == pytest.approx(83_970, rel=1e-3)  # print, which rounds on the way
    assert trial.cost is not None
    assert trial.total_cost is None  # nobody told its price


def test_affinity_by_crane_on_a_plan() -> None:
    # crane-tp410, example 7.33: 126 ft, 400 gpm and 17.5 hp at 3500 rpm are 194.29 gpm, 29.726 ft
    # and 2.0053 hp at 1700 rpm.  The valve makes up what the pump gives and the pipe does not lose.
    speed = 1700.0 / 3500.0
    plan = read_text(
        PIPE.format(lift=10, hours=24, target=194.29, bore=6, parts='{ outlet = "ideal" }')
    )
    pump = candidate(
        np.array([0.0, 200.0, 400.0, 800.0]) * GPM,
        np.array([160.0, 152.0, 126.0, 0.0]) * FOOT,
        np.full(4, 17.5 * HP),
        speeds=(speed, speed),
    )
    trial = tried(plan, pump)
    assert trial.flow * 3.6e6 / GPM == pytest.approx(194.29, rel=1e-4)
    assert trial.pumps[0].head / FOOT == pytest.approx(29.726, rel=1e-4)
    # 3 W are taken for standby that does not fall with speed, 0.2 % of the 2 hp.
    assert trial.power is not None
    assert trial.power / HP == pytest.approx(2.0053, rel=2.5e-3)


def test_affinity_by_fox_and_mcdonald_on_a_plan() -> None:
    # fox-mcdonald, example 10.7: 300 gpm at 21.9 ft and 25 ft shut off at 1170 rpm are 448.7 gpm,
    # 49.0 ft and 55.9 ft at 1750 rpm.
    speed = 1750.0 / 1170.0
    plan = read_text(
        PIPE.format(lift=30, hours=24, target=448.7, bore=6, parts='{ outlet = "ideal" }')
    )
    pump = candidate(
        np.array([0.0, 150.0, 300.0, 600.0]) * GPM,
        np.array([25.0, 24.2, 21.9, 8.0]) * FOOT,
        speeds=(speed, speed),
    )
    trial = tried(plan, pump)
    assert trial.meets
    assert trial.pumps[0].head / FOOT == pytest.approx(49.0, abs=0.05)
    assert trial.line is not None
    assert trial.line.head[0] / FOOT == pytest.approx(55.9, abs=0.05)
