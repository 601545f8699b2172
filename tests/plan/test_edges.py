"""Weirs, drains and holes lie where water can reach them: each fault with its key and way out."""

from __future__ import annotations

import pytest

from balance.errors import PlanError
from balance.plan.read import read_text
from balance.questions.check import check
from tests.questions.outage.plans import BOX, PLANT


def faults(*changes: tuple[str, str]) -> list[tuple[str, str]]:
    text = PLANT + BOX
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    with pytest.raises(PlanError) as caught:
        read_text(text)
    return [(fault.path, fault.problem) for fault in caught.value.faults]


CREST = ('level = "140 cm"\n', 'level = "140 cm"\ncrest = "139 cm"\nweir_length = "20 cm"\n')


@pytest.mark.parametrize(
    ("change", "path", "problem"),
    [
        (('crest = "139 cm"', 'crest = "146 cm"'), 'weirs "edge" > crest', "not below the rim"),
        (('crest = "139 cm"', 'crest = "99 cm"'), 'weirs "edge" > crest', "below the bottom"),
        (('inlet = "130 cm"', 'inlet = "9 cm"'), 'drains "siphon" > inlet', "below the bottom"),
        (
            ('siphon_break = "1 cm"', 'siphon_break = "5 cm"'),
            'branches "return" > parts[2] > siphon_break',
            "the hole lies below the outlet",
        ),
        (CREST, 'vessels "tank" > crest', "told twice"),
    ],
)
def test_a_fault_is_named(change: tuple[str, str], path: str, problem: str) -> None:
    ((found, said),) = faults(change)
    assert found.startswith(path[: path.index(" >")])
    assert found.endswith(path[path.rindex("> ") + 2 :])
    assert problem in said


def test_all_of_them_come_at_once() -> None:
    found = faults(
        ('crest = "139 cm"', 'crest = "146 cm"'),
        ('inlet = "130 cm"', 'inlet = "9 cm"'),
        ('siphon_break = "1 cm"', 'siphon_break = "5 cm"'),
    )
    assert len(found) == 3


def test_a_crest_of_a_vessels_own_lies_within_it() -> None:
    text = PLANT.replace(CREST[0], CREST[1].replace("139 cm", "150 cm"))
    with pytest.raises(PlanError, match="between its bottom and its rim"):
        read_text(text)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('crest = "139 cm"', 'crest = "141 cm"', "nothing spills over it as written"),
        ('level = "138 cm"', 'level = "139.5 cm"', "both share one level"),
        ('inlet = "139.5 cm"', 'inlet = "145 cm"', "which spills before"),
    ],
)
def test_doubts_about_edges(old: str, new: str, said: str) -> None:
    text = PLANT + BOX
    assert old in text
    found = check(read_text(text.replace(old, new))).doubts
    assert [said in doubt.text for doubt in found].count(True) == 1
    assert not any("crest" in doubt.where for doubt in check(read_text(text)).doubts)


def test_a_table_whose_volumes_stand_still_is_no_shape() -> None:
    flat = 'table = [["0 cm", "0 L"], ["20 cm", "60 L"], ["40 cm", "60 L"]]'
    text = PLANT.replace('length = "100 cm"\nwidth = "50 cm"', flat, 1)
    assert flat in text
    with pytest.raises(PlanError, match="do not rise from row to row"):
        read_text(text)


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        (('to = "box"\ncrest', 'to = "tank"\ncrest'), "it ends where it begins"),
        (
            ('level = "20 cm"', 'level = "20 cm"\ndisplaced = "100 L"'),
            "rock and sand take up all the room",
        ),
    ],
)
def test_what_makes_no_sense_is_refused(change: tuple[str, str], problem: str) -> None:
    assert any(problem in said for _, said in faults(change))


def test_rock_and_sand_of_a_vessel_by_table() -> None:
    table = 'table = [["0 cm", "0 L"], ["20 cm", "60 L"], ["80 cm", "200 L"]]'
    text = PLANT.replace('length = "100 cm"\nwidth = "50 cm"', table, 1)
    read_text(text.replace(table, table + '\ndisplaced = "59 L"'))
    with pytest.raises(PlanError, match="take up all the room"):
        read_text(text.replace(table, table + '\ndisplaced = "60 L"'))


def test_a_pump_whose_intake_is_in_the_air_is_doubted() -> None:
    high = check(read_text(PLANT.replace('intake = "5 cm"', 'intake = "25 cm"')))
    assert any("it draws air" in doubt.text and doubt.unsafe for doubt in high.doubts)
    assert not high.safe


def test_a_drain_whose_inlet_nobody_told_is_doubted() -> None:
    told = check(read_text(PLANT + BOX)).doubts
    untold = check(read_text(PLANT + BOX.replace('inlet = "130 cm"\n', ""))).doubts
    assert len(untold) == len(told) + 1
    assert any("nothing tells where water enters" in doubt.text for doubt in untold)


def test_a_drain_begins_in_a_vessel_and_the_nearest_is_offered() -> None:
    ((path, said),) = faults(('name = "siphon"\nfrom = "box"', 'name = "siphon"\nfrom = "bx"'))
    assert path.endswith("from")
    assert "no vessel" in said
