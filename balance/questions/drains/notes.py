"""What a person should know about how drains were reckoned, in words."""

from __future__ import annotations

from collections.abc import Iterator

from balance.plan.model import Plan
from balance.questions.drains.answer import VesselDrains
from balance.questions.drains.levels import Overflow


def notes_of(plan: Plan, overflows: tuple[Overflow, ...]) -> Iterator[str]:
    """About all vessels."""
    yield (
        "a drain runs full where its inlet is covered and its Froude number is 1 or more, surely "
        "at 2; with air it counts up to 0.3 and to what its lip lets in at a quarter of its bore; "
        "between, it gulps and is not counted; where its inlet is not covered it sucks air"
    )
    yield (
        "a lip and a gate are known to 15 or 20 % at best, a gate at mid travel to 60 %: the marks "
        "say where to begin, the trickle says when to stop"
    )
    if any(weir.from_ in plan.vessels for weir in plan.weirs) and any(
        feed.share < 1.0 for overflow in overflows for feed in overflow.feeds
    ):
        yield (
            "a tank that spills over several weirs is taken to share its water among them by "
            "their lengths, so a box is not relieved by the others when its drains fail"
        )
    if any(drain.role == "change" for drain in plan.drains):
        yield "drains for water changes are left out"


def vessel_notes(plan: Plan, overflow: Overflow, answer: VesselDrains) -> Iterator[str]:
    """About one vessel."""
    for drain, end in zip(overflow.drains, overflow.ends, strict=True):
        if not drain.inlet_told:
            yield (
                f'"{drain.name}" does not say where its inlet is: it is taken to be at the level '
                f'of "{overflow.vessel}"'
            )
        if drain.shut:
            yield f'"{drain.name}" is shut and carries nothing'
        elif drain.limit == "uphill":
            how = (
                "with air in it it carries nothing"
                if drain.role == "siphon"
                else ("it carries nothing")
            )
            yield f'"{drain.name}" runs uphill, its end lies above its inlet: {how}'
        elif drain.role == "siphon" and end is None:
            yield (
                f'where the water of "{drain.name}" ends is not told by a vessel or the height of '
                "a free outlet: it is counted as an open pipe"
            )
    if not overflow.bounded:
        yield (
            f'no rim is told of "{overflow.vessel}" nor of what spills into it: levels are looked '
            "for up to a metre above the highest inlet"
        )
    if not any(drain.role == "emergency" for drain in overflow.drains):
        yield f'"{overflow.vessel}" has no emergency drain'
    if plan.pumps and not answer.inflows[0].flow > 0.0:
        yield f'nothing comes into "{overflow.vessel}" as it stands'
