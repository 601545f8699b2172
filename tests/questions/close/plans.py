"""Small plans to shut branches of."""

from __future__ import annotations

from balance.plan.model import Plan
from balance.plan.read import read_text

TOP = """
units = "us"

[vessels.sump]
level = "10 in"
rim = "16 in"
length = "30 in"
width = "15 in"

[vessels.tank]
bottom = "36 in"
level = "48 in"
rim = "50 in"
length = "30 in"
width = "15 in"

[pumps.main]
points = ["0 gph at 12 ft, 30 W", "600 gph at 9 ft, 45 W", "1200 gph at 0 ft, 50 W"]
from = "sump"
to = "foot"
speed = "80 %"
speed_range = ["40 %", "100 %"]
useful_range = ["30 %", "70 %"]

[[runs]]
name = "riser"
from = "foot"
to = "cross"
parts = [{ pipe = "1 in sch 40", length = "20 in" }]
"""


def branch(name: str, *, to: str = "sump", more: str = "", parts: str = "", **key: str) -> str:
    """A branch from the one joint, with a ball valve unless its parts say otherwise."""
    inner = parts or f'{{ valve = "ball", size = "1/2 in", open = "{key.get("open_", "60 deg")}" }}'
    return f"""
[[branches]]
name = "{name}"
from = "cross"
to = "{to}"
{more}
parts = [{inner}, {{ pipe = "1/2 in sch 40", length = "{key.get("length", "40 in")}" }}]
"""


def plan(*branches: str, more: str = "", top: str = TOP) -> Plan:
    """A pump, a riser and branches that begin at one joint, where nothing is lost."""
    return read_text(top + "".join(branches) + more)


def three(**key: str) -> Plan:
    """Three branches, one of which lifts into the tank."""
    return plan(
        branch("reactor", **key), branch("refugium", length="20 in"), branch("return", to="tank")
    )
