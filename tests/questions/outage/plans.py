"""A tank over a sump, with a return, a reactor, a box with drains, to be stopped."""

from __future__ import annotations

from balance.plan.model import Plan
from balance.plan.read import read_text

PLANT = """
units = "metric"
[vessels.sump]
bottom = "0 cm"
level = "20 cm"
rim = "60 cm"
length = "100 cm"
width = "50 cm"
[vessels.tank]
bottom = "100 cm"
level = "140 cm"
rim = "145 cm"
length = "100 cm"
width = "60 cm"
[pumps.main]
points = ["0 L/h at 4 m", "2000 L/h at 3 m", "4000 L/h at 0 m"]
from = "sump"
to = "foot"
intake = "5 cm"
strainer = "8 cm"
[[runs]]
name = "riser"
from = "foot"
to = "cross"
high_point = "10 cm"
parts = [{ check = "swing", size = "25 mm" }, { pipe = "25 mm PN16", length = "50 cm" }]
[[headers]]
name = "header"
from = "cross"
pipe = "32 mm PN10"
height = "10 cm"
taps = [
  { branch = "return", after = "20 cm" },
  { branch = "reactor", after = "20 cm", end = "elbow" },
]
[[branches]]
name = "return"
to = "tank"
high_point = "150 cm"
parts = [{ valve = "ball", size = "25 mm" }, { pipe = "25 mm PN16", length = "120 cm" },
  { outlet = "submerged", depth = "4 cm", siphon_break = "1 cm" }]
[[branches]]
name = "reactor"
to = "sump"
high_point = "15 cm"
parts = [{ valve = "ball", size = "20 mm" }, { pipe = "20 mm PN16", length = "40 cm" },
  { outlet = "submerged", depth = "5 cm" }]
"""

BOX = """
[vessels.box]
bottom = "110 cm"
level = "138 cm"
rim = "145 cm"
length = "20 cm"
width = "10 cm"
[[weirs]]
name = "edge"
from = "tank"
to = "box"
crest = "139 cm"
length = "30 cm"
[[drains]]
name = "siphon"
from = "box"
to = "sump"
role = "siphon"
inlet = "130 cm"
parts = [{ pipe = "32 mm PN10", length = "110 cm" }]
[[drains]]
name = "emergency"
from = "box"
to = "sump"
role = "emergency"
inlet = "139.5 cm"
parts = [{ pipe = "50 mm PN10", length = "110 cm" }]
"""

SHUT = '{ valve = "ball", size = "20 mm" }, { pipe = "20 mm PN16", length = "40 cm" }'


def plant(*changes: tuple[str, str], more: str = "") -> Plan:
    """The plan with some of its text changed and some added."""
    text = PLANT + more
    for old, new in changes:
        assert text.count(old) >= 1, old
        text = text.replace(old, new)
    return read_text(text)
