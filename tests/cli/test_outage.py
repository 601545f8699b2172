"""`balance outage`, from the words of the command line to its exit code and page."""

from __future__ import annotations

from pathlib import Path

import pytest

from balance.plan.read import read
from balance.questions.outage import outage
from balance.show.outage import show
from tests.cli.session import run
from tests.questions.outage.plans import BOX, PLANT


@pytest.fixture
def plan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COLUMNS", raising=False)
    Path("plant.toml").write_text(PLANT + BOX, encoding="utf-8")
    return "plant.toml"


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ((), 0),
        (("--level", "sump=59 cm"), 1),
        (("--level", "sump=25 cm, tank=139 cm"), 0),
        (("--set", "return=30 deg", "--speed", "90 %"), 0),
        (("--level", "sump"), 2),
        (("--level", "sump=high"), 2),
        (("--level", "sump=25"), 2),
        (("--level", "sumpp=25 cm"), 2),
        (("--level", "sump=2 m"), 2),
        (("--speed", "much"), 2),
    ],
)
def test_exit_codes(plan: str, words: tuple[str, ...], code: int) -> None:
    ran = run("outage", plan, *words)
    assert ran.code == code
    assert bool(ran.err) == (code == 2)


def test_bad_words_are_named_with_their_option(plan: str) -> None:
    assert '--level "sump=25": "25" has no unit' in run("outage", plan, "--level", "sump=25").err
    assert 'try "sump"' in run("outage", plan, "--level", "sumpp=25 cm").err


def test_the_first_lines_say_whether_it_floods(plan: str) -> None:
    told = " ".join(run("outage", plan).out.split())
    assert "The water in sump rises from 200 mm to 217 mm with every check valve failed" in told
    assert "Let it run no higher than 582 mm." in told
    flooded = " ".join(run("outage", plan, "--level", "sump=59 cm").out.split())
    assert "AND SPILLS" in flooded
    assert "Let it run no higher than 582 mm." in flooded


def test_the_page_tells_whence_when_and_what_to_beware_of(plan: str) -> None:
    page = run("outage", plan).out
    for heading in ("water from", "What happens", "check valves", "When the power comes back"):
        assert heading in page
    assert "A check valve is no protection from a flood" in page
    assert 'comes into "return" from tank: its siphon breaks' in page


def test_no_line_is_wider_than_the_page(
    plan: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answer = outage(read(Path(plan)))
    for width in (60, 80, 120):
        monkeypatch.setenv("COLUMNS", str(width))
        show(answer)
        assert max(map(len, capsys.readouterr().out.splitlines())) <= min(width, 100)
