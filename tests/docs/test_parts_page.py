"""Each part that the page about parts writes out is read as a part."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from balance.plan.read import read_text

PAGE = Path(__file__).parents[2] / "docs" / "parts.md"
BLOCKS = re.findall(r"```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
PARTS = [line.partition("#")[0].strip() for block in BLOCKS for line in block.splitlines()]

PLAN = """\
[vessels.sump]
level = "9 in"
[vessels.tank]
level = "50 in"
[[runs]]
name = "line"
from = "sump"
to = "tank"
parts = [{ pipe = "1 1/2 in sch 40", length = "3 in" }, %s]
"""
AFTER = ', { pipe = "3/4 in sch 40", length = "3 in" }'


@pytest.mark.parametrize("part", PARTS)
def test_part_on_the_page(part: str) -> None:
    plan = read_text(PLAN % (part if "outlet =" in part else part + AFTER))
    assert len(plan.runs[0].parts) == 2 + ("outlet =" not in part)


def test_the_page_has_parts() -> None:
    assert len(PARTS) > 10
