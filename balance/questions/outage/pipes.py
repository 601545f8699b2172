"""Water that pipes and devices let go once air has come into them."""

from __future__ import annotations

from collections.abc import Mapping

from balance.network.arrays import Network
from balance.network.layout import LaidRun
from balance.plan.model import CheckPart, Plan
from balance.questions.sources import source_of
from balance.questions.volumes import stretch_volume


def pipe_water(network: Network) -> dict[str, tuple[str, float]]:
    """What each stretch lets go: from its name to the vessel that gets it, and how much [m³].

    All that pipes, hoses and devices of a stretch hold comes down to the vessel that its pump draws
    from, unless the plan tells that its highest point lies below the water there.  A stretch with a
    check valve that holds keeps its water, and emergency drains are dry.  How much of a stretch
    lies above is not asked: it is at most all.
    """
    plan = network.plan
    found: dict[str, tuple[str, float]] = {}
    for run in network.layout.runs:
        to = source_of(network, run.start)
        holds = any(isinstance(part, CheckPart) and not part.failed for part in run.parts)
        if to not in plan.vessels or run.stretch.volume == 0.0 or holds:
            continue
        highest = _highest(plan, run)
        if highest is None or highest > plan.vessels[to].level:
            before = found.get(run.owner, (to, 0.0))[1]
            found[run.owner] = (to, before + run.stretch.volume)
    for drain in plan.drains:
        volume = stretch_volume(drain.parts)
        if drain.role not in ("emergency", "change") and drain.to in plan.vessels and volume > 0.0:
            found[drain.name] = (drain.to, volume)
    return found


def received(letting_go: Mapping[str, tuple[str, float]]) -> dict[str, float]:
    """What each vessel gets of it [m³]."""
    found: dict[str, float] = {}
    for vessel, volume in letting_go.values():
        found[vessel] = found.get(vessel, 0.0) + volume
    return found


def _highest(plan: Plan, run: LaidRun) -> float | None:
    """The highest point of a run [m]; None where the plan does not tell."""
    if run.kind == "header":
        return next(header.height for header in plan.headers if header.name == run.owner)
    return next((each.high_point for each in plan.stretches() if each.name == run.owner), None)
