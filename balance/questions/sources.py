"""Which vessel the water of a place comes from."""

from __future__ import annotations

from collections import deque

from balance.network.arrays import Network


def source_of(network: Network, node: str) -> str | None:
    """The nearest vessel along the plumbing from which a pump or run takes water; None if none.

    As drawn, not as it happens to flow: the answer is the same with everything shut.
    """
    heads = network.layout.heads
    if node in heads:
        return node
    reached: dict[str, list[tuple[str, bool]]] = {}
    for run in network.layout.runs:
        reached.setdefault(run.end, []).append((run.start, True))
        reached.setdefault(run.start, []).append((run.end, False))
    seen, waiting = {node}, deque([node])
    while waiting:
        here = waiting.popleft()
        for there, upstream in reached.get(here, ()):
            if there in heads:
                if upstream:
                    return there
            elif there not in seen:
                seen.add(there)
                waiting.append(there)
    return None
