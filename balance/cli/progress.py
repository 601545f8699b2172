"""A bar for what takes longer than a second, on a terminal only, beside the answer."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import monotonic

PATIENCE = 1.0  # [s] before a bar appears


@contextmanager
def counting(what: str) -> Iterator[Callable[[int, int], None] | None]:
    """A function to be told how many are done, of how many; None where nobody would see it.

    Parameters
    ----------
    what : is counted, in the plural
    """
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    began = monotonic()
    bar = Progress(
        TextColumn(what), BarColumn(), MofNCompleteColumn(),
        console=Console(stderr=True), transient=True,
    )  # fmt: skip
    task = bar.add_task(what)

    def tell(done: int, whole: int) -> None:
        if not bar.live.is_started:
            if monotonic() - began < PATIENCE or done == whole:
                return
            bar.start()
        bar.update(task, completed=done, total=whole)

    try:
        yield tell
    finally:
        if bar.live.is_started:
            bar.stop()
