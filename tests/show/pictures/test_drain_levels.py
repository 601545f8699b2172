"""Drains as drawings: inlets to scale, floods in words, all clear of each other."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from balance.plan.read import read
from balance.questions.drains import Drains, drains
from balance.show.pictures.drain_levels import FLOODS, MAY_FLOOD, drain_levels
from balance.show.words import bare
from balance.units import SYSTEMS
from tests.show.pictures.room import HOSTILE, faults

DEMO = Path(__file__).parents[3] / "pump_curves_demo" / "lagoon.toml"


@pytest.fixture(scope="module")
def answer() -> Drains:
    return drains(read(DEMO))


def test_each_vessel_tells_its_inlets_and_what_floods(answer: Drains) -> None:
    system = SYSTEMS[answer.plan.units]
    pictures = drain_levels(answer)
    assert len(pictures) == len(answer.vessels)
    for picture, vessel in zip(pictures, answer.vessels, strict=True):
        for each in vessel.drains:
            assert f"inlet {bare(system, each.inlet, 'length')}: {each.drain}" in (
                picture.description
            )
        floods = [case for case in vessel.floods if case.when == "greatest" and case.blocked]
        said = picture.description.count(FLOODS) + picture.description.count(MAY_FLOOD)
        assert said >= len(floods)
        assert not faults(picture)


def test_no_rim_and_hostile_names_do_no_harm(answer: Drains) -> None:
    name = HOSTILE
    first = answer.vessels[0]
    named = replace(first, rim=None, vessel=name, gates=())
    picture = drain_levels(replace(answer, vessels=(named,)))[0]
    assert not faults(picture)
    assert "<script" not in picture.inline("it")


def test_no_drains_give_no_pictures(answer: Drains) -> None:
    assert drain_levels(replace(answer, vessels=())) == ()


def test_the_same_answer_gives_the_same_bytes(answer: Drains) -> None:
    one, other = (drain_levels(answer)[0] for _ in range(2))
    assert one.as_file("svg") == other.as_file("svg")
