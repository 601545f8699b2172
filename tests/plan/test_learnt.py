"""What a plan tells of readings: its numbers in SI, how they hang together, each fault in words."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balance.errors import PlanError
from balance.plan.model import Learnt, LearntNumber, Plan
from balance.plan.read import read_text
from tests.plan.plans import PLAN, line_of

NUMBERS = """
[learnt]
readings = "lagoon-readings.csv"

[[learnt.numbers]]
of = "pump"
name = "Main"
value = "97.2 %"
sure = "1.1 %"

[[learnt.numbers]]
of = "loss"
name = "carbon  REACTOR"
value = "112 %"
sure = "9 %"
with = [-0.31]

[[learnt.numbers]]
of = "throttling"
name = "lagoon left"
value = "135 %"
sure = "21 %"
with = [-0.1, 0.4]

[[learnt.numbers]]
of = "offset"
name = "refugium"
value = "-1.8 deg"
sure = "0.9 deg"

[[learnt.numbers]]
of = "offset"
name = "main drain"
value = "1/2 turn"
sure = "2 %"
with = [0, 0, 0, 1]

[[learnt.numbers]]
of = "mains"
value = "94 %"
sure = "0 %"

[[learnt.numbers]]
of = "bucket"
value = "101 %"
sure = "1.2 %"
"""
TEXT = PLAN + NUMBERS


def learnt(text: str) -> Learnt:
    found = read_text(text).learnt
    assert found is not None
    return found


def told(text: str) -> list[str]:
    with pytest.raises(PlanError) as caught:
        read_text(text, file="plan.toml")
    return [str(fault) for fault in caught.value.faults]


def spoilt(old: str, new: str) -> str:
    assert NUMBERS.count(old) >= 1, old
    return PLAN + NUMBERS.replace(old, new, 1)


def test_a_plan_without_readings_has_learnt_nothing() -> None:
    assert read_text(PLAN).learnt is None


def test_numbers_in_si_under_the_names_of_the_plan() -> None:
    found = learnt(TEXT)
    assert found.readings == "lagoon-readings.csv"
    assert [(number.of, number.name) for number in found.numbers] == [
        ("pump", "main"),
        ("loss", "carbon reactor"),
        ("throttling", "lagoon left"),
        ("offset", "refugium"),
        ("offset", "main drain"),
        ("mains", None),
        ("bucket", None),
    ]
    assert [number.value for number in found.numbers] == pytest.approx(
        [0.972, 1.12, 1.35, -1.8 / 90, 0.5 / 6, 0.94, 1.01]
    )
    assert [number.sure for number in found.numbers] == pytest.approx(
        [0.011, 0.09, 0.21, 0.9 / 90, 0.02, 0.0, 0.012]
    )
    assert [number.with_ for number in found.numbers] == [
        (),
        (-0.31,),
        (-0.1, 0.4),
        (),
        (0, 0, 0, 1),
        (),
        (),
    ]


def test_a_number_by_its_kind_and_name() -> None:
    found = learnt(TEXT)
    assert found.value("pump", "MAIN", default=1.0) == pytest.approx(0.972)
    assert found.value("mains", default=1.0) == pytest.approx(0.94)
    assert found.value("loss", "refugium", default=1.0) == 1.0
    assert found.value("offset", "carbon reactor", default=0.0) == 0.0


def test_valves_of_all_stretches_by_the_names_of_the_plan() -> None:
    """Valves of headers, named ones and locked ones are found as `Plan.valves` calls them."""
    text = PLAN.replace(
        '{ branch = "refugium", after = "4 in" }',
        '{ branch = "refugium", after = "4 in", parts = [{ valve = "gate", turns = 5 }] }',
    ).replace(
        '{ valve = "ball", size = "1 in" },',
        '{ valve = "gate", size = "1 in", name = "left gate", turns = 8 },\n'
        '  { valve = "ball", size = "1 in", locked = true },\n'
        '  { valve = "globe", size = "1 in", locked = true, turns = 4 },',
    )
    names = [ref.name for ref in read_text(text).valves()]
    assert names == [
        "left header to refugium",
        "carbon reactor",
        "refugium",
        "spare 1",
        "left gate",
        "lagoon left",
        "lagoon left valve 3",
        "main drain",
    ]
    for name in names:
        text += (
            f'[[learnt.numbers]]\nof = "offset"\nname = "{name.upper()}"\n'
            'value = "1 %"\nsure = "1 %"\n'
        )
    text = text.replace(
        'name = "LAGOON LEFT VALVE 3"\nvalue = "1 %"',
        'name = "LAGOON LEFT VALVE 3"\nvalue = "1 turn"',
    )
    found = learnt(text)
    assert [number.name for number in found.numbers] == names
    assert found.value("offset", "lagoon left valve 3", default=0.0) == pytest.approx(0.25)


FAULTS = [
    (
        'name = "Main"',
        'name = "mian"',
        'learnt > numbers[1] > name: there is no pump "mian"\n    nearest: "main"',
    ),
    (
        'name = "Main"',
        'name = "riser"',
        'learnt > numbers[1] > name: "riser" is a run, not a pump\n    name a pump of this plan',
    ),
    (
        'name = "carbon  REACTOR"',
        'name = "carbon reacter"',
        (
            'learnt > numbers[2] > name: there is no branch "carbon reacter"\n'
            '    nearest: "carbon reactor"'
        ),
    ),
    (
        'name = "lagoon left"',
        'name = "lagoon right"',
        'learnt > numbers[3] > name: there is no valve "lagoon right"\n    nearest: "lagoon left"',
    ),
    (
        'name = "lagoon left"',
        'name = "riser"',
        'learnt > numbers[3] > name: there is no valve "riser"\n    name a valve of this plan',
    ),
    (
        'name = "main drain"\n',
        "",
        "learnt > numbers[5]: name is missing\n    name the valve of this plan that it tells of",
    ),
    (
        'of = "mains"',
        'of = "mains"\nname = "riser"',
        "learnt > numbers[6] > name: mains stands once for the whole plan\n    take name out",
    ),
    (
        'name = "main drain"\nvalue = "1/2 turn"',
        'name = "Refugium"\nvalue = "2 %"',
        (
            'learnt > numbers[5]: offset of "refugium" stands here for the second time\n'
            "    keep one of the two"
        ),
    ),
    (
        'of = "bucket"',
        'of = "mains"',
        "learnt > numbers[7]: mains stands here for the second time\n    keep one of the two",
    ),
    (
        'of = "bucket"',
        'of = "buckett"',
        (
            'learnt > numbers[7] > of: "buckett" is not one of the words known here\n'
            '    nearest: "bucket"; known: "pump", "loss", "throttling", "offset", "mains", '
            '"bucket"'
        ),
    ),
    (
        "with = [-0.1, 0.4]",
        "with = [-0.1]",
        (
            "learnt > numbers[3] > with: 2 numbers stand above, and correlations with 1 are given\n"
            "    write one for each of those, or take with out"
        ),
    ),
    (
        "with = [-0.31]",
        "with = [-1.31]",
        "learnt > numbers[2] > with[1]: -1.31 is no correlation\n    correlations are from -1 to 1",
    ),
    (
        "with = [-0.31]",
        "with = [nan]",
        "learnt > numbers[2] > with[1]: nan is no correlation\n    correlations are from -1 to 1",
    ),
    (
        "with = [-0.31]",
        'with = ["-0.31"]',
        (
            'learnt > numbers[2] > with[1]: "-0.31" is not a number\n'
            "    write with = [-0.31], without quotation marks"
        ),
    ),
    (
        "with = [-0.31]",
        "with = -0.31",
        "learnt > numbers[2] > with: -0.31 is not a list\n    write with = [ ... ]",
    ),
    (
        "with = [-0.1, 0.4]",
        "with = [1, 1]",
        (
            "learnt: the correlations of its numbers contradict one another: their matrix has the "
            "eigenvalue -0.58\n    write `with` as it was, or fit anew"
        ),
    ),
    (
        'value = "97.2 %"',
        'value = "972.5"',
        'learnt > numbers[1] > value: "972.5" has no unit\n    write it with one of %: "972.5 %"',
    ),
    (
        'value = "97.2 %"',
        "value = 97.2",
        (
            "learnt > numbers[1] > value: the number 97.2 has no unit\n"
            '    write it with its unit in quotation marks: value = "97.2 %"'
        ),
    ),
    (
        'value = "112 %"',
        'value = "1120 %"',
        (
            'learnt > numbers[2] > value: "1120 %" is hardly what readings tell: from 10 % to '
            '1000 % is taken\n    check the number; "100 %" is as the plan says'
        ),
    ),
    (
        'value = "112 %"',
        'value = "9.9 %"',
        (
            'learnt > numbers[2] > value: "9.9 %" is hardly what readings tell: from 10 % to '
            '1000 % is taken\n    check the number; "100 %" is as the plan says'
        ),
    ),
    (
        'value = "1/2 turn"',
        'value = "7 turns"',
        (
            'learnt > numbers[5] > value: "7 turns" is beyond full\n'
            '    the most is "6 turns", or "full"'
        ),
    ),
    (
        'value = "1/2 turn"',
        'value = "3 deg"',
        (
            'learnt > numbers[5] > value: "3 deg": this valve opens by more than a quarter turn, '
            'which degrees do not tell\n    write turns ("3 turns", with turns = 6 for all of its '
            'travel) or percent ("50 %")'
        ),
    ),
    (
        'value = "-1.8 deg"',
        'value = "-0.1 turns"',
        (
            'learnt > numbers[4] > value: "-0.1 turns": this valve opens by a quarter turn, 90 '
            'degrees\n    write degrees from shut ("45 deg") or percent ("50 %")'
        ),
    ),
    (
        'value = "-1.8 deg"',
        'value = "shut"',
        (
            'learnt > numbers[4] > value: "shut" is not a part of a handle\'s travel\n'
            '    write "1.4 deg", "-2 %" or "0.05 turns"'
        ),
    ),
    (
        'value = "-1.8 deg"',
        "value = -1.8",
        (
            "learnt > numbers[4] > value: -1.8 is not a part of a handle's travel\n"
            '    write value = "1.4 deg", "-2 %" or "0.05 turns"'
        ),
    ),
    (
        'sure = "0.9 deg"',
        'sure = "-0.9 deg"',
        (
            'learnt > numbers[4] > sure: "-0.9 deg": a standard deviation may not be negative\n'
            "    take the sign away"
        ),
    ),
    (
        'sure = "9 %"',
        'sure = "-9 %"',
        (
            'learnt > numbers[2] > sure: "-9 %": a standard deviation may not be negative\n'
            "    take the sign away"
        ),
    ),
    (
        'sure = "9 %"',
        'sure = "1001 %"',
        (
            'learnt > numbers[2] > sure: "1001 %" is hardly how sure a number is: up to 1000 % is '
            'taken\n    for example sure = "1.1 %"'
        ),
    ),
    (
        'sure = "9 %"\n',
        "",
        'learnt > numbers[2]: sure is missing\n    add sure = "1.1 %"',
    ),
    (
        'readings = "lagoon-readings.csv"',
        "readings = 3",
        'learnt > readings: 3 is not text\n    write it in quotation marks: readings = "3"',
    ),
    (
        'readings = "lagoon-readings.csv"',
        'reading = "lagoon-readings.csv"',
        "learnt > reading: there is no key reading here\n    nearest: readings",
    ),
]


@pytest.mark.parametrize(("old", "new", "fault"), FAULTS)
def test_each_fault_in_its_words(old: str, new: str, fault: str) -> None:
    (found,) = told(spoilt(old, new))
    assert found.partition(": ")[2] == fault


def test_a_fault_has_the_line_of_its_key() -> None:
    text = spoilt("with = [-0.31]", "with = [-1.31]")
    assert told(text)[0].startswith(f"plan.toml:{line_of(text, 'with = [-1.31]')}: ")
    text = spoilt('name = "main drain"', 'name = "refugium"')
    entry = text.index('of = "offset"\nname = "refugium"\nvalue = "1/2 turn"')
    assert told(text)[0].startswith(f"plan.toml:{text[:entry].count(chr(10))}: ")


def test_an_offset_in_turns_needs_the_turns_of_its_valve() -> None:
    text = TEXT.replace('open = "3 turns", turns = 6', 'open = "50 %"')
    assert told(text) == [
        (
            f'plan.toml:{line_of(text, "1/2 turn")}: learnt > numbers[5] > value: "1/2 turn": how '
            "many turns open this valve in full is not said\n"
            "    add turns = 6 (count them) to the valve, or write percent of travel"
        )
    ]


def test_all_faults_come_in_one_go_beside_those_of_the_plan() -> None:
    text = TEXT
    for old, new in (
        ('level = "9 in"', "level = 9"),
        ('name = "Main"', 'name = "mian"'),
        ('value = "112 %"', 'value = "1120 %"'),
        ("with = [-0.1, 0.4]", "with = [2, 0.4, 0.1]"),
        ('value = "-1.8 deg"', 'value = "-1.8 degg"'),
    ):
        text = text.replace(old, new, 1)
    problems = [fault.partition("\n")[0].split(": ", 1)[1] for fault in told(text)]
    assert problems == [
        'vessels "sump" > level: the number 9 has no unit',
        'learnt > numbers[1] > name: there is no pump "mian"',
        (
            'learnt > numbers[2] > value: "1120 %" is hardly what readings tell: from 10 % to '
            "1000 % is taken"
        ),
        "learnt > numbers[3] > with[1]: 2 is no correlation",
        "learnt > numbers[3] > with: 2 numbers stand above, and correlations with 3 are given",
        'learnt > numbers[4] > value: "-1.8 degg": "degg" does not measure an opening',
    ]


def test_a_slip_in_a_valve_is_not_told_again_of_its_offset() -> None:
    text = TEXT.replace('open = "3 turns", turns = 6', 'open = "9 turns", turns = 6')
    (fault,) = told(text)
    assert 'drains "main drain" > parts[1] > open: "9 turns" is beyond full' in fault


@pytest.mark.parametrize(
    "table",
    [
        "learnt = 3",
        "learnt = []",
        "learnt.numbers = 3",
        "learnt.numbers = [3]",
        "learnt.numbers.of = 'pump'",
        "learnt.numbers = [{ of = ['pump'], name = 3, value = [], sure = {}, with = {} }]",
        "learnt.numbers = [{ of = 'offset', name = 3, value = '1 %', sure = '1 %' }]",
        "learnt.numbers = [{ of = 'mains', value = inf, sure = 1e999 }]",
    ],
)
def test_no_other_shape_of_the_table_breaks_the_reader(table: str) -> None:
    assert all("learnt" in fault for fault in told(table + "\n" + PLAN))


def test_covariance_of_numbers_as_written() -> None:
    covariance = learnt(TEXT).covariance()
    sure = np.array([0.011, 0.09, 0.21, 0.01, 0.02, 0.0, 0.012])
    assert np.sqrt(np.diag(covariance)) == pytest.approx(sure)
    assert covariance[1, 0] == covariance[0, 1] == pytest.approx(-0.31 * 0.011 * 0.09)
    assert covariance[2, 1] == pytest.approx(0.4 * 0.21 * 0.09)
    assert covariance[4, 3] == pytest.approx(0.01 * 0.02)
    assert covariance[6, :6] == pytest.approx(np.zeros(6))


def test_covariance_of_nothing() -> None:
    assert learnt(PLAN + '[learnt]\nreadings = "x.csv"\n').covariance().shape == (0, 0)


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 12), st.integers(1, 12), st.integers(0, 2**32 - 1))
def test_a_rounded_covariance_stays_one(count: int, rank: int, seed: int) -> None:
    """Of few independent causes: the true matrix is singular, and rounding would spoil it."""
    random = np.random.default_rng(seed)
    causes = random.normal(size=(count, rank))
    causes /= np.linalg.norm(causes, axis=1, keepdims=True)
    true = causes @ causes.T
    sure = random.uniform(0.001, 0.5, count)
    numbers = tuple(
        LearntNumber.model_construct(
            of="pump",
            name=str(at),
            value=1.0,
            sure=float(sure[at]),
            with_=tuple(true[at, :at].round(4)),
        )
        for at in range(count)
    )
    covariance = Learnt.model_construct(numbers=numbers).covariance()
    scale = np.outer(sure, sure)
    assert (covariance == covariance.T).all()
    assert np.diag(covariance) == pytest.approx(sure**2, rel=1e-12)
    assert np.abs(covariance / scale - true).max() < 1e-3
    assert np.linalg.eigvalsh(covariance / scale).min() > -1e-12


def test_correlations_rounded_to_three_decimals_are_taken() -> None:
    """Three numbers of one cause: 0.5773 and the like, each rounded up, are a little too much."""
    rows = [(0.999,), (0.999, 0.996)]
    text = PLAN
    for at, name in enumerate(("carbon reactor", "refugium", "lagoon left")):
        text += f'[[learnt.numbers]]\nof = "loss"\nname = "{name}"\nvalue = "1e2 %"\nsure = "5 %"\n'
        text += f"with = {list(rows[at - 1])}\n" if at else ""
    assert np.linalg.eigvalsh(learnt(text).covariance()).min() >= -1e-18
    spoilt_rows = text.replace("0.996", "0.992")
    assert "contradict one another" in told(spoilt_rows)[0]


def test_the_model_keeps_what_was_read_when_the_plan_changes(tmp_path: Path) -> None:
    plan: Plan = read_text(TEXT, folder=tmp_path)
    assert plan.with_openings({"refugium": 0.2}).learnt == plan.learnt
