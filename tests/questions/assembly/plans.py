"""Plans of one branch or two, of which one can tell by hand what they take."""

from __future__ import annotations

VESSELS = """\
[vessels.sump]
level = "9 in"
[vessels.tank]
level = "40 in"
"""
PUMP = """\
[pumps.main]
points = ["0 gph at 13 ft", "600 gph at 9 ft", "1200 gph at 0 ft"]
from = "sump"
to = "foot"
"""


def plan(*tables: str, top: str = "", parts: str = "", end: str = "tank") -> str:
    """A pump and a branch from its foot with these parts, and whatever else."""
    branch = f'[[branches]]\nname = "return"\nfrom = "foot"\nto = "{end}"\nparts = [\n{parts}\n]\n'
    return f"{top}\n{VESSELS}{PUMP}{branch}" + "\n".join(tables)


def pipe(length: str, size: str = "1 in sch 40", more: str = "") -> str:
    return f'{{ pipe = "{size}", length = "{length}"{more} }},\n'


def fitting(kind: str, size: str = "1 in", more: str = "") -> str:
    return f'{{ fitting = "{kind}", size = "{size}"{more} }},\n'


MANIFOLD = """\
[[runs]]
name = "riser"
from = "foot"
to = "cross"
parts = [{ fitting = "union", size = "1 in" }, { pipe = "1 in sch 40", length = "10 in" }]

[[headers]]
name = "header"
from = "cross"
pipe = "1 in sch 40"
taps = [
  { branch = "reactor", after = "4 in", side_size = "3/4 in" },
  { branch = "left", after = "5 in", end = "elbow" },
]

[[headers]]
name = "other header"
from = "cross"
pipe = "1 in sch 40"
taps = [{ branch = "right", after = "6 in", end = "cap" }]

[joints.cross]
side = "riser"

[[branches]]
name = "reactor"
to = "sump"
parts = [
  { valve = "ball", size = "3/4 in" },
  { fitting = "barb", size = "3/4 in", hose = "1/2 in" },
  { hose = "1/2 in", length = "30 in" },
  { device = "reactor", drop = "1 ft at 100 gph" },
  { hose = "1/2 in", length = "30 in" },
]

[[branches]]
name = "left"
to = "tank"
parts = [{ valve = "gate", size = "1 in" }, { pipe = "1 in sch 40", length = "20 in" }]

[[branches]]
name = "right"
parts = [{ valve = "ball", size = "1 in", open = "shut" }]
"""
