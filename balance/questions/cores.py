"""Jobs done by all cores at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

J = TypeVar("J")
A = TypeVar("A")


def on_all_cores(do: Callable[[J], A], jobs: Sequence[J]) -> Iterator[A]:
    """Do jobs here and in a process for each other core; yields what comes of them in their order.

    This process takes them from the last on, so the last should be the one that takes longest; the
    others begin with the first, once they have started.  Where there is one core all is done here.
    """
    from joblib import cpu_count

    helpers = min(cpu_count(), len(jobs)) - 1
    if helpers < 1:
        yield from map(do, jobs)
        return
    from joblib.externals.loky import ProcessPoolExecutor

    own: dict[int, A] = {}
    last = len(jobs)
    with ProcessPoolExecutor(max_workers=helpers) as others:
        promised = [others.submit(do, job) for job in jobs]
        for place, promise in enumerate(promised):
            while place not in own and not promise.done() and last > place:
                last -= 1
                if promised[last].cancel():  # none of the others has begun it
                    own[last] = do(jobs[last])
            yield own.pop(place) if place in own else promise.result()
