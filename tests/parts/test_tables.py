"""Every table of data is whole."""

from __future__ import annotations

import csv

import pytest

from balance.parts.tables import DATA, rows

TABLES = sorted(path.stem for path in DATA.glob("*.csv"))


@pytest.mark.parametrize("name", TABLES)
def test_every_row_has_as_many_cells_as_the_head(name: str) -> None:
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        lengths = {len(row) for row in csv.reader(file)}
    assert len(lengths) == 1
    assert list(rows(name))
