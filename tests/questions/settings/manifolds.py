"""Small manifolds as plan text: one pump, one header, a few branches to a sump or a tank."""

from __future__ import annotations

from pathlib import Path

from balance.plan.model import Plan
from balance.plan.read import read_text

GPH = 0.003785411784 / 3600  # [m³/s] of a US gallon an hour, exact

TOP = """
title = "Small manifold"
units = "us"

[water]
salinity = "0 g/kg"
temperature = "20 degC"

[vessels.sump]
bottom = "0 in"
level = "10 in"

[vessels.tank]
bottom = "36 in"
level = "48 in"

[vessels.loft]
bottom = "120 in"
level = "130 in"
"""

PUMP = """
[pumps.main]
points = [{points}]
from = "sump"
to = "foot"
{speed}
"""

STRONG = ("0 gph at 9 ft, 25 W", "400 gph at 8 ft, 32 W", "800 gph at 5 ft, 38 W",
          "1200 gph at 0 ft, 40 W")  # fmt: skip
# Without watts no useful range is kept, so that the targets alone decide.
PLAIN = ("0 gph at 9 ft", "400 gph at 8 ft", "800 gph at 5 ft", "1200 gph at 0 ft")
WEAK = ("0 gph at 5 ft", "200 gph at 4.4 ft", "400 gph at 2.6 ft", "550 gph at 0 ft")
FREE = 'speed = "80 %"\nspeed_range = ["20 %", "100 %"]\nspeed_step = "1 %"\n'


def branch(
    name: str,
    *asked: str,
    to: str = "sump",
    valve: str = '{ valve = "ball", size = "3/4 in", open = "45 deg" }',
    length: str = "30 in",
    outlet: str = '{ outlet = "submerged" }',
) -> str:
    """A branch with its valve, three quarter inch pipe and an outlet; `asked` are lines of keys."""
    valved = f"  {valve},\n" if valve else ""
    lines = "\n".join(asked)
    return f"""
[[branches]]
name = "{name}"
to = "{to}"
{lines}
parts = [
{valved}  {{ pipe = "3/4 in sch 40", length = "{length}" }},
  {outlet},
]
"""


def header(*names: str, start: str = "foot", pipe: str = "1 in sch 40", extra: str = "") -> str:
    """A header with a tap for each name."""
    taps = "".join(
        f'  {{ branch = "{name}", after = "4 in"{end} }},\n'
        for name, end in zip(names, [""] * (len(names) - 1) + [', end = "cap"'], strict=True)
    )
    return f"""
[[headers]]
name = "header"
from = "{start}"
pipe = "{pipe}"
{extra}
taps = [
{taps}]
"""


def pump(*, points: tuple[str, ...] = STRONG, speed: str = "") -> str:
    """The pump of the manifold."""
    return PUMP.format(points=", ".join(f'"{point}"' for point in points), speed=speed)


RISER_VALVE = """
[[runs]]
name = "riser"
from = "foot"
to = "top"
parts = [
  { pipe = "1 in sch 40", length = "12 in" },
  { valve = "ball", size = "1 in", name = "main valve" },
]
"""


def read_text_of(rest: str, *, points: tuple[str, ...] = STRONG, speed: str = "") -> Plan:
    """The vessels and the pump, and the rest as text."""
    return read_text(TOP + pump(points=points, speed=speed) + rest, folder=Path.cwd())


def manifold(
    *branches: str,
    points: tuple[str, ...] = STRONG,
    speed: str = "",
    riser: str = "",
    extra: str = "",
) -> Plan:
    """A pump, a riser if there is one, a header and its branches."""
    names = [text.split('name = "')[1].split('"')[0] for text in branches]
    start = "top" if riser else "foot"
    rest = riser + header(*names, start=start) + "".join(branches) + extra
    return read_text_of(rest, points=points, speed=speed)
