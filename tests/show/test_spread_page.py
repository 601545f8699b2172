"""The page of `balance spread` before and after readings."""

from __future__ import annotations

from dataclasses import replace

import pytest

from balance.plan.read import read_text
from balance.questions.spread import Spread, spread
from balance.show.spread import show
from balance.show.words import percent
from tests.questions.spread.plans import SMALL, spread_table

SURER = spread_table(ball="0.1", pump_head='"1 %"')


@pytest.fixture
def fitted() -> Spread:
    """An answer with what is known after readings, here of a plan that leaves less in doubt."""
    before = spread(read_text('title = "Small"\n' + SMALL), systems=400)
    return replace(before, after=spread(read_text(SMALL + SURER), systems=400).before)


def test_before_and_after_stand_side_by_side(
    fitted: Spread, capsys: pytest.CaptureFixture[str]
) -> None:
    show(fitted)
    page = capsys.readouterr().out
    assert max(map(len, page.splitlines())) <= 80
    after = fitted.after
    assert after is not None
    said = " ".join(page.split())
    told = percent(fitted.before.within_all)
    assert f"within tolerance: {told}, give or take 2 before the readings, " in said
    assert said.count(" after.") == 2
    (row,) = [line for line in page.splitlines() if line.startswith("reactor  ")][:1]
    for band in (fitted.before.branches[1], after.branches[1]):
        low, high = (f"{3.6e6 * flow:.0f}" for flow in (band.low, band.high))
        assert f"{low}..{high}" in row
    # What is left to do is told of what is known last.
    assert "hoses" not in page.partition("What matters most")[2].partition("Beware")[0]


def test_a_plan_without_targets_or_limits_has_no_chance_to_tell(
    capsys: pytest.CaptureFixture[str],
) -> None:
    lines = [line for line in SMALL.splitlines() if not line.startswith(("target", "limits"))]
    show(spread(read_text("\n".join(lines)), systems=200))
    page = capsys.readouterr().out
    assert "No branch has a target, so there is no chance to tell of meeting any." in page
    assert "limit" not in page


def test_a_plan_without_doubt_shares_out_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    show(spread(read_text(SMALL + spread_table()), systems=200))
    page = capsys.readouterr().out
    assert "Where the spread comes from" not in page
    assert "What matters most" not in page
    assert "within tolerance: 100 %" in page


def test_a_chance_that_is_nearly_sure_is_not_called_certain(
    capsys: pytest.CaptureFixture[str],
) -> None:
    answer = spread(read_text(SMALL), systems=200)
    show(replace(answer, before=replace(answer.before, within_all=0.998)))
    assert "within tolerance: > 99 %" in capsys.readouterr().out
