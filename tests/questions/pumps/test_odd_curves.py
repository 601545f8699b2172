"""Curves that no pump should have, and some do: each is tried, and what was done is told."""

from __future__ import annotations

import pytest

from balance.plan.model import Candidate
from balance.questions.pumps import pumps
from balance.show.which_pump import show
from tests.questions.pumps.invented import (
    LIFT,
    LPH,
    Parabola,
    bare,
    candidate,
    loss,
    tried,
)

FLOW = [0, 500, 1000, 2000, 3000, 4000]
HUMP = candidate(FLOW, [3.0, 3.4, 3.6, 3.0, 1.8, 0.0], [20, 24, 28, 34, 37, 38], name="hump")
FLAT = candidate(FLOW, [3.0, 3.0, 3.0, 2.8, 1.8, 0.0], [20, 24, 28, 34, 37, 38], name="flat")
NOISY = candidate(FLOW, [3.0, 2.96, 2.98, 2.5, 1.6, 0.0], [20, 24, 28, 34, 37, 38], name="noisy")
LATE = candidate([1000, 2000, 3000, 4000], [2.8, 2.4, 1.5, 0.0], [28, 34, 37, 38], name="late")
MUTE = candidate(FLOW, [3.2, 3.1, 2.9, 2.3, 1.4, 0.0], name="mute")
HIGH = candidate(FLOW[:5], [3.4, 3.3, 3.1, 2.6, 2.0], [20, 24, 28, 34, 37], name="ends high")

SAID = {
    "hump": "this pump can settle at either of two flows, or hunt between them",
    "flat": "head stays level between 0 % and 25 % of the last flow",
    "noisy": "taken for noise of the readings and smoothed",
    "late": "dead head is at least what was measured first",
}


@pytest.mark.parametrize("odd", [HUMP, FLAT, NOISY, LATE, MUTE, HIGH], ids=lambda each: each.name)
def test_it_is_tried_and_what_was_done_is_told(
    odd: Candidate, capsys: pytest.CaptureFixture[str]
) -> None:
    answer = pumps(bare(target="1200 L/h"), [odd])
    trial = next(each for each in answer.trials if not each.as_planned)
    assert trial.meets
    assert trial.flow == pytest.approx(1200 * LPH, rel=1e-6)
    show(answer, with_plot=True)
    page = capsys.readouterr().out
    told = " ".join(page.split())
    said = SAID.get(str(odd.name))
    if said is None:
        assert trial.doubts == ()
        assert "Curves" not in page.splitlines()
    else:
        assert any(said in doubt for doubt in trial.doubts)
        _, _, curves = told.partition(" Curves ")
        assert f"{odd.name}: " in curves
        assert said in curves
    assert max(map(len, page.splitlines())) <= 80


def test_dead_head_of_a_curve_that_starts_late_is_at_least_that(
    capsys: pytest.CaptureFixture[str],
) -> None:
    reactor = """
[[branches]]
name = "reactor"
from = "foot"
to = "sump"
parts = [
  { valve = "ball", size = "1/2 in", open = "shut" },
  { hose = "1/2 in", length = "1 m", stands = "60 kPa" },
]
"""
    answer = pumps(bare(target="1200 L/h", rest=reactor), [LATE, MUTE])
    dead = {trial.name: trial.dead_head for trial in answer.trials}
    assert (dead["late"].at_least, dead["mute"].at_least) == (True, False)
    pressure = dead["late"].pressure
    assert pressure is not None
    assert pressure >= 2.8 * 1000.0 * 9.80665
    show(answer)
    page = capsys.readouterr().out
    assert page.count(">= ") == 1
    assert f">= {pressure / 1e3:.1f}" in page


def test_without_power_nothing_is_said_of_watts(capsys: pytest.CaptureFixture[str]) -> None:
    answer = pumps(bare(target="1200 L/h"), [MUTE])
    trial = next(each for each in answer.trials if not each.as_planned)
    assert (trial.power, trial.efficiency, trial.heat, trial.energy, trial.cost) == (None,) * 5
    assert trial.in_useful_range is None
    assert answer.warming is None
    show(answer)
    assert "nan" not in capsys.readouterr().out.casefold()


def test_of_a_hump_the_falling_part_is_solved() -> None:
    # From its peak at 1000 L/h on the curve is the measured one: there it crosses where the
    # parabola of the plumbing goes through a measured point.
    trial = tried(bare(target=">= 1 L/h", k=k_through(2000, 3.0)), HUMP)
    assert trial.crossing is not None
    assert trial.crossing.flow == pytest.approx(2000 * LPH, rel=1e-5)
    assert trial.crossing.head == pytest.approx(3.0, rel=1e-5)


def k_through(flow: float, head: float) -> float:
    """Bare loss beside a valve of 0.5 with which plumbing asks for a head at a flow [L/h]."""
    return (head - LIFT) / (loss(1.0) * (flow * LPH) ** 2) - 0.5


@pytest.mark.parametrize("speed", [0.49, 0.51])
def test_a_pump_far_below_the_speed_of_its_curve_is_flattered(speed: float) -> None:
    strong = Parabola(8.0, 8000 * LPH)
    trial = tried(bare(target="600 L/h"), strong.candidate(speeds=(speed, speed)))
    far = any("the laws of affinity flatter a slow pump" in doubt for doubt in trial.doubts)
    assert far == (speed < 0.5)


@pytest.mark.parametrize(("target", "warned"), [("1200 L/h", True), ("2400 L/h", False)])
def test_a_hump_is_told_where_the_working_point_lies_on_it(target: str, *, warned: bool) -> None:
    """Its valve takes up what is over, so that it works on its own curve at the target's flow."""
    trial = tried(bare(target=target), HUMP)
    (duty,) = trial.pumps
    assert (duty.head > 3.0) is warned  # what was measured without flow
    assert any("here it works on its hump" in doubt for doubt in trial.doubts) is warned
