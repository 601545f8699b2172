"""`balance report`, from the words of the command line to the page it leaves."""

from __future__ import annotations

from html.parser import HTMLParser
from pathlib import Path

import pytest

from balance.plan.starter import STARTER
from tests.cli.conftest import changed
from tests.cli.session import run


class Outline(HTMLParser):
    """Headings of a page, and whether each element that is opened is closed."""

    EMPTY = frozenset({"meta", "br", "img", "link"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.headings: list[str] = []
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in self.EMPTY:
            self.open.append(tag)
        self.links += [
            value or "" for name, value in attrs if name in {"src", "href", "srcset", "xlink:href"}
        ]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "h2":
            self.headings.append(data)


def outline(page: Path) -> Outline:
    found = Outline()
    found.feed(page.read_text(encoding="utf-8"))
    found.close()
    assert not found.open
    return found


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The starter's report, in a folder with nothing else but its plan."""
    folder = tmp_path_factory.mktemp("starter")
    (folder / "plan.toml").write_text(STARTER, encoding="utf-8")
    ran = run("report", str(folder / "plan.toml"), "-o", str(folder / "page.html"))
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith(f"{folder / 'page.html'} is written. ")
    return folder / "page.html"


def test_it_writes_one_whole_page_and_nothing_else(written: Path) -> None:
    assert sorted(path.name for path in written.parent.iterdir()) == ["page.html", "plan.toml"]
    found = outline(written)
    assert found.headings[:2] == ["Where each handle goes", "At a glance"]
    assert found.headings[-2:] == ["Valve cards", "The plan"]
    assert all(link.startswith("#") for link in found.links)  # it needs nothing else


def test_the_plan_stands_at_its_end(written: Path) -> None:
    page = written.read_text(encoding="utf-8")
    assert page.count(STARTER.splitlines()[0].replace('"', "&#34;")) == 1
    assert "[[branches]]" in page.partition('id="plan"')[2]


def test_a_question_without_an_answer_says_why(written: Path) -> None:
    after = written.read_text(encoding="utf-8").partition('id="drains"')[2]
    assert "No answer:" in after
    assert "this plan has no drains" in after


def test_the_same_plan_gives_the_same_page_named_after_it_in_place_of_an_older_one(
    starter: str, written: Path
) -> None:
    Path("plan-report.html").write_text("old", encoding="utf-8")
    assert run("report", starter).out.startswith("plan-report.html is written.")
    assert Path("plan-report.html").read_bytes() == written.read_bytes()


@pytest.mark.parametrize("name", ["plan.toml", "page", "page.pdf"])
def test_no_file_but_a_page_is_ever_written(starter: str, name: str) -> None:
    before = Path(starter).read_bytes()
    ran = run("report", starter, "-o", name)
    assert ran.code == 2
    assert f'"{name}" is no name for a page; write a name such as plan.html' in ran.err
    assert Path(starter).read_bytes() == before
    assert [path.name for path in Path.cwd().iterdir()] == ["plan.toml"]


def test_nothing_is_written_of_a_bad_plan(starter: str) -> None:
    changed(starter, 'target = "400 gph"', 'target = "400 gqh"')
    ran = run("report", starter, "-o", "page.html")
    assert ran.code == 2
    assert "gqh" in ran.err
    assert "Traceback" not in ran.err
    assert [path.name for path in Path.cwd().iterdir()] == ["plan.toml"]


def test_a_folder_that_is_not_there_is_named(starter: str) -> None:
    ran = run("report", starter, "-o", "nowhere/page.html")
    assert ran.code == 2
    assert "nowhere" in ran.err


def test_what_cannot_be_met_is_said_first(greedy: str) -> None:
    ran = run("report", greedy, "-o", "page.html")
    assert ran.code == 0
    page = Path("page.html").read_text(encoding="utf-8")
    head = page.partition("</header>")[0]
    assert "What is asked CANNOT all be met." in head
    assert "return" in head.partition("missed: ")[2]


def test_it_goes_by_the_units_that_are_asked_for(starter: str) -> None:
    run("report", starter, "-o", "page.html", "--units", "metric")
    page = Path("page.html").read_text(encoding="utf-8").partition('id="plan"')[0]
    assert "L/h" in page
    assert "gph" not in page


def test_with_readings_it_is_of_what_they_told(starter: str) -> None:
    log = "branch,volume,seconds\nreactor,1 gal,60.0 61.0 60.5\nrefugium,1 gal,15.1 15.0 15.2\n"
    Path("log.csv").write_text(log, encoding="utf-8")
    ran = run("report", starter, "log.csv", "-o", "page.html")
    assert (ran.code, ran.err) == (0, "")
    page = Path("page.html").read_text(encoding="utf-8")
    assert "What the readings told" in page
    assert "Made from plan.toml, fitted to the readings in log.csv." in page
    assert "[learnt" in page.partition('id="plan"')[2]  # to begin again from what is known now
    assert sorted(path.name for path in Path.cwd().iterdir()) == [
        "log.csv", "page.html", "plan.toml",
    ]  # fmt: skip


def test_faulty_readings_are_named_and_nothing_is_written(starter: str) -> None:
    Path("log.csv").write_text("branch,volume,seconds\nreacter,1 gal,60.0\n", encoding="utf-8")
    ran = run("report", starter, "log.csv", "-o", "page.html")
    assert ran.code == 2
    assert "log.csv:2" in ran.err
    assert not Path("page.html").exists()
