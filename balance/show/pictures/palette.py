"""Our colours, by what they are for; one accent.

Each is told from its neighbours by lightness too, so that a picture reads without colour and with
the common kinds of colour blindness, and patterns stand beside it.  Words are written in `INK`,
`SOFT` or `MARK` alone: each has a contrast of 4.5 and more on every ground that words stand on, by
day and by night (`tests/show/pictures/test_palette.py`).  A page says what each is at night:
`NIGHT`.
"""

from __future__ import annotations

INK = "#17323a"  # words, walls, axes
SOFT = "#47616b"  # words of less weight
MARK = "#a3371a"  # the accent: where a handle goes, where a pump works, what goes wrong
PAPER = "#fbf8f0"  # the ground
GLASS = "#fffefb"  # what stands on it: tables, tanks
WATER = "#d3eaec"  # water in a vessel
WET = "#5fb0bd"  # water in a pipe; bars of flow
SAND = "#e3cf9f"  # what displaces water; a range that is good
TINT = "#f4cdb8"  # the accent as a ground
RULE = "#c9cfc6"  # thin lines: grids, rules of tables

DAY = {
    "ink": INK, "soft": SOFT, "mark": MARK, "paper": PAPER, "glass": GLASS, "water": WATER,
    "wet": WET, "sand": SAND, "tint": TINT, "rule": RULE,
}  # fmt: skip
NIGHT = {
    "ink": "#ece7da", "soft": "#b3c2c6", "mark": "#ffa183", "paper": "#10191d", "glass": "#17242a",
    "water": "#1f434c", "wet": "#2f7d8c", "sand": "#57492a", "tint": "#5c2f20", "rule": "#3a4a50",
}  # fmt: skip

LETTERS = "DejaVu Sans"  # matplotlib brings it along; a page has narrower letters of its own
"""Words are measured in these, which are wide: in a page's own they take less room."""
