"""What the names of a person mean, and what is said where they mean nothing."""

from __future__ import annotations

import pytest

from balance.errors import UnknownNameError, UsageError
from balance.plan.read import read_text
from balance.questions.close import Close, close
from balance.questions.close.answer import Case
from tests.questions.close.plans import TOP, branch, plan, three

HEADER = """
[[headers]]
name = "manifold"
from = "cross"
pipe = "1 in sch 40"
taps = [
  { branch = "one", after = "3 in", parts = [{ valve = "ball", name = "isolator" }] },
  { branch = "two", after = "3 in", end = "elbow" },
]
[[branches]]
name = "one"
to = "sump"
parts = [{ valve = "gate", size = "1/2 in", turns = 5, open = "2 turns" }]
[[branches]]
name = "two"
to = "tank"
parts = [{ pipe = "1/2 in sch 40", length = "30 in" }]
"""


def only(answer: Close) -> Case:
    (case,) = answer.cases
    return case


def parts(case: Case) -> dict[str, str]:
    return {change.branch: change.part for change in case.branches if change.part}


def test_names_ignore_case_and_blanks_and_are_shut_together() -> None:
    case = only(close(three(), [" Reactor ", "REFUGIUM"]))
    assert parts(case) == {"reactor": "shut", "refugium": "shut"}
    assert case.label == "reactor + refugium"


def test_a_name_twice_is_one() -> None:
    assert only(close(three(), ["reactor", "reactor"])).label == "reactor"


def test_a_group_is_its_branches_and_each_case_of_also_stands_alone() -> None:
    asked = plan(*(branch(name) for name in "abc"), more='[groups.pair]\nbranches = ["a", "b"]\n')
    first, second = close(asked, ["c"], also=["pair"]).cases
    assert parts(first) == {"c": "shut"}
    assert parts(second) == {"a": "shut", "b": "shut"}
    *each, last = close(asked, also=["pair"]).cases
    assert [case.label for case in each] == ["a", "b", "c"]
    assert last.label == "a + b"


def test_a_header_is_its_branches() -> None:
    asked = read_text(TOP + HEADER)
    assert parts(only(close(asked, ["manifold"]))) == {"one": "shut", "two": "shut"}


def test_a_valve_in_a_header_stops_the_pump_and_lets_the_tank_run_back() -> None:
    asked = read_text(TOP + HEADER)
    case = only(close(asked, ["isolator"]))
    one, two = case.branches
    assert case.pumps[0].flow == 0.0
    assert one.flow == pytest.approx(-two.flow)
    assert two.flow < 0.0
    assert parts(case) == {}
    assert {("dead head", "main"), ("dry", "two")} <= {(h.kind, h.name) for h in case.harms}


def test_a_branch_without_a_valve_is_capped_off_and_said_so() -> None:
    answer = close(read_text(TOP + HEADER), ["two"])
    (done,) = only(answer).done
    assert (done.valve, done.opening, done.mark) == (None, None, "capped off")
    assert '"two" has no valve: it is reckoned as capped off where it begins' in answer.notes


def test_what_is_shut_or_capped_is_left_out_of_its_turn() -> None:
    spare = (
        '[[branches]]\nname = "cap"\nfrom = "cross"\nparts = [{ valve = "ball", size = "1 in" }]\n'
    )
    answer = close(plan(branch("a"), branch("b", open_="shut"), more=spare))
    assert [case.label for case in answer.cases] == ["a"]
    assert "left out: b (shut already), cap (capped)" in answer.notes


def test_an_opening_is_read_by_each_handle() -> None:
    asked = read_text(TOP + HEADER)
    (done,) = only(close(asked, ["one"], to="1 turn")).done
    assert done.what == "turned"
    assert (done.stood, done.opening) == pytest.approx((0.4, 0.2))
    assert done.mark == "1 turn"
    with pytest.raises(UsageError, match=r'^"one": "30 deg": this valve opens by more than'):
        close(asked, ["one"], to="30 deg")
    with pytest.raises(UsageError, match=r'^"two" has no valve that could be turned to "30 deg"'):
        close(asked, ["two"], to="30 deg")


def test_in_turn_only_handles_with_the_mark_are_turned() -> None:
    answer = close(read_text(TOP + HEADER), to="1 turn")
    assert [case.label for case in answer.cases] == ["one"]
    assert "left out: two (no valve)" in answer.notes
    with pytest.raises(UsageError, match='no branch that is open has a valve with a mark "30 deg"'):
        close(read_text(TOP + HEADER), to="30 deg")


def test_to_shut_is_shut() -> None:
    assert parts(only(close(three(), ["reactor"], to="shut"))) == {"reactor": "shut"}


def test_unknown_names_get_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match='"reacter"; try "reactor"'):
        close(three(), ["reacter"])
    with pytest.raises(UnknownNameError, match='"reacter"; try "reactor"'):
        close(three(), clogged={"reacter": 0.5})


def test_drains_are_refused_by_name() -> None:
    drain = """
[[drains]]
name = "overflow"
from = "tank"
to = "sump"
parts = [{ pipe = "1 in sch 40", length = "30 in" }]
"""
    with pytest.raises(UsageError, match='"overflow" is a drain, and drains are left out here'):
        close(plan(branch("a", to="tank"), more=drain), ["overflow"])


def test_a_pump_is_not_shut_but_stopped() -> None:
    with pytest.raises(UsageError, match='"main" is a pump; `balance flows --speed "main=0 %"`'):
        close(three(), ["Main"])


def test_nothing_open_is_said() -> None:
    with pytest.raises(UsageError, match="none is open"):
        close(plan(branch("a", open_="shut")))


def test_notes_say_what_a_turn_does_not() -> None:
    asked = plan(
        branch("a", open_="20 deg"),
        branch(
            "b",
            parts='{ valve = "ball", size = "1/2 in", stops = ["10 deg", "90 deg"] }',
        ),
    )
    assert '"a" stands at 20 deg: this opens it' in close(asked, ["a"], to="30 deg").notes
    kept = 'a stop keeps "b" from going below 10 deg: it is reckoned as gone'
    assert kept in close(asked, ["b"]).notes


def test_clogs_of_a_valve_or_below_nothing_are_refused() -> None:
    with pytest.raises(UsageError, match="is a valve, which does not clog here"):
        close(read_text(TOP + HEADER), clogged={"isolator": 0.5})
    with pytest.raises(UsageError, match="cannot lose less"):
        close(three(), clogged={"reactor": -0.1})
