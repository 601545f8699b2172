"""The rules of the house that no tool knows."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

import balance

ROOT = Path(__file__).parents[1]
HEAVY = {"numpy", "scipy", "pandas", "networkx", "fluids", "pydantic", "uniplot"}


def tracked() -> list[str]:
    listing = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    return [name for name in listing.stdout.split("\0") if name]


def texts() -> list[tuple[str, str]]:
    here = Path(__file__).relative_to(ROOT).as_posix()
    names = [name for name in tracked() if name != here and (ROOT / name).is_file()]
    return [(name, (ROOT / name).read_text("utf-8", errors="replace")) for name in names]


def test_root_holds_seven_names() -> None:
    roots = {name.split("/")[0] for name in tracked()}
    assert {root for root in roots if not root.startswith(".")} == {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "balance",
        "tests",
        "pump_curves_demo",
        "docs",
    }


def test_no_path_of_a_machine() -> None:
    path = re.compile(r"(?<![\w./])(?:/(?:home|root|tmp|work|opt|Users|mnt)/\w|[A-Z]:\\\w)")
    found = [f"{name}: {match[0]}" for name, text in texts() for match in path.finditer(text)]
    assert not found


def test_pages_that_are_named_are_there() -> None:
    """A mention of a page outside the project helps nobody who reads it."""
    pages = {Path(name).name for name in tracked() if name.endswith(".md")}
    named = re.compile(r"\b[\w-]+\.md\b")
    found = [
        f"{name}: {match[0]}"
        for name, text in texts()
        for match in named.finditer(text)
        if match[0] not in pages
    ]
    assert not found


def test_nothing_is_left_for_later() -> None:
    mark = re.compile(r"\b(?:TODO|FIXME|XXX)\b")
    assert not [name for name, text in texts() if mark.search(text)]


def loaded_by(code: str) -> set[str]:
    """Top-level modules that a fresh interpreter holds after running the code."""
    listing = "; import json, sys; print(json.dumps(sorted(sys.modules)), file=sys.stderr)"
    done = subprocess.run(
        [sys.executable, "-c", code + listing], cwd=ROOT, capture_output=True, text=True, check=True
    )
    modules: list[str] = json.loads(done.stderr.splitlines()[-1])
    return {name.split(".")[0] for name in modules}


def test_importing_the_package_loads_nothing_heavy() -> None:
    assert not loaded_by("import balance; dir(balance)") & HEAVY


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import contextlib, sys; sys.argv = ['balance', '--help']\n"
        "from balance.cli.app import main\n"
        "with contextlib.suppress(SystemExit): main()\n"
        "pass"
    )
    assert not loaded_by(code) & HEAVY


@pytest.mark.parametrize("name", balance.__all__)
def test_public_names_resolve(name: str) -> None:
    assert getattr(balance, name).__name__ == name
    assert name in dir(balance)


def test_unknown_public_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'wet_sleeve'"):
        _ = balance.wet_sleeve
