"""Sharers of all that is left: the largest common part that leaves the others theirs."""

from __future__ import annotations

import numpy as np

from balance.questions.aims import Aim
from balance.questions.settings.flowspace import FlowSpace, Held

MOST_TRIES = 40
SAME_PART = 1e-10
FIRST_GUESS = 0.1  # of the run-out of the largest pump, for all sharers together
AT_ONCE = 3.0  # times the part by which it grows at most in one step, and
AT_LEAST = 0.1  # of it that is left at the least
LEAST_FALL = 1e-12  # of spare head against the part


def share_the_rest(space: FlowSpace, here: Held, sharers: tuple[Aim, ...]) -> Held:
    """Gives the sharers the largest part; all others keep the flow they have.

    Parameters
    ----------
    here : everything but the sharers as it shall be
    sharers : branches with a share of what is left
    """
    names = {aim.branches[0]: aim for aim in sharers}
    at = [
        (c, names[control.valve.stretch])
        for c, control in enumerate(space.controls)
        if control.valve.stretch in names
    ]
    if not at:
        return here
    direction = np.zeros(len(here.flow))
    for c, aim in at:
        direction[c] = aim.share or 0.0
    base = np.where(direction > 0.0, 0.0, here.flow)
    most = min(
        (aim.limits[1] / aim.share for _, aim in at if aim.limits[1] is not None and aim.share),
        default=np.inf,
    )
    capacity = max(
        (
            machine.run_out(float(here.speed[p, 0]))
            for p, machine in enumerate(space.network.machines)
        ),
        default=1e-3,
    )
    part = min(most, FIRST_GUESS * capacity / direction.sum())
    for _ in range(MOST_TRIES):
        here = space.at(base + part * direction, here.speed)
        slope = space.slopes(here).missing[space.rows, : len(direction)] @ direction
        falling = slope < -LEAST_FALL
        # Spare head falls and bends downwards: from beyond, the least of the tangents' zeros
        # comes back to the largest feasible part without passing it.
        aimed = float(np.min(part - here.spare[falling] / slope[falling], initial=AT_ONCE * part))
        following = min(most, max(aimed, AT_LEAST * part))
        if abs(following - part) <= SAME_PART * part:
            break
        part = following
    return here
