"""Plots: each mark stands where its point is, whatever the page is printed to."""

from __future__ import annotations

import io
import re
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from balance.show import plot
from balance.show.page import PLOT_HEIGHT, Series

ROOT = Path(__file__).parents[2]
BRAILLE = re.compile("[\u2801-\u28ff]")


def drawn(
    *series: Series, width: int = 80, encoding: str = "utf-8", height: int = PLOT_HEIGHT
) -> list[str]:
    """The lines of a plot printed to something that is no terminal."""
    stream = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    to = Console(file=stream, width=width, color_system=None, force_terminal=False)
    plot.draw(to, series, x_title="flow, gph", y_title="head, ft", height=height)
    stream.seek(0)
    return stream.read().splitlines()


def ticks_up(lines: Sequence[str]) -> dict[float, int]:
    """Row of each number beside the upright axis."""
    found = {}
    for row, line in enumerate(lines):
        match = re.match(r" *(-?[\d.]+) [┤+]", line)
        if match:
            found[float(match[1])] = row
    return found


def ticks_across(lines: Sequence[str]) -> dict[float, int]:
    """Column of each number below the lower axis, by the mark above its middle."""
    at = next(row for row, line in enumerate(lines) if re.match(r" *[└+][┬+]", line))
    corner = re.search(r"[└+]", lines[at])
    assert corner is not None
    columns = [
        place for place, mark in enumerate(lines[at]) if mark in "┬+" and place > corner.start()
    ]
    numbers = [float(text) for text in lines[at + 1].split()]
    return dict(zip(numbers, columns, strict=True))


def cells(lines: Sequence[str], mark: str) -> list[tuple[int, int]]:
    """Row and column of each mark within the axes."""
    up = ticks_up(lines)
    left = min(ticks_across(lines).values())
    rows = range(min(up.values()), max(up.values()) + 1)
    return [
        (row, column)
        for row in rows
        for column, there in enumerate(lines[row])
        if there == mark and column >= left
    ]


def place(ticks: dict[float, int], value: float) -> float:
    """Where a value belongs between the two ends of an axis."""
    low, high = min(ticks), max(ticks)
    return ticks[low] + (value - low) / (high - low) * (ticks[high] - ticks[low])


numbers = (st.floats(0.0, 1e5) | st.floats(-1e3, 1e3)).map(lambda number: round(number, 3))


@given(
    st.lists(st.tuples(numbers, numbers), min_size=1, max_size=6),
    st.sampled_from([("utf-8", "●"), ("ascii", "o")]),
    st.integers(50, 100),
)
def test_marks_stand_in_the_cell_nearest_to_their_points(
    points: list[tuple[float, float]], character: tuple[str, str], width: int
) -> None:
    encoding, mark = character
    x, y = zip(*points, strict=True)
    lines = drawn(Series("measured", x, y, "points"), width=width, encoding=encoding)
    across, up = ticks_across(lines), ticks_up(lines)
    found = cells(lines, mark)
    for at_x, at_y in points:
        assert min(across) <= at_x + 1e-4 * abs(at_x)
        assert at_x <= max(across) + 1e-4 * abs(at_x)
        near = [
            (row, column)
            for row, column in found
            if abs(row - place(up, at_y)) < 0.51 and abs(column - place(across, at_x)) < 0.51
        ]
        assert near, (at_x, at_y, lines)
    assert len(found) <= len(points)
    assert max(map(len, lines)) <= width


def test_a_fine_line_passes_below_its_points() -> None:
    x = [0.0, 250.0, 500.0, 750.0, 1000.0]
    y = [10.0, 9.0, 6.5, 3.5, 0.0]
    lines = drawn(Series("used", x, y))
    across, up = ticks_across(lines), ticks_up(lines)
    for at_x, at_y in zip(x, y, strict=True):
        row, column = place(up, at_y), place(across, at_x)
        near = [
            lines[r][c]
            for r in range(len(lines))
            for c in range(len(lines[r]))
            if abs(r - row) <= 0.7 and abs(c - column) <= 0.7
        ]
        assert any(BRAILLE.match(mark) for mark in near), (at_x, at_y)
    columns = {c for line in lines[1:] for c, mark in enumerate(line) if BRAILLE.match(mark)}
    assert columns == set(range(min(across.values()), max(across.values()) + 1))  # no gap


@pytest.mark.parametrize("tick", [0.0, 10.0])  # the ends, which lie on cells
def test_a_fine_line_at_a_tick_runs_through_the_middle_of_its_cells(tick: float) -> None:
    lines = drawn(Series("level", [0.0, 10.0], [tick, tick]), Series("", [0.0], [10.0], "points"))
    (row,) = [line for line in lines[1:] if len(BRAILLE.findall(line)) > 60]
    assert row.startswith(f"{tick:2.0f} ")
    inner = 0x02 | 0x04 | 0x10 | 0x20  # dots 2, 3, 5 and 6: neither the upper nor the lower row
    assert all((ord(mark) - 0x2800) & ~inner == 0 for mark in BRAILLE.findall(row))


def test_long_numbers_stand_apart() -> None:
    lines = drawn(Series("far", [0.0, 123_456_789.0], [0.0, 1.0]), width=60)
    across = ticks_across(lines)
    assert min(across) == 0.0
    assert max(across) >= 123_456_789.0


def test_a_line_of_marks_has_no_gap_even_where_it_is_steep() -> None:
    lines = drawn(
        Series("fine", [0.0, 10.0], [0.0, 0.0]),
        Series("steep", [4.0, 4.2], [0.0, 10.0]),
    )
    rows = {row for row, _ in cells(lines, "·")}
    assert rows >= set(range(min(rows), max(rows) + 1))
    assert len(rows) >= PLOT_HEIGHT - 1


def test_points_lie_over_lines_and_series_differ_without_colour() -> None:
    lines = drawn(
        Series("measured", [0.0, 5.0], [5.0, 5.0], "points"),
        Series("first", [0.0, 10.0], [5.0, 5.0]),
        Series("second", [0.0, 10.0], [8.0, 8.0]),
        Series("third", [0.0, 10.0], [2.0, 2.0]),
        Series("other day", [10.0], [5.0], "points"),
    )
    assert len(cells(lines, "●")) == 2
    assert len(cells(lines, "○")) == 1
    rows = [{row for row, _ in cells(lines, mark)} for mark in "·+"]
    assert [len(each) for each in rows] == [1, 1]
    legend = " ".join(lines[:2])
    for entry in ("⠤⠤⠤ first", "··· second", "+++ third", "● measured", "○ other day"):
        assert entry in legend


def test_series_of_one_name_share_their_mark() -> None:
    lines = drawn(
        Series("used", [0.0, 10.0], [5.0, 5.0]),
        Series("used", [0.0, 10.0], [8.0, 8.0]),
    )
    assert " ".join(lines).count("used") == 1
    assert not cells(lines, "·")
    fine = [row for row, line in enumerate(lines[1:]) if len(BRAILLE.findall(line)) > 60]
    assert len(fine) == 2


@given(
    st.lists(numbers, min_size=2, max_size=8),
    st.integers(5, 120),
    st.sampled_from(["utf-8", "ascii"]),
)
def test_no_line_is_wider_than_the_page(values: list[float], width: int, encoding: str) -> None:
    names = ["used by the solver, as fitted", "at 80 %", "as measured"]
    series = [Series(name, range(len(values)), values) for name in names]
    lines = drawn(*series, width=width, encoding=encoding)
    assert all(len(line) <= width for line in lines)
    assert (not lines) or width > 20
    if encoding == "ascii":
        assert all(line.isascii() for line in lines)


@pytest.mark.parametrize(
    ("values", "ticks"),
    [
        ([0.0, 11.0], [0, 2, 4, 6, 8, 10, 12]),
        ([0.3, 1.0], [0.0, 0.2, 0.4, 0.6, 0.8, 1.0]),
        ([25.4, 25.9], [25.4, 25.5, 25.6, 25.7, 25.8, 25.9]),
        ([-3.0, 7.0], [-4, -2, 0, 2, 4, 6, 8]),
        ([0.0, 0.0], [0.0, 0.2, 0.4, 0.6, 0.8, 1.0]),
        ([7.0, 7.0], [0, 1, 2, 3, 4, 5, 6, 7]),
        ([0.0, 34000.0], [0, 5000, 10000, 15000, 20000, 25000, 30000, 35000]),
    ],
)
def test_ticks_are_round_and_hold_all_values(values: list[float], ticks: list[float]) -> None:
    lines = drawn(Series("x", [0.0, 1.0], values))
    assert sorted(ticks_up(lines)) == pytest.approx(ticks)


def test_axes_carry_their_titles() -> None:
    lines = drawn(Series("x", [0.0, 1500.0], [0.0, 1.0]))
    assert lines[0].startswith("head, ft ")
    assert lines[-1].strip() == "flow, gph"
    assert len(lines) == 1 + PLOT_HEIGHT + 3


def test_a_pipe_gets_no_escape_codes_and_a_terminal_its_colours() -> None:
    series = [Series("x", [0.0, 1.0], [0.0, 1.0]), Series("y", [0.5], [0.5], "points")]
    assert "\x1b" not in "".join(drawn(*series))

    def on_a_terminal(*, no_color: bool) -> str:
        stream = io.StringIO()
        to = Console(
            file=stream, width=80, force_terminal=True, color_system="standard", no_color=no_color
        )
        plot.draw(to, series, x_title="", y_title="")
        return stream.getvalue()

    assert re.search(r"\x1b\[3\dm●", on_a_terminal(no_color=False))
    assert "\x1b[3" not in on_a_terminal(no_color=True)


def test_the_library_is_loaded_by_a_plot_alone() -> None:
    code = (
        "import sys, io\n"
        "from rich.console import Console\n"
        "from balance.show import plot\n"
        "from balance.show.page import Series\n"
        "assert 'uniplot' not in sys.modules\n"
        "plot.draw(Console(file=io.StringIO(), width=80), [Series('x', [0, 1], [0, 1])],\n"
        "          x_title='', y_title='')\n"
        "assert 'uniplot' in sys.modules\n"
    )
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True)
