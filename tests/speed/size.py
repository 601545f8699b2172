"""Time of one solve against the size of the network."""

from __future__ import annotations

from time import perf_counter

from tests.speed._cases import grid, seconds, tree

SIZES = (30, 100, 300, 1_000, 3_000, 10_000)


def main() -> None:
    """Prints a table for trees and for grids."""
    for kind in (tree, grid):
        print(f"{kind.__name__}: runs, first solve with its planning, further solves")
        for size in SIZES:
            large = kind(size)
            before = perf_counter()
            state = large.settled()
            first = perf_counter() - before
            assert state.converged.all()
            again = seconds(large.settled, repeats=3)
            each = again / large.topology.runs
            print(
                f"  {large.topology.runs:6,} {first * 1e3:9.1f} ms {again * 1e3:9.2f} ms"
                f" {each * 1e6:7.2f} us a run, {state.iterations[0]} iterations"
            )


if __name__ == "__main__":
    main()
