"""Pressures and suctions on the page of `balance flows`."""

from __future__ import annotations

import pytest

from balance.plan.read import read_text
from balance.plan.starter import STARTER
from balance.questions.flows import flows
from balance.show.flows import show


def page(capsys: pytest.CaptureFixture[str], *changes: tuple[str, str], shut: bool = False) -> str:
    text = STARTER
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    plan = read_text(text)
    if shut:
        plan = plan.with_openings(dict.fromkeys(("reactor", "refugium", "return", "riser"), 0.0))
    show(flows(plan))
    return capsys.readouterr().out


HEADER = ('name = "manifold"\n', 'name = "manifold"\nheight = "20 in"\n')
RETURN = ('name = "return"\n', 'name = "return"\nhigh_point = "60 in"\n')


def test_no_heights_no_table(capsys: pytest.CaptureFixture[str]) -> None:
    said = page(capsys)
    assert "pressure along the way" not in said
    assert "Suction" not in said


def test_a_header_is_one_row_from_its_least_to_its_most(
    capsys: pytest.CaptureFixture[str],
) -> None:
    plan = read_text(STARTER.replace(*HEADER))
    pressures = flows(plan).pressures
    found = [each.pressure / 6894.757 for each in pressures if each.pressure]
    heads = [each.head / 0.3048 for each in pressures if each.head]
    assert len(found) == len(heads) == 4
    said = page(capsys, HEADER)
    (row,) = (line for line in said.splitlines() if line.startswith("manifold "))
    assert row.split() == [
        "manifold",
        "20.0",
        f"{min(heads):.1f}..{max(heads):.1f}",
        f"{min(found):.1f}..{max(found):.1f}",
    ]
    assert "A high point" not in said


def test_a_high_point_with_its_remark(capsys: pytest.CaptureFixture[str]) -> None:
    said = page(capsys, HEADER, RETURN)
    (row,) = (line for line in said.splitlines() if line.startswith("return, high point"))
    assert row.split()[3:] == ["60.0", "4.9", "-0.15", "may", "draw", "in", "air"]
    assert "A high point is read where its stretch has the least pressure." in said


def test_two_headers_are_two_rows(capsys: pytest.CaptureFixture[str]) -> None:
    second = """
[[headers]]
name = "second"
from = "manifold start"
height = "30 in"
pipe = "1 in sch 40"
taps = [{ branch = "spare", after = "4 in" }]

[[branches]]
name = "spare"
to = "sump"
parts = [{ pipe = "1 in sch 40", length = "10 in" }]

[[branches]]
name = "reactor"
"""
    said = page(capsys, HEADER, ('\n[[branches]]\nname = "reactor"\n', second))
    rows = [line.split()[0] for line in said.splitlines() if ".." in line and "in" not in line]
    assert [row for row in rows if row in ("manifold", "second")] == ["manifold", "second"]


def test_what_is_not_known_is_a_dash(capsys: pytest.CaptureFixture[str]) -> None:
    valve = ('{ pipe = "1 in sch 40", length = "20 in" },', '{ valve = "ball", size = "1 in" },')
    said = page(capsys, HEADER, valve, shut=True)
    (row,) = (line for line in said.splitlines() if line.startswith("manifold "))
    assert row.split() == ["manifold", "20.0", "-", "-"]


def test_suction_with_and_without_need(capsys: pytest.CaptureFixture[str]) -> None:
    said = page(capsys, ('to = "riser foot"', 'to = "riser foot"\nintake = "5 in"'))
    # 33.13 ft of air on salt water, 8 in of water over the intake, less 1.01 ft of vapour
    assert "- main: 32.8 ft of net positive suction head; its need is not known\n" in said
