"""Branches that stay dry however the rest is set."""

from __future__ import annotations

import numpy as np

from balance.network.arrays import Network
from balance.network.settle import settle
from balance.questions.settings.speeds import top_speeds

LEAST_FLOW = 1e-9  # [m³/s]; less is none


def out_of_reach(network: Network, wanted: list[str]) -> list[str]:
    """Branches without flow at top speed, wide open, with all other branches shut."""
    if not wanted:
        return []
    places = {branch.name: place for place, branch in enumerate(network.plan.branches)}
    openings = np.repeat(network.openings, len(wanted), axis=1)
    own = {valve.stretch for valve in network.valves}
    for place, valve in enumerate(network.valves):
        if not valve.part.locked:
            openings[place] = (valve.part.stops or (0.0, 1.0))[1]
        for column, name in enumerate(wanted):
            if valve.stretch in places and valve.stretch != name:
                openings[place, column] = 0.0
    laws, shut = network.at(openings, np.repeat(top_speeds(network), len(wanted), axis=1))
    shut = np.repeat(shut, len(wanted), axis=1) if shut.shape[1] == 1 else shut
    for column, name in enumerate(wanted):
        for other in places:
            if other != name and other not in own:
                shut[network.row_of[other], column] = True
    state = settle(
        network.topology,
        laws,
        fixed_heads=network.fixed_heads,
        held=shut,
        draw=network.draw,
        scenarios=len(wanted),
    )
    return [
        name
        for column, name in enumerate(wanted)
        if state.flow[network.row_of[name], column] <= LEAST_FLOW
    ]
