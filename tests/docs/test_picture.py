"""The README's picture follows the demo and can be read."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, pairwise
from xml.etree import ElementTree as ET

import pytest

import balance
from tests.docs import picture, shapes

# Shares of the font's size, about those of the widest sans-serif in common use; from memory.
SLIM_LETTERS, SLIM, WIDE, BOLD = "fijlrt .,:/", 0.4, 0.64, 1.1
Box = tuple[float, float, float, float]  # left, top, right, bottom


def drawn(tag: str) -> Iterator[ET.Element]:
    tree = ET.parse(picture.PICTURE)  # noqa: S314  # the file is our own
    return tree.iter(f"{{http://www.w3.org/2000/svg}}{tag}")


def words() -> dict[str, Box]:
    """Boxes of all texts, numbered, since flows may be equal."""
    found: dict[str, Box] = {}
    for number, text in enumerate(drawn("text")):
        size, x, y = (float(text.attrib[key]) for key in ("font-size", "x", "y"))
        letters = text.text or ""
        width = size * sum(SLIM if letter in SLIM_LETTERS else WIDE for letter in letters)
        width *= BOLD if text.get("font-weight") else 1.0
        left = x - width * {"start": 0.0, "middle": 0.5, "end": 1.0}[text.attrib["text-anchor"]]
        found[f"{number}: {letters}"] = left, y - 0.75 * size, left + width, y + 0.2 * size
    return found


def lines() -> list[Box]:
    """Boxes of all straight pieces of pipes, of walls and of handles."""
    found: list[Box] = []
    for line in drawn("polyline"):
        half = float(line.attrib["stroke-width"]) / 2
        points = [point.split(",") for point in line.attrib["points"].split()]
        for (x0, y0), (x1, y1) in pairwise((float(x), float(y)) for x, y in points):
            low, high = (min(x0, x1), min(y0, y1)), (max(x0, x1), max(y0, y1))
            across, along = (half, 0.0) if x0 == x1 else (0.0, half)
            found.append((low[0] - across, low[1] - along, high[0] + across, high[1] + along))
    return found


def meet(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def luminance(color: str) -> float:
    """Relative luminance as WCAG 2.1 defines it."""
    shares = [int(color[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_the_picture_is_up_to_date() -> None:
    made = picture.picture(balance.settings(balance.read(picture.PLAN)))
    assert picture.PICTURE.read_text(encoding="utf-8") == made, (
        "draw it anew: python -m tests.docs.picture"
    )


def test_words_keep_clear_of_each_other() -> None:
    pairs = combinations(words().items(), 2)
    assert [(one, other) for (one, at), (other, there) in pairs if meet(at, there)] == []


def test_words_keep_clear_of_lines() -> None:
    drawn_lines = lines()
    assert [word for word, at in words().items() if any(meet(at, it) for it in drawn_lines)] == []


def test_words_stay_on_the_card() -> None:
    for left, top, right, bottom in words().values():
        assert 0.0 < left < right < picture.WIDTH
        assert 0.0 < top < bottom < picture.HEIGHT


@pytest.mark.parametrize("ground", [shapes.PAPER, shapes.WATER, shapes.GLASS])
@pytest.mark.parametrize("color", [shapes.INK, shapes.SOFT, shapes.MARK])
def test_words_stand_out(color: str, ground: str) -> None:
    """By 4.5 to 1, which WCAG 2.1 asks of text of this size (criterion 1.4.3)."""
    assert (luminance(ground) + 0.05) / (luminance(color) + 0.05) >= 4.5


def test_the_readme_shows_it_after_its_commands() -> None:
    readme = (picture.ROOT / "README.md").read_text(encoding="utf-8")
    before, after = readme.split("](docs/lagoon.svg)")
    assert before.count("```sh\n") == 2
    assert after.lstrip().startswith("## What it says")
