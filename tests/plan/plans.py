"""A plan that uses most keys, for tests to read and to spoil."""

from __future__ import annotations

PLAN = """\
title = "Lagoon and seagrass system"
units = "us"
measured = "visible"

[water]
salinity = "35 g/kg"
temperature = "25.5 degC"

[vessels.sump]
bottom = "0 in"
level = "9 in"
rim = "16 in"
length = "36 in"
width = "18 in"

[vessels.lagoon]
bottom = "36 in"
level = "58 in"
rim = "60 in"
length = "60 in"
width = "24 in"

[pumps.main]
points = ["0 gph at 13 ft, 35 W", "600 gph at 9 ft, 42 W", "1200 gph at 0 ft, 45 W"]
from = "sump"
to = "riser foot"
speed = "85 %"
speed_range = ["40 %", "100 %"]
speed_step = "5 %"

[[runs]]
name = "riser"
from = "riser foot"
to = "cross"
parts = [
  { pipe = "1 in sch 80", length = "14 in" },
  { fitting = "elbow 90", size = "1 in", count = 2 },
  { fitting = "union", size = "1 in" },
]

[[headers]]
name = "left header"
from = "Cross"
pipe = "1 in sch 40"
taps = [
  { branch = "Carbon Reactor", after = "4 in", side_size = "3/4 in" },
  { branch = "refugium", after = "4 in" },
  { branch = "spare 1", after = "4 in" },
  { branch = "lagoon left", after = "6 in", end = "elbow" },
]

[[branches]]
name = "carbon reactor"
to = "SUMP"
target = "120 gph"
tolerance = "10 %"
limits = ["60 gph", "160 gph"]
parts = [
  { valve = "ball", size = "3/4 in", open = "45 deg" },
  { fitting = "barb", size = "3/4 in", hose = "1/2 in" },
  { hose = "1/2 in", length = "4 ft" },
  { device = "reactor", drop = "1.2 ft at 120 gph" },
  { hose = "1/2 in", length = "3 ft" },
  { outlet = "submerged" },
]

[[branches]]
name = "refugium"
target = ">= 100 gph"
like = "carbon reactor"

[[branches]]
name = "spare 1"
parts = [ { valve = "ball", size = "3/4 in", open = "shut" } ]

[[branches]]
name = "lagoon left"
to = "lagoon"
share = 1
parts = [
  { valve = "ball", size = "1 in" },
  { check = "swing", size = "1 in" },
  { pipe = "1 in sch 40", length = "46 in" },
  { outlet = "submerged", depth = "0.75 in", siphon_break = "0.25 in" },
]

[[drains]]
name = "main drain"
from = "lagoon"
to = "sump"
role = "siphon"
inlet = "56.5 in"
parts = [
  { valve = "gate", size = "1 in", open = "3 turns", turns = 6 },
  { pipe = "1 in sch 40", length = "40 in" },
]
"""


def spoilt(old: str, new: str) -> str:
    """Put other text into the plan at one place."""
    assert PLAN.count(old) >= 1, old
    return PLAN.replace(old, new, 1)


def line_of(text: str, part: str) -> int:
    """Give the line on which a part of the text stands."""
    return text[: text.index(part)].count("\n") + 1


def one_run(parts: str, *, high: float = 30.0, to: str = "high") -> str:
    """A run of some parts from a vessel at 10 in to a higher one; the parts stand on line 9."""
    return f"""\
[vessels.low]
level = "10 in"
[vessels.high]
level = "{high} in"
[[runs]]
name = "run"
from = "low"
to = "{to}"
parts = [{parts}]
"""
