"""Small plans to change water in."""

from __future__ import annotations

from balance.plan.model import Plan
from balance.plan.read import read_text

TANK = """
units = "metric"

[vessels.tank]
bottom = "1 m"
level = "1.5 m"
rim = "1.65 m"
length = "1 m"
width = "0.5 m"

[vessels.barrel]
bottom = "0 m"
level = "0.8 m"
rim = "0.9 m"
length = "0.5 m"
width = "0.5 m"

[pumps."change pump"]
points = ["0 L/h at 3 m", "1500 L/h at 2 m", "3000 L/h at 0 m"]
from = "barrel"
to = "foot"
use = "change"
intake = "5 cm"

[[runs]]
name = "new line"
from = "foot"
to = "tank"
use = "change"
parts = [
  { valve = "ball", size = "25 mm", open = "shut" },
  { pipe = "25 mm bore", length = "2 m" },
  { outlet = "OUTLET" },
]

[[drains]]
name = "way out"
from = "tank"
to = "outside"
role = "change"
inlet = "1.1 m"
parts = [
  { inlet = "ideal" },
  { valve = "ball", size = "20 mm", open = "shut" },
  { k = 4.0, bore = "20 mm" },
  { outlet = "free", height = "0.2 m" },
]

[change]
from = "barrel"
volume = "50 L"
drain = "way out"
pump = "change pump"
"""

RETURN = """
[vessels.sump]
bottom = "0 m"
level = "30 cm"
rim = "50 cm"
length = "80 cm"
width = "50 cm"

[pumps.main]
points = ["0 L/h at 3 m", "1500 L/h at 2 m", "3000 L/h at 0 m"]
from = "sump"
to = "riser"
intake = "10 cm"

[[branches]]
name = "return"
from = "riser"
to = "tank"
parts = [{ pipe = "25 mm bore", length = "2 m" }, { outlet = "free", height = "1.7 m" }]

[[drains]]
name = "standpipe"
from = "tank"
to = "sump"
role = "siphon"
inlet = "1.45 m"
parts = [{ pipe = "50 mm bore", length = "1 m" }]
"""
"""Behind `TANK`: a sump under the tank, and a pump that sends its water up."""


def plan(*changes: tuple[str, str], more: str = "", outlet: str = 'free", height = "1.7 m') -> Plan:
    """The tank and its barrel, with other text at some places and more behind."""
    text = TANK.replace("OUTLET", outlet)
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return read_text(text + more)
