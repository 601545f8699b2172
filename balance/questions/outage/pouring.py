"""Water that comes slowly into vessels and evens out over the weirs between them."""

from __future__ import annotations

from collections.abc import Mapping

from balance.network.basins import basin_of
from balance.parts.basins import Basin
from balance.plan.model import Plan

PORTIONS = 20  # in which it is poured, so that no vessel spills what its neighbour would take
HALVINGS = 60
HAIR = 1e-9  # [m³], less than which does not move
ROUNDS = 50


def poured(
    plan: Plan, levels: Mapping[str, float], volumes: Mapping[str, float]
) -> tuple[dict[str, float], dict[str, float]]:
    """Levels once so much has come into vessels, and what has gone over each one's rim [m], [m³].

    Over a weir water passes down to its crest, or until the surfaces on both sides are level.  What
    stands over a rim from the start is on its way to the floor, and counts there already.
    """
    basins = {n: b for n, vessel in plan.vessels.items() if (b := basin_of(vessel)) is not None}
    stored = {name: float(basin.volume(levels[name])) for name, basin in basins.items()}
    brims = {
        name: max(stored[name], float(basin.volume(rim)))
        for name, basin in basins.items()
        if (rim := plan.vessels[name].rim) is not None
    }
    spilt = dict.fromkeys(brims, 0.0)
    for _ in range(PORTIONS):
        for name, volume in volumes.items():
            if name in stored:
                stored[name] += volume / PORTIONS
        for _ in range(ROUNDS):  # what a section spills makes way for more out of the next
            _even_out(plan, basins, stored)
            over = {name: max(0.0, stored[name] - brim) for name, brim in brims.items()}
            for name, volume in over.items():
                stored[name] -= volume
                spilt[name] += volume
            if sum(over.values()) < HAIR:
                break
    poured_into = {name: float(basins[name].level(volume)) for name, volume in stored.items()}
    return {**levels, **poured_into}, spilt


def _even_out(plan: Plan, basins: Mapping[str, Basin], stored: dict[str, float]) -> None:
    """Lets water pass over weirs until none moves any more, in place."""
    for _ in range(ROUNDS):
        moved = 0.0
        for weir in plan.weirs:
            if weir.from_ in stored and weir.to in stored:
                moved += _pass(basins, stored, (weir.from_, weir.to), weir.crest)
        if moved < HAIR:
            return


def _pass(
    basins: Mapping[str, Basin], stored: dict[str, float], ends: tuple[str, str], crest: float
) -> float:
    """Lets water pass over one weir, in place; gives how much [m³]."""
    high, low = sorted(ends, key=lambda name: -float(basins[name].level(stored[name])))
    above = stored[high] - float(basins[high].volume(crest))
    if above <= 0.0:
        return 0.0
    if float(basins[low].level(stored[low] + above)) <= crest:
        amount = above
    else:
        least, most = 0.0, above
        for _ in range(HALVINGS):
            amount = 0.5 * (least + most)
            up, down = (
                float(basins[high].level(stored[high] - amount)),
                float(basins[low].level(stored[low] + amount)),
            )
            least, most = (amount, most) if up > down else (least, amount)
        amount = least
    stored[high] -= amount
    stored[low] += amount
    return amount
