"""Plans for the commands to work on."""

from __future__ import annotations

from pathlib import Path

import pytest

from balance.plan.starter import STARTER
from tests.questions.change.plans import TANK


@pytest.fixture
def starter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """The starter plan in a folder of its own, in which the command runs."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COLUMNS", raising=False)
    (tmp_path / "plan.toml").write_text(STARTER, encoding="utf-8")
    return "plan.toml"


@pytest.fixture
def greedy(starter: str) -> str:
    """A plan that asks more of its pump than that can give."""
    return changed(starter, 'target = "400 gph"', 'target = "2000 gph"')


@pytest.fixture
def tall(greedy: str) -> str:
    """The same with heights, for pressures and the pump's suction."""
    changed(greedy, 'name = "manifold"\n', 'name = "manifold"\nheight = "20 in"\n')
    return changed(greedy, 'to = "riser foot"', 'to = "riser foot"\nintake = "5 in"')


@pytest.fixture
def tank(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A tank with a drain to the floor, and a barrel of new water with its pump."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COLUMNS", raising=False)
    (tmp_path / "tank.toml").write_text(
        TANK.replace("OUTLET", 'free", height = "1.7 m'), encoding="utf-8"
    )
    return "tank.toml"


def changed(plan: str, old: str, new: str) -> str:
    """Put other text into the plan at one place."""
    text = Path(plan).read_text(encoding="utf-8")
    assert text.count(old) == 1, old
    Path(plan).write_text(text.replace(old, new), encoding="utf-8")
    return plan
