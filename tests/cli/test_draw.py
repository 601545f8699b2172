"""`balance draw`, from the words of the command line to the file."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.session import run


@pytest.mark.parametrize(
    ("kind", "begins"), [("svg", b"<?xml"), ("png", b"\x89PNG\r\n\x1a\n"), ("PDF", b"%PDF")]
)
def test_the_ending_says_which_picture(starter: str, kind: str, begins: bytes) -> None:
    ran = run("draw", starter, "-o", f"plumbing.{kind}")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out == f"plumbing.{kind} is written: the plumbing with its handles as they stand.\n"
    assert Path(f"plumbing.{kind}").read_bytes().startswith(begins)


def test_handles_are_drawn_where_settings_puts_them(starter: str) -> None:
    run("draw", starter, "-o", "now.svg")
    ran = run("draw", starter, "-o", "then.svg", "--settings")
    assert ran.code == 0
    assert "where `balance settings` puts them" in ran.out
    now, then = (Path(name).read_text(encoding="utf-8") for name in ("now.svg", "then.svg"))
    assert ">45 deg<" in now
    assert now != then


def test_units_are_those_asked_for(starter: str) -> None:
    run("draw", starter, "-o", "plumbing.svg", "--units", "metric")
    text = Path("plumbing.svg").read_text(encoding="utf-8")
    assert " L/h" in text
    assert "gph" not in text


def test_a_picture_takes_the_place_of_what_was_there(starter: str) -> None:
    Path("plumbing.svg").write_text("old", encoding="utf-8")
    run("draw", starter, "-o", "plumbing.svg")
    assert Path("plumbing.svg").read_text(encoding="utf-8").startswith("<?xml")


@pytest.mark.parametrize(
    ("out", "said"),
    [
        ("plumbing.gif", "an .svg, a .png or a .pdf"),
        ("plumbing", "an .svg, a .png or a .pdf"),
        ("nowhere/plumbing.svg", "cannot be written"),
    ],
)
def test_bad_files_end_with_2_and_leave_nothing(starter: str, out: str, said: str) -> None:
    before = sorted(Path().iterdir())
    ran = run("draw", starter, "-o", out)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err
    assert sorted(Path().iterdir()) == before


def test_a_file_must_be_named(starter: str) -> None:
    assert run("draw", starter).code == 2
