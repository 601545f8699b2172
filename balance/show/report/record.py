"""A page that keeps what is written on it, as blocks for the templates of a report."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import ClassVar, Literal, TypeVar

from rich.text import Text

from balance.show.page import PLOT_HEIGHT, Column, Page, Series

Tone = Literal["", "bad", "doubt", "good", "soft", "strong"]
"""How a stretch of text is meant; a page tells it by weight or words too, not by colour alone."""

_TONES: tuple[tuple[str, Tone], ...] = (
    ("red", "bad"), ("yellow", "doubt"), ("green", "good"), ("dim", "soft"), ("bold", "strong"),
)  # fmt: skip

A = TypeVar("A")


@dataclass(frozen=True)
class Words:
    """A text of one line or more: stretches, each with its tone."""

    stretches: tuple[tuple[str, Tone], ...]

    def __str__(self) -> str:
        return "".join(text for text, _ in self.stretches)

    @property
    def lines(self) -> tuple[Words, ...]:
        """The same, line by line."""
        lines: list[list[tuple[str, Tone]]] = [[]]
        for text, tone in self.stretches:
            first, *others = text.split("\n")
            lines[-1].append((first, tone))
            lines += [[(other, tone)] for other in others]
        return tuple(Words(tuple(each for each in line if each[0])) for line in lines)

    @property
    def tone(self) -> Tone:
        """The gravest tone in it."""
        tones = {tone for _, tone in self.stretches}
        return next((tone for _, tone in _TONES if tone in tones), "")


@dataclass(frozen=True)
class Line:
    """A line of text."""

    kind: ClassVar[str] = "line"
    words: Words


@dataclass(frozen=True)
class Heading:
    """What the blocks after it are about; a chapter has headings below it."""

    kind: ClassVar[str] = "heading"
    text: str
    is_chapter: bool = False


@dataclass(frozen=True)
class Listing:
    """Texts side by side in rank."""

    kind: ClassVar[str] = "listing"
    items: tuple[Words, ...]


@dataclass(frozen=True)
class Grid:
    """A table.

    Attributes
    ----------
    title : the heading that it stands under, or what its page is about
    columns : headings, of up to three lines, and what the columns hold
    rows : of cells, as many as there are columns
    """

    kind: ClassVar[str] = "grid"
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Words, ...], ...]


Block = Line | Heading | Listing | Grid


@dataclass
class Recorder(Page):
    """Keeps what is written on it.

    Attributes
    ----------
    width : without end: where there is room for all, nothing is left out
    about : its title
    blocks : in their order
    cautions, remarks : apart from them
    """

    width: int = 10_000
    about: str = ""
    blocks: list[Block] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)
    remarks: list[Words] = field(default_factory=list)

    def title(self, text: str) -> None:
        """Keep what the page is about."""
        self.about = text

    def print(self, text: str | Text = "", *, style: str = "") -> None:
        """Keep a line that is not empty."""
        if str(text):
            self.blocks.append(Line(_words(text, style)))

    def chapter(self, text: str) -> None:
        """Keep a heading of headings."""
        self.blocks.append(Heading(text, is_chapter=True))

    def heading(self, text: str) -> None:
        """Keep a heading."""
        self.blocks.append(Heading(text))

    def table(self, columns: Sequence[Column], rows: Iterable[Sequence[str | Text]]) -> None:
        """Keep a table without columns that hold nothing."""
        listed = [tuple(map(_words, row)) for row in rows]
        kept = [place for place in range(len(columns)) if any(str(row[place]) for row in listed)]
        cells = [[row[place] for place in kept] for row in listed]
        for place, column in enumerate(kept):
            if columns[column].kind == "decimal":
                _align(cells, place)
        above = next((each.text for each in self.blocks[::-1] if isinstance(each, Heading)), "")
        self.blocks.append(
            Grid(
                above or self.about,
                tuple(columns[place] for place in kept),
                tuple(map(tuple, cells)),
            )
        )

    def listing(self, texts: Iterable[str | Text]) -> None:
        """Keep texts of a list."""
        if items := tuple(map(_words, texts)):
            self.blocks.append(Listing(items))

    def plot(
        self, series: Sequence[Series], *, x_title: str, y_title: str, height: int = PLOT_HEIGHT
    ) -> None:
        """Keep nothing: a report has pictures."""

    def beware(self, heading: str, texts: Iterable[str | Text]) -> None:  # noqa: ARG002
        """Keep cautions by themselves: a report tells each once."""
        self.cautions += map(str, texts)

    def notes(self, texts: Iterable[str | Text]) -> None:
        """Keep notes by themselves: a report tells in one place what it rests on."""
        self.remarks += map(_words, texts)


def record(write: Callable[[Page, A], None], answer: A) -> Recorder:
    """Have an answer written down; headings that nothing follows are left out."""
    to = Recorder()
    write(to, answer)
    to.blocks = list(_headed(to.blocks))
    return to


def _headed(blocks: Sequence[Block]) -> Iterator[Block]:
    for block, after in pairwise((*blocks, None)):
        ends = after is None or (
            isinstance(after, Heading) and (after.is_chapter or not _is_chapter(block))
        )
        if block is not None and not (isinstance(block, Heading) and ends):
            yield block


def _is_chapter(block: Block | None) -> bool:
    return isinstance(block, Heading) and block.is_chapter


def _words(text: str | Text, style: str = "") -> Words:
    """Stretches of a text that have one tone each."""
    if isinstance(text, str):
        return Words(((text, _tone(style)),)) if text else Words(())
    styles = [f"{style} {text.style}"] * len(text)
    for span in text.spans:
        for place in range(span.start, span.end):
            styles[place] += f" {span.style}"
    stretches: list[tuple[str, Tone]] = []
    for letter, found in zip(text.plain, map(_tone, styles), strict=True):
        if stretches and stretches[-1][1] == found:
            stretches[-1] = stretches[-1][0] + letter, found
        else:
            stretches.append((letter, found))
    return Words(tuple(stretches))


def _tone(style: str) -> Tone:
    return next((tone for word, tone in _TONES if word in style), "")


_DIGIT, _POINT = "\u2007", "\u2008"  # blanks as wide as a digit and as a point


def _align(rows: list[list[Words]], place: int) -> None:
    """Fill cells of figures that stand to the right with blanks, so that their points align."""
    tails = [len(str(row[place]).partition(".")[2]) for row in rows]
    widest = max(tails, default=0)
    for row, tail in zip(rows, tails, strict=True):
        if tail < widest and str(row[place]):
            blanks = ("" if tail else _POINT) + _DIGIT * (widest - tail)
            row[place] = Words((*row[place].stretches, (blanks, "")))
