"""The comparison: `python -m tests.walks --systems 500 --tolerance 7.5`."""

from __future__ import annotations

import argparse

from balance.plan.read import read
from tests.walks.judge import wishes_of
from tests.walks.table import table, words
from tests.walks.walk import BY_HAND, OURS, OURS_BUCKET_OFF, PLANS, Budget, all_walks


def main() -> None:
    """Walks random systems of all plans, and prints a table for each."""
    parser = argparse.ArgumentParser(prog="python -m tests.walks", description=__doc__)
    parser.add_argument("--systems", type=int, default=500, help="of each plan")
    parser.add_argument("--tolerance", type=float, default=7.5, help="of every branch, percent")
    parser.add_argument("--moves", type=int, default=2, help="more than branches")
    parser.add_argument("--readings", type=int, default=5, help="for each branch")
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--plans", default=",".join(file.stem for file in PLANS))
    parser.add_argument("--bucket", action="store_true", help="also with a bucket that is off")
    parser.add_argument("--processes", type=int, default=2)
    given = parser.parse_args()
    budget = Budget(given.tolerance / 100, given.moves, given.readings)
    methods = (*BY_HAND, OURS, *((OURS_BUCKET_OFF,) if given.bucket else ()))
    files = [file for file in PLANS if file.stem in given.plans.split(",")]
    for file in files:
        walks = all_walks(
            file,
            budget,
            systems=given.systems,
            seed=given.seed,
            processes=given.processes,
            methods=methods,
        )
        plan = read(file)
        print(f"### {plan.title}\n")
        count = len(wishes_of(plan))
        print(
            f"{count} branches asked; at most {count + given.moves} moves and "
            f"{count * given.readings} readings.\n"
        )
        print(table(walks))
        print()
        for line in words(walks, tolerance=budget.tolerance):
            print(f"- {line}.")
        print(flush=True)


main()
