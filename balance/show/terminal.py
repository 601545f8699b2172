"""Tables and lines of text on a terminal or into a pipe.

Numbers never break across lines: where a table is too wide, its words wrap.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace

from rich.box import Box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from balance.show.page import PLOT_HEIGHT, Column, Page, Series
from balance.show.plot import draw, has_unicode

WIDEST = 100
PIPED = 80  # columns, into a pipe that does not say

_RULED = Box("    \n    \n ── \n    \n    \n    \n    \n    \n")
_RULED_ASCII = Box("    \n    \n -- \n    \n    \n    \n    \n    \n", ascii=True)


class Terminal(Page):
    """A page on a terminal or in a pipe."""

    def __init__(self, console: Console) -> None:
        self._to = console
        self.width = console.width

    def title(self, text: str) -> None:
        """Print the first line of a page."""
        self.heading(text)
        self.print()

    def print(self, text: str | Text = "", *, style: str = "") -> None:
        """Print a line."""
        self._to.print(_text(text), style=style)

    def chapter(self, text: str) -> None:
        """Print an underlined heading."""
        self._to.print(Text(text, style="bold underline"))

    def heading(self, text: str) -> None:
        """Print a heading."""
        self._to.print(Text(text, style="bold"))

    def table(self, columns: Sequence[Column], rows: Iterable[Sequence[str | Text]]) -> None:
        """Print a table with a rule below its headings."""
        to = self._to
        listed = [tuple(map(_text, row)) for row in rows]
        kept = [place for place in range(len(columns)) if any(row[place] for row in listed)]
        columns = [columns[place] for place in kept]
        cells = [[row[place] for place in kept] for row in listed]
        for place, column in enumerate(columns):
            if column.kind == "decimal":
                columns[place] = _align(column, cells, place)
        room = to.options.update(width=10 * WIDEST)  # a width asked for in too little room is cut
        built = [_built(to, columns, cells, gap=gap) for gap in (2, 1, 0)]
        fitting = (each for each in built if to.measure(each, options=room).maximum <= to.width)
        to.print(next(fitting, built[1]))

    def listing(self, texts: Iterable[str | Text]) -> None:
        """Print texts, each hanging behind a mark."""
        for text in texts:
            grid = Table.grid(padding=0)
            grid.add_column(no_wrap=True)
            grid.add_column(overflow="fold")
            grid.add_row(Text("- "), _text(text))
            self._to.print(grid)

    def plot(
        self, series: Sequence[Series], *, x_title: str, y_title: str, height: int = PLOT_HEIGHT
    ) -> None:
        """Print a plot as wide as the page."""
        draw(self._to, series, x_title=x_title, y_title=y_title, height=height)

    def beware(self, heading: str, texts: Iterable[str | Text]) -> None:
        """Print cautions as any other section."""
        self.section(heading, texts)


@contextmanager
def page() -> Iterator[Terminal]:
    """Standard output, as wide as suits reading, written when the page is whole.

    In colours only on a terminal that has them; into a pipe as plain text without trailing blanks.
    """
    if sys.stdout.isatty():
        to = Console(highlight=False)
        to.width = min(to.width, WIDEST)
    else:
        columns = os.environ.get("COLUMNS", "")
        width = int(columns) if columns.isdecimal() and int(columns) > 0 else PIPED
        to = Console(
            width=min(width, WIDEST), highlight=False, color_system=None, force_terminal=False
        )
    with to.capture() as capture:
        yield Terminal(to)
    sys.stdout.write("".join(f"{line.rstrip()}\n" for line in capture.get().splitlines()))


def _align(column: Column, rows: Sequence[list[Text]], place: int) -> Column:
    """Pads the cells of a column in place, and its heading, so that decimal points align."""
    wholes = [len(str(row[place]).partition(".")[0]) for row in rows]
    tails = [len(str(row[place])) - whole for row, whole in zip(rows, wholes, strict=True)]
    lines = column.heading.split("\n")
    widest = max(max(wholes, default=0) + max(tails, default=0), *map(len, lines))
    for row, whole in zip(rows, wholes, strict=True):
        row[place].pad_left(widest - max(tails) - whole)
    return replace(column, heading="\n".join(line.rjust(widest) for line in lines))


def _built(
    to: Console, columns: Sequence[Column], rows: Sequence[Sequence[Text]], *, gap: int
) -> Table:
    found = Table(
        box=_RULED if has_unicode(to) else _RULED_ASCII,
        show_edge=False,
        pad_edge=False,
        padding=(0, gap, 0, 0),
        header_style="bold",
    )
    for place, column in enumerate(columns):
        found.add_column(
            Text(column.heading),
            justify="right" if column.kind == "number" else "left",
            vertical="bottom",
            no_wrap=column.kind != "words",
            overflow="fold",
            min_width=_longest_word(rows, place) if column.kind == "words" else None,
        )
    for row in rows:
        found.add_row(*row)
    return found


def _longest_word(rows: Sequence[Sequence[Text]], place: int) -> int:
    """Columns that the words of a column need to stay whole, within reason."""
    words = (word for row in rows for word in str(row[place]).split())
    return min(max(map(len, words), default=0), WIDEST // 5)


def _text(cell: str | Text) -> Text:
    return Text(cell) if isinstance(cell, str) else cell
