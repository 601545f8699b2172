"""Small tables of numbers in CSV files: a header row that carries the units, ``#`` comments."""

from __future__ import annotations

import csv
import math
import re
from dataclasses import dataclass
from pathlib import Path

from balance.errors import Fault, PlanError
from balance.plan.fields import quoted

LARGEST = 100_000  # bytes, which a cell may hold too; a measured curve has a few hundred

_SPELT = {"m3h": "m3/h", "m3s": "m3/s", "ls": "L/s", "m3_h": "m3/h", "m3_s": "m3/s", "l_s": "L/s"}


@dataclass(frozen=True)
class Sheet:
    """A table of numbers: columns by header, and for each row its line in the file."""

    file: str
    header: tuple[str, ...]
    header_line: int
    rows: tuple[tuple[float, ...], ...]
    lines: tuple[int, ...]

    def column(self, name: str) -> tuple[float, ...]:
        """Give the numbers below a header."""
        at = self.header.index(name)
        return tuple(row[at] for row in self.rows)


def read_sheet(path: Path, *, columns: str, example: str) -> Sheet:
    """Read a CSV file of numbers.

    Parameters
    ----------
    path
        The file.
    columns
        A regular expression that every header must match.
    example
        A right header row, for the remedy.

    Raises
    ------
    PlanError
        With every fault: file missing or not text, unknown headers, cells that hold no number.
    """
    text = table_text(
        path, most=LARGEST, what="a curve", missing="file names count from the plan's folder"
    )
    kept = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip(" \t,;") and not line.lstrip().startswith("#")
    ]
    if not kept:
        raise one_fault(path.name, None, "", "the file is empty", f"begin it with {example}")
    header_line, first = kept[0]
    header = tuple(_cells(first))
    if not any(re.fullmatch(columns, name) for name in header):
        raise one_fault(
            path.name,
            header_line,
            "",
            f"{quoted(first)} holds no column heading that is known here",
            f"the first row names each column with its unit, for example {example}",
        )
    faults = [
        Fault(
            path.name,
            header_line,
            f"column {at}",
            f"{quoted(name)} is no column heading that is known here",
            f"the first row names each column with its unit, for example {example}",
        )
        for at, name in enumerate(header, start=1)
        if not re.fullmatch(columns, name)
    ]
    faults += [
        Fault(
            path.name, header_line, f"column {at}", f"{quoted(name)} stands there twice", "keep one"
        )
        for at, name in enumerate(header, start=1)
        if name in header[: at - 1]
    ]
    rows: list[tuple[float, ...]] = []
    for number, line in kept[1:]:
        cells = _cells(line)
        if len(cells) != len(header):
            faults.append(
                Fault(
                    path.name,
                    number,
                    "",
                    f"{len(cells)} cells below {len(header)} headings",
                    "one number for each column; decimal point, not comma",
                )
            )
            continue
        values = []
        for at, (name, cell) in enumerate(zip(header, cells, strict=True), start=1):
            value = plain_number(cell)
            if value is None:
                faults.append(
                    Fault(
                        path.name,
                        number,
                        f"column {at} ({name})",
                        f"{quoted(cell)} is not a number" if cell else "the cell is empty",
                        "write a plain number such as 12.5; the unit stands in the header row",
                    )
                )
            else:
                values.append(value)
        if len(values) == len(header):
            rows.append(tuple(values))
    if faults:
        raise PlanError(tuple(sorted(faults, key=lambda fault: fault.line or 0)))
    return Sheet(path.name, header, header_line, tuple(rows), tuple(n for n, _ in kept[1:]))


def one_fault(file: str, line: int | None, path: str, problem: str, remedy: str) -> PlanError:
    """Make the error of a file with one fault."""
    return PlanError((Fault(file, line, path, problem, remedy),))


def table_text(path: Path, *, most: int, what: str, missing: str) -> str:
    """Read the text of a table's file, or say in plain words why it is none.

    Parameters
    ----------
    path
        The file.
    most
        Bytes that it may have.
    what
        It holds, for the fault of a file that has more: "a curve".
    missing
        Remedy where there is no such file.
    """
    try:
        with path.open("rb") as file:
            content = file.read(most + 1)
        if len(content) > most:
            raise one_fault(path.name, None, "", f"the file is far too large for {what}", "")
        text = content.decode("utf-8-sig")
    except FileNotFoundError as error:
        raise one_fault(str(path), None, "", "there is no such file", missing) from error
    except IsADirectoryError as error:
        raise one_fault(str(path), None, "", "this is a folder", "name a file in it") from error
    except OSError as error:
        raise one_fault(str(path), None, "", f"cannot be read: {error.strerror}", "") from error
    except UnicodeDecodeError as error:
        raise _no_text(path) from error
    if "\0" in text:
        raise _no_text(path)
    return text


def _no_text(path: Path) -> PlanError:
    return one_fault(
        path.name, None, "", "this is not a text file", "save the table as CSV in UTF-8"
    )


def heading_and_unit(title: str) -> tuple[str, str]:
    """Part a heading that carries its unit, such as ``flow_gph``; no unit where it has none."""
    what, _, written = title.partition("_")
    return what, _SPELT.get(written.casefold(), written.replace("_", " "))


def _cells(line: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader([line.partition("#")[0]]))]


def plain_number(cell: str) -> float | None:
    """Read a cell that holds a number and nothing else; None where it does not."""
    if not re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", cell):
        return None
    value = float(cell)
    return value if math.isfinite(value) else None
