"""What a pump presses with when everything is shut, beside the part that stands least."""

from __future__ import annotations

from balance.network.arrays import Network
from balance.plan.model import DevicePart, Plan
from balance.questions.pumps.answer import DeadHead
from balance.questions.strains import Strain, strains


def dead_head(network: Network) -> DeadHead:
    """The greatest share of what a part stands, with all shut and pumps at top speed."""
    found = list(strains(network))
    at_least = any(
        points.curve.dead_head_at_least for machine in network.machines for points in machine.curves
    )
    if not found:
        return DeadHead(pressure=None, at_least=at_least, weakest="", stands=None, too_much=False)
    worst = max(found, key=_share)
    return DeadHead(
        pressure=worst.pressure,
        at_least=at_least,
        weakest=_words(worst, network.plan),
        stands=worst.stands,
        too_much=worst.pressure > worst.stands,
    )


def _share(strain: Strain) -> float:
    return strain.pressure / strain.stands if strain.stands > 0.0 else float("inf")


def _words(strain: Strain, plan: Plan) -> str:
    if strain.what:
        return f'the {strain.what} of "{strain.owner}"'
    section, _, *rest = strain.path
    if section == "branches" and rest[0] == "parts":
        branch = next(branch for branch in plan.branches if branch.name == strain.owner)
        part = branch.parts[int(rest[1])]
        if isinstance(part, DevicePart) and part.device.casefold() != strain.owner.casefold():
            return f'the {part.device} of "{strain.owner}"'
    return f'"{strain.owner}"'
