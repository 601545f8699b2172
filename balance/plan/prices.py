"""Price lists: a CSV file with the columns ``item`` and ``price``, whatever else it holds."""

from __future__ import annotations

import csv
from pathlib import Path

from balance.errors import Fault, PlanError
from balance.plan.fields import quoted
from balance.plan.sheets import LARGEST, one_fault, plain_number, table_text

EXAMPLE = "item,price"


def read_prices(path: Path) -> dict[str, float]:
    """Read the prices of things from a CSV file; those without a price are left out.

    The list of ``balance buy --csv`` is such a file once its column ``price`` is filled in.

    Raises
    ------
    PlanError
        With every fault: no such file, a column that is missing, a cell that holds no price, a
        thing with two prices.
    """
    text = table_text(
        path, most=10 * LARGEST, what="a price list", missing="give the file of your price list"
    )
    rows = [
        (number, [cell.strip() for cell in row])
        for number, row in _rows(text, path.name)
        if any(cell.strip() for cell in row) and not row[0].lstrip().startswith("#")
    ]
    if not rows:
        raise one_fault(path.name, None, "", "the file is empty", f"begin it with {EXAMPLE}")
    line, header = rows[0]
    heads = [head.casefold() for head in header]
    if missing := [name for name in ("item", "price") if heads.count(name) != 1]:
        raise one_fault(
            path.name,
            line,
            "",
            f"no column, or more than one, is headed {' and '.join(missing)}",
            f"the first row names the columns, {EXAMPLE}; others may stand beside them",
        )
    item, price = heads.index("item"), heads.index("price")
    found: dict[str, float] = {}
    seen: dict[str, int] = {}
    faults: list[Fault] = []
    for number, row in rows[1:]:
        cells = row + [""] * (len(header) - len(row))
        if len(row) > len(header):
            problem = f"{len(row)} cells below {len(header)} headings"
            remedy = 'names that hold a comma stand in quotation marks, "elbow 90, 1 in",1.25'
            faults.append(Fault(path.name, number, "", problem, remedy))
            continue
        value = plain_number(cells[price])
        name = " ".join(cells[item].split())
        if cells[price] and (value is None or value < 0.0):
            problem = f"{quoted(cells[price])} is no price"
            remedy = "write a plain number such as 1.25, without a currency; decimal point"
        elif cells[price] and not name:
            problem, remedy = "a price of nothing", "name the item as the list does"
        elif cells[price] and name.casefold() in seen:
            problem = f'"{name}" has a price in line {seen[name.casefold()]} already'
            remedy = "keep one of the two"
        else:
            if value is not None:
                seen[name.casefold()], found[name] = number, value
            continue
        faults.append(Fault(path.name, number, "", problem, remedy))
    if faults:
        raise PlanError(tuple(faults))
    return found


def _rows(text: str, file: str) -> list[tuple[int, list[str]]]:
    """Give the rows of a table, each with the line where it ends."""
    reader = csv.reader(text.splitlines(keepends=True))
    try:
        return [(reader.line_num, row) for row in reader if row]
    except csv.Error as error:
        raise one_fault(
            file, reader.line_num, "", f"this line is no row of a table: {error}", ""
        ) from error
