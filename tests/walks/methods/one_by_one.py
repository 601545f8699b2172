"""Each branch trimmed once, in the plan's order, to its own target with the bucket."""

from __future__ import annotations

from math import log

from tests.walks.methods.keeper import Keeper, SpentError
from tests.walks.methods.trimming import curve_of, trim

NUDGES = 2  # of one handle at the most


def one_by_one(keeper: Keeper) -> None:
    """Sets the pump as the plan's answer has it, then trims branch after branch."""
    try:
        for pump, speed in enumerate(keeper.answered_speeds):
            if speed != keeper.system.speeds[pump]:
                keeper.set_speed(pump, speed)
        for wish in keeper.wishes:

            def look(branch: str = wish.branch, aim: float = wish.aim) -> float:
                return log(aim / keeper.measure(branch))

            gap = look()
            if gap < 0.0:  # a valve that is wide open gives no more
                valve = keeper.valve_of(wish.branch)
                curve = curve_of(keeper, valve, wish.branch)
                trim(keeper, valve, curve, look, gap=gap, most_nudges=NUDGES)
    except SpentError:
        pass
