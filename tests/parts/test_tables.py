"""Every row of every table says where it comes from."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

from balance.parts.tables import DATA, rows

SOURCES = Path(__file__).parents[2] / "docs" / "sources.md"
TABLES = sorted(path.stem for path in DATA.glob("*.csv"))


@pytest.mark.parametrize("name", TABLES)
def test_every_row_of_a_table_has_a_source(name: str) -> None:
    table = list(rows(name))
    assert table
    for row in table:
        assert (row.get("source") or "").strip(), row


@pytest.mark.parametrize("name", TABLES)
def test_every_row_has_as_many_cells_as_the_head(name: str) -> None:
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        lengths = {len(row) for row in csv.reader(file)}
    assert len(lengths) == 1


def listed_keys() -> list[str]:
    text = SOURCES.read_text(encoding="utf-8")
    return re.findall(r"^\| (?!key )([a-z][\w.-]*) \|", text, re.MULTILINE)


def test_each_source_is_listed_once() -> None:
    keys = listed_keys()
    assert len(keys) > 10
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("name", TABLES)
def test_keys_of_sources_are_listed(name: str) -> None:
    # A source that is no key, such as "common practice, no source", is a phrase of several words.
    first = {row["source"].split(",")[0].split(":")[0] for row in rows(name)}
    assert {key for key in first if " " not in key} <= set(listed_keys())
