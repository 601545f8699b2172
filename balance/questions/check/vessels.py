"""What comes into each vessel when targets are met, and what its drains can take away."""

from __future__ import annotations

import numpy as np

from balance.network.arrays import Network
from balance.questions.check.answer import VesselRow
from balance.questions.check.wanted import Wanted
from balance.questions.inflows import drained, inflows


def vessel_rows(network: Network, flows: Wanted) -> tuple[VesselRow, ...]:
    """A row for each vessel."""
    plan = network.plan
    wanted = {name: np.array([flow]) for name, flow in flows.flow.items()}
    inflow = inflows(plan, wanted) if wanted else None
    rows = []
    for name, vessel in plan.vessels.items():
        carried, reserve = drained(network, name)
        rows.append(
            VesselRow(
                vessel=name,
                bottom=vessel.bottom,
                level=vessel.level,
                rim=vessel.rim,
                inflow=None if inflow is None else float(inflow[name][0]),
                carried=carried,
                reserve=reserve,
            )
        )
    return tuple(rows)
