"""Small plans with drains."""

from __future__ import annotations

from balance.network.arrays import plan_water
from balance.network.gravity import gravity_drains
from balance.plan.model import Plan
from balance.plan.read import read_text
from balance.questions.drains.levels import Overflow, overflow_of

GPH = 3.785411784e-3 / 3600.0
INCH = 0.0254

TANK = """
units = "us"

[vessels.sump]
bottom = "0 in"
level = "10 in"
rim = "20 in"
length = "40 in"
width = "20 in"

[vessels.tank]
bottom = "36 in"
level = "56 in"
rim = "60 in"
length = "60 in"
width = "24 in"

[pumps.main]
points = ["0 gph at 14 ft", "800 gph at 9 ft", "1600 gph at 0 ft"]
from = "sump"
to = "foot"
speed = "70 %"
speed_range = ["40 %", "100 %"]

[[branches]]
name = "return"
from = "foot"
to = "tank"
parts = [
  { valve = "ball", size = "1 in" },
  { pipe = "1 in sch 40", length = "60 in" },
]

[[branches]]
name = "reactor"
from = "foot"
to = "sump"
parts = [
  { valve = "ball", size = "1/2 in", open = "50 deg" },
  { pipe = "1/2 in sch 40", length = "20 in" },
]
"""

BOX = """
[vessels.box]
bottom = "46 in"
level = "54 in"
rim = "{rim}"
length = "10 in"
width = "6 in"

[[weirs]]
name = "teeth"
from = "tank"
to = "box"
crest = "{crest}"
length = "10 in"
"""


def box(rim: str = "60 in", crest: str = "55.5 in") -> str:
    """An overflow box behind a weir of the tank."""
    return BOX.format(rim=rim, crest=crest)


OWN_WEIR = """width = "24 in"
crest = "55.5 in"
weir_length = "10 in"
"""


def drain(
    name: str, *, role: str, inlet: str, size: str = "1 in", of: str = "box", more: str = ""
) -> str:
    """A drain straight down into the sump's water."""
    return f"""
[[drains]]
name = "{name}"
from = "{of}"
to = "sump"
role = "{role}"
inlet = "{inlet}"
parts = [{more} {{ pipe = "{size} sch 40", length = "40 in" }}]
"""


GATE = '{{ valve = "gate", size = "{size}", open = "{open_}", turns = 6 }},'


def siphon(
    name: str = "siphon", *, inlet: str = "48 in", open_: str = "2 turns", **key: str
) -> str:
    """A siphon with a gate valve."""
    gate = GATE.format(size=key.get("size", "1 in"), open_=open_)
    return drain(name, role="siphon", inlet=inlet, more=gate, **key)


def trio(**key: str) -> str:
    """Siphon, trickle and a wide emergency."""
    of = key.get("of", "box")
    return (
        siphon(**key)
        + drain("trickle", role="trickle", inlet="52 in", of=of)
        + drain("emergency", role="emergency", inlet="53 in", size="3 in", of=of)
    )


def plan(*texts: str, own_weir: bool = False) -> Plan:
    """A tank with a return, and what is said of its drains."""
    tank = TANK.replace('width = "24 in"\n', OWN_WEIR) if own_weir else TANK
    return read_text(tank + "".join(texts))


def overflow(*texts: str, vessel: str = "box", own_weir: bool = False) -> Overflow:
    """A vessel of such a plan with its drains."""
    found = plan(*texts, own_weir=own_weir)
    return overflow_of(found, vessel, gravity_drains(found, plan_water(found)))
