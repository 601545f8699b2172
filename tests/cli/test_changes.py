"""`--set` and `--speed`: what they try, and that the file stays as it is."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from balance.plan.read import read
from balance.questions.flows import flows
from tests.cli.conftest import changed
from tests.cli.session import run


def answer(*words: str) -> dict[str, Any]:
    ran = run(*words, "--json")
    assert ran.code == 0, ran.err
    found: dict[str, Any] = json.loads(ran.out)
    return found


def test_openings_are_tried_and_the_file_stays(starter: str) -> None:
    before = Path(starter).read_bytes()
    found = answer("flows", starter, "--set", "reactor=30 deg", "--set", "Return=50 %")
    marks = {branch["branch"]: branch["mark"] for branch in found["branches"]}
    assert marks == {"reactor": "30 deg", "refugium": "45 deg", "return": "45 deg"}
    assert Path(starter).read_bytes() == before


def test_several_in_one_word(starter: str) -> None:
    found = answer("flows", starter, "--set", "reactor=shut, refugium=full")
    assert [branch["opening_percent"] for branch in found["branches"]] == [0.0, 100.0, 100.0]
    assert found["branches"][0]["flow_l_per_h"] == 0.0


def test_what_is_tried_is_what_python_gives(starter: str) -> None:
    tried = read(starter).with_openings({"reactor": 1 / 3}).with_speed({"main": 0.8})
    words = ("--set", "reactor=30 deg", "--speed", "80 %")
    assert answer("flows", starter, *words) == flows(tried).to_dict()
    assert answer("flows", starter, *words[:2], "--speed", "main=80 %") == flows(tried).to_dict()


def test_a_valve_may_be_called_by_its_branch(starter: str) -> None:
    changed(starter, '{ valve = "ball", size = "1 in", open = "full" }',
            '{ valve = "ball", size = "1 in", open = "full", name = "big one" }')  # fmt: skip
    by_branch = answer("flows", starter, "--set", "return=40 deg")
    assert by_branch == answer("flows", starter, "--set", "big one=40 deg")


def test_a_speed_without_a_name_needs_one_pump(starter: str) -> None:
    second = '[pumps.second]\npoints = ["0 gph at 3 ft", "100 gph at 2 ft", "200 gph at 0 ft"]\n'
    changed(starter, "[[runs]]", f'{second}from = "sump"\nto = "riser foot"\n\n[[runs]]')
    ran = run("flows", starter, "--speed", "70 %")
    assert ran.code == 2
    assert '--speed "main=70 %" --speed "second=70 %"' in ran.err


def test_new_writes_over_only_when_forced(starter: str) -> None:
    Path(starter).write_text("title = 3", encoding="utf-8")
    assert run("new", starter).code == 2
    assert run("new", starter, "--force").code == 0
    assert run("settings", starter).code == 0
