"""Pieces into lengths of pipe, by our own packing and by scipy's milp on the plain model."""

from __future__ import annotations

import random
from functools import partial
from statistics import median

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from balance.questions.packing import Packing, pack
from tests.speed._cases import seconds

INCH = 0.0254
STICK, KERF = 120 * INCH, INCH / 8
SHELVES = 10
LIMIT = 10.0  # for the plain model [s]


def shelf(seed: int, number: int) -> list[float]:
    """Pieces of a manifold: 2 to 40 in, in sixteenths."""
    chance = random.Random(seed)
    return [chance.randint(32, 640) / 16 * INCH for _ in range(number)]


def plain(lengths: list[float], sticks: int) -> float | None:
    """Fewest sticks, as one would ask for them: a piece is in a stick or is not."""
    number = len(lengths)
    sizes = np.array(lengths) + KERF
    count = number * sticks
    once = np.zeros((number, count + sticks))
    for piece in range(number):
        once[piece, piece * sticks : (piece + 1) * sticks] = 1.0
    room = np.zeros((sticks, count + sticks))
    for stick in range(sticks):
        room[stick, stick:count:sticks] = sizes
        room[stick, count + stick] = -(STICK + KERF)
    found = milp(
        np.concatenate([np.zeros(count), np.ones(sticks)]),
        integrality=np.ones(count + sticks, dtype=np.int64),
        bounds=Bounds(0, 1),
        constraints=[LinearConstraint(once, 1, 1), LinearConstraint(room, -np.inf, 0)],
        options={"time_limit": LIMIT},
    )
    return None if found.x is None else float(found.fun)


def main() -> None:
    """Print how long each takes, and how much of it is proven."""
    for number in (5, 20, 35, 50):
        shelves = [shelf(seed, number) for seed in range(SHELVES)]
        found: list[Packing] = []
        times = []
        for lengths in shelves:
            times.append(seconds(partial(pack, lengths, stock=[STICK], kerf=KERF)))
            found.append(pack(lengths, stock=[STICK], kerf=KERF))
        elsewhere = seconds(partial(plain, shelves[0], found[0].bought + 1), repeats=1)
        print(
            f"{number} pieces: median {median(times) * 1e3:.0f} ms, longest {max(times) * 1e3:.0f} "
            f"ms; count proven in {sum(f.bought == f.fewest for f in found)} of {SHELVES}, all "
            f"three goals in {sum(f.exact for f in found)}; the plain model takes "
            f"{elsewhere / times[0]:.0f} times as long for the count alone (stopped after "
            f"{LIMIT:g} s)"
        )


if __name__ == "__main__":
    main()
