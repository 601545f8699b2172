"""A page that answers are written on, whatever it is made of.

Each module beside this one that shows an answer has a function ``write`` that puts the answer on a
page: a terminal's (`balance.show.terminal`) or one of a report (`balance.show.report.record`).
So a thing is said once, in the same words wherever it is read.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from rich.text import Text

PLOT_HEIGHT = 15  # rows between top and axis: with a table, a page still fits a screen


@dataclass(frozen=True)
class Column:
    """One column of a table: its heading, and what it holds.

    Numbers stand to the right, decimals with their points below each other; words may wrap.
    """

    heading: str
    kind: Literal["number", "decimal", "words"] = "number"


@dataclass(frozen=True)
class Series:
    """Numbers in the units of the axes, drawn with one mark.

    Series of one kind and name share their mark and their place in the legend.
    """

    name: str
    x: Sequence[float]
    y: Sequence[float]
    kind: Literal["line", "points"] = "line"


class Page(ABC):
    """What is written, from top to bottom.

    Attributes
    ----------
    width : letters in a line
    """

    width: int

    @abstractmethod
    def title(self, text: str) -> None:
        """Begin with what the page is about."""

    @abstractmethod
    def print(self, text: str | Text = "", *, style: str = "") -> None:
        """Write a line; without a text an empty one."""

    @abstractmethod
    def chapter(self, text: str) -> None:
        """Begin one of few parts of the page that have headings of their own below them."""

    @abstractmethod
    def heading(self, text: str) -> None:
        """Begin a part of the page."""

    @abstractmethod
    def table(self, columns: Sequence[Column], rows: Iterable[Sequence[str | Text]]) -> None:
        """Write a table; a column with nothing in it is left out."""

    @abstractmethod
    def listing(self, texts: Iterable[str | Text]) -> None:
        """Write texts, each marked as one."""

    @abstractmethod
    def plot(
        self, series: Sequence[Series], *, x_title: str, y_title: str, height: int = PLOT_HEIGHT
    ) -> None:
        """Draw a plot in letters where the page has no better picture of the same."""

    @abstractmethod
    def beware(self, heading: str, texts: Iterable[str | Text]) -> None:
        """Write cautions under a heading."""

    def section(self, heading: str, texts: Iterable[str | Text]) -> None:
        """Write texts under a heading; nothing where there are none."""
        listed = list(texts)
        if listed:
            self.print()
            self.heading(heading)
            self.listing(listed)

    def notes(self, texts: Iterable[str | Text]) -> None:
        """Write what was taken for granted, and what else should be known of an answer."""
        self.section("Notes", texts)
