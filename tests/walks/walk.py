"""Many systems of one plan, each walked by every method, and how each walk ended."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from balance.network.arrays import network_of
from balance.plan.read import read
from balance.questions.settings.question import settings
from tests.walks.judge import is_possible, wishes_of, with_tolerance, worst
from tests.walks.methods.keeper import Keeper
from tests.walks.methods.marks import marks
from tests.walks.methods.one_by_one import one_by_one
from tests.walks.methods.ours import ours
from tests.walks.methods.proportional import proportional
from tests.walks.systems import system

PLANS = sorted((Path(__file__).parent / "plans").glob("*.toml"))
AT_ONCE = 5  # systems, in one task of a process
OURS = "balance tune"
OURS_BUCKET_OFF = "balance tune, bucket off"
BY_HAND: dict[str, Callable[[Keeper], None]] = {
    "the plan's marks": marks,
    "one by one": one_by_one,
    "proportional": proportional,
}


@dataclass(frozen=True)
class Budget:
    """What a walk may take, beside what goes with the number n of branches asked.

    Attributes
    ----------
    tolerance : within which every branch is to end
    moves : more than n
    readings : for each branch
    """

    tolerance: float
    moves: int
    readings: int


@dataclass(frozen=True)
class Walk:
    """How one walk ended.

    Attributes
    ----------
    number : of the system
    possible : the system can give what is asked, within the tolerance
    worst : how far the branch is off that is farthest off, as a share of what it is asked
    moves, nudges, readings : made
    most_nudges : of one handle in a row
    chance : that all are met, as was said at the end; None where nothing was said
    unmet : the walk said that something cannot be had
    """

    method: str
    number: int
    possible: bool
    worst: float
    moves: int
    nudges: int
    readings: int
    most_nudges: int
    chance: float | None = None
    unmet: bool = False


def walks(
    file: Path,
    budget: Budget,
    numbers: range,
    *,
    seed: int,
    methods: tuple[str, ...] = (*BY_HAND, OURS),
) -> list[Walk]:
    """Walks systems of a plan, each in every way, from the same truth.

    Parameters
    ----------
    numbers : of the systems
    """
    plan = with_tolerance(read(file), budget.tolerance)
    network = network_of(plan)
    wishes = wishes_of(plan)
    answer = settings(plan)
    found = []
    for number in numbers:
        possible = is_possible(system(network, seed=seed, number=number).network)
        for method in methods:
            real = system(network, seed=seed, number=number, bucket_off=method == OURS_BUCKET_OFF)
            keeper = Keeper(
                real,
                network,
                answer,
                most_moves=len(wishes) + budget.moves,
                most_readings=len(wishes) * budget.readings,
            )
            chance, unmet = None, False
            if method in BY_HAND:
                BY_HAND[method](keeper)
            else:
                step, view = ours(keeper)
                chance = step.chances.met if step.kind == "done" and step.chances else None
                unmet = bool(view.goal.unmet)
            found.append(
                Walk(
                    method,
                    number,
                    possible,
                    worst(wishes, network, real.flows()),
                    keeper.moves,
                    keeper.nudges,
                    keeper.readings,
                    keeper.most_nudges,
                    chance,
                    unmet,
                )
            )
    return found


def all_walks(
    file: Path,
    budget: Budget,
    *,
    systems: int,
    seed: int,
    processes: int,
    methods: tuple[str, ...],
) -> list[Walk]:
    """The same for many systems, in several processes; how far, on stderr."""
    from joblib import Parallel, delayed

    tasks = [range(first, min(first + AT_ONCE, systems)) for first in range(0, systems, AT_ONCE)]
    parallel = Parallel(n_jobs=processes, return_as="generator")
    done: Iterator[list[Walk]] = parallel(
        delayed(walks)(file, budget, numbers, seed=seed, methods=methods) for numbers in tasks
    )
    found: list[Walk] = []
    for numbers, part in zip(tasks, done, strict=True):
        found += part
        print(f"\r{file.stem}: {numbers.stop} of {systems} ", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    return found
