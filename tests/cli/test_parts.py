"""`balance parts`: needs no plan, prints and refuses as the others do."""

from __future__ import annotations

import json

import pytest

from balance.questions.catalogue import catalogue
from tests.cli.session import run
from tests.cli.test_json import STORED, keys


@pytest.fixture(autouse=True)
def plain_width(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("COLUMNS", raising=False)


@pytest.mark.parametrize("words", [(), ("elbow", "3/4"), ("elbow 3/4",), ("tee",)])
def test_the_page_is_plain_text_of_80_columns(words: tuple[str, ...]) -> None:
    ran = run("parts", *words)
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("Parts that a plan may use")
    assert all(len(line) <= 80 and line == line.rstrip() for line in ran.out.splitlines())


def test_a_size_may_stand_beside_words_or_among_them() -> None:
    apart, together = (
        run("parts", *words, "--json") for words in (("elbow", "3/4"), ("elbow 3/4",))
    )
    assert json.loads(apart.out)["parts"] == json.loads(together.out)["parts"]


def test_the_page_gives_every_source_in_full() -> None:
    out = " ".join(run("parts", "union").out.split())
    assert "edb, table 32, coupling or union at 1 in" in out
    assert "edb: Hydraulic Institute, Engineering Data Book" in out


@pytest.mark.parametrize(("units", "said"), [("us", "ft/s"), ("metric", "m/s")])
def test_units_change_the_page_and_no_number(units: str, said: str) -> None:
    assert said in run("parts", "ball", "--units", units).out
    found = json.loads(run("parts", "ball", "--units", units, "--json").out)
    assert found == catalogue("ball").to_dict()


def test_json_has_the_keys_that_are_stored() -> None:
    ran = run("parts", "--json")
    assert (ran.code, ran.err) == (0, "")
    found = json.loads(ran.out)
    stored = json.loads(STORED.read_text(encoding="utf-8"))["parts"]
    assert sorted({key for key in keys(found) if not key.startswith("sources.")}) == stored
    assert all(key in found["sources"] for part in found["parts"] for key in part["keys"])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["elbw"], 'try "elbow"'),
        (["elbow", "7 in"], 'no size is called "7 in"'),
        (["elbow", "hose"], "at once"),
        (["elbow", "--units", "roman"], "roman"),
    ],
)
def test_words_that_fit_nothing_end_with_2(words: list[str], said: str) -> None:
    ran = run("parts", *words)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err
