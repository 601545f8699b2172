"""Which leg of each tee is its reference, so that no run carries the losses of two tees.

A tee's losses are put on two of its three legs.  The solver inverts the coupling of those two in
2 x 2 blocks, so a run may be one of the two at one tee only.  A run between two tees must
therefore be the reference leg of one of them: each tee takes the run towards the root of a tree
over the tees, one loop is closed by the root's own choice, and a run that closes any further loop
is cut in two.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence


def references(
    legs: Sequence[tuple[int, int, int]], roots: Sequence[int]
) -> tuple[list[int], set[int]]:
    """Reference leg (0, 1 or 2) of each tee, and the runs that must be cut in two.

    Parameters
    ----------
    legs : for each tee its three runs
    roots : tees in the order in which they are taken as roots, e.g. the nearest to a pump first;
        the reference of a root is the first of its legs that leads to no other tee
    """
    tees_of: dict[int, list[int]] = {}
    for tee, runs in enumerate(legs):
        for run in runs:
            tees_of.setdefault(run, []).append(tee)
    chosen: dict[int, int] = {}
    taken: set[int] = set()  # runs that are the reference leg of a tee, or need not be
    seen: set[int] = set()
    for root in roots:
        if root in seen:
            continue
        seen.add(root)
        queue, component = deque([root]), [root]
        while queue:
            tee = queue.popleft()
            for run in legs[tee]:
                for other in tees_of[run]:
                    if other not in seen:
                        seen.add(other)
                        component.append(other)
                        chosen[other] = run
                        taken.add(run)
                        queue.append(other)
        shared = [
            run
            for tee in component
            for run in legs[tee]
            if len(tees_of[run]) == 2 and run not in taken
        ]
        at_root = [run for run in legs[root] if run in shared]
        alone = [run for run in legs[root] if len(tees_of[run]) == 1]
        chosen[root] = (at_root or alone or list(legs[root]))[0]
        taken.add(chosen[root])
    cut = {run for run, tees in tees_of.items() if len(tees) == 2 and run not in taken}
    return [legs[tee].index(chosen[tee]) for tee in range(len(legs))], cut
