"""The screens that docs/walk.md shows are those of a walk through a simulated lagoon."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from balance.cli import walk
from balance.network.arrays import network_of
from balance.plan.read import read
from balance.show import tune as show
from tests.cli.session import run
from tests.walks.person import Person
from tests.walks.systems import systems

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "walk.md"
BLOCK = re.compile(r"^```text\n(.*?)^```$", re.MULTILINE | re.DOTALL)
SEED = 4  # of the system whose walk is shown


def test_the_screens_shown_are_those_of_a_walk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(ROOT / "pump_curves_demo", tmp_path / "pump_curves_demo")
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COLUMNS", raising=False)
    plan = "pump_curves_demo/lagoon.toml"
    person = Person(systems(network_of(read(plan)), 1, seed=SEED)[0])

    def types(prompt: str) -> str:
        typed = person.types(prompt)
        print(f"{prompt}: {typed}".rstrip())
        return typed

    monkeypatch.setattr(show, "lines", person.sees)
    monkeypatch.setattr(walk, "ask", types)
    printed = run("tune", plan).out
    here = 0
    blocks = BLOCK.findall(PAGE.read_text(encoding="utf-8"))
    assert len(blocks) >= 4
    for block in blocks:
        for piece in block.removeprefix(f"$ balance tune {plan}\n").split("...\n"):
            found = printed.find(piece, here)
            assert found >= 0, f"not printed, or not there:\n{piece}"
            here = found + len(piece)
