"""Faults of the `[change]` of a plan: line, key, what is wrong and the way out, all at once."""

from __future__ import annotations

import pytest

from balance.errors import PlanError
from balance.plan.read import read_text
from balance.questions.change import change
from tests.questions.change.plans import RETURN, TANK, plan

CASES = [
    (
        "the pump runs all the time",
        ('to = "foot"\nuse = "change"', 'to = "foot"'),
        'pumps "change pump"',
        "runs all the time",
        'use = "change"',
    ),
    (
        "a run of its line is open all the time",
        ('to = "tank"\nuse = "change"', 'to = "tank"'),
        'runs "new line"',
        "is open all the time",
        'use = "change"',
    ),
    (
        "the drain is one of another role",
        ('role = "change"', 'role = "open"'),
        "change > drain",
        "a drain of role open, which is open all the time",
        'role = "change"',
    ),
    (
        "the pump does not draw from the new water",
        ('from = "barrel"\nvolume', 'from = "tank"\nvolume'),
        "change > from",
        'no way leads from "tank" to the pump "change pump", which draws from "barrel"',
        'from = "tank"',
    ),
    (
        "the pump leads nowhere but back",
        ('from = "foot"\nto = "tank"', 'from = "foot"\nto = "barrel"'),
        'pumps "change pump" > to',
        "no way leads from the pump",
        "add a run",
    ),
    (
        "the new water does not hold so much",
        ('volume = "50 L"', 'volume = "190 L"'),
        "change > volume",
        '"barrel" holds 188 L that its pump can take, and 190 L are to come from it',
        "mix more",
    ),
    (
        "not so much stands over the inlet",
        ('inlet = "1.1 m"', 'inlet = "1.42 m"'),
        "change > volume",
        'the system holds 40.0 L that can come to the inlet of "way out", and 50.0 L',
        "change less",
    ),
    (
        "no volume",
        ('volume = "50 L"', 'volume = "0 L"'),
        "change > volume",
        "no water is changed",
        'volume = "20 gal"',
    ),
    (
        "new water that nothing brings",
        ('pump = "change pump"', ""),
        "change > from",
        'nothing brings the water of "barrel" to the system',
        'pump = "..."',
    ),
]


@pytest.mark.parametrize(
    ("edit", "path", "problem", "remedy"), [case[1:] for case in CASES], ids=[c[0] for c in CASES]
)
def test_a_fault_says_where_what_and_the_way_out(
    edit: tuple[str, str], path: str, problem: str, remedy: str
) -> None:
    asked = plan(edit)
    with pytest.raises(PlanError) as caught:
        change(asked)
    fault = next(each for each in caught.value.faults if problem in each.problem)
    assert fault.path == path
    assert remedy in fault.remedy
    assert fault.line is not None
    text = TANK.replace("OUTLET", 'free", height = "1.7 m').replace(*edit)
    key = path.partition(" > ")[2] or path.partition(" ")[2].strip('"')
    assert key in "".join(text.splitlines()[fault.line - 1 : fault.line + 1])


def test_all_faults_come_at_once() -> None:
    asked = plan(
        ('to = "foot"\nuse = "change"', 'to = "foot"'),
        ('role = "change"', 'role = "open"'),
        ('volume = "50 L"', 'volume = "190 L"'),
    )
    with pytest.raises(PlanError) as caught:
        change(asked)
    paths = [fault.path for fault in caught.value.faults]
    assert paths == ["change > drain", 'pumps "change pump"', "change > volume"]


def test_a_plan_without_a_change_says_how_to_write_one() -> None:
    asked = read_text(TANK.partition("[change]")[0].replace("OUTLET", 'free", height = "1.7 m'))
    with pytest.raises(PlanError, match=r"the plan has no water change\n.*\[change\]"):
        change(asked)


def test_a_change_without_drain_and_pump_is_none() -> None:
    asked = plan(
        ('from = "barrel"\nvolume', "volume"), ('drain = "way out"\npump = "change pump"', "")
    )
    with pytest.raises(PlanError, match="neither drain nor pump"):
        change(asked)


def test_a_volume_of_the_command_line_is_its_own_fault() -> None:
    with pytest.raises(PlanError) as caught:
        change(plan(more=RETURN), volume=0.5)
    assert {fault.file for fault in caught.value.faults} == {"--volume"}
    assert all(fault.line is None for fault in caught.value.faults)


def test_salt_that_no_formula_knows_is_refused() -> None:
    with pytest.raises(PlanError) as caught:
        change(plan(), salinity=300.0)
    (fault,) = caught.value.faults
    assert (fault.file, fault.line) == ("--salinity", None)
    assert fault.problem == "300 g/kg is beyond what is known of salt water, 50.0 g/kg"


def test_more_than_stands_over_the_inlet_may_leave_once_the_new_water_is_in() -> None:
    low = plan(('inlet = "1.1 m"', 'inlet = "1.42 m"'))
    assert change(low, order="fill first").done


def test_the_drain_may_be_a_run_but_not_of_the_new_water() -> None:
    run = """
[[runs]]
name = "spout"
from = "barrel"
to = "outside"
parts = [{ pipe = "20 mm bore", length = "1 m" }, { outlet = "free", height = "-1 m" }]
"""
    with pytest.raises(PlanError) as caught:
        change(plan(('drain = "way out"', 'drain = "spout"'), more=run))
    first, second, *_ = caught.value.faults
    assert first.path == 'runs "spout"'
    assert first.problem == '"spout" takes the old water away, but is open all the time'
    assert second.problem == '"spout" drains "barrel", which is the new water'
