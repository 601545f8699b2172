"""Every branch shut: what pumps press with then, on what, and how much of it turns into heat."""

from __future__ import annotations

from balance.questions.close.answer import DeadHead, PumpMove, Weakest
from balance.questions.close.rows import pump_moves
from balance.questions.close.solved import Solved
from balance.questions.duty import SHAFT_SHARE
from balance.questions.heat import dead_head_warming
from balance.questions.strains import pressed, strains


def dead_head(solved: Solved, column: int) -> DeadHead:
    """What pumps come to where every branch is shut, as it is in one column."""
    network = solved.network
    pumps = tuple(pump_moves(solved, column))
    now = pressed(network, lambda pump: pump.speed)
    most = pressed(network)
    known = [strain for strain in strains(network) if strain.pressure > 0.0]
    weakest = min(known, key=lambda strain: strain.stands / strain.pressure, default=None)
    heat = _heat(solved, pumps)
    moves_water = any(pump.place != "stopped" and pump.flow > 0.0 for pump in pumps)
    return DeadHead(
        pumps=pumps,
        moves_water=moves_water,
        pressure=max((pressure for pressure, _ in now.values()), default=None),
        pressure_at_top_speed=max((pressure for pressure, _ in most.values()), default=None),
        weakest=None
        if weakest is None
        else Weakest(
            stretch=weakest.owner,
            what=weakest.what,
            stands=weakest.stands,
            guessed=weakest.guessed,
        ),
        heat=heat,
        warming=None if not heat or moves_water else dead_head_warming(network, power=heat),
    )


def _heat(solved: Solved, pumps: tuple[PumpMove, ...]) -> float | None:
    """Power of all pumps that turn, as far as it goes into the water [W]."""
    total = 0.0
    for pump in pumps:
        if pump.place == "stopped":
            continue
        if pump.power is None:
            return None
        external = solved.network.plan.pumps[pump.pump].external
        total += pump.power * (SHAFT_SHARE if external else 1.0)
    return total
