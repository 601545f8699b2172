"""The page to act on: what it says when things go well, and when they do not."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from balance.plan.read import read_text
from balance.plan.starter import STARTER
from balance.questions.settings import Settings, settings
from balance.questions.settings.answer import Bleed, Remedy, SingleChange, Total
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
    assert "none helps much: of little use (less than a tenth of what is missing" in text
    assert "no further target): a wider riser; sweeps for its elbows" in text
    assert "(helps most)" not in text
    helped = SingleChange(
        text="a larger pump", missed_before=0.25, missed=0.0, meets=("reactor",), meets_all=True
    )
    text = as_one_line(page(replace(unmet, changes=(helped,)), capsys))
    assert "a larger pump: meets all targets" in text
    assert "a wider riser; sweeps for its elbows" in text
    assert "none helps much" not in text


def test_a_broken_limit(answer: Settings, capsys: pytest.CaptureFixture[str]) -> None:
    first, *rest = answer.branches
    over = replace(first, limits=(None, 0.5 * first.flow), within_limits=False)
    text = as_one_line(page(replace(answer, met=False, branches=(over, *rest)), capsys))
    assert "breaks its limits (<= " in text


def test_a_bleed_names_the_spare_how_far_and_what_it_does_to_the_others(
    answer: Settings, capsys: pytest.CaptureFixture[str]
) -> None:
    (pump,) = answer.pumps
    low = replace(pump, in_useful_range=False, useful_range=(2 * pump.flow, 3 * pump.flow))
    bleed = Bleed(
        valve="spare", branch="spare", opening=0.25, flow=1e-4, pump="main", loss=0.03, meets=True
    )
    text = as_one_line(page(replace(answer, pumps=(low,), bleed=bleed), capsys))
    assert "open spare to 1 1/2 turns: it then carries 95.1 gph" in text
    assert "what was met stays so" in text
    lossy = replace(bleed, loss=0.15, meets=False)
    text = as_one_line(page(replace(answer, pumps=(low,), bleed=lossy), capsys))
    assert "The others then get up to 15 % less" in text
    assert 'write target = ">= 0 gph" in "spare" and ask again' in text


def test_a_pump_outside_its_range_without_a_spare_is_given_a_way_back(
    answer: Settings, capsys: pytest.CaptureFixture[str]
) -> None:
    (pump,) = answer.pumps
    for useful, words in (
        ((2 * pump.flow, 3 * pump.flow), "main is too strong for so little"),
        ((0.1 * pump.flow, 0.5 * pump.flow), "main is too weak for so much"),
    ):
        outside = replace(pump, in_useful_range=False, useful_range=useful)
        text = as_one_line(page(replace(answer, pumps=(outside,)), capsys))
        assert words in text
    assert "To bring the pump back" not in page(answer, capsys)


def test_totals_stand_together_and_are_told_where_they_are_missed(
    answer: Settings, capsys: pytest.CaptureFixture[str]
) -> None:
    gph = 3.785411784e-3 / 3600
    total = Total(
        group="returns", branches=("left", "right"), flow=479 * gph, low=432 * gph,
        high=528 * gph, asked=None, met=True,
    )  # fmt: skip
    text = as_one_line(page(replace(answer, totals=(total,)), capsys))
    assert "returns (left, right): 479 gph, wanted 432..528 gph" in text
    short = replace(total, flow=400 * gph, met=False)
    text = as_one_line(page(replace(answer, met=False, totals=(short,)), capsys))
    assert "returns together: 32.0 gph too little" in text


def test_a_dry_branch_gets_no_water_and_is_not_said_to_lack_a_share_of_its_target(
    answer: Settings, capsys: pytest.CaptureFixture[str]
) -> None:
    first, *rest = answer.branches
    dry = replace(first, flow=0.0, met=False, missing=0.9)
    unmet = replace(answer, met=False, branches=(dry, *rest))
    text = page(unmet, capsys)
    assert f"{first.branch}: no water at all" in text
    assert re.search(rf"^{first.branch} .* dry", text, re.MULTILINE)
    assert "too little" not in text
    told = replace(unmet, out_of_reach=(f'"{first.branch}" is out of reach',))
    assert "no water at all" not in page(told, capsys)


def test_a_remedy_says_where_the_handle_then_stands(
    answer: Settings, capsys: pytest.CaptureFixture[str]
) -> None:
    first, *rest = answer.branches
    remedy = Remedy(text="put 3 ft of hose in", head=0.3, opening=0.338, flow_per_step=0.02)
    coarse = replace(first, coarse=True, remedy=remedy, flow_per_step=0.051)
    text = as_one_line(page(replace(answer, branches=(coarse, *rest)), capsys))
    assert (
        "1 deg moves 5.1 %; put 3 ft of hose in, then the valve stands at about 30 deg and "
        "1 deg moves 2.0 %"
    ) in text
    helpless = replace(coarse, remedy=None)
    text = as_one_line(page(replace(answer, branches=(helpless, *rest)), capsys))
    assert "a valve that opens in more turns would be finer" in text
    assert "coarse: what a hand may be off" in text


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
