"""The page to act on: what it says when things go well, and when they do not."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from balance.plan.read import read_text
from balance.plan.starter import STARTER
from balance.questions.settings import Settings, settings
from balance.questions.settings.answer import Bleed, SingleChange
from balance.show.settings import show

SPARE = """
[[branches]]
name = "spare"
from = "manifold start"
to = "sump"
parts = [{ valve = "gate", size = "3/4 in", turns = 6, open = "shut" }]
"""


@pytest.fixture(scope="module")
def answer() -> Settings:
    return settings(read_text(STARTER + SPARE))


def page(answer: Settings, capsys: pytest.CaptureFixture[str]) -> str:
    show(answer)
    return capsys.readouterr().out


def as_one_line(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def test_each_handle_has_its_mark_flow_and_bucket(
    answer: Settings, capsys: pytest.CaptureFixture[str]
) -> None:
    text = page(answer, capsys)
    for branch in answer.branches[:3]:
        (line,) = (line for line in text.splitlines() if line.startswith(f"{branch.branch} "))
        handle = next(handle for handle in answer.handles if handle.valve == branch.valve)
        assert f"{handle.mark:.0f} deg" in line
        assert f"{branch.flow * 3600 / 3.785411784e-3:.3g}" in line
        assert branch.bucket in line
        assert f"{branch.bucket_time:.0f} s" in line
    assert "As they are, without flow: spare." in text


@pytest.mark.parametrize("columns", [72, 80, 100, 200])
def test_numbers_never_break_and_lines_keep_to_the_width(
    answer: Settings,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    columns: int,
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    text = page(answer, capsys)
    assert max(map(len, text.splitlines())) <= min(columns, 100)
    assert "\x1b" not in text
    monkeypatch.setenv("COLUMNS", "100")
    numbers = r"[\d.]*\d"
    assert re.findall(numbers, text) == re.findall(numbers, page(answer, capsys))


def test_it_fits_on_one_screen(answer: Settings, capsys: pytest.CaptureFixture[str]) -> None:
    assert len(page(answer, capsys).splitlines()) <= 50


def test_cautions_are_there(answer: Settings, capsys: pytest.CaptureFixture[str]) -> None:
    text = as_one_line(page(answer, capsys))
    for words in (
        "Mains electricity",
        "fresh water before livestock",
        "±60 % until measured",
        "±20 to 30 %",
        "local codes",
    ):
        assert words in text
    assert "check valve" not in text  # there is none in this plan


def test_a_branch_under_water_says_how_to_read_it(
    answer: Settings, capsys: pytest.CaptureFixture[str]
) -> None:
    text = as_one_line(page(answer, capsys))
    assert "How to read them" in text
    assert "flow meter" in text


def test_what_cannot_be_met(answer: Settings, capsys: pytest.CaptureFixture[str]) -> None:
    first, *rest = answer.branches
    assert first.low is not None
    short = replace(first, flow=0.75 * first.low, met=False, missing=0.25, coarse=True)
    change = SingleChange(
        text="a larger pump", missed_before=0.25, missed=0.0, meets=("reactor",), meets_all=True
    )
    wider = replace(change, text="a wider riser", missed=0.1, meets=(), meets_all=False)
    unmet = replace(
        answer,
        met=False,
        branches=(short, *rest),
        out_of_reach=('"loft" lies above the pump\'s reach',),
        binding=("the pump runs at full speed",),
        changes=(change, wider, replace(wider, text="sweeps", missed=0.25, meets=("reactor",))),
    )
    text = as_one_line(page(unmet, capsys))
    assert '"loft" lies above the pump\'s reach' in text
    assert "reactor: 22.5 gph too little, 25 % of its target" in text
    assert "the pump runs at full speed" in text
    assert "a larger pump: meets all targets (helps most)" in text
    assert "a wider riser: closes 60 % of what is missing" in text
    assert "sweeps: meets reactor" in text
    assert "short, coarse" in text


def test_where_nothing_helps_much_it_says_what_was_tried(
    answer: Settings, capsys: pytest.CaptureFixture[str]
) -> None:
    first, *rest = answer.branches
    assert first.low is not None
    short = replace(first, flow=0.75 * first.low, met=False, missing=0.25)
    tried = ("a wider riser", "sweeps for its elbows")
    unmet = replace(answer, met=False, branches=(short, *rest), tried=tried)
    text = as_one_line(page(unmet, capsys))
    assert "none of those tried helps much" in text
    assert "Tried: a wider riser; sweeps for its elbows" in text
    assert "(helps most)" not in text
    helped = SingleChange(
        text="a larger pump", missed_before=0.25, missed=0.0, meets=("reactor",), meets_all=True
    )
    text = as_one_line(page(replace(unmet, changes=(helped,)), capsys))
    assert "a larger pump: meets all targets" in text
    assert "Tried: a wider riser; sweeps for its elbows" in text
    assert "none of those tried" not in text


def test_a_broken_limit(answer: Settings, capsys: pytest.CaptureFixture[str]) -> None:
    first, *rest = answer.branches
    over = replace(first, limits=(None, 0.5 * first.flow), within_limits=False)
    text = as_one_line(page(replace(answer, met=False, branches=(over, *rest)), capsys))
    assert "breaks its limits (<= " in text


def test_a_bleed_names_the_spare_and_how_far(
    answer: Settings, capsys: pytest.CaptureFixture[str]
) -> None:
    bleed = Bleed(valve="spare", branch="spare", opening=0.25, flow=1e-4, pump="main")
    text = as_one_line(page(replace(answer, bleed=bleed), capsys))
    assert "open spare to 1 1/2 turns: it then carries 95.1 gph" in text


def test_two_kinds_of_handles_name_their_steps(capsys: pytest.CaptureFixture[str]) -> None:
    mixed = STARTER.replace(
        '{ valve = "ball", size = "1 in", open = "full" },',
        '{ valve = "gate", size = "1 in", turns = 6 },',
    )
    text = page(settings(read_text(mixed)), capsys)
    assert "A step of the handle is 1 deg; 1/8 turn on return." in text
    assert re.search(r"^return +(\d |\d/\d )+turns? ", text, re.MULTILINE)


def test_a_handle_before_several_branches_has_a_row(capsys: pytest.CaptureFixture[str]) -> None:
    throttled = STARTER.replace(
        '{ fitting = "union", size = "1 in" },',
        '{ valve = "ball", size = "1 in", open = "60 deg", locked = true },',
    )
    text = page(settings(read_text(throttled)), capsys)
    assert re.search(r"^riser +60 deg +67 % +locked$", text, re.MULTILINE)
