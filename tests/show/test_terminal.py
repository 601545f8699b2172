"""Tables on a page: decimals below each other, and names whole where there is room for them."""

from __future__ import annotations

import pytest

from balance.show import terminal
from balance.show.page import Column


def printed(
    capsys: pytest.CaptureFixture[str], columns: tuple[Column, ...], *rows: tuple[str, ...]
) -> list[str]:
    with terminal.page() as to:
        to.table(columns, rows)
    return capsys.readouterr().out.splitlines()


def test_decimal_points_stand_below_each_other(capsys: pytest.CaptureFixture[str]) -> None:
    columns = (Column("name", "words"), Column("then\ngph", "decimal"), Column("next"))
    lines = printed(
        capsys,
        columns,
        ("a", "1112", "7"),
        ("b", "44.8", "8"),
        ("c", "6.05", "9"),
        ("d", "-", "10"),
    )
    heading, _, *rows = lines[1:]
    points = {row.index(".") for row in rows if "." in row}
    assert points == {rows[0].index("1112") + 4}
    assert len({len(row) for row in rows}) == 1  # what follows is not moved
    assert heading.index("gph") + 3 == rows[2].index("6.05") + 4


def test_whole_decimals_stand_below_the_end_of_their_heading(
    capsys: pytest.CaptureFixture[str],
) -> None:
    columns = (Column("name", "words"), Column("then\nL/h", "decimal"), Column("next"))
    rows = (("a", "393", "7"), ("b", "39", "8"), ("c", "393", "9"))
    heading, _, *lines = printed(capsys, columns, *rows)[1:]
    ends = {line.index("39") + len(row[1]) for line, row in zip(lines, rows, strict=True)}
    assert ends == {heading.index("L/h") + 3}


def test_a_column_of_decimals_may_be_empty(capsys: pytest.CaptureFixture[str]) -> None:
    columns = (Column("name", "words"), Column("gph", "decimal"))
    assert printed(capsys, columns, ("a", ""), ("b", "")) == ["name", "────", "a", "b"]
    printed(capsys, columns)  # nor any row at all


@pytest.mark.parametrize("width", range(36, 46))
def test_columns_move_together_before_names_break(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    columns = (Column("name", "words"), *(Column(f"n{n}") for n in range(4)))
    rows = (("phosphate reactor", *["1234"] * 4), ("b", *["1"] * 4))
    lines = printed(capsys, columns, *rows)
    assert len(lines) == 4 + (width < 17 + 4 * 5)
    assert max(map(len, lines)) <= width
