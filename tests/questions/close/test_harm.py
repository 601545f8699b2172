"""What breaks when something is shut, and what does not count as broken."""

from __future__ import annotations

from dataclasses import replace

import pytest

from balance.plan.model import Plan
from balance.questions.close import Close, close
from balance.questions.close.answer import Case, Harm
from tests.questions.close.plans import TOP, branch, plan, three

MARKS = ("90 deg", "40 deg", "25 deg")
GPH = 0.003785411784 / 3600
PSI = 6894.757


def only(answer: Close) -> Case:
    (case,) = answer.cases
    return case


def harms(case: Case, kind: str) -> list[str]:
    return [harm.name for harm in case.harms if harm.kind == kind]


def text(harms_: tuple[Harm, ...], kind: str) -> str:
    (found,) = (harm.text for harm in harms_ if harm.kind == kind)
    return found


def flow(asked: Plan, name: str, *shut: str) -> float:
    """Of a branch, in gph; as the plan stands if nothing is shut."""
    case = only(close(asked, shut or (name,)))
    (found,) = (change for change in case.branches if change.branch == name)
    return (found.flow if shut else found.before) / GPH


def limited(limits: str) -> Plan:
    return plan(branch("a"), branch("b", more=f"limits = {limits}"), branch("c"))


def test_a_branch_that_rises_above_its_limit_breaks_it() -> None:
    free = limited('">= 0 gph"')
    most = (flow(free, "b") + flow(free, "b", "a")) / 2
    answer = close(limited(f'"<= {most:.0f} gph"'), ["a"])
    assert harms(only(answer), "limits") == ["b"]
    assert f"ABOVE its limit of {most:.0f} gph" in text(only(answer).harms, "limits")
    assert not answer.safe
    assert only(answer).harmed
    assert close(limited(f'"<= {2 * most:.0f} gph"'), ["a"]).safe


def test_what_is_above_its_limit_already_is_no_news() -> None:
    answer = close(limited('"<= 10 gph"'), ["a"])
    assert only(answer).harms == ()
    assert [harm.name for harm in answer.already if harm.kind == "limits"] == ["b"]
    assert answer.safe


def test_the_lower_limit_counts_for_all_but_what_is_shut() -> None:
    asked = limited('">= 60 gph"')
    assert flow(asked, "b") > 60
    assert harms(only(close(asked, ["b"])), "limits") == []
    assert harms(only(close(asked, ["b"], to="15 deg")), "limits") == ["b"]
    assert harms(only(close(asked, ["riser"], to=None)), "limits") == ["b"]


def test_an_upstream_stop_leaves_branches_dry() -> None:
    case = only(close(plan(branch("a"), branch("b")), ["riser"]))
    assert harms(case, "dry") == ["a", "b"]
    assert harms(case, "dead head") == ["main"]
    assert case.harms[0].kind == "dead head"  # the worst first


def test_what_is_shut_or_turned_down_on_purpose_is_not_starved() -> None:
    asked = plan(branch("a", more='target = "150 gph"'), branch("b"))
    for shut in (close(asked, ["a"]), close(asked, ["a"], to="15 deg")):
        assert harms(only(shut), "starved") == []
        assert harms(only(shut), "dry") == []


def test_a_branch_that_loses_more_than_half_is_starved() -> None:
    asked = plan(branch("a"), branch("b"))
    some = only(close(asked, clogged={"a": 0.5}))
    assert harms(some, "starved") == []
    much = only(close(asked, clogged={"a": 20.0}))
    assert harms(much, "starved") == ["a"]
    (a, _) = much.branches
    assert a.by is not None
    assert a.by < -0.5
    had = flow(asked, "a")
    assert f"less than half of the {had:.0f} gph before" in text(much.harms, "starved")


def test_the_target_decides_where_there_is_one() -> None:
    def clogged(more: str, by: float) -> Case:
        asked = plan(branch("a", more=more), branch("b"))
        return only(close(asked, clogged={"a": by}))

    had = flow(plan(branch("a"), branch("b")), "a")
    # It gets far less than half of what it had; that is what is wanted.
    little = 'target = "100 gph"\ntolerance = "50 %"'
    assert harms(clogged(little, 20.0), "starved") == []
    assert had > 250
    # It has lost little, and gets less than half of 0.9 times its target.
    known = only(close(plan(branch("a", more='target = "300 gph"'), branch("b")), ["b"]))
    assert harms(known, "starved") == []
    much = clogged('target = "300 gph"', 20.0)
    assert "less than half of the 270 gph wanted at least" in text(much.harms, "starved")
    # Nobody starves of too little where only too much is to be feared.
    assert harms(clogged('target = "<= 400 gph"', 20.0), "starved") == []


def too_weak() -> Plan:
    """A pump whose water the tank drives back while its own branch is open."""
    high = TOP.replace('bottom = "36 in"', 'bottom = "136 in"')
    high = high.replace('level = "48 in"', 'level = "148 in"').replace(
        'rim = "50 in"', 'rim = "150 in"'
    )
    wide = '{ valve = "ball", size = "1 in" }'
    return plan(branch("return", to="tank", parts=wide), branch("stir", open_="20 deg"), top=high)


def test_what_comes_nearer_is_no_break() -> None:
    answer = close(too_weak())
    (main,) = answer.pumps
    assert main.flow < 0.0
    cut, _ = answer.cases
    assert cut.label == "return"
    assert cut.pumps[0].flow > 0.0
    assert cut.pumps[0].place == "below"
    assert harms(cut, "pump") == []
    assert not cut.harmed
    # The branch that is shut no longer runs back: it is not who rises.
    (change,) = (each for each in cut.branches if each.branch == "return")
    assert change.change > 0.0
    assert cut.most is None or cut.most.branch != "return"


def test_a_share_of_what_turns_round_is_no_share() -> None:
    asked = three()
    (stops,) = close(asked, ["riser"]).cases
    (turns,) = (each for each in stops.branches if each.branch == "return")
    assert turns.before > 0.0 > turns.flow
    assert turns.by is None


def test_a_bound_is_told_apart_from_what_passes_it() -> None:
    free = limited('">= 0 gph"')
    most = flow(free, "b", "a") - 0.02
    told = text(only(close(limited(f'"<= {most:.3f} gph"'), ["a"])).harms, "limits")
    value, bound = (word for word in told.split() if word[0].isdigit())
    assert float(value) > float(bound)


def group(target: str) -> Plan:
    more = f'[groups.both]\nbranches = ["a", "b"]\ntarget = "{target}"\n'
    return plan(branch("a"), branch("b"), branch("c"), more=more)


def test_a_group_is_judged_by_its_total_while_none_of_it_is_shut() -> None:
    total = flow(group("100 gph"), "a") + flow(group("100 gph"), "b")
    asked = group(f"{total:.0f} gph")
    for shut in (["a"], ["a", "b"]):
        case = only(close(asked, shut))
        assert harms(case, "too little") == harms(case, "starved") == []
    slow = only(close(asked, clogged={"both": 3.0}))
    assert "both together get too little" in text(slow.harms, "too little")
    stopped = only(close(asked, clogged={"both": 30.0}))
    texts = [harm.text for harm in stopped.harms if harm.kind == "starved"]
    assert any(told.startswith("both together are starved: they get") for told in texts)


def test_a_missed_target_is_told_and_harms_nothing() -> None:
    def asked_for(target: str) -> Plan:
        more = f'target = "{target}"\ntolerance = "2 %"'
        return plan(branch("reactor"), branch("refugium", length="20 in", more=more))

    asked = asked_for(f"{flow(asked_for('50 gph'), 'refugium'):.0f} gph")
    answer = close(asked, ["reactor"])
    kinds = {harm.kind: harm.severe for harm in only(answer).harms if harm.name == "refugium"}
    assert kinds == {"too much": False}


def test_a_pump_leaves_its_useful_range_or_comes_back() -> None:
    asked = plan(*(branch(name, open_=mark) for name, mark in zip("abc", MARKS, strict=True)))
    three_open = close(asked, pairs=True)
    (pump,) = three_open.pumps
    assert pump.useful_range is not None
    for case in (*three_open.cases, *three_open.pairs):
        (move,) = case.pumps
        low, high = pump.useful_range
        side = "below" if move.flow < low else "above" if move.flow > high else "inside"
        assert move.place == side
        new = side not in {"inside", move.place_before}
        assert harms(case, "pump") == (["main"] if new else [])
    assert any(harms(pair, "pump") for pair in three_open.pairs)


def device(stands: str, *, first: str) -> str:
    parts = ['{ valve = "ball", size = "1/2 in", open = "30 deg", locked = true }']
    vessel = (
        f'{{ device = "can", size = "1/2 in", drop = "0.2 ft at 60 gph", stands = "{stands}" }}'
    )
    return ", ".join([vessel, *parts] if first == "device" else [*parts, vessel])


def test_the_pressure_of_the_case_counts_where_the_part_stands() -> None:
    def asked(stands: str, first: str) -> Plan:
        return plan(
            branch("a"), branch("b"), branch("can branch", parts=device(stands, first=first))
        )

    # As it stands there are about 1.5 psi at the foot of the plumbing, and 2.9 with a and b shut.
    before_valve = only(close(asked("2.2 psi", "device"), ["a", "b"]))
    assert harms(before_valve, "pressure") == ["can branch"]
    assert "its weakest part stands 2.2 psi" in text(before_valve.harms, "pressure")
    assert harms(only(close(asked("2.2 psi", "valve"), ["a", "b"])), "pressure") == []
    assert harms(only(close(asked("6 psi", "device"), ["a", "b"])), "pressure") == []


def test_a_tank_that_gets_more_than_it_drains_may_run_over() -> None:
    drain = """
[[drains]]
name = "overflow"
from = "tank"
to = "sump"
role = "open"
parts = [{ pipe = "3/4 in sch 40", length = "30 in" }]
"""
    asked = plan(
        branch("return", to="tank", parts='{ valve = "ball", size = "3/4 in" }'),
        branch("stir", parts='{ valve = "ball", size = "3/4 in" }'),
        more=drain,
    )
    answer = close(asked, ["stir"])
    case = only(answer)
    told = [harm for harm in (*answer.already, *case.harms) if harm.kind == "flood"]
    assert [harm.name for harm in told] == ["tank"]
    assert "more than the" in told[0].text


def test_air_is_looked_for_in_each_case() -> None:
    suction = TOP.replace(
        'from = "sump"\nto = "foot"', 'from = "eye"\nto = "foot"\nintake = "20 in"'
    )
    suction += """
[[runs]]
name = "suction"
from = "sump"
to = "eye"
parts = [{ valve = "gate", size = "1 in", turns = 5 }, { pipe = "1 in sch 40", length = "20 in" }]
[joints.eye]
height = "-20 in"
"""
    asked = plan(branch("a"), branch("b"), top=suction)
    case = only(close(asked, ["suction"], to="1/4 turn"))
    assert harms(case, "air") == ["eye"]
    assert not next(harm.severe for harm in case.harms if harm.kind == "air")


def test_worst_first_is_a_whole_order() -> None:
    case = only(close(plan(branch("a"), branch("b", more='limits = ">= 40 gph"')), ["riser"]))
    kinds = [harm.kind for harm in case.harms]
    assert kinds == sorted(kinds, key=["dead head", "limits", "dry", "starved"].index)
    assert replace(case, harms=()).harmed is False


def test_dead_head_presses_and_heats() -> None:
    found = close(three()).dead_head
    assert found is not None
    (pump,) = found.pumps
    assert pump.flow == 0.0
    assert not found.moves_water
    assert pump.head == pytest.approx(12 * 0.3048 * 0.8**2)
    # Shut off, the pump's head stands above the sump's water, the lowest place that is known.
    density = 1023.3
    assert found.pressure is not None
    assert found.pressure == pytest.approx(density * 9.80665 * pump.head, rel=1e-3)
    assert found.pressure_at_top_speed == pytest.approx(found.pressure / 0.8**2)
    assert found.heat == pump.power
    assert found.weakest is not None
    assert found.weakest.what == "1 in sch 40 pipe"  # a wider one stands less


def test_a_way_that_is_no_branch_keeps_the_pump_alive() -> None:
    bypass = """
[[runs]]
name = "bypass"
from = "cross"
to = "sump"
parts = [{ pipe = "1/2 in sch 40", length = "20 in" }]
"""
    found = close(plan(branch("a"), more=bypass)).dead_head
    assert found is not None
    assert found.moves_water
    assert found.pumps[0].flow > 0.0
