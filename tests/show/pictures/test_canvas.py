"""A sheet leaves as SVG for a page, or as a file; texts stay as they were written."""

from __future__ import annotations

import io
import re
import struct
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.font_manager import FontProperties, findfont, get_font
from pypdf import PdfReader

from balance.show.pictures.canvas import Picture, drawing, lines_of, sheet, text_width
from balance.show.pictures.palette import INK, LETTERS, SAND, WET

HOSTILE = '<script>alert("1")</script> & $x_1$ \u9bc9'


@pytest.fixture
def picture() -> Picture:
    from matplotlib.patches import Rectangle

    with drawing():
        figure, axes = sheet(300.0, 200.0)
        axes.plot([10, 200], [50, 50], color=WET, lw=6)
        axes.add_patch(Rectangle((10, 60), 100, 20, fc=SAND, ec=INK, hatch="////"))
        axes.text(20, 100, HOSTILE, size=12, color=INK)
    return Picture(figure, "A title <b>", "What & whom")


def test_a_page_gets_an_element_with_its_words(picture: Picture) -> None:
    root = ET.fromstring(picture.inline("one"))  # noqa: S314  # our own
    assert root.get("viewBox") == "0 0 300 200"
    assert root.get("role") == "img"
    title, words = list(root)[:2]
    assert root.get("aria-labelledby") == f"{title.get('id')} {words.get('id')}"
    assert (title.text, words.text) == ("A title <b>", "What & whom")
    texts = ["".join(each.itertext()) for each in root.iter() if each.tag.endswith("}text")]
    assert texts == [HOSTILE]
    assert "<script" not in picture.inline("one")


def test_nothing_of_it_reaches_beyond_it(picture: Picture) -> None:
    inline = picture.inline("one")
    names = re.findall(r'id="([^"]+)"', inline)
    assert names
    assert all(name.startswith("one-") for name in names)
    assert len(names) == len(set(names))
    assert set(re.findall(r"url\(#([^)]+)\)", inline)) <= set(names)
    assert "<style" not in inline
    assert "font-family" not in inline  # letters are the page's own
    without_namespaces = re.sub(r'xmlns(:\w+)?="[^"]+"', "", inline)
    assert "http" not in without_namespaces


def test_its_colours_are_the_page_s(picture: Picture) -> None:
    inline = picture.inline("one")
    assert "var(--wet)" in inline
    assert "var(--sand)" in inline
    assert not re.search(r"#[0-9a-f]{6}", inline)


def test_the_same_picture_gives_the_same_bytes(picture: Picture) -> None:
    assert picture.inline("one") == picture.inline("one")
    for kind in ("svg", "png", "pdf"):
        assert picture.as_file(kind) == picture.as_file(kind)


def test_files_are_what_their_endings_say(picture: Picture, tmp_path: Path) -> None:
    root = ET.fromstring(picture.as_file("svg"))  # noqa: S314  # our own
    assert (root.get("width"), root.get("height")) == ("300", "200")
    png = picture.as_file("png")
    assert png.startswith(b"\x89PNG\r\n\x1a\n")
    assert struct.unpack(">II", png[16:24]) == (750, 500)
    (page,) = PdfReader(io.BytesIO(picture.as_file("pdf"))).pages
    assert [float(side) for side in page.mediabox[2:]] == [300.0, 200.0]
    assert "alert" in page.extract_text()


def test_widths_are_those_of_the_letters_in_their_file() -> None:
    # Advance widths as the font's own file has them, in units of its em.
    font = get_font(findfont(FontProperties(family=LETTERS)))
    font.set_size(100.0, 72.0)
    for letter in "mil W1":  # of which two side by side keep their distance
        advance = font.load_char(ord(letter)).linearHoriAdvance / 65536.0
        assert text_width(letter * 20, 100.0) == pytest.approx(20 * advance, rel=0.03)


def test_bold_is_wider() -> None:
    assert text_width("lagoon", 13, bold=True) > text_width("lagoon", 13)


@given(st.text(max_size=60), st.integers(1, 3), st.floats(40.0, 200.0))
def test_lines_fit_their_room(text: str, most: int, room: float) -> None:
    lines = lines_of(text, 13.0, room=room, most=most)
    assert len(lines) <= most
    assert all(text_width(line, 13.0) <= room for line in lines if len(line) > 2)
    if not any(line.endswith("…") for line in lines):
        assert " ".join(lines) == " ".join(text.split())
