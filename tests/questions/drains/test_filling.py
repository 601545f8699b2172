"""How the water rises once a drain is blocked."""

from __future__ import annotations

import numpy as np
import pytest

from balance.questions.drains import drains, followed
from balance.questions.drains.answer import Filling, VesselDrains
from tests.questions.drains.plans import INCH, box, drain, plan, siphon, trio


def asked(*texts: str) -> tuple[VesselDrains, Filling]:
    (vessel,) = followed(drains(plan(*texts), vessel="box")).vessels
    assert vessel.filling is not None
    return vessel, vessel.filling


def test_it_rises_to_where_the_others_carry_what_comes() -> None:
    wide = [
        drain(name, role=name, inlet=inlet, size="4 in")
        for name, inlet in (("trickle", "52 in"), ("emergency", "53 in"))
    ]
    vessel, filling = asked(box(), siphon(), *wide)
    assert not vessel.floods
    assert filling.when == "as it stands"
    assert filling.spills is None
    assert filling.settled is not None
    rise = filling.rises[0]
    assert [each.vessel for each in filling.rises] == ["box", "tank"]
    # The sump gives what stands higher above, so that a little less comes in the end.
    steady = vessel.judged((filling.blocked,), "as it stands").level
    assert steady is not None
    assert rise.level[-1] == pytest.approx(steady, abs=0.1 * INCH)
    assert rise.level[-1] <= steady + 1e-4
    assert rise.level[0] == pytest.approx(54 * INCH)


def test_where_it_floods_the_time_is_that_to_the_rim() -> None:
    # Of two thin pipes one is blocked: the tank rises by what the other does not carry.
    vessel, filling = asked(
        box(), siphon(), drain("emergency", role="emergency", inlet="53 in", size="1/2 in")
    )
    case = vessel.judged((filling.blocked,), filling.when)
    assert case.floods
    assert filling.blocked == "siphon"
    assert filling.spills in ("tank", "box")
    assert filling.spills_after is not None
    # At most in the time that the greatest surplus needs to fill both, and in no less than half.
    to_fill = (60 - 56) * INCH * 60 * 24 * INCH**2 + 6 * INCH * 60 * INCH**2
    assert 0.5 < filling.spills_after / (to_fill / case.overflow) < 2.0
    assert filling.rises[1].level[0] == pytest.approx(56 * INCH)
    assert max(filling.rises[1].level) >= 60 * INCH - 1e-3


def test_the_course_keeps_its_water_and_its_times_rise() -> None:
    _, filling = asked(box(), trio())
    assert filling.lost < 1e-10
    assert (np.diff(filling.time) > 0.0).all()
    assert all(len(rise.level) == len(filling.time) for rise in filling.rises)
    assert filling.room is not None
    assert filling.room > 0.0


def test_of_many_vessels_one_is_followed() -> None:
    answer = drains(plan(box(), trio(), drain("standpipe", role="open", inlet="57 in", of="tank")))
    assert len(answer.vessels) == 2
    assert not any(vessel.filling for vessel in answer.vessels)
    answer = followed(answer)
    assert [vessel.filling is not None for vessel in answer.vessels].count(True) == 1
