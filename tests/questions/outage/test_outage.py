"""A power cut in small plants where the end follows by hand."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from balance.errors import UnknownNameError, UsageError
from balance.network.basins import basin_of
from balance.parts.gravity import vortex_depth
from balance.parts.pipes import pipe
from balance.questions.flows import flows
from balance.questions.outage import Outage, outage
from balance.questions.outage.cases import combinations_of
from balance.questions.outage.checks import checks_of, with_failed
from balance.questions.outage.pouring import poured
from tests.questions.outage.plans import BOX, SHUT, plant

SUMP, TANK = 0.5, 0.6  # areas [m²]
NO_REACTOR = (SHUT, SHUT.replace('"20 mm" }, { pipe', '"20 mm", open = "shut" }, { pipe'))


def bore_area(name: str) -> float:
    return pi / 4 * pipe(name).bore ** 2


def pipes_of(answer: Outage) -> dict[str, float]:
    return {gift.way: gift.volume for gift in answer.pipes_by}


def test_the_sump_takes_what_lies_above_the_hole_and_what_pipes_hold() -> None:
    # Riser and header lie below the sump's water and stay full: the return's pipe alone empties.
    answer = outage(plant())
    held = 1.2 * bore_area("25 mm PN16")
    assert pipes_of(answer) == {"return": pytest.approx(held)}
    assert answer.vessel("tank").end == pytest.approx(1.39, abs=2e-6)
    rise = (0.01 * TANK + held) / SUMP
    (pool,) = answer.pools
    assert pool.end == pytest.approx(0.20 + rise, abs=1e-5)
    assert pool.margin == pytest.approx(0.40 - rise, abs=1e-5)
    assert pool.room == pytest.approx((0.40 - rise) * SUMP, abs=1e-5)
    assert pool.highest_start == pytest.approx(0.60 - rise, abs=3e-4)
    assert answer.safe
    assert answer.spilt == 0.0


def test_the_vessel_says_what_stops_it_and_by_which_way_it_gave() -> None:
    tank = outage(plant()).vessel("tank")
    assert (tank.ended, tank.at) == ("break", "return")
    assert [gift.way for gift in tank.by] == ["return"]
    assert tank.given == pytest.approx(0.01 * TANK, abs=1e-8)
    assert tank.by[0].volume == pytest.approx(tank.given, rel=1e-6)


def test_without_a_hole_the_nozzle_lets_air_in() -> None:
    answer = outage(plant((', siphon_break = "1 cm"', "")))
    assert (answer.vessel("tank").ended, answer.vessel("tank").at) == ("nozzle", "return")
    assert answer.vessel("tank").end == pytest.approx(1.36, abs=2e-6)
    assert answer.blocked is None


def test_blocked_holes_are_a_case_of_their_own_and_not_the_safe_answer() -> None:
    answer = outage(plant())
    assert answer.blocked is not None
    assert not answer.blocked.holes
    assert answer.worst.holes
    more = (0.04 - 0.01) * TANK / SUMP
    assert answer.blocked.ends[0] == pytest.approx(answer.pools[0].end + more, abs=1e-5)


def test_a_check_valve_that_holds_does_not_save_the_tank() -> None:
    # With the riser's check shut the tank still siphons through the header and out by the reactor.
    answer = outage(plant())
    assert answer.checks == ("riser",)
    held = next(case for case in answer.cases if not case.failed)
    failed = next(case for case in answer.cases if case.failed)
    assert held.holding == ("riser",)
    assert held.ends[0] == pytest.approx(failed.ends[0], abs=1e-5)
    assert held.settled > failed.settled  # but more slowly


def test_with_the_other_ways_shut_it_does_and_the_safe_answer_does_not_count_on_it() -> None:
    answer = outage(plant(NO_REACTOR))
    held = next(case for case in answer.cases if not case.failed)
    assert answer.worst.failed == ("riser",)
    assert held.ends[0] < answer.worst.ends[0] - 0.01
    assert answer.vessel("tank").end == pytest.approx(1.39, abs=2e-6)


def test_the_worst_case_is_no_better_than_any() -> None:
    answer = outage(plant(NO_REACTOR, more=BOX))
    assert answer.worst == answer.cases[0]
    rooms = [round(case.room, 5) for case in answer.cases if case.room is not None]
    assert len(rooms) == len(answer.cases)
    assert rooms == sorted(rooms)
    assert len(answer.cases) == 2


def test_water_over_a_weir_and_in_its_box_comes_too() -> None:
    answer = outage(plant(NO_REACTOR, more=BOX))
    tank, box = answer.vessel("tank"), answer.vessel("box")
    # The hole and the crest lie level; the crest decides, the box drains to the siphon's inlet.
    assert tank.end == pytest.approx(1.39, abs=1e-4)
    assert (box.ended, box.at) == ("inlet", "siphon")
    assert box.end == pytest.approx(1.30, abs=4e-4)
    held = 1.2 * bore_area("25 mm PN16") + 1.1 * bore_area("32 mm PN10")
    assert answer.pipes == pytest.approx(held)  # the emergency drain is dry
    came = (tank.start - 1.39) * TANK + 0.08 * 0.02 + held
    assert answer.pools[0].end == pytest.approx(0.20 + came / SUMP, abs=1e-4)


def test_a_tank_begins_as_high_over_its_weir_as_the_flow_needs() -> None:
    plan = plant(NO_REACTOR, more=BOX)
    answer = outage(plan)
    flow = flows(plan).branches[0].flow  # at full speed as it stands
    head = (flow / (1.84 * 0.30)) ** (2 / 3)  # francis-1883
    assert 1.39 + head > 1.40
    assert answer.vessel("tank").start == pytest.approx(1.39 + head, rel=1e-6)
    assert any('"tank" was taken to stand at' in note for note in answer.notes)
    told = outage(plan, levels={"tank": 1.40})
    assert told.vessel("tank").start == 1.40
    assert not any("was taken to stand" in note for note in told.notes)


def test_a_drain_whose_inlet_nobody_told_empties_its_vessel() -> None:
    hole = BOX[BOX.index("[[drains]]") :].replace('from = "box"', 'from = "tank"')
    hole = hole[: hole.rindex("[[drains]]")].replace('inlet = "130 cm"\n', "")
    plan = plant(NO_REACTOR, ('rim = "60 cm"', 'rim = "90 cm"'), more=hole)
    answer = outage(plan)
    assert answer.vessel("tank").end == pytest.approx(1.00, abs=2e-3)
    assert answer.vessel("tank").ended in ("inlet", "empty")
    assert any("write inlet" in note for note in answer.notes)
    assert answer.pools[0].end > 0.20 + 0.39 * TANK / SUMP


@pytest.mark.parametrize("role", ["siphon", "open", "emergency"])
def test_a_drain_under_water_runs_full_whatever_its_role(role: str) -> None:
    hole = BOX[BOX.index("[[drains]]") :].replace('from = "box"', 'from = "tank"')
    hole = hole[: hole.rindex("[[drains]]")].replace('role = "siphon"', f'role = "{role}"')
    plan = plant(NO_REACTOR, ('rim = "60 cm"', 'rim = "90 cm"'), more=hole)
    answer = outage(plan)
    assert answer.vessel("tank").end == pytest.approx(1.30, abs=2e-3)
    # 60 L run out in a minute or two; with air in it that pipe would need an hour.
    at = np.interp(1.31, answer.traces[1].level[::-1], answer.time[::-1])
    assert at < 200.0


def test_a_check_valve_that_holds_keeps_the_water_of_its_stretch() -> None:
    answer = outage(plant(('high_point = "10 cm"\n', "")))  # nothing tells where the riser lies
    assert pipes_of(answer)["riser"] == pytest.approx(0.5 * bore_area("25 mm PN16"))
    held = next(case for case in answer.cases if not case.failed)
    lower = answer.worst.ends[0] - held.ends[0]
    assert lower == pytest.approx(0.5 * bore_area("25 mm PN16") / SUMP, abs=1e-5)


def test_a_small_sump_spills_and_a_lower_level_would_not() -> None:
    small = plant(('rim = "60 cm"', 'rim = "21 cm"'))
    answer = outage(small)
    assert not answer.safe
    rise = (0.01 * TANK + 1.2 * bore_area("25 mm PN16")) / SUMP
    assert answer.spilt == pytest.approx((rise - 0.01) * SUMP, rel=2e-2)
    (pool,) = answer.pools
    assert pool.room == pytest.approx(-answer.spilt)
    assert pool.highest_start == pytest.approx(0.21 - rise, abs=5e-4)
    # Run from there it holds everything, and from a little above it does not.
    assert pool.highest_start is not None
    assert outage(small, levels={"sump": pool.highest_start}).spilt == 0.0
    assert outage(small, levels={"sump": pool.highest_start + 1e-3}).spilt > 0.0


@pytest.mark.parametrize("level", [0.1, 0.3, 0.45])
def test_the_higher_it_runs_the_higher_it_ends(level: float) -> None:
    lower, higher = (outage(plant(), levels={"SUMP": level + up}) for up in (0.0, 0.05))
    assert lower.pools[0].start == level
    assert higher.pools[0].end - lower.pools[0].end == pytest.approx(0.05, abs=1e-5)


def test_tiers_empty_into_one_another() -> None:
    # The reactor's branch leads to a second tank lower down: nothing reaches the sump but by pipes.
    low = """
[vessels.low]
bottom = "100 cm"
level = "120 cm"
rim = "150 cm"
length = "60 cm"
width = "60 cm"
"""
    plan = plant(
        ('to = "sump"\nhigh_point = "15 cm"', 'to = "low"\nhigh_point = "125 cm"'),
        ('size = "25 mm" }, { pipe = "25 mm PN16", length = "50 cm" }',
         'size = "25 mm" }, { pipe = "25 mm PN16", length = "50 cm" }'),
        more=low,
    )  # fmt: skip
    answer = outage(plan)
    held = next(case for case in answer.cases if not case.failed)
    assert held.ends[0] < 0.21  # the pump's check shut: the tank gave to the lower one alone
    failed = outage(plan).vessel("low")
    assert failed.given > 0.0  # with the check failed the lower tank too runs back to the sump


def test_sections_of_a_sump_are_one_pool() -> None:
    sections = """
[vessels.filter]
bottom = "0 cm"
level = "30 cm"
rim = "55 cm"
length = "50 cm"
width = "50 cm"
[[weirs]]
name = "baffle"
from = "filter"
to = "sump"
crest = "29 cm"
length = "40 cm"
"""
    answer = outage(plant(more=sections))
    (pool,) = answer.pools
    assert pool.sections == ("sump", "filter")
    assert pool.rim == 0.55
    held = 1.2 * bore_area("25 mm PN16")
    assert answer.vessel("filter").end == pytest.approx(0.29, abs=1e-4)
    came = 0.01 * TANK + held + 0.01 * 0.25
    assert pool.end == pytest.approx(0.20 + came / SUMP, abs=1e-4)
    assert pool.room == pytest.approx((0.55 - pool.end) * SUMP + (0.55 - 0.29) * 0.25, abs=1e-4)
    # All of what comes back fits above a level that both then share.
    assert pool.highest_start == pytest.approx(0.55 - (0.01 * TANK + held) / 0.75, abs=5e-4)


def test_each_pool_has_its_own_worst_case_and_answers_for_its_own_rims_alone() -> None:
    # With the pump's check shut the tank floods the small tank below it; with it failed, the sump
    # gets the water. What spills above is told, but the sump's figures are those of its worst case.
    low = """
[vessels.low]
bottom = "100 cm"
level = "120 cm"
rim = "120.2 cm"
length = "60 cm"
width = "60 cm"
"""
    plan = plant(
        ('to = "sump"\nhigh_point = "15 cm"', 'to = "low"\nhigh_point = "125 cm"'), more=low
    )
    answer = outage(plan)
    assert answer.worst.failed == ()
    assert answer.spilt == pytest.approx(0.01 * TANK - 0.002 * 0.36, rel=5e-2)
    assert not answer.safe
    (pool,) = answer.pools
    assert pool.failed == ("riser",)
    assert pool.end == max(case.ends[0] for case in answer.cases)
    assert pool.room == pytest.approx((0.60 - pool.end) * SUMP)
    # From its highest level no case spills the sump: it is the small tank that does.
    assert pool.highest_start is not None
    there = outage(plan, levels={"sump": pool.highest_start}).pools[0]
    assert there.room is not None
    assert 0.0 <= there.room < 5e-4 * SUMP


def test_a_section_that_fills_over_a_weir_spills_over_its_own_rim() -> None:
    sections = """
[vessels.filter]
bottom = "0 cm"
level = "30 cm"
rim = "31 cm"
length = "50 cm"
width = "50 cm"
[[weirs]]
name = "baffle"
from = "filter"
to = "sump"
crest = "29 cm"
length = "40 cm"
"""
    start = {"sump": 0.30, "filter": 0.30, "tank": 1.39}
    levels, spills = poured(plant(more=sections), start, {"sump": 0.015})
    assert spills["filter"] == pytest.approx(0.015 - 0.01 * 0.75, rel=1e-3)
    assert spills["sump"] == 0.0
    assert levels["filter"] == pytest.approx(0.31, abs=1e-5)
    assert levels["sump"] == pytest.approx(0.31, abs=1e-5)


def test_every_simulation_keeps_its_water() -> None:
    answer = outage(plant(NO_REACTOR, more=BOX))
    total = 0.20 * SUMP + 0.40 * TANK + 0.28 * 0.02
    assert answer.lost <= 1e-9 * total
    assert all(case.lost <= 1e-9 * total for case in answer.cases)
    # What vessels give and pipes let go is what the sump gains.
    given = sum(v.given for v in answer.vessels if v.vessel != "sump") + answer.pipes
    basin = basin_of(plant().vessels["sump"])
    assert basin is not None
    (pool,) = answer.pools
    gained = float(basin.volume(pool.end) - basin.volume(pool.start))
    assert gained == pytest.approx(given, abs=2e-6)


def test_the_course_of_the_worst_case() -> None:
    answer = outage(plant())
    (broken,) = (each for each in answer.happenings if each.kind == "uncovered")
    assert (broken.name, broken.vessel) == ("return", "tank")
    assert broken.time == pytest.approx(answer.worst.settled, rel=0.05)
    assert len(answer.time) <= 120
    assert (np.diff(answer.time) > 0.0).all()
    traces = {trace.vessel: trace.level for trace in answer.traces}
    assert traces["tank"][0] == pytest.approx(1.40, abs=1e-12)
    assert traces["tank"][-1] == pytest.approx(1.39, abs=1e-4)
    assert list(answer.to_frame().columns) == ["time_s", "sump_m", "tank_m"]
    assert len(answer.cases_frame()) == 2


# Restart ----------------------------------------------------------------------------------------


def test_the_pump_takes_back_what_had_run_down_before_drains_return_any() -> None:
    answer = outage(plant(NO_REACTOR, more=BOX))
    primed, open_ = answer.restart
    assert (primed.pump, primed.vessel) == ("main", "sump")
    assert primed.primes
    assert not open_.primes
    assert primed.lowest < answer.pools[0].end
    assert open_.lowest < primed.lowest  # more stands in the box until the emergency carries it
    assert primed.covered
    assert primed.intake == 0.05
    # The vortex depth of the strainer at the pump's greatest flow.
    assert primed.needed is not None
    flow = 2.5e-3 / 3.6
    assert primed.needed == pytest.approx(0.05 + float(vortex_depth(flow, bore=0.08)), abs=0.02)


def test_a_pump_that_draws_air_is_told() -> None:
    answer = outage(plant(NO_REACTOR, ('intake = "5 cm"', 'intake = "19.9 cm"'), more=BOX))
    assert [low.covered for low in answer.restart] == [True, False]  # siphons that run full save it
    assert not answer.safe
    assert answer.spilt == 0.0


def test_an_intake_in_the_air_from_the_start_is_not_covered() -> None:
    dry = plant(('intake = "5 cm"', 'intake = "19.9 cm"'))
    answer = outage(dry, levels={"sump": 0.15})
    assert [low.covered for low in answer.restart] == [False]
    assert not answer.safe


def test_without_an_intake_nothing_is_judged() -> None:
    answer = outage(plant(('intake = "5 cm"\nstrainer = "8 cm"\n', "")))
    assert {(low.covered, low.deep, low.needed) for low in answer.restart} == {(None, None, None)}


# Cases and words --------------------------------------------------------------------------------


def test_every_combination_of_few_check_valves_and_the_telling_ones_of_many() -> None:
    assert list(combinations_of(())) == [()]
    few = list(combinations_of("ab"))
    assert few[0] == ("a", "b")
    assert sorted(few) == [(), ("a",), ("a", "b"), ("b",)]
    assert len(set(combinations_of("abcdefgh"))) == 256
    assert len(set(combinations_of("abcdefghi"))) == 1 + 9 + 9 + 1


def test_check_valves_are_named_by_their_stretch() -> None:
    two = '{ check = "swing", size = "25 mm" }, { check = "ball", size = "25 mm" }'
    plan = plant(('{ check = "swing", size = "25 mm" }', two))
    assert checks_of(plan) == ("riser, 1 of 2", "riser, 2 of 2")
    failed = with_failed(plan, ["riser, 2 of 2"])
    assert checks_of(failed) == ("riser",)
    assert [part.failed for part in failed.runs[0].parts[:2]] == [False, True]  # type: ignore[union-attr]


def test_many_cases_on_several_cores_are_those_of_one(monkeypatch: pytest.MonkeyPatch) -> None:
    check = '{ check = "swing", size = "25 mm" }, '
    valves = [f'[{{ valve = "ball", size = "{size} mm" }}' for size in (25, 20)]
    plan = plant(*((valve, f"[{check}{valve[1:]}") for valve in valves))
    assert checks_of(plan) == ("riser", "return", "reactor")
    told: list[tuple[int, int]] = []
    many = outage(plan, told=lambda done, whole: told.append((done, whole)))
    assert told == [(done, 9) for done in range(1, 10)]
    monkeypatch.setattr("balance.questions.outage.question.WORTH_CORES", 100)
    one = outage(plan)
    assert many.cases == one.cases
    assert many.blocked == one.blocked
    # With the return's own check valve nothing leaves the tank, whatever the others do.
    kept = [case for case in one.cases if "return" in case.holding]
    assert len(kept) == 4
    assert max(case.ends[0] for case in kept) < min(
        case.ends[0] for case in one.cases if "return" in case.failed
    )


def test_what_is_taken_for_granted_is_said() -> None:
    notes = " ".join(outage(plant((', depth = "4 cm", siphon_break = "1 cm"', ""))).notes)
    assert 'nothing tells how deep "return" ends in "tank"' in notes
    crest = ('level = "140 cm"\n', 'level = "140 cm"\ncrest = "139 cm"\nweir_length = "20 cm"\n')
    drained = BOX[BOX.index("[[drains]]") :].replace('from = "box"', 'from = "tank"')
    notes = " ".join(outage(plant(crest, more=drained)).notes)
    assert 'the overflow box of "tank" is not in the plan' in notes


def test_words_that_make_no_sense_are_refused() -> None:
    with pytest.raises(UnknownNameError, match='no vessel is called "sumpp"; try "sump"'):
        outage(plant(), levels={"sumpp": 0.2})
    with pytest.raises(UsageError, match="cannot stand there"):
        outage(plant(), levels={"sump": 0.7})
