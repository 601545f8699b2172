"""Two pumps side by side, a check valve each, and a reactor behind a check valve of its own."""

from __future__ import annotations

from balance.plan.reading import GaugePlace

TWO_PUMPS = """
units = "metric"

[vessels.sump]
level = "200 mm"

[vessels.tank]
level = "900 mm"

[pumps.first]
points = ["0 lph at 3.5 m, 20 W", "1500 lph at 3.1 m, 28 W", "3000 lph at 2.0 m, 33 W", "4200 lph at 0 m, 35 W"]
from = "sump"
to = "first foot"

[pumps.second]
points = ["0 lph at 3 m, 18 W", "1500 lph at 2.7 m, 25 W", "3000 lph at 1.8 m, 31 W", "4000 lph at 0 m, 33 W"]
from = "sump"
to = "second foot"

[[runs]]
name = "first riser"
from = "first foot"
to = "cross"
parts = [
  { check = "swing", size = "3/4 in" },
  { pipe = "24 mm bore", length = "1 m" },
]

[[runs]]
name = "second riser"
from = "second foot"
to = "cross"
parts = [
  { check = "swing", size = "3/4 in" },
  { pipe = "24 mm bore", length = "2 m" },
]

[[headers]]
name = "header"
from = "cross"
pipe = "24 mm bore"
taps = [
  { branch = "return", after = "10 cm" },
  { branch = "reactor", after = "10 cm" },
  { branch = "stir", after = "10 cm", end = "elbow" },
]

[[branches]]
name = "return"
to = "tank"
target = "1500 lph"
parts = [
  { valve = "ball", size = "3/4 in", open = "70 deg" },
  { pipe = "24 mm bore", length = "1 m" },
  { fitting = "elbow 90", size = "3/4 in" },
  { pipe = "24 mm bore", length = "50 cm" },
  { outlet = "free", height = "95 cm" },
]

[[branches]]
name = "reactor"
to = "sump"
target = "300 lph"
parts = [
  { valve = "ball", size = "3/4 in", open = "45 deg" },
  { hose = "13 mm", length = "1 m" },
  { check = "swing", size = "3/4 in" },
  { device = "reactor", drop = "0.3 m at 300 lph" },
  { hose = "13 mm", length = "1 m" },
  { outlet = "submerged" },
]

[[branches]]
name = "stir"
to = "sump"
target = "900 lph"
parts = [
  { valve = "gate", size = "3/4 in", open = "2 turns", turns = 5 },
  { pipe = "24 mm bore", length = "1 m" },
]
"""  # noqa: E501

# Pipes and hoses, by plan: before and behind valves and check valves, and at an end.
GAUGES = {
    "lagoon": (GaugePlace("riser", 1), GaugePlace("lagoon left", 3), GaugePlace("sump stir", 2)),
    "fish-room": (GaugePlace("riser", 2), GaugePlace("feed 2", 2)),
    "two pumps": (GaugePlace("first riser", 1), GaugePlace("reactor", 1)),
}
