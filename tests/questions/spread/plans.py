"""A small invented plan with something of every kind that is in doubt."""

from __future__ import annotations

SMALL = """
units = "metric"

[water]
temperature = "25 degC"

[vessels.sump]
level = "200 mm"

[vessels.tank]
level = "1100 mm"

[pumps.main]
points = ["0 lph at 3.5 m", "1500 lph at 3.1 m", "3000 lph at 2.0 m", "4200 lph at 0 m"]
from = "sump"
to = "foot"

[joints.cross]
side = "riser"

[[runs]]
name = "riser"
from = "foot"
to = "cross"
parts = [
  { pipe = "3/4 in sch 40", length = "1 m", roughness = "0.1 mm" },
  { fitting = "elbow 90", size = "3/4 in", count = 2 },
]

[[branches]]
name = "return"
from = "cross"
to = "tank"
target = "1600 lph"
parts = [
  { valve = "ball", size = "3/4 in", open = "60 deg" },
  { pipe = "3/4 in sch 40", length = "2 m", roughness = "0.1 mm" },
  { fitting = "elbow 90", size = "3/4 in" },
  { outlet = "submerged" },
]

[[branches]]
name = "reactor"
from = "cross"
to = "sump"
target = "700 lph"
limits = ["400 lph", "900 lph"]
parts = [
  { valve = "ball", size = "3/4 in", open = "55 deg" },
  { fitting = "barb", size = "3/4 in", hose = "1/2 in" },
  { hose = "1/2 in", length = "1.5 m" },
  { device = "reactor", drop = "0.3 m at 400 lph" },
  { outlet = "submerged" },
]
"""

CERTAIN = {
    "full_open": '"0 %"',
    "common": '"0 %"',
    "tees": '"0 %"',
    "barbs": '"0 %"',
    "devices": '"0 %"',
    "ball": "0",
    "ball_offset": '"0 deg"',
    "gate": "0",
    "hose_bore": '"0 %"',
    "pipe_bore": '"0 %"',
    "roughness": '"0 %"',
    "pump_head": '"0 %"',
    "pump_flow": '"0 %"',
    "speed": '"0 %"',
    "level": '"0 mm"',
    "temperature": "0",
    "mark": '"0 deg"',
}
"""Every key by which a drawn system differs from its plan, at nought."""


def spread_table(**keys: str) -> str:
    """The table `[spread]` with some keys, the others at nought."""
    return "[spread]\n" + "".join(f"{key} = {value}\n" for key, value in (CERTAIN | keys).items())
