"""Price lists: what is in them, and every fault of them at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from balance.errors import PlanError
from balance.plan.prices import read_prices
from balance.plan.read import read_text
from tests.questions.assembly.plans import pipe, plan


def written(folder: Path, text: str) -> Path:
    path = folder / "prices.csv"
    path.write_text(text, encoding="utf-8")
    return path


def faults(path: Path) -> str:
    with pytest.raises(PlanError) as caught:
        read_prices(path)
    return str(caught.value)


def test_other_columns_and_empty_prices_do_no_harm(tmp_path: Path) -> None:
    text = '# mine\nbag,Item,price\n1 in,"elbow 90, 1 in",1.25\n\n1 in,union,\n1 in, tee ,3\n'
    assert read_prices(written(tmp_path, text)) == {"elbow 90, 1 in": 1.25, "tee": 3.0}


def test_every_fault_is_told_with_its_line(tmp_path: Path) -> None:
    text = "item,price\nunion,2 EUR\ntee,-1\n,3\nelbow,1\nElbow,2\nbush,nan\ncap,1e999\nplug,1,05\n"
    said = faults(written(tmp_path, text))
    for line, words in (
        (2, '"2 EUR" is no price'),
        (3, '"-1" is no price'),
        (4, "a price of nothing"),
        (6, '"Elbow" has a price in line 5 already'),
        (7, '"nan" is no price'),
        (8, '"1e999" is no price'),
        (9, "3 cells below 2 headings"),
    ):
        assert f"prices.csv:{line}: {words}" in said
    assert said.count("prices.csv:") == 7


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "the file is empty"),
        ("what,price\nunion,1\n", "no column, or more than one, is headed item"),
        ("item,price,price\nunion,1,2\n", "no column, or more than one, is headed price"),
        ("union;1\n", "is headed item and price"),
    ],
)
def test_a_file_that_is_no_price_list(tmp_path: Path, text: str, words: str) -> None:
    assert words in faults(written(tmp_path, text))


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    assert "there is no such file" in faults(tmp_path / "none.csv")
    with pytest.raises(PlanError, match="shop > prices: there is no such file"):
        read_text(plan('[shop]\nprices = "none.csv"\n', parts=pipe("5 in")), folder=tmp_path)


def test_faults_in_a_list_beside_the_plan_name_that_list(tmp_path: Path) -> None:
    written(tmp_path, "item,price\nunion,2 EUR\n")
    with pytest.raises(PlanError, match=r"prices.csv:2: \"2 EUR\" is no price"):
        read_text(plan('[shop]\nprices = "prices.csv"\n', parts=pipe("5 in")), folder=tmp_path)


@pytest.mark.parametrize(
    ("shop", "words"),
    [
        ('stock = "x"', '"x" is not a length'),
        ("stock = []", "is no list of lengths"),
        ('stock = ["0 ft"]', "must be more than zero"),
        ('offcuts = { "1 in sch 41" = ["3 in"] }', "there is no pipe"),
        ('offcuts = { "1 in sch 40" = "x" }', "is not a length"),
        ('offcuts = { "x bore" = ["3 in"] }', '"x" is not a length'),
        ('prices = { "union" = "2" }', "is not a number"),
        ('spare = "150 %"', "is more than any plumbing has"),
        ("tolerance = 2", "has no unit"),
    ],
)  # fmt: skip
def test_faults_of_the_shop_say_what_is_wrong(shop: str, words: str) -> None:
    with pytest.raises(PlanError) as caught:
        read_text(plan(f"[shop]\n{shop}\n", parts=pipe("5 in")))
    assert words in str(caught.value)
    assert "shop" in str(caught.value)
    assert "[key]" not in str(caught.value)


@pytest.mark.parametrize(
    ("ends", "words"),
    [
        ('"glue"', '"glue" is no kind of end'),
        ('["thread"]', "is not the two ends of a part"),
        ('["thread", 3]', "3 is no kind of end"),
        ("true", "true is no kind of end"),
    ],
)
def test_faults_of_ends_say_what_may_stand_there(ends: str, words: str) -> None:
    part = f'{{ fitting = "union", size = "1 in", ends = {ends} }},\n'
    with pytest.raises(PlanError) as caught:
        read_text(plan(parts=part))
    assert words in str(caught.value)
    assert 'ends = ["socket", "thread"]' in str(caught.value)


def test_pipe_has_plain_ends_or_threads() -> None:
    with pytest.raises(PlanError, match="pipe has plain ends or a male thread"):
        read_text(plan(parts=pipe("5 in", more=', ends = "socket"')))
