"""Margins where nothing is asked for that could rise."""

from __future__ import annotations

import pytest

from balance.questions.pumps import pumps
from balance.show.which_pump import show
from tests.questions.pumps.invented import LPH, Parabola, bare, tried
from tests.questions.settings.manifolds import FREE, WEAK, branch, manifold


def test_a_bleed_alone_has_nothing_to_spare_and_the_pump_turns_against_shut_valves() -> None:
    asked = Parabola(4.0, 4000 * LPH, watts=None).candidate()
    trial = tried(bare(target=">= 0 L/h", open_="shut"), asked)
    assert (trial.meets, trial.idle, trial.backwards) == (False, ("main",), ())
    assert "turns and moves no water" in trial.why
    assert (trial.reach, trial.fouled_reach) == (None, None)
    assert trial.wide_open > 0.0


def test_a_branch_that_nothing_is_asked_of_does_not_bound_the_others() -> None:
    asked = Parabola(4.0, 4000 * LPH).candidate()
    alone = tried(manifold(branch("a", 'target = "200 gph"')), asked)
    beside = tried(manifold(branch("a", 'target = "200 gph"'), branch("b")), asked)
    assert alone.reach is not None
    assert beside.reach is not None
    assert 1.0 < beside.reach <= alone.reach


def test_a_branch_at_rest_loses_nothing_to_fouling(capsys: pytest.CaptureFixture[str]) -> None:
    # For want of head the sharer gets nothing, or a trace of it.
    plan = manifold(
        branch("a", "share = 1", to="tank"),
        branch("b", 'target = ">= 50 gph"'),
        points=WEAK,
        speed=FREE,
    )
    answer = pumps(plan, [Parabola(4.0, 4000 * LPH).candidate()])
    for trial in answer.trials:
        assert 0.0 <= trial.fouling_loss <= 1.0
    show(answer)
    assert "E+" not in capsys.readouterr().out


def test_what_runs_back_once_fouled_has_lost_all_of_its_flow() -> None:
    # The riser's pipe fouls, and at its end the head falls below the tank.
    riser = """
[[runs]]
name = "riser"
from = "foot"
to = "top"
parts = [{ pipe = "3/4 in sch 40", length = "10 ft" }]
"""
    plan = manifold(
        branch("a", 'target = "<= 60 gph"', to="tank"),
        branch("b", 'target = "500 gph"'),
        riser=riser,
    )
    trial = tried(plan, Parabola(1.8, 6000 * LPH).candidate(), fouling=2.0)
    assert trial.meets
    assert (trial.fouling_hits, trial.fouling_loss) == ("a", 1.0)


def test_limits_out_of_reach_where_nothing_can_be_turned() -> None:
    plan = manifold(
        branch(
            "a",
            "share = 1",
            valve='{ valve = "ball", size = "3/4 in", open = "30 deg", locked = true }',
        ),
        branch("b", 'target = "60 gph"', 'limits = ["10 gph", "500 gph"]', to="loft"),
    )
    trial = tried(plan, Parabola(1.0, 2000 * LPH).candidate())
    assert not trial.meets
    assert trial.shortfalls[0].out_of_reach
