"""Which bucket times a flow well, and how water is led into it."""

from __future__ import annotations

from collections.abc import Sequence

from balance.plan.model import OUTSIDE, Branch, OutletPart, Plan

LEAST_TIME = 10.0  # [s] that a bucket should take to be timed well; common practice, no source

Bucket = tuple[str, float]  # label, volume [m³]


def timed(flow: float, buckets: Sequence[Bucket]) -> tuple[str, float | None]:
    """The least bucket that takes long enough to fill, or the largest, and the seconds it takes.

    Parameters
    ----------
    flow : m³/s; None for the seconds where nothing flows.
    buckets : rising.
    """
    label, size = bucket_for(flow, buckets)
    return label, size / flow if flow > 0.0 else None


def bucket_for(flow: float, buckets: Sequence[Bucket]) -> Bucket:
    """The least bucket that takes long enough to fill, or the largest."""
    if flow <= 0.0:
        return buckets[0]
    return next((each for each in buckets if each[1] / flow >= LEAST_TIME), buckets[-1])


def way_to_read(plan: Plan, branch: Branch) -> str:
    """How a branch is read: by "bucket", or what must be done where it ends under water."""
    last = branch.parts[-1] if branch.parts else None
    if branch.to is None:
        return "nothing flows: capped"
    if isinstance(last, OutletPart) and last.is_free:
        return "bucket"
    if branch.to in plan.vessels or branch.to == OUTSIDE:
        return (
            "outlet under water: lead it by hose into a jug held at the water's height, "
            "or use a flow meter"
        )
    return "a flow meter"
