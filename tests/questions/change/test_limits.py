"""How much could be changed at most, and the water over the return pump's intake."""

from __future__ import annotations

import pytest

from balance.parts.gravity import vortex_depth
from balance.questions.change import change
from tests.questions.change.plans import RETURN, plan

SECTION = """
[vessels.section]
bottom = "1 m"
level = "1.5 m"
rim = "1.65 m"
length = "0.5 m"
width = "0.5 m"

[[weirs]]
name = "lip"
from = "tank"
to = "section"
crest = "1.45 m"
length = "50 cm"
"""


def test_limits_are_what_stands_over_inlet_and_intake() -> None:
    limits = change(plan()).limits
    assert limits.drained == pytest.approx((1.5 - 1.1) * 0.5, rel=1e-3)
    assert limits.new == pytest.approx((0.8 - 0.05) * 0.25)
    assert (limits.over, limits.room) == (None, None)


def test_limits_are_those_of_the_order_asked() -> None:
    limits = change(plan(), order="fill first").limits
    assert limits.drained == pytest.approx((1.5 - 1.1) * 0.5 + 0.05, rel=1e-3)
    assert limits.over == "tank"
    assert limits.room == pytest.approx((1.65 - 1.5) * 0.5, rel=1e-3)
    together = change(plan(), order="together").limits
    assert (together.drained, together.room) == (None, None)


def test_sections_joined_by_a_weir_share_their_room() -> None:
    limits = change(plan(more=SECTION), order="fill first").limits
    assert limits.room == pytest.approx((1.65 - 1.5) * (0.5 + 0.25), rel=0.05)


def test_what_is_open_is_no_limit() -> None:
    limits = change(
        plan(
            ('length = "0.5 m"\nwidth = "0.5 m"', ""),
            ('rim = "1.65 m"\n', ""),
            ('drain = "way out"', ""),
        )
    ).limits
    assert (limits.drained, limits.new, limits.room) == (None, None, None)


def test_without_an_intake_the_pump_takes_all_of_the_new_water() -> None:
    limits = change(plan(('intake = "5 cm"', ""))).limits
    assert limits.new == pytest.approx(0.8 * 0.25)


def test_the_water_over_the_intake_is_the_least_of_all_steps() -> None:
    answer = change(
        plan(more=RETURN.replace('intake = "10 cm"', 'intake = "10 cm"\nstrainer = "5 cm"'))
    )
    (cover,) = answer.intakes
    lowest = min(step.level("sump").lowest for step in answer.steps)
    assert (cover.pump, cover.vessel) == ("main", "sump")
    assert cover.least == pytest.approx(lowest - 0.1)
    assert next(s for s in answer.steps if s.kind == cover.step).level("sump").lowest == lowest
    assert cover.wanted == pytest.approx(float(vortex_depth(5.5e-4, bore=0.05)), rel=0.2)
    assert change(plan(more=RETURN)).intakes[0].wanted is None


def test_without_an_intake_the_note_says_that_nothing_is_seen() -> None:
    answer = change(plan(more=RETURN.replace('intake = "10 cm"\n', "")))
    assert answer.intakes == ()
    assert any('nothing tells the intake of "main"' in note for note in answer.notes)


def test_a_pump_at_rest_has_no_intake_to_cover() -> None:
    stopped = RETURN.replace('intake = "10 cm"', 'intake = "10 cm"\nspeed = "0 %"')
    assert change(plan(more=stopped)).intakes == ()
