"""Read the tables of published data that lie beside the parts as CSV files."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

DATA = Path(__file__).parent / "data"


def rows(name: str) -> Iterator[dict[str, str]]:
    """Yield the rows of the table `name` (without ".csv"), each as column -> text.

    Every table has a column ``source`` that says where its row comes from; the short key before
    the comma is explained in ``docs/sources.md``.
    """
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        yield from csv.DictReader(file)
