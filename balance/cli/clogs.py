"""Stretches that clog, from the words of a command line: `--clog`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Annotated

import typer

from balance.cli.changes import each
from balance.errors import QuantityError, UsageError
from balance.units import parse

Clogs = Annotated[
    list[str] | None,
    typer.Option(
        "--clog",
        metavar="NAME=PERCENT",
        help='Let a branch, run or header lose more at equal flow: "carbon reactor=50 %". '
        "May be repeated.",
    ),
]


def clogs_of_words(words: Iterable[str]) -> Iterator[tuple[str, float]]:
    """Names and the shares by which they lose more.

    Parameters
    ----------
    words : such as "carbon reactor=50 %", several in one joined by commas

    Raises
    ------
    UsageError
        Words that make no sense.
    """
    for word in each(words):
        name, equals, text = word.partition("=")
        if not equals or not name.strip() or not text.strip():
            raise UsageError(
                f'--clog "{word}" is not a name and a percentage; '
                'write --clog "carbon reactor=50 %"'
            )
        try:
            yield name.strip(), parse(text.strip(), "percent")
        except QuantityError as error:
            raise UsageError(f'--clog "{word}": {error}') from error
