"""Our colours by day and by night: words can be read, and the accent is told from the rest."""

from __future__ import annotations

from itertools import product

import pytest

from balance.show.pictures import palette

DAY, NIGHT = palette.DAY, palette.NIGHT
WORDS = ("ink", "soft", "mark")
GROUNDS = ("paper", "glass", "water", "sand", "tint")
UNUSED = {("mark", "tint"), ("mark", "sand"), ("mark", "water"), ("soft", "tint"), ("soft", "sand")}


def linear(colour: str) -> list[float]:
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    # wcag, definition of relative luminance.
    return [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]


def luminance(rgb: list[float]) -> float:
    red, green, blue = rgb
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: list[float], other: list[float]) -> float:
    """Of two colours; wcag, definition of contrast ratio."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


# machado-2009, matrices for severity 1.0; from memory.
BLINDNESS = {
    "protan": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216),
               (-0.003882, -0.048116, 1.051998)),
    "deutan": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413),
               (-0.011820, 0.042940, 0.968881)),
    "tritan": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602),
               (0.004733, 0.691367, 0.303900)),
}  # fmt: skip


def seen(colour: str, kind: str) -> list[float]:
    rgb = linear(colour)
    return [
        min(max(sum(a * b for a, b in zip(row, rgb, strict=True)), 0.0), 1.0)
        for row in BLINDNESS[kind]
    ]


@pytest.mark.parametrize("colours", [DAY, NIGHT], ids=["day", "night"])
def test_words_can_be_read_on_every_ground(colours: dict[str, str]) -> None:
    # wcag, success criterion 1.4.3: 4.5 for text of any size.
    faint = {
        (word, ground): round(contrast(linear(colours[word]), linear(colours[ground])), 2)
        for word, ground in product(WORDS, GROUNDS)
        if (word, ground) not in UNUSED
        and contrast(linear(colours[word]), linear(colours[ground])) < 4.5
    }
    assert not faint


def test_black_on_white_has_the_contrast_that_the_standard_says() -> None:
    assert contrast(linear("#000000"), linear("#ffffff")) == pytest.approx(21.0)


@pytest.mark.parametrize("colours", [DAY, NIGHT], ids=["day", "night"])
@pytest.mark.parametrize("kind", list(BLINDNESS))
def test_the_accent_is_told_from_water_and_paper_however_colours_are_seen(
    colours: dict[str, str], kind: str
) -> None:
    # wcag, success criterion 1.4.11: 3 for what is drawn, against what it is drawn on.
    for ground in ("paper", "glass", "water"):
        assert contrast(seen(colours["mark"], kind), seen(colours[ground], kind)) >= 3.0
    assert contrast(seen(colours["ink"], kind), seen(colours["wet"], kind)) >= 3.0


def test_by_night_each_role_has_a_colour_too_and_no_two_are_alike() -> None:
    assert DAY.keys() == NIGHT.keys()
    assert len(set(DAY.values())) == len(DAY)
    assert len(set(NIGHT.values())) == len(NIGHT)
