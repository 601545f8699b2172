"""The cells of a log of readings: a CSV file with a row of headings, in any order, in any case.

``branch`` with ``volume`` and ``seconds`` (one number a fill), or with ``flow``; ``head`` with
``at``; ``watts``: a row has at least one of these. ``open`` and ``speed`` say what was changed
since the row above, and ``note`` holds any words. ``volume_gal``, ``flow_lph`` or ``head_in`` lend
their unit to bare numbers.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from balance.errors import Fault, PlanError, QuantityError
from balance.plan.fields import nearest, quoted
from balance.plan.sheets import heading_and_unit, one_fault, plain_number, table_text
from balance.units import parse

COLUMNS = (
    "branch", "volume", "seconds", "flow", "open", "speed", "head", "at", "watts", "note",
)  # fmt: skip
"""All of them, in the order in which they are written."""

LARGEST = 2_000_000  # bytes, as of a plan: tens of thousands of readings

_LONGEST = 10_000  # characters of a line

_MEASURES = {"volume": ("volume",), "flow": ("flow",), "head": ("length", "pressure")}
_EXAMPLE = "branch,volume,seconds,open"
_ENDS = re.compile(r"\r\n|\r|\n")
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)")


@dataclass(frozen=True)
class LogRow:
    """A row of the log: its cells by column, none that is empty; or why it cannot be parted."""

    line: int
    cells: dict[str, str]
    fault: Fault | None = None


@dataclass(frozen=True)
class LogSheet:
    """A log of readings as text."""

    file: str
    headings: dict[str, str]
    """Each column that it has, with its heading as the file writes it."""
    rows: tuple[LogRow, ...]


def read_log_sheet(path: Path) -> LogSheet:
    """Part a log of readings into its cells.

    The cells are parted by commas; by semicolons or tabs where the row of headings has those, and
    by semicolons a comma between two digits is a decimal point. Lines that begin with ``#`` and
    blank ones are passed over.

    Raises
    ------
    PlanError
        With every fault of the file as a whole: it is missing or no text, or its headings are not
        those of a log.
    """
    text = table_text(
        path, most=LARGEST, what="readings", missing="check its name and the folder it is in"
    )
    lines = [
        (number, line)
        for number, line in enumerate(_ENDS.split(text), start=1)
        if line.strip(" \t,;") and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise one_fault(path.name, None, "", "the file is empty", f"begin it with {_EXAMPLE}")
    number, first = lines[0]
    between = next((mark for mark in ";\t" if mark in first), ",")
    head = _Head(path.name, number, _parted(first, between) or [first])
    rows = tuple(head.rows(lines[1:], between))
    if not rows:
        raise one_fault(
            path.name,
            number,
            "",
            "no reading stands below the headings",
            "write one row for each thing that was measured",
        )
    headings = {column: head.titles[at] for at, (column, _) in head.columns.items()}
    return LogSheet(path.name, headings, rows)


class _Head:
    """The row of headings, and what it says of the cells below."""

    def __init__(self, file: str, line: int, titles: list[str]) -> None:
        self.file, self.line, self.titles = file, line, titles
        self.columns: dict[int, tuple[str, str]] = {}
        """By its place: column, and the unit of bare numbers in it."""
        faults = list(self._faults())
        if not self.columns:
            raise one_fault(
                file,
                line,
                "",
                f"{quoted(','.join(titles))} holds no column heading that is known here",
                f"the first row names the columns, for example {_EXAMPLE}",
            )
        if faults:
            raise PlanError(tuple(faults))

    def _faults(self) -> Iterator[Fault]:
        """Find the columns; give what is wrong with their headings."""
        for at, title in enumerate(self.titles):
            if not title:
                continue
            column, unit = title.casefold(), ""
            if column not in COLUMNS:
                column, unit = heading_and_unit(column)
            if column not in COLUMNS or (unit and column not in _MEASURES):
                near = nearest(title, COLUMNS)
                yield self._fault(
                    at,
                    f"{quoted(title)} is no column heading that is known here",
                    f'nearest: "{near}"' if near else "known: " + ", ".join(COLUMNS),
                )
            elif column in (known for known, _ in self.columns.values()):
                yield self._fault(at, f"a second column of {column}", "keep one")
            elif unit and not any(_is_unit(unit, each) for each in _MEASURES[column]):
                yield self._fault(
                    at,
                    f'"{unit}" is no unit of {" or ".join(_MEASURES[column])}',
                    f"write {column}, and each unit in its cell; or such as volume_gal, "
                    "flow_gph, head_in",
                )
            else:
                self.columns[at] = column, unit

    def _fault(self, at: int, problem: str, remedy: str) -> Fault:
        return Fault(self.file, self.line, f"column {at + 1}", problem, remedy)

    def rows(self, lines: list[tuple[int, str]], between: str) -> Iterator[LogRow]:
        """Part the lines below into cells."""
        for number, line in lines:
            cells = _parted(line, between)
            if cells is None:
                yield self._torn(
                    number,
                    "a quotation mark is not closed on its line, or the line is far too long",
                    "close it; a cell keeps to one line",
                )
            elif cells[0].startswith("#") and not any(cells[1:]):
                continue  # a remark that a spreadsheet has put in quotation marks
            elif any(cell and at not in self.columns for at, cell in enumerate(cells)):
                yield self._torn(
                    number,
                    f"a cell stands below no heading: {len(cells)} cells, "
                    f"{len(self.titles)} headings",
                    f'put a cell that holds {quoted(between)} in quotation marks, "..."',
                )
            else:
                yield LogRow(
                    number,
                    {
                        column: self._cell(cells[at], column, unit, between)
                        for at, (column, unit) in self.columns.items()
                        if at < len(cells) and cells[at]
                    },
                )

    def _torn(self, number: int, problem: str, remedy: str) -> LogRow:
        return LogRow(number, {}, Fault(self.file, number, "", problem, remedy))

    @staticmethod
    def _cell(cell: str, column: str, unit: str, between: str) -> str:
        if column == "note":
            return cell
        if between == ";":
            cell = _DECIMAL_COMMA.sub(".", cell)
        return f"{cell} {unit}" if unit and plain_number(cell) is not None else cell


def _is_unit(unit: str, dimension: str) -> bool:
    try:
        parse(f"1 {unit}", dimension)
    except QuantityError:
        return False
    return True


def _parted(line: str, between: str) -> list[str] | None:
    """Give the cells of a line; None where a quotation mark is not closed, or it has no end."""
    if len(line) > _LONGEST:
        return None
    # An open quotation mark would swallow the second line.
    parted = list(csv.reader([line, "."], delimiter=between, skipinitialspace=True))
    return [cell.strip() for cell in parted[0]] if len(parted) == 2 else None
