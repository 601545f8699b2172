"""What a plan describes, and each doubt that it may raise."""

from __future__ import annotations

from math import pi, sqrt
from pathlib import Path

import pytest

from balance.plan.model import Plan
from balance.plan.read import read, read_text
from balance.plan.starter import STARTER
from balance.questions.check import Check, check
from balance.questions.check.answer import Doubt

DEMO = Path(__file__).parents[2] / "pump_curves_demo"

DRAIN = """
[[drains]]
name = "main drain"
from = "tank"
to = "sump"
role = "{role}"
inlet = "54 in"
parts = [{{ pipe = "{size} sch 40", length = "40 in" }}]
"""


def text(*changes: tuple[str, str], more: str = "") -> str:
    found = STARTER
    for old, new in changes:
        assert found.count(old) == 1, old
        found = found.replace(old, new)
    return found + more


def plan(*changes: tuple[str, str], more: str = "") -> Plan:
    return read_text(text(*changes, more=more))


def doubt(answer: Check, words: str) -> Doubt:
    (found,) = (doubt for doubt in answer.doubts if words in doubt.text)
    return found


def test_what_is_there() -> None:
    answer = check(plan())
    assert answer.safe
    assert [row.vessel for row in answer.vessels] == ["sump", "tank"]
    assert [row.lift for row in answer.branches] == pytest.approx([0.0, 0.0, 43 * 0.0254])
    assert [row.mark for row in answer.branches] == ["45 deg", "45 deg", "full"]
    (pump,) = answer.pumps
    assert pump.dead_head == pytest.approx(13 * 0.3048)
    assert pump.run_out == pytest.approx(1350 * 3.785411784e-3 / 3600)
    lengths = {(row.kind, row.size): row.length / 0.0254 for row in answer.pipes}
    assert lengths == pytest.approx(
        {
            # riser, header and return; refugium; reactor
            ("pipe", "1 in sch 40"): 20 + 14 + 46,
            ("pipe", "3/4 in sch 40"): 24,
            ("hose", "1/2 in"): 84,
        }
    )


def test_a_sound_plan_has_one_doubt_for_its_barbs() -> None:
    answer = check(plan())
    (barbs,) = answer.doubts
    assert "0.7 of their hose" in barbs.text
    assert not barbs.unsafe
    assert barbs.line == STARTER[: STARTER.index('fitting = "barb"')].count("\n") + 1
    measured = ('size = "3/4 in", hose = "1/2 in" }', 'hose = "1/2 in", bore = "9 mm" }')
    assert check(plan(measured)).doubts == ()


def test_velocities_above_5_and_8_ft_per_s_at_the_targets() -> None:
    fast = check(plan(('target = "400 gph"', 'target = "800 gph"')))
    places = [doubt.where for doubt in fast.doubts if "above the usual 5.0 ft/s" in doubt.text]
    assert places == ['runs "riser"', 'headers "manifold"', 'branches "return"']
    faster = check(plan(('target = "200 gph"', 'target = "900 gph"')))
    (found,) = (found for found in faster.doubts if found.where == 'branches "refugium"')
    assert "noise, hammer" in found.text
    # 900 gph through the average bore of 3/4 in schedule 40: 0.81 in (pvc-makers)
    velocity = 900 * 3.785411784e-3 / 3600 / (pi / 4 * (0.81 * 0.0254) ** 2) / 0.3048
    assert f"{velocity:.1f} ft/s" in found.text


def test_targets_beyond_run_out() -> None:
    answer = check(plan(('target = "400 gph"', 'target = "1500 gph"')))
    found = doubt(answer, "run-out")
    assert found.where == "pumps " + '"main"'
    assert "1800 gph" in found.text


def test_a_joint_without_a_side_leg() -> None:
    more = """
[[runs]]
name = "away"
from = "manifold start"
to = "sump"
parts = [{ pipe = "1 in sch 40", length = "20 in" }]
"""
    answer = check(plan(more=more))
    found = doubt(answer, "no loss is counted")
    assert "3 legs" in found.text
    assert found.line is not None
    named = check(plan(more=more + '\n[joints."manifold start"]\nside = "away"\n'))
    assert not any("no loss is counted" in doubt.text for doubt in named.doubts)


def test_an_outlet_under_water_that_is_not() -> None:
    outlet = '{ outlet = "submerged", depth = "0.75 in" }'
    dry = check(plan((outlet, '{ outlet = "submerged", height = "57 in" }')))
    assert not doubt(dry, "above the water surface").unsafe
    assert dry.safe
    high = check(plan((outlet, '{ outlet = "submerged", height = "59 in" }')))
    assert doubt(high, "above the rim").unsafe
    assert not high.safe


@pytest.mark.parametrize(
    ("valve", "said"),
    [("", "it has no valve"), ('{ valve = "ball", locked = true },', "its valve is locked")],
)
def test_a_branch_that_nothing_adjusts(valve: str, said: str) -> None:
    answer = check(plan(('{ valve = "ball", size = "1 in", open = "full" },', valve)))
    assert said in doubt(answer, "nothing adjusts").text


def test_a_hose_between_laminar_and_turbulent() -> None:
    # Re = 4 q / (pi D nu): 30 gph in 1/2 in of hose at 0.95 mm²/s is about 3300
    answer = check(plan(('target = "100 gph"', 'target = "30 gph"')))
    assert "Reynolds number 3" in doubt(answer, "Reynolds").text


def test_a_curve_that_was_smoothed_says_so() -> None:
    first = plan(('  "0 gph at 13 ft, 30 W",\n', '  "50 gph at 13 ft, 30 W",\n'))
    answer = check(first)
    assert answer.pumps[0].dead_head_at_least
    assert "dead head is at least" in doubt(answer, "starts above zero").text


def test_drains_that_carry_the_inflow_and_such_that_do_not() -> None:
    wide = check(plan(more=DRAIN.format(role="siphon", size="1 in")))
    assert wide.safe
    narrow = check(plan(more=DRAIN.format(role="trickle", size="1 in")))
    assert doubt(narrow, "it would run over").unsafe
    assert not narrow.safe
    # V = 0.3 √(g D) in the average bore of 1 in schedule 40, 1.033 in (pvc-makers): hills-1983; a
    # little less comes over its lip, a quarter of the bore under water, 1.83 pi D h^1.5.
    bore = 1.033 * 0.0254
    vented = 0.3 * sqrt(9.80665 * bore) * pi / 4 * bore**2
    entering = 1.83 * pi * bore * (bore / 4) ** 1.5
    assert entering < vented
    assert narrow.vessels[1].carried == pytest.approx(entering, rel=1e-3)


def test_an_emergency_drain_should_stay_dry() -> None:
    both = DRAIN.format(role="open", size="1 1/2 in") + DRAIN.format(
        role="emergency", size="2 in"
    ).replace("main drain", "last resort")
    answer = check(plan(more=both))
    assert answer.safe
    assert "emergency drain among them" in doubt(answer, "emergency").text


def test_water_passes_over_a_weir_to_the_drains_of_the_next_vessel() -> None:
    more = """
[vessels.box]
level = "40 in"
rim = "58 in"

[[weirs]]
name = "edge"
from = "tank"
to = "box"
crest = "55 in"
length = "10 in"
""" + DRAIN.format(role="siphon", size="1 in").replace('from = "tank"', 'from = "box"').replace(
        "54 in", "38 in"
    )
    answer = check(plan(more=more))
    tank, box = answer.vessels[1:]
    assert tank.inflow == pytest.approx(400 * 3.785411784e-3 / 3600)
    assert box.inflow == pytest.approx(tank.inflow)
    # Q = 1.84 L h^1.5 from the crest to the rim: francis-1883
    assert tank.carried == pytest.approx(1.84 * 0.254 * (3 * 0.0254) ** 1.5)
    assert box.carried is not None
    assert answer.safe


def test_a_siphon_carries_what_its_head_drives() -> None:
    """Darcy-Weisbach by hand: entrance 0.5, exit 1, friction of a smooth pipe, to 3 %."""
    answer = check(plan(more=DRAIN.format(role="siphon", size="1 in")))
    bore, head, length = 1.033 * 0.0254, (54 - 13) * 0.0254, 40 * 0.0254
    friction = 0.0190  # of smooth pipe at Re 8e4, from memory of the Moody diagram
    velocity = sqrt(2 * 9.80665 * head / (1.5 + friction * length / bore))
    expected = velocity * pi / 4 * bore**2
    assert answer.vessels[1].carried == pytest.approx(expected, rel=0.03)


def test_notes_say_what_is_not_looked_at() -> None:
    notes = " ".join(check(plan()).notes)
    assert "no drains are described" in notes
    assert "gauge pressure" in notes
    shut = check(
        plan(
            (
                '{ pipe = "1 in sch 40", length = "20 in" },',
                '{ valve = "ball", size = "1 in", open = "shut" },',
            )
        )
    )
    assert any("could not be reckoned" in note for note in shut.notes)


BAR = '{{ outlet = "spray bar", holes = {holes}, hole = "5 mm" }}'


def test_a_spray_bar_of_too_many_holes_gives_unevenly() -> None:
    old = '{ outlet = "submerged", depth = "0.75 in" }'
    many = check(plan((old, BAR.format(holes=30))))
    found = doubt(many, "of what it gives at its shut end")
    assert found.where.startswith('branches "return" > parts')
    few = check(plan((old, BAR.format(holes=8))))
    assert not any("shut end" in found.text for found in few.doubts)


@pytest.mark.parametrize(
    ("grain", "words"),
    [("3 mm", "this lies still"), ("1 mm", None), ("0.3 mm", "this tumbles hard")],
)
def test_a_bed_that_should_tumble(grain: str, words: str | None) -> None:
    bed = f'bed = {{ diameter = "6 in", depth = "8 in", grain = "{grain}", '
    bed += 'grain_density = "1400 kg/m3" }'
    answer = check(plan(('drop = "1 ft at 100 gph"', bed)))
    found = [doubt.text for doubt in answer.doubts if "begins to tumble at about" in doubt.text]
    assert bool(found) == (words is not None)
    if words is not None:
        assert words in found[0]


# Water that evaporates --------------------------------------------------------------------------


def test_where_evaporation_shows_and_how_much_may_be_gone() -> None:
    (row,) = check(read(DEMO / "lagoon.toml")).evaporation
    assert (row.pump, row.vessel) == ("main", "sump")
    inch, gallon = 0.0254, 231 * 0.0254**3
    area = 36 * 18 * inch**2
    assert row.fall_of_a_litre == pytest.approx(1e-3 / area)
    assert row.rate == pytest.approx(0.75 * gallon / 86400)
    assert row.to_intake == pytest.approx(area * 7 * inch)  # from 12 in down to the intake at 5 in
    assert row.time_to_intake == pytest.approx(area * 7 * inch / (0.75 * gallon) * 86400)
    assert row.to_intake is not None
    assert row.to_vortex is not None
    assert 0.0 < row.to_vortex < row.to_intake


def test_of_a_sump_in_sections_the_pumps_own_shows_it() -> None:
    (row,) = check(read(DEMO / "fish-room.toml")).evaporation
    assert row.vessel == "sump"
    assert row.fall_of_a_litre == pytest.approx(1e-3 / (0.6 * 0.5))
    assert (row.rate, row.to_intake, row.to_vortex, row.time_to_intake) == (None,) * 4


def test_a_vessel_that_a_drain_keeps_level_shows_nothing() -> None:
    drained = read_text(
        (DEMO / "fish-room.toml").read_text(encoding="utf-8")
        + '\n[[drains]]\nname = "keeps"\nfrom = "sump"\nto = "outside"\ninlet = "29 cm"\n'
        'parts = [{ pipe = "40 mm PN10", length = "1 m" }, { outlet = "free", height = "0 cm" }]\n',
        folder=DEMO,
    )
    assert check(drained).evaporation == ()


def test_what_comes_in_goes_on_by_weirs_and_drains() -> None:
    rows = {row.vessel: row for row in check(read(DEMO / "fish-room.toml")).vessels}
    tanks = sum(rows[f"tank {n}"].inflow or 0.0 for n in range(1, 7))
    assert rows["filter"].inflow == pytest.approx(tanks)
    assert rows["sump"].inflow == pytest.approx(0.0, abs=1e-12)  # what the pump takes comes back
