"""A plan with a handle of each kind and two pumps, and logs of readings beside it."""

from __future__ import annotations

from pathlib import Path

from balance.plan.model import Plan
from balance.plan.read import read_text
from balance.plan.reading import Reading
from balance.plan.readings import Readings, read_readings

PLAN = """
[vessels.sump]
level = "9 in"
[vessels.tank]
level = "58 in"

[pumps.main]
points = ["0 gph at 13 ft", "600 gph at 9 ft", "1200 gph at 0 ft"]
from = "sump"
to = "foot"
speed = "85 %"
[pumps.second]
points = ["0 gph at 13 ft", "600 gph at 9 ft", "1200 gph at 0 ft"]
from = "sump"
to = "second foot"
[pumps.fill]
points = ["0 gph at 13 ft", "600 gph at 9 ft", "1200 gph at 0 ft"]
from = "sump"
to = "fill foot"
use = "change"

[[runs]]
name = "riser"
from = "foot"
to = "cross"
parts = [
  { fitting = "union", size = "1 in" },
  { pipe = "1 in sch 40", length = "14 in" },
  { hose = "1 in", length = "2 ft" },
]
[[runs]]
name = "second riser"
from = "second foot"
to = "cross"
parts = [{ check = "swing", size = "1 in" }, { pipe = "1 in sch 40", length = "14 in" }]
[[runs]]
name = "riser 2"
from = "fill foot"
to = "sump"
use = "change"
parts = [{ pipe = "1 in sch 40", length = "14 in" }, { outlet = "free", height = "18 in" }]
[[runs]]
name = "bridge"
from = "cross"
to = "left"
parts = [{ fitting = "union", size = "1 in" }]

[[headers]]
name = "header"
from = "left"
pipe = "1 in sch 40"
taps = [
  { branch = "Carbon reactor", after = "4 in" },
  { branch = "refugium", after = "4 in" },
  { branch = "stir; slow", after = "4 in" },
  { branch = "return", after = "4 in" },
  { branch = "spare 1", after = "4 in" },
  { branch = "held", after = "4 in" },
]

[[branches]]
name = "Carbon reactor"
to = "sump"
parts = [
  { valve = "ball", size = "3/4 in", open = "35 deg" },
  { hose = "3/4 in", length = "2 ft" },
]
[[branches]]
name = "refugium"
to = "sump"
parts = [{ valve = "gate", size = "3/4 in", open = "1 1/4 turns", turns = 5, name = "gate" }]
[[branches]]
name = "stir; slow"
to = "sump"
parts = [{ valve = "gate", size = "3/4 in", open = "50 %" }]
[[branches]]
name = "return"
to = "tank"
parts = [
  { valve = "ball", size = "1 in", open = "60 deg", stops = ["15 deg", "80 deg"] },
  { pipe = "1 in sch 40", length = "14 in" },
]
[[branches]]
name = "spare 1"
parts = [{ valve = "ball", size = "3/4 in", open = "shut" }]
[[branches]]
name = "held"
to = "sump"
parts = [
  { valve = "ball", size = "3/4 in", open = "30 deg", locked = true },
  { pipe = "3/4 in sch 40", length = "14 in" },
]

[[drains]]
name = "siphon"
from = "tank"
to = "sump"
parts = [{ pipe = "1 in sch 40", length = "40 in" }]
"""

VALVES = ("Carbon reactor", "gate", "stir; slow", "return", "spare 1", "held")
STAND = (35 / 90, 0.25, 0.5, 60 / 90, 0.0, 30 / 90)
"""Where they stand as planned."""


def plan_of_logs() -> Plan:
    return read_text(PLAN, file="plan.toml")


def readings(folder: Path, text: str, plan: Plan, *, keep_going: bool = False) -> Readings:
    """Read a log that has some text."""
    file = folder / "log.csv"
    file.write_bytes(text.encode())
    return read_readings(file, plan, keep_going=keep_going)


def moves_of(row: Reading) -> list[tuple[str, str, float]]:
    """What a row turned, its openings rounded beyond what a computer's arithmetic blurs."""
    return [(one.valve, one.by, round(one.to, 12)) for one in row.turned]


def move(valve: str, by: str, to: float) -> tuple[str, str, float]:
    return valve, by, round(to, 12)
