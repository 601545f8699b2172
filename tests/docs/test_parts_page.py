"""Each part that the page about parts writes out is read as a part."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from balance.plan.read import read_text
from tests.plan.plans import one_run

PAGE = Path(__file__).parents[2] / "docs" / "parts.md"
BLOCKS = re.findall(r"```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
PARTS = [line.partition("#")[0].strip() for block in BLOCKS for line in block.splitlines()]

AFTER = ', { pipe = "3/4 in sch 40", length = "3 in" }'


@pytest.mark.parametrize("part", PARTS)
def test_part_on_the_page(part: str) -> None:
    before = '{ pipe = "1 1/2 in sch 40", length = "3 in" }, '
    after = "" if "outlet =" in part else AFTER
    plan = read_text(one_run(before + part + after, high=50.0))
    assert len(plan.runs[0].parts) == 2 + ("outlet =" not in part)


def test_the_page_has_parts() -> None:
    assert len(PARTS) > 10
