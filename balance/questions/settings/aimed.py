"""What is exact and cheap: every controlled branch held at its aim, at the least speed for it.

Given the flows, every head follows, and what is left over on a branch is for its valve to burn.
This answers a plan whose targets can all be had; where they cannot, `compromise` weighs them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from balance.questions.aims import Wishes
from balance.questions.settings.flowspace import FlowSpace, Held
from balance.questions.speeds import Drive, next_step, speed_range

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

SAME_TOTAL = 1e-6  # of a group's aim, by which its members' aims may differ from it
ENOUGH = 1e-9  # [m] of head missing that is rounding
LEAST_RISE = 1e-9  # [m] of head for the whole of a pump's speed: less is none
SAME_SPEED = 1e-10
MOST_TRIES = 40


def at_aims(space: FlowSpace, wishes: Wishes, drives: tuple[Drive, ...]) -> Held | None:
    """The network with all aims carried at the least step of speed; None where that cannot be.

    Parameters
    ----------
    drives : speeds that may be set
    """
    flow = flows_at_aims(space, wishes)
    here = None if flow is None else _carried(space, flow, drives)
    return (
        _stepped(space, here, drives) if here is not None and _keeps_limits(space, here) else None
    )


def flows_at_aims(space: FlowSpace, wishes: Wishes) -> Floats | None:
    """Flows of the controls at their aims; None where aims do not settle all of them."""
    flow = np.full(len(space.controls), np.nan)
    for row, aim in enumerate(wishes.aims):
        own = [c for c, b in enumerate(space.branch_of) if b >= 0 and wishes.rows[row, b]]
        if aim.group:
            apart = abs(float(np.nansum(flow[own])) - (aim.aim or 0.0)) / aim.scale
            # Where members and total pull apart, only a compromise can weigh them.
            if apart > SAME_TOTAL or len(own) < len(aim.branches):
                return None
        elif own:
            # A sharer of the rest stays at its lower limit until the others have theirs.
            flow[own[0]] = aim.aim if aim.aim is not None else (aim.limits[0] or 0.0)
        elif not space.stays_shut(int(wishes.rows[row].argmax())):
            return None
    return None if np.isnan(flow).any() else flow


def _carried(space: FlowSpace, flow: Floats, drives: tuple[Drive, ...]) -> Held | None:
    """The network at given flows and the least speed that carries them; None if none does."""
    if len(drives) > 1:
        return None
    if not drives:
        return _feasible(space, space.at(flow, space.network.speeds))
    (drive,) = drives
    low, high = speed_range(drive.machine)

    def at(speed: float) -> Held:
        speeds = space.network.speeds
        speeds[drive.pumps, 0] = speed
        return space.at(flow, speeds)

    here = _feasible(space, at(high))
    if here is None:
        return None
    # Spare head rises with speed, and bends upwards: from above, the largest of the tangents'
    # zeros comes down to the least feasible speed without passing it.
    speed = high
    for _ in range(MOST_TRIES):
        by_speed = space.slopes(here).missing[space.rows][:, len(flow) + drive.pumps]
        rise = by_speed.sum(axis=1)
        able = rise > LEAST_RISE
        if not able.any():
            return here
        least = max(low, float((speed - here.spare[able] / rise[able]).max()))
        if least >= speed - SAME_SPEED:
            return here
        speed = least
        here = at(speed)
        if speed <= low:
            break
    return here


def _feasible(space: FlowSpace, here: Held) -> Held | None:
    room = space.throttle_room(here.flow)
    if (here.spare < -ENOUGH).any() or (here.spare > room + ENOUGH).any():
        return None
    return here


def _keeps_limits(space: FlowSpace, here: Held) -> bool:
    flow = here.state.flow[space.branch_rows, 0]
    for place, branch in enumerate(space.network.plan.branches):
        low, high = branch.limits or (None, None)
        if low is not None and flow[place] < low * (1 - 1e-9) and not space.stays_shut(place):
            return False
        if high is not None and flow[place] > high * (1 + 1e-9):
            return False
    return True


def _stepped(space: FlowSpace, here: Held, drives: tuple[Drive, ...]) -> Held:
    """The same flows at the first steps of speed that carry them."""
    speeds = here.speed.copy()
    for drive in drives:
        speeds[drive.pumps, 0] = next_step(drive.machine, float(speeds[drive.pumps[0], 0]))
    return here if np.array_equal(speeds, here.speed) else space.at(here.flow, speeds)
