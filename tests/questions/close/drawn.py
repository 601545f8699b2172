"""Random manifolds with handles in mid travel: trees, with and without tees, and rings."""

from __future__ import annotations

import numpy as np

from balance.plan.model import Plan
from tests.questions.settings.manifolds import branch, header, read_text_of

# Strong enough that no branch drawn here runs backwards.
HIGH = ("0 gph at 24 ft", "1200 gph at 22 ft", "2400 gph at 15 ft", "3600 gph at 0 ft")
VALVES = ('valve = "ball", size = "3/4 in"', 'valve = "gate", turns = 5, size = "3/4 in"')


def drawn(seed: int, kind: str, *, speed: str = "", points: tuple[str, ...] = HIGH) -> Plan:
    """A pump and three to six branches: from one joint ("plain"), a header ("tees") or a "ring"."""
    rng = np.random.default_rng(seed)
    names = [f"branch {n}" for n in range(int(rng.integers(3, 7)))]
    branches = [
        branch(
            name,
            *(('from = "foot"',) if kind == "plain" else ()),
            to=str(rng.choice(["sump", "sump", "tank"])),
            valve=f'{{ {rng.choice(VALVES)}, open = "{rng.uniform(25, 50):.1f} %" }}',
            length=f"{rng.uniform(10, 90):.1f} in",
        )
        for name in names
    ]
    top = {"plain": "", "tees": header(*names), "ring": ring(*names)}[kind]
    return read_text_of(top + "".join(branches), points=points, speed=speed)


def ring(*names: str, valves: tuple[str, ...] = ()) -> str:
    """A header that comes back to where it begins.

    Before the taps named in `valves`, and before the end for "close", stands a valve.
    """
    taps = "".join(
        f'  {{ branch = "{name}", after = "9 in"{_valve_before(name, valves)} }},\n'
        for name in names
    )
    return f"""
[[headers]]
name = "ring"
from = "foot"
to = "foot"
pipe = "1 in sch 40"
taps = [
{taps}  {{ after = "9 in"{_valve_before("close", valves)} }},
]
"""


def _valve_before(name: str, valves: tuple[str, ...]) -> str:
    if name not in valves:
        return ""
    return f', parts = [{{ valve = "ball", size = "1 in", name = "before {name}" }}]'
