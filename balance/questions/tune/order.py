"""In which order handles are set, lest what is set be disturbed much by what is set after it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from balance.questions.tune.view import TRACE, View

Floats = NDArray[np.float64]

MOST = 8  # handles, of which all orders are weighed, in 256 stands; our own choice


def least_disturbed(view: View, fresh: Sequence[int]) -> int:
    """The handle to set next, of the goal's valves by column.

    Each order is judged by how much the flow of each valve changes, in logarithms, from when it is
    set to when all are: the sum of squares.  With many handles to set, those that change the flow
    of their own run most are looked at, and the rest come after them.
    """
    change = np.abs(view.then - view.now)
    weighed: list[int] = sorted(fresh, key=lambda column: -change[column])[:MOST]
    count = len(weighed)
    places = view.turned[weighed]
    rows = [view.network.valves[place].run for place in places]
    sets = np.arange(2**count)
    is_set = (sets[:, None] >> np.arange(count)) & 1 == 1  # (sets, handles)
    openings = np.repeat(view.openings[:, None], len(sets), axis=1)
    openings[places] = np.where(
        is_set.T, view.aimed.openings[places][:, None], view.openings[places][:, None]
    )
    flow = np.log(np.maximum(view.flows(openings)[rows], TRACE))  # (handles, sets)
    disturbed = (flow - flow[:, -1:]) ** 2
    # From all set backwards: the least that is still to come, and the handle it begins with.
    least = np.zeros(len(sets))
    first = np.zeros(len(sets), dtype=np.intp)
    for here in sets[-2::-1]:
        after = [
            disturbed[handle, here | 1 << handle] + least[here | 1 << handle]
            if not is_set[here, handle]
            else np.inf
            for handle in range(count)
        ]
        first[here] = int(np.argmin(after))
        least[here] = after[first[here]]
    return weighed[int(first[0])]
