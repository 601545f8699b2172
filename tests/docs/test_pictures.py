"""The pictures of the README follow the demo."""

from __future__ import annotations

import struct
from pathlib import Path
from xml.etree import ElementTree as ET

import balance
from balance.show.pictures.plumbing import plumbing
from tests.browser.picture import DRAWING, LAGOON, SCREEN, WIDTH

README = Path(__file__).parents[2] / "README.md"


def texts(svg: bytes) -> list[str]:
    """All that is written in a picture, from top to bottom of the file, and its size."""
    root = ET.fromstring(svg)  # noqa: S314  # our own
    words = ["".join(each.itertext()) for each in root.iter() if each.tag.endswith("}text")]
    return [root.get("viewBox", ""), *words]


def test_the_drawing_says_what_the_demo_gives_now() -> None:
    plan = balance.settings(balance.read(LAGOON)).plan
    drawn = plumbing(balance.flows(plan), balance.drains(plan)).as_file("svg")
    # Lines may differ by a hair with the version of matplotlib, words may not.
    assert len(texts(drawn)) > 60
    assert texts(DRAWING.read_bytes()) == texts(drawn), (
        "make it anew: python -m tests.browser.picture"
    )


def test_the_screen_is_a_picture_of_its_width() -> None:
    head = SCREEN.read_bytes()[:24]
    assert head.startswith(b"\x89PNG\r\n\x1a\n")
    width, height = struct.unpack(">II", head[16:])
    assert width == WIDTH
    assert height > 600
    assert SCREEN.stat().st_size < 400_000  # a README should come at once


def test_both_stand_in_the_readme_with_words_for_who_does_not_see_them() -> None:
    text = README.read_text(encoding="utf-8")
    for picture in (DRAWING, SCREEN):
        before, _, _ = text.partition(f"](docs/{picture.name})")
        assert before != text
        assert len(before.rpartition("![")[2]) > 80
