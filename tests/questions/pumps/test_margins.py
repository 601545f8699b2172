"""Margins where nothing is asked for that could rise."""

from __future__ import annotations

from tests.questions.pumps.invented import LPH, Parabola, bare, tried
from tests.questions.settings.manifolds import branch, manifold


def test_a_bleed_alone_has_nothing_to_spare() -> None:
    asked = Parabola(4.0, 4000 * LPH, watts=None).candidate()
    trial = tried(bare(target=">= 0 L/h", open_="shut"), asked)
    assert trial.meets
    assert (trial.reach, trial.fouled_reach) == (None, None)
    assert trial.wide_open > 0.0


def test_a_branch_that_nothing_is_asked_of_does_not_bound_the_others() -> None:
    asked = Parabola(4.0, 4000 * LPH).candidate()
    alone = tried(manifold(branch("a", 'target = "200 gph"')), asked)
    beside = tried(manifold(branch("a", 'target = "200 gph"'), branch("b")), asked)
    assert alone.reach is not None
    assert beside.reach is not None
    assert 1.0 < beside.reach <= alone.reach
