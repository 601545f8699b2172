"""Random plans as a person might write them: trees and loops of pipe, hose, fittings and valves."""

from __future__ import annotations

import numpy as np

SIZES = ("1/2 in", "3/4 in", "1 in", "1 1/4 in")
HOSES = ("3/8 in", "1/2 in", "3/4 in")
FITTINGS = (
    "elbow 90",
    "elbow 45",
    "threaded elbow 90",
    "return bend",
    "union",
    "coupling",
    "tee run",
    "adapter",
)
OUTLETS = (
    'outlet = "submerged", size = "3/4 in"',
    'outlet = "bulkhead"',
    'outlet = "jet nozzle"',
    'outlet = "jet nozzle", bore = "9 mm"',
    'outlet = "flare nozzle", k = 1.4',
    'outlet = "multi-jet nozzle", holes = 6, hole = "6 mm"',
    'outlet = "spray bar", holes = 24, hole = "3 mm"',
    'outlet = "slot", slot_length = "10 in", slot_width = "3 mm"',
    'outlet = "ideal"',
)
# At 70 % of speed it lifts above any tank, and no flow drawn here reaches the last stretch.
POINTS = [
    "0 gph at 12 ft",
    "300 gph at 11 ft",
    "600 gph at 8 ft",
    "900 gph at 3 ft",
    "6000 gph at 1 ft",
    "9000 gph at 0 ft",
]


def _piece(rng: np.random.Generator, size: str) -> str:
    kind = rng.integers(0, 10)
    length = f"{rng.uniform(2, 80):.1f} in"
    if kind == 0:
        hose = rng.choice(HOSES)
        barb = f'{{ fitting = "barb", size = "{size}", hose = "{hose}" }}'
        return f'{barb}, {{ hose = "{hose}", length = "{length}" }}, {barb}'
    if kind == 1:
        other = rng.choice([name for name in SIZES if name != size])
        there = f'{{ fitting = "bushing", size = "{size}", to = "{other}" }}'
        back = f'{{ fitting = "bushing", size = "{other}", to = "{size}" }}'
        return f'{there}, {{ pipe = "{other} sch 40", length = "{length}" }}, {back}'
    if kind == 2:
        exponent = rng.choice([1.0, 1.5, 2.0])
        drop = f"{rng.uniform(0.1, 3):.2f} ft at {rng.uniform(50, 300):.0f} gph"
        return f'{{ device = "reactor", size = "{size}", drop = "{drop}", exponent = {exponent} }}'
    if kind == 3:
        return f'{{ k = {rng.uniform(0.1, 50):.2f}, size = "{size}" }}'
    if kind == 4:
        grain, depth = f"{rng.uniform(0.8, 4):.2f} mm", f"{rng.uniform(2, 10):.1f} in"
        bed = f'{{ diameter = "{rng.uniform(3, 8):.1f} in", depth = "{depth}", grain = "{grain}" }}'
        return f'{{ device = "reactor", bed = {bed}, fouled = "{rng.uniform(0, 150):.0f} %" }}'
    if kind == 5:
        other = rng.choice([name for name in SIZES if name != size])
        cone = rng.choice(["", ', angle = "20 deg"', ', angle = "110 deg"', ', taper = "30 mm"'])
        there = f'{{ fitting = "reducer"{cone} }}'
        pipe = f'{{ pipe = "{size} sch 40", length = "2 in" }}'
        return (
            f'{pipe}, {there}, {{ pipe = "{other} sch 40", length = "{length}" }}, {there}, {pipe}'
        )
    name, count = rng.choice(FITTINGS), rng.integers(1, 4)
    return f'{{ fitting = "{name}", size = "{size}", count = {count} }}'


def _parts(
    rng: np.random.Generator, main: str, *, shut: float, checked: float, ends_in_vessel: bool
) -> str:
    size = main if rng.random() < 0.7 else str(rng.choice(SIZES))
    schedule = "40" if rng.random() < 0.8 else "80"
    parts = [f'{{ pipe = "{size} sch {schedule}", length = "{rng.uniform(2, 120):.1f} in" }}']
    parts += [_piece(rng, size) for _ in range(rng.integers(0, 4))]
    if rng.random() < shut:
        parts.append(f'{{ valve = "ball", size = "{size}", open = "shut" }}')
    elif rng.random() < 0.5:
        degrees = rng.uniform(15, 90)
        parts.append(
            f'{{ valve = "ball", size = "{size}", open = "{degrees:.1f} deg", locked = true, '
            f"count = {rng.integers(1, 3)} }}"
        )
    if rng.random() < checked:
        parts.append(f'{{ check = "{rng.choice(["swing", "flap", "lift"])}", size = "{size}" }}')
    rng.shuffle(parts)
    if ends_in_vessel and rng.random() < 0.6:
        parts.append(f"{{ {rng.choice(OUTLETS)}, count = {rng.integers(1, 3)} }}")
    return "[\n  " + ",\n  ".join(parts) + ",\n]"


def draw_plan(rng: np.random.Generator) -> str:
    """Draw the text of one plan: joints in a tree, closed to loops, with vessels at its leaves."""
    joints = int(rng.integers(2, 9))
    edges = [(f"j{rng.integers(0, j)}", f"j{j}") for j in range(1, joints)]
    for _ in range(int(rng.integers(0, 4))):
        one, other = rng.choice(joints, 2, replace=False)
        edges.append((f"j{one}", f"j{other}"))
    legs = {f"j{j}": sum(f"j{j}" in edge for edge in edges) for j in range(joints)}
    text = ['units = "us"', "", "[water]", f'salinity = "{rng.uniform(0, 40):.1f} g/kg"']
    vessels = [f"tank {v}" for v in range(int(rng.integers(2, 5)))]
    for name in vessels:
        text += [f'[vessels."{name}"]', f'level = "{rng.uniform(0, 60):.1f} in"']
    leaves = [joint for joint, count in legs.items() if count == 1]
    for at, joint in enumerate(leaves + [str(rng.choice(list(legs)))] * 2):
        edges.append((joint, vessels[at % len(vessels)]))
        legs[joint] += 1
    if rng.random() < 0.5:
        joint = str(rng.choice(list(legs)))
        legs[joint] += 1
        speed = rng.uniform(70, 100)
        text += [
            f"[pumps.main]\npoints = {POINTS}",
            f'from = "{vessels[0]}"',
            f'to = "{joint}"',
        ]
        text += [f'speed = "{speed:.0f} %"']
    main = str(rng.choice(SIZES))
    shut, checked = rng.choice([0.0, 0.2]), rng.choice([0.0, 0.2])
    for number, (one, other) in enumerate(edges):
        ends = (one, other) if rng.random() < 0.5 or other in vessels else (other, one)
        text += ["[[runs]]", f'name = "run {number}"', f'from = "{ends[0]}"', f'to = "{ends[1]}"']
        parts = _parts(rng, main, shut=shut, checked=checked, ends_in_vessel=ends[1] in vessels)
        text += [f"parts = {parts}"]
    for joint, count in legs.items():
        here = [f"run {number}" for number, edge in enumerate(edges) if joint in edge]
        if count == 3 and rng.random() < 0.8:
            text += [f"[joints.{joint}]", f'side = "{rng.choice(here)}"']
    return "\n".join(text) + "\n"
