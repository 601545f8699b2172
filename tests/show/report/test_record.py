"""What is written on a page is kept as blocks, nothing of it lost."""

from __future__ import annotations

from pathlib import Path

import pytest
from rich.text import Text

import balance
from balance.questions.settings import Settings
from balance.show import settings, terminal
from balance.show.page import Column, Page, Series
from balance.show.report.record import Grid, Heading, Line, Listing, Recorder, record

LAGOON = Path(__file__).parents[3] / "pump_curves_demo" / "lagoon.toml"


@pytest.fixture(scope="module")
def answer() -> Settings:
    return balance.settings(balance.read(LAGOON))


def texts(recorder: Recorder) -> list[str]:
    """Every text that was kept, in pieces of one line."""
    found: list[str] = [recorder.about, *recorder.cautions, *map(str, recorder.remarks)]
    for block in recorder.blocks:
        if isinstance(block, Line):
            found.append(str(block.words))
        elif isinstance(block, Heading):
            found.append(block.text)
        elif isinstance(block, Listing):
            found += map(str, block.items)
        else:
            found += [column.heading for column in block.columns]
            found += [str(cell) for row in block.rows for cell in row]
    return [" ".join(text.split()) for text in found]


def test_the_same_words_stand_on_a_terminal_and_in_a_report(
    answer: Settings, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = " ".join(texts(record(settings.write, answer)))
    settings.show(answer)
    printed = capsys.readouterr().out
    words = {word for word in printed.split() if any(letter.isalnum() for letter in word)}
    assert len(words) > 150
    words -= {"Before", "you", "turn", "them"}  # a heading of cautions, which are kept alone
    assert not {word for word in words if word not in kept}


def test_figures_are_the_answer_s(answer: Settings) -> None:
    (grid,) = [each for each in record(settings.write, answer).blocks if isinstance(each, Grid)]
    flows = {str(row[0]): float(str(row[3]).strip()) for row in grid.rows}
    given = {branch.branch: branch.flow * 3600 / 0.003785411784 for branch in answer.branches}
    assert len(flows) == 8
    for name, flow in flows.items():
        assert flow == pytest.approx(given[name], rel=5e-3)


def test_points_stand_below_each_other() -> None:
    to = Recorder()
    to.table([Column("n", "decimal")], [["1.25"], ["20"], ["3.5"], [""]])
    (grid,) = to.blocks
    assert isinstance(grid, Grid)
    cells = [str(row[0]) for row in grid.rows]
    assert cells == ["1.25", "20\u2008\u2007\u2007", "3.5\u2007", ""]
    assert len({len(cell) - cell.replace("\u2008", ".").index(".") for cell in cells[:3]}) == 1


def test_a_column_with_nothing_in_it_and_a_heading_with_nothing_below_are_left_out() -> None:
    def write(to: Page, _: object) -> None:
        to.heading("nothing below")
        to.chapter("a chapter")
        to.heading("drawn in letters")
        to.plot([Series("x", [0, 1], [0, 1])], x_title="", y_title="")
        to.heading("a table")
        to.print()
        to.table([Column("a", "words"), Column("b")], [["1", ""], ["2", ""]])
        to.chapter("an end")

    blocks = record(write, None).blocks
    assert [each.text for each in blocks if isinstance(each, Heading)] == ["a chapter", "a table"]
    (grid,) = [each for each in blocks if isinstance(each, Grid)]
    assert [column.heading for column in grid.columns] == ["a"]
    assert grid.title == "a table"


def test_what_is_grave_stays_grave() -> None:
    to = Recorder()
    to.print(Text("it FLOODS", style="bold red"))
    to.print("aside", style="dim")
    to.listing([Text.assemble("well, ", ("coarse", "yellow"), "\nand more")])
    line, aside, listing = to.blocks
    assert isinstance(line, Line)
    assert line.words.tone == "bad"
    assert isinstance(aside, Line)
    assert aside.words.tone == "soft"
    assert isinstance(listing, Listing)
    first, second = listing.items[0].lines
    assert first.stretches == (("well, ", ""), ("coarse", "doubt"))
    assert str(second) == "and more"


def test_cautions_and_notes_are_kept_by_themselves() -> None:
    to = Recorder()
    to.beware("Beware", ["fumes"])
    to.notes(["taken for granted"])
    assert (to.blocks, to.cautions, list(map(str, to.remarks))) == (
        [], ["fumes"], ["taken for granted"],
    )  # fmt: skip


def test_a_terminal_prints_them_as_sections(capsys: pytest.CaptureFixture[str]) -> None:
    with terminal.page() as to:
        to.chapter("A chapter")
        to.beware("Beware", ["fumes"])
        to.notes(["taken for granted"])
        to.notes([])
    out = capsys.readouterr().out
    assert out == "A chapter\n\nBeware\n- fumes\n\nNotes\n- taken for granted\n"
