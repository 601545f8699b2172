"""Valves before several branches, turned so that those behind them come out of their last degrees.

A hand cannot set a valve that is all but shut.  What all branches behind a valve must burn, that
valve can burn for them; flows stay the same.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from balance.network.slopes import respond
from balance.questions.settings.flowspace import (
    Control,
    FlowSpace,
    Held,
    opening_for,
    shared_controls,
    with_opening,
)

SHARED_BURDEN = 0.5
"""Of what the least burdened branch must burn, that goes to a valve before several; our own
choice."""
WORTH_SHARING = 0.1  # [m] that every branch behind a shared valve has to burn; our own choice


def share_burden(space: FlowSpace, here: Held) -> tuple[FlowSpace, Held]:
    """Lets valves before several branches burn half of what the least burdened one must."""
    used = {control.valve.name for control in space.controls}
    for shared in shared_controls(space.network):
        if shared.valve.name in used:
            continue
        behind = _behind(space, here, shared)
        least = float(here.spare[behind].min(initial=np.inf))
        if not behind.any() or least < WORTH_SHARING:
            continue
        flow = float(here.state.flow[shared.row, 0])
        space = with_opening(space, shared, opening_for(shared, flow, SHARED_BURDEN * least))
        here = space.at(here.flow, here.speed)
    return space, here


def _behind(space: FlowSpace, here: Held, shared: Control) -> NDArray[np.bool_]:
    """Which controls (C,) miss the head that a valve takes."""
    runs = space.network.topology.runs
    push = np.zeros((runs, 1))
    push[shared.row] = 1.0
    answer = respond(
        space.network.topology, here.laws, here.state, flow=np.zeros((runs, 1)), head=push
    )
    return np.asarray(answer.missing[space.rows, 0] < -0.5)
