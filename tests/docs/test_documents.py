"""Each snippet of the README and of docs/ runs, and prints what the page shows."""

from __future__ import annotations

import contextlib
import io
import re
import shlex
import shutil
from contextlib import suppress
from pathlib import Path

import pytest
from sybil import Example, Sybil
from sybil.parsers.markdown import CodeBlockParser, PythonCodeBlockParser

from balance.cli.app import app

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("**/*.md"))]
COMMAND = re.compile(r"^\$ (.*)\n?", re.MULTILINE)
FENCE = re.compile(r"^```(.*)\n(?:.*\n)*?```$", re.MULTILINE)


def shown(text: str) -> re.Pattern[str]:
    """Pattern of an output in which a line `...` stands for any lines, none included."""
    lines = [line.rstrip() for line in text.strip("\n").split("\n")]
    pattern = "".join(
        r"(?:.*\n)*?" if line.strip() == "..." else re.escape(line) + r"\n" for line in lines
    )
    return re.compile(pattern if text.strip() else "")


def printed(words: list[str]) -> str:
    """What the command prints, on both streams, to something that is no terminal.

    It runs in this process: fifty starts would take longer than what is asked.
    """
    both = io.StringIO()
    with contextlib.redirect_stdout(both), contextlib.redirect_stderr(both), suppress(SystemExit):
        app(words, prog_name="balance")
    return "".join(line.rstrip() + "\n" for line in both.getvalue().strip("\n").split("\n"))


def session(example: Example) -> str | None:
    """Run the commands of a console block; the first that prints something else, as a message."""
    block = str(example.parsed)
    found = list(COMMAND.finditer(block))
    assert found, "a console block starts with a line `$ balance ...`"
    assert found[0].start() == 0, "what is shown before the first command is printed by nothing"
    ends = [match.start() for match in found[1:]] + [len(block)]
    for match, end in zip(found, ends, strict=True):
        program, *words = shlex.split(match[1], comments=True)
        assert program == "balance", f"{program} is not run by the tests"
        output = printed(words)
        if not shown(block[match.end() : end]).fullmatch(output.lstrip("\n")):
            return f"{match[0]}printed\n{output}"
    return None


SNIPPETS = Sybil(parsers=[PythonCodeBlockParser(), CodeBlockParser("console", session)])


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_snippets_run_and_print_what_is_shown(
    page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(ROOT / "pump_curves_demo", tmp_path / "pump_curves_demo")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.delenv("COLUMNS", raising=False)
    for example in SNIPPETS.parse(page).examples():
        example.evaluate()


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_no_block_escapes_the_tests(page: Path) -> None:
    """Shell stands in the README only, where the set-up is; the rest is run, or is no command."""
    languages = [match[1] for match in FENCE.finditer(page.read_text(encoding="utf-8"))]
    allowed = {"console", "python", "toml", "text", "json", "csv", "math"}
    assert set(languages) - allowed == ({"sh"} if page.name == "README.md" else set())


def test_readme_sets_up_in_two_commands() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    demo, tests = (match[0] for match in FENCE.finditer(text) if match[1] == "sh")
    assert "balance settings" in demo
    assert "pytest" in tests
    assert all(block.count("\n") == 2 for block in (demo, tests))


@pytest.mark.parametrize(
    ("page", "output", "same"),
    [
        ("a\nb", "a\nb\n", True),
        ("a\n...\nd", "a\nb\nc\nd\n", True),
        ("a\n...\nd", "a\nd\n", True),
        ("a\n...", "a\nb\n", True),
        ("a\nb", "a\nc\n", False),
        ("a", "a\nb\n", False),
        ("a.c", "abc\n", False),
    ],
)
def test_dots_stand_for_any_lines(page: str, output: str, *, same: bool) -> None:
    assert bool(shown(page).fullmatch(output)) is same
