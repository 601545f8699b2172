"""TOML's traps, each told in plain words with its line and what to write instead."""

from __future__ import annotations

import tomllib

import pytest

from balance.plan.traps import Stumble, explain


def stumble(text: str) -> Stumble:
    with pytest.raises(tomllib.TOMLDecodeError) as caught:
        tomllib.loads(text)
    return explain(text, caught.value)


@pytest.mark.parametrize(
    ("text", "line", "problem", "remedy"),
    [
        ("a = 1\nlevel = “9 in”\n", 2, "curly quotation marks", 'level = "9 in"'),
        ("[v]\nlevel = ‘9 in’\n", 2, "curly quotation marks", "level = '9 in'"),
        ("a = 1\nlevel = 9 in\n", 2, "without quotation marks", 'write level = "9 in"'),
        ("level = 9in\n", 1, "without quotation marks", 'write level = "9in"'),
        ("speed = 85 %\n", 1, "without quotation marks", 'write speed = "85 %"'),
        ("size = 3/4 in\n", 1, "without quotation marks", 'write size = "3/4 in"'),
        ("from = sump\n", 1, "without quotation marks", 'write from = "sump"'),
        ("a = [\n  { length = 14 in },\n]\n", 2, "without quotation marks", 'length = "14 in"'),
        (
            "a = [\n  { valve = ball, open = 1 },\n]\n",
            2,
            "without quotation marks",
            'valve = "ball"',
        ),
        ("a = [\n  { b = 1,\n c = 2 },\n]\n", 2, "over the end of its line", "on one line"),
        ("a = [\n  {\n b = 1 },\n]\n", 2, "over the end of its line", "on one line"),
        ("a = [\n  { b = 1\n },\n]\n", 2, "over the end of its line", "on one line"),
        ("a = [\n  { b = 1, },\n]\n", 2, "comma before the closing }", "take that comma out"),
        ("a = [\n  { b = 1 }\n  { b = 2 }\n]\n", 3, "comma is missing", "{ b = 2 }"),
        ("a = [ { b = 1 }\nc = 2\n", 2, "comma is missing", "c = 2"),
        ("a = [ 1,\n", 1, "never closed", "add the missing ]"),
        ("[vessels.left tank]\nb = 1\n", 1, "needs quotation marks", '[vessels."left tank"]'),
        ("[vessels.café]\nb = 1\n", 1, "needs quotation marks", '[vessels."café"]'),
        ("[left tank]\n", 1, "needs quotation marks", '["left tank"]'),
        ("speed range = 1\n", 1, "has a space", "speed_range"),
        ("a = [ { side size = 1 } ]\n", 1, "has a space", "side_size"),
        ("level =\n", 1, "has no value", "level"),
        ("level\n", 1, "without an equals sign", "key"),
        ('level = "9 in\n', 1, "never closed", "same line"),
        ('curve = "curves\\pump.csv"\n', 1, "backslash", "/"),
        ("a = 1\nb = 2\na = 3\n", 3, "a is written twice", "keep one"),
        ("[v.a]\n[v.b]\n[v.a]\n", 3, "second time", "another name"),
    ],
)
def test_trap(text: str, line: int, problem: str, remedy: str) -> None:
    found = stumble(text)
    assert problem in found.problem
    assert remedy in found.remedy
    assert found.line == line


def test_the_unrecognised_is_told_in_the_readers_words() -> None:
    found = stumble('a = "x" "y"\n')
    assert found.line == 1
    assert "expected newline" in found.problem
