"""The page about the plan file and the schema follow the fields."""

from __future__ import annotations

from pathlib import Path

import pytest

from balance.plan import pieces
from balance.plan.model import Learnt, LearntNumber, Plan
from balance.plan.page import page
from balance.plan.read import LISTED, NAMED

PAGE = Path(__file__).parents[2] / "docs" / "plan_file.md"


def test_the_page_is_up_to_date() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), (
        "write it anew: python -m balance.plan.page > docs/plan_file.md"
    )


@pytest.mark.parametrize(
    "table",
    [Plan, Learnt, LearntNumber, *NAMED.values(), *LISTED.values(), *pieces.KINDS.values()],
)
def test_every_field_is_described(table: type[pieces.Table]) -> None:
    assert [name for name, info in table.model_fields.items() if not info.description] == []


def test_the_schema_knows_the_keys_of_the_file() -> None:
    schema = Plan.model_json_schema()
    branch = schema["$defs"]["Branch"]
    assert branch["properties"]["from"]
    assert branch["additionalProperties"] is False
    assert branch["properties"]["target"]["anyOf"][0]["type"] == "string"
