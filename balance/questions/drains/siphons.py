"""Whether each siphon fills by itself, and whether it keeps full."""

from __future__ import annotations

from collections.abc import Iterator
from math import pi

import numpy as np

from balance.parts.gravity import FULL_FROM, HOLDS, SURELY_FULL, flow_at_froude, vortex_depth
from balance.questions.drains.answer import Siphon
from balance.questions.drains.levels import Overflow
from balance.questions.drains.states import Loads, covered_at, fills, masks


def siphons_of(overflow: Overflow, loads: Loads) -> Iterator[Siphon]:
    """Every siphon at the first load, with all of them full and with none."""
    own, fed = loads.take([0, 0])
    blocked, primed = masks(overflow, [((), True), ((), False)])
    full, unprimed = overflow.standing(own, fed, blocked, primed).level
    at = np.array(full)
    for place in map(int, np.flatnonzero(overflow.siphons)):
        drain = overflow.drains[place]
        flow = min(float(overflow.full(place, at)), float(drain.lip_flow(at)))
        number = fills(overflow, place, float(unprimed))
        yield Siphon(
            siphon=drain.name,
            level=float(full),
            unprimed_level=float(unprimed),
            full=flow,
            open=float(drain.open_flow(at)),
            covered_at=covered_at(overflow, place),
            fills="surely" if number >= SURELY_FULL
            else "yes" if number >= FULL_FROM
            else "no" if unprimed >= covered_at(overflow, place)
            else "never covered",
            covered=bool(overflow.covered(place, at)),
            froude=float(drain.froude(flow)),
            least=float(flow_at_froude(HOLDS, bore=drain.widest)),
            velocity=flow / (pi / 4 * drain.narrowest**2),
            depth=max(float(full) - drain.inlet, 0.0),
            vortex_depth=float(vortex_depth(flow, bore=drain.lip_bore)),
        )  # fmt: skip
