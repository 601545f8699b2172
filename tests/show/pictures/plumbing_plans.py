"""Plans to draw: manifolds of any size, rings, headers fed twice, pumps side by side, loops."""

from __future__ import annotations

import json
import random
from collections.abc import Sequence

PUMP = '["0 L/h at 5 m, 30 W", "3000 L/h at 3.5 m, 60 W", "6000 L/h at 0 m, 70 W"]'
PIPE = '{ pipe = "32 mm PN10", length = "50 cm" }'
VALVE = '{ valve = "ball", size = "20 mm", open = "40 deg" }'
HEAD = 'title = "A test"\nunits = "metric"\n'
SUMP = '[vessels.sump]\nbottom = "5 cm"\nlevel = "30 cm"\nrim = "50 cm"\n'
TANK = '[vessels.tank]\nbottom = "90 cm"\nlevel = "140 cm"\nrim = "145 cm"\n'


def pump(name: str, start: str, end: str) -> str:
    return f'[pumps."{name}"]\npoints = {PUMP}\nfrom = "{start}"\nto = "{end}"\n'


def run(name: str, start: str, end: str, parts: str = PIPE) -> str:
    return f'[[runs]]\nname = "{name}"\nfrom = "{start}"\nto = "{end}"\nparts = [{parts}]\n'


def branch(name: str, end: str | None, start: str | None = None, parts: str = VALVE) -> str:
    ends = "" if start is None else f'from = "{start}"\n'
    ends += "" if end is None else f'to = "{end}"\n'
    return f"[[branches]]\nname = {json.dumps(name, ensure_ascii=False)}\n{ends}parts = [{parts}]\n"


def header(name: str, start: str, taps: Sequence[str | None], end: str | None = None) -> str:
    items = ", ".join(
        '{ after = "10 cm" }'
        if tap is None
        else f'{{ branch = {json.dumps(tap, ensure_ascii=False)}, after = "10 cm" }}'
        for tap in taps
    )
    to = "" if end is None else f'to = "{end}"\n'
    ends = f'from = "{start}"\n{to}'
    return f'[[headers]]\nname = "{name}"\n{ends}pipe = "32 mm PN10"\ntaps = [{items}]\n'


def manifold(names: Sequence[str], *, sides: int = 2) -> str:
    """Branches on one header or two: one in three rises to the tank, one in seven is a spare."""
    half = (len(names) + 1) // 2 if sides == 2 else len(names)
    text = HEAD + SUMP + TANK + pump("main", "sump", "foot") + run("riser", "foot", "cross")
    text += header("left header", "cross", names[:half])
    if names[half:]:
        text += header("right header", "cross", names[half:])
    for number, name in enumerate(names):
        end = None if number % 7 == 5 else "tank" if number % 3 == 0 else "sump"
        text += branch(name, end)
    return text + drain("drain 1", "siphon") + drain("drain 2", "emergency")


def drain(name: str, role: str = "open") -> str:
    return (
        f'[[drains]]\nname = "{name}"\nfrom = "tank"\nto = "sump"\nrole = "{role}"\n'
        'inlet = "138 cm"\nparts = [{ pipe = "40 mm PN10", length = "80 cm" }]\n'
    )


def numbered(count: int) -> list[str]:
    return [f"branch number {number}" for number in range(1, count + 1)]


RING = (
    HEAD + SUMP + pump("main", "sump", "cross")
    + header("ring", "cross", [*numbered(4), None], "cross")
    + "".join(branch(name, "sump") for name in numbered(4))
)  # fmt: skip
BOTH_ENDS = (
    HEAD + SUMP + pump("one", "sump", "near") + pump("two", "sump", "far")
    + header("main header", "near", [*numbered(4), None], "far")
    + "".join(branch(name, "sump") for name in numbered(4))
)  # fmt: skip
POURS = f'{VALVE}, {{ outlet = "free", height = "20 cm" }}'
CHECK = f'{PIPE}, {{ check = "swing", size = "32 mm" }}'
PARALLEL = (
    HEAD + SUMP + TANK + pump("one", "sump", "a") + pump("two", "sump", "b")
    + run("from one", "a", "both", CHECK) + run("from two", "b", "both", CHECK)
    + run("riser", "both", "cross") + header("header", "cross", numbered(3))
    + "".join(branch(name, "tank") for name in numbered(3))
)  # fmt: skip
SERIES = (
    HEAD + SUMP + TANK + pump("one", "sump", "a") + pump("two", "a", "foot")
    + run("riser", "foot", "cross") + header("header", "cross", numbered(3))
    + "".join(branch(name, "tank") for name in numbered(3))
)  # fmt: skip
LOOP = (
    HEAD + SUMP + TANK + pump("main", "sump", "a")
    + run("a to b", "a", "b") + run("a to c", "a", "c") + run("b to c", "b", "c")
    + run("b to d", "b", "d") + run("c to d", "c", "d")
    + branch("first", "tank", "d") + branch("second", "sump", "c")
    + branch("third", "outside", "b", POURS)
)  # fmt: skip
SUCTION = (
    HEAD + SUMP + TANK + run("suction", "sump", "inlet") + pump("main", "inlet", "foot")
    + branch("return", "tank", "foot") + '[joints.foot]\ndraw = "50 L/h"\n'
)  # fmt: skip
ENDLESS = (
    HEAD + '[vessels.sump]\nlevel = "30 cm"\n' + pump("main", "sump", "foot")
    + branch("only", "sump", "foot")
)  # fmt: skip
HOSTILE = ["<script>alert(1)</script>", "x" * 200, "珊瑚 リアクター", "$x_1$ & co", "محطة"]
ON_HEADER = (
    HEAD + SUMP + TANK + pump("main", "sump", "cross")
    + '[[headers]]\nname = "header"\nfrom = "cross"\npipe = "32 mm PN10"\ntaps = [\n'
    f'{{ branch = "first", after = "10 cm", parts = [{VALVE}] }},\n'
    '{ branch = "second", after = "10 cm", parts = [{ check = "swing", size = "32 mm" }] },\n]\n'
    + branch("first", "tank", None, VALVE.replace("40 deg", "shut"))
    + branch("second", "sump", None, VALVE.replace(" }", ", locked = true }"))
)  # fmt: skip
SECTIONS = (
    HEAD + SUMP + SUMP.replace(".sump", ".filter") + SUMP.replace(".sump", ".refugium")
    + '[[weirs]]\nname = "baffle"\nfrom = "filter"\nto = "sump"\n'
    + 'crest = "29 cm"\nlength = "20 cm"\n'
    + pump("main", "sump", "cross") + header("header", "cross", numbered(6))
    + "".join(
        branch(name, end)
        for name, end in zip(numbered(6), ["filter", "refugium", "sump"] * 2, strict=True)
    )
)  # fmt: skip


def at_random(seed: int) -> str:
    """Two headers of any size, branches with any parts to three tanks, and any number of drains."""
    chance = random.Random(seed)
    names = numbered(chance.randint(3, 40))
    half = chance.randint(1, len(names) - 1)
    text = HEAD + SUMP + TANK + LOW + HIGH + pump("main", "sump", "foot")
    text += run("riser", "foot", "cross") + header("left header", "cross", names[:half])
    text += header("right header", "cross", names[half:])
    for name in names:
        end = chance.choice(["tank", "low tank", "high tank", "sump", "sump", None])
        text += branch(name, end, None, chance.choice(PARTS))
    for tank in ("tank", "low tank", "high tank"):
        for number in range(chance.randint(0, 3)):
            text += drain(f"{tank} drain {number}").replace('"tank"', f'"{tank}"')
    return text.replace('inlet = "138 cm"\n', "")


LOW = (
    '[vessels."low tank"]\nbottom = "80 cm"\nlevel = "130 cm"\nrim = "136 cm"\n'
    'length = "60 cm"\nwidth = "40 cm"\n'
)
HIGH = '[vessels."high tank"]\nbottom = "180 cm"\nlevel = "210 cm"\nrim = "215 cm"\n'
PARTS = (
    VALVE,
    f'{VALVE}, {{ device = "reactor", drop = "20 cm at 200 L/h" }}',
    f'{{ check = "swing", size = "20 mm" }}, {VALVE}',
    f'{{ valve = "gate", size = "20 mm", open = "1 turn", turns = 5, locked = true }}, {VALVE}',
)
