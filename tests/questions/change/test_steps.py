"""The steps of a change: how long they take, where they leave the levels, what goes wrong."""

from __future__ import annotations

import re
from math import sqrt

import numpy as np
import pytest

from balance.network.course import course
from balance.parts.pumps import GRAVITY
from balance.questions.change import WaterChange, change
from tests.questions.change.plans import RETURN, plan

TANK, BARREL = 0.5, 0.25  # [m²]
TOLERANCE = 1e-9  # of all water, that no simulation may lose


def conserved(answer: WaterChange) -> bool:
    total = 0.5 * TANK + 0.8 * BARREL
    return answer.lost <= TOLERANCE * total


def level(answer: WaterChange, step: int, vessel: str) -> float:
    return answer.steps[step].level(vessel).level


def test_the_drain_takes_as_long_as_the_closed_form_says() -> None:
    """t = 2 A (sqrt(H1) - sqrt(H2)) / (a sqrt(2 g / K)); the loss is of a part, the rest ideal."""
    answer = change(plan(('{ valve = "ball", size = "20 mm", open = "shut" },', "")))
    bore, lost = np.pi / 4 * 0.02**2, 4.0 + 1.0
    high, low = 1.3, 1.3 - 0.05 / TANK
    closed = 2.0 * TANK * (sqrt(high) - sqrt(low)) / (bore * sqrt(2.0 * GRAVITY / lost))
    assert answer.steps[0].kind == "drain"
    assert answer.steps[0].lasts == pytest.approx(closed, rel=1e-5)


def test_the_new_water_takes_as_long_as_the_pump_needs_for_its_rising_lift() -> None:
    """Summed up here in small steps from flows that the network is solved for."""
    from balance.network.arrays import network_of
    from balance.network.solve import solve

    asked = plan()
    filled = change(asked).steps[1]

    def flow(height: float) -> float:
        barrel = asked.vessels["barrel"].model_copy(update={"level": height})
        pump = asked.pumps["change pump"].model_copy(update={"use": "always"})
        run = asked.runs[0].model_copy(update={"use": "always"})
        at = asked.model_copy(
            update={
                "vessels": asked.vessels | {"barrel": barrel},
                "pumps": {"change pump": pump},
                "runs": (run,),
                "drains": (),
            }
        ).with_openings({"new line": 1.0})
        return solve(network_of(at)).flow("change pump")

    heights = np.linspace(0.8, 0.8 - 0.05 / BARREL, 21)
    slowness = np.array([BARREL / flow(float(height)) for height in heights])
    time = float(-np.trapezoid(slowness, heights))
    assert filled.kind == "fill"
    assert filled.lasts == pytest.approx(time, rel=1e-4)


@pytest.mark.parametrize("order", ["drain first", "fill first", "together"])
@pytest.mark.parametrize("more", ["", RETURN])
def test_levels_come_back(order: str, more: str) -> None:
    answer = change(plan(more=more), order=order)  # type: ignore[arg-type]
    assert answer.done
    assert conserved(answer)
    assert answer.taken == pytest.approx(0.05, rel=1e-6)
    assert answer.brought == pytest.approx(0.05, rel=1e-6)
    for row in answer.steps[-1].levels:
        expected = -0.05 / BARREL if row.vessel == "barrel" else 0.0
        assert row.rise == pytest.approx(expected, abs=1e-4)


def test_what_goes_first_shows_in_the_level() -> None:
    drained, filled = change(plan(), order="drain first"), change(plan(), order="fill first")
    assert level(drained, 0, "tank") == pytest.approx(1.4)
    assert drained.steps[0].level("tank").depth == pytest.approx(0.4)
    assert level(filled, 0, "tank") == pytest.approx(1.6)


def test_an_overflow_is_told_with_its_time() -> None:
    answer = change(plan(('rim = "1.65 m"', 'rim = "1.55 m"')), order="fill first")
    (over,) = answer.troubles
    assert (over.kind, over.name) == ("overflow", "tank")
    assert not answer.done
    filling = answer.steps[0]
    assert 0.0 < over.time < filling.lasts
    # Up to its rim the tank takes half of the water.
    assert over.time == pytest.approx(0.5 * filling.lasts, rel=0.05)
    told = re.fullmatch(r".* comes to its rim at 1550 mm, and (.*) L go over", over.text)
    assert told is not None
    # Of the half above it, some stands over the rim until the drain is opened.
    assert 20.0 < float(told[1]) < 25.0


def test_a_drain_takes_no_more_than_stands_over_its_inlet() -> None:
    answer = change(plan(("1.1 m", "1.45 m")), volume=0.024)
    assert answer.done
    less = change(plan(("1.1 m", "1.45 m"), more=RETURN), volume=0.12)
    dry, short = less.troubles
    assert (dry.kind, dry.name) == ("pump dry", "main")
    assert (short.kind, short.name) == ("short", "way out")
    assert short.text == "way out takes only 101 L of 120 L: then tank stands at 1450 mm"
    over_inlet, over_intake = (less.before[0].level - 1.45) * TANK, less.before[2].level - 0.1
    assert less.taken <= over_inlet + over_intake * 0.4
    assert less.brought == pytest.approx(less.taken, rel=1e-6)
    assert not less.done


def test_the_return_pump_runs_dry_when_a_drain_takes_too_much() -> None:
    """What leaves the tank, the pump sends after it until the sump stands at its intake."""
    answer = change(plan(more=RETURN), volume=0.12)
    assert [trouble.kind for trouble in answer.troubles] == ["pump dry"]
    assert answer.troubles[0].name == "main"
    # At rest it does not.
    assert ("drain first", False) in [(way.order, way.running) for way in answer.ways]
    lowest = min(step.level("sump").lowest for step in answer.steps)
    assert lowest == pytest.approx(0.1, abs=1e-4)


def test_pumps_may_rest_meanwhile() -> None:
    asked = plan(('pump = "change pump"', 'pump = "change pump"\nrunning = false'), more=RETURN)
    answer = change(asked, volume=0.03)
    assert not answer.running
    assert [step.kind for step in answer.steps] == ["pumps off", "drain", "fill", "pumps on"]
    rested, drained = (answer.steps[place].level("sump").level for place in (0, 1))
    assert rested == pytest.approx(drained, abs=1e-4)
    assert rested > answer.before[2].level
    assert answer.steps[-1].level("sump").rise == pytest.approx(0.0, abs=1e-3)


def test_both_at_once_go_on_until_both_are_through() -> None:
    answer = change(plan(), order="together")
    assert [step.kind for step in answer.steps] == ["together", "fill"]
    both = answer.steps[0]
    assert both.taken == pytest.approx(0.05, rel=1e-6)
    assert both.brought < 0.05
    slow = change(plan(), order="together", openings={"way out": 0.3})
    assert [step.kind for step in slow.steps] == ["together", "drain"]


@pytest.mark.parametrize("throttled", [{}, {"way out": 0.4}])
def test_the_handle_that_evens_both_lines_does_so(throttled: dict[str, float]) -> None:
    """Its next marks to either side are no nearer."""
    uneven = change(plan(), order="together", openings=throttled)
    evens = uneven.evens
    assert evens is not None
    assert evens.line == ("in" if throttled else "out")

    def excess(opening: float) -> float:
        """What the drain carries more than the pump when both begin [m³/s]."""
        both = {"new line": 1.0, "way out": 1.0} | throttled | {evens.valve: opening}
        names = ("way out", "change pump", "new line")
        found = course(plan().with_openings(both), until=1e-3, opened=names, primed=["way out"])
        return float(found.flow["way out"][0] - found.flow["change pump"][0])

    step = 1.0 / 90.0
    mark = evens.opening / step
    assert mark == pytest.approx(round(mark))
    here, lower, higher = (abs(excess(evens.opening + n * step)) for n in (0, -1, 1))
    assert here < min(lower, higher)
    whole = change(plan(), order="together", openings=throttled | {evens.valve: evens.opening})
    assert whole.steps[0].taken == pytest.approx(whole.steps[0].brought, rel=0.05)  # lifts change


def test_nothing_evens_what_runs_by_turns_or_has_no_valve() -> None:
    assert change(plan()).evens is None
    valve = ('{ valve = "ball", size = "20 mm", open = "shut" },', "")
    assert change(plan(valve), order="together").evens is None


def test_valves_that_stand_shut_are_opened_and_others_stay() -> None:
    half = plan(('size = "20 mm", open = "shut"', 'size = "20 mm", open = "45 deg"'))
    full, stands, told = (
        change(plan()),
        change(half),
        change(plan(), openings={"way out": 0.5}),
    )
    assert [handle.mark for handle in full.handles] == ["full", "full"]
    assert [handle.line for handle in full.handles] == ["out", "in"]
    assert [handle.mark for handle in stands.handles] == ["45 deg", "full"]
    assert stands.steps[0].lasts == pytest.approx(told.steps[0].lasts)
    assert full.steps[0].lasts < stands.steps[0].lasts
    shut = change(plan(), openings={"way out": 0.0})
    assert (shut.taken, shut.brought, shut.done) == (0.0, 0.0, False)


def test_a_drain_or_a_pump_alone_is_enough() -> None:
    drained = change(plan(('from = "barrel"\nvolume', "volume"), ('pump = "change pump"', "")))
    assert [step.kind for step in drained.steps] == ["drain"]
    assert (drained.pump, drained.source, drained.brought) == (None, None, 0.0)
    filled = change(plan(('drain = "way out"', "")), volume=0.02)
    assert [step.kind for step in filled.steps] == ["fill"]
    assert filled.source == "barrel"


def test_traces_follow_the_steps() -> None:
    answer = change(plan())
    frame = answer.to_frame()
    assert list(frame.columns) == ["time_s", "tank_m", "barrel_m"]
    assert frame["time_s"].is_monotonic_increasing
    assert frame["tank_m"].min() == pytest.approx(1.4)
    assert frame["barrel_m"].iloc[-1] == pytest.approx(0.6)
    assert list(answer.steps_frame()["kind"]) == [step.kind for step in answer.steps]


def test_mixing_stands_on_all_water_but_the_new() -> None:
    answer = change(plan())
    assert answer.mixing is not None
    assert answer.mixing.system == pytest.approx(0.25)
    assert answer.mixing.left == pytest.approx(0.8)
    assert [row.left for row in answer.mixing.after[:3]] == pytest.approx([0.8, 0.64, 0.512])
    half, tenth = answer.mixing.reach
    assert (half.changes, tenth.changes) == (4, 11)
    assert half.exchanged == pytest.approx(0.25 * np.log(2.0))
    bucket = """
[vessels.bucket]
bottom = "0 m"
level = "0.1 m"
diameter = "0.5 m"
"""
    caught = plan(('to = "outside"', 'to = "bucket"'), more=bucket)
    mixed = change(caught).mixing
    assert mixed is not None
    assert mixed.system == pytest.approx(0.25)
    endless = plan(('length = "1 m"\nwidth = "0.5 m"', ""))
    assert change(endless).mixing is None


def test_old_water_of_an_exchange_at_once_is_what_the_simulated_flows_leave() -> None:
    """Integrated over the course: the share falls by what comes in over what there is."""
    answer = change(plan(), order="together")
    both, filled = answer.steps
    assert both.brought > 0.9 * answer.volume  # nearly steady, as the law has it
    middle = 0.25 - 0.5 * (both.taken - both.brought)
    share = np.exp(-both.brought / middle) * (1.0 - filled.brought / 0.25)
    assert answer.mixing is not None
    assert answer.mixing.left == pytest.approx(share, rel=5e-3)


def test_the_mixing_vessel_is_none_of_the_system_even_without_its_pump() -> None:
    drained = change(plan(('from = "barrel"\nvolume', "volume"), ('pump = "change pump"', "")))
    assert drained.mixing is not None
    assert drained.mixing.system == pytest.approx(0.25)
    assert '"barrel" counts as new water, not as the system\'s' in drained.notes
    assert not any("counts as new water" in note for note in change(plan()).notes)


def test_a_vessel_without_a_size_is_told_with_its_keys() -> None:
    answer = change(plan(('length = "1 m"\nwidth = "0.5 m"', "")))
    assert [step.tells for step in answer.steps] == [None, None]
    (note,) = (each for each in answer.notes if 'how large "tank" is' in each)
    assert 'add length = "..." and width = "..."' in note


def test_salt_is_told_for_what_really_comes() -> None:
    short = change(plan(), openings={"way out": 0.0}).salt
    assert short is not None
    assert (short.volume, short.comes) == (0.05, 0.0)
    whole = change(plan()).salt
    assert whole is not None
    assert whole.comes == pytest.approx(whole.volume)


def test_salt_of_the_new_water() -> None:
    assert change(plan()).salt is not None
    stronger = change(plan(), salinity=40.0).salt
    assert stronger is not None
    assert stronger.before == 35.0
    assert stronger.after == pytest.approx(36.0, abs=0.01)
    fresh = plan(more='[water]\nsalinity = "0 g/kg"\n')
    assert change(fresh).salt is None
