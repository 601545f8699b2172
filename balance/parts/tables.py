"""Read the tables of published data beside the parts, and report names that they lack."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import TypeVar

from balance.errors import UnknownNameError

Row = TypeVar("Row")

DATA = Path(__file__).parent / "data"


def rows(name: str) -> Iterator[dict[str, str]]:
    """Yield the rows of the table `name` (without ".csv"), each as column -> text.

    Every table has a column ``source`` that says where its row comes from, by keys of the table
    ``sources``, or why it comes from no print (`balance.parts.sources`).
    """
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        yield from csv.DictReader(file)


def unknown(kind: str, name: str, known: Iterable[str]) -> UnknownNameError:
    """Return the error for a name that is not among the known ones, with those nearest to it."""
    names = tuple(known)
    begun = [known_name for known_name in names if known_name.startswith(name)]
    nearest = begun or get_close_matches(name, names)
    return UnknownNameError(kind, name, tuple(nearest[:3]), names)


def look_up(kind: str, name: str, table: Mapping[str, Row]) -> Row:
    """Return the row of that name, whatever its case and spacing.

    Raises UnknownNameError, which calls the thing a `kind`, with the nearest names.
    """
    plain = " ".join(name.lower().split())
    if plain not in table:
        raise unknown(kind, name, table)
    return table[plain]
