"""What an answer advises, done: the plan is changed by hand and asked again."""

from __future__ import annotations

import re

import numpy as np
import pytest

from balance.network.arrays import network_of
from balance.network.solve import solve
from balance.questions.settings import Settings, settings
from balance.questions.settings.search import search
from tests.questions.settings.manifolds import (
    FREE,
    PLAIN,
    RISER_VALVE,
    WEAK,
    branch,
    header,
    manifold,
    read_text_of,
)


def valve_share(answer: Settings, name: str) -> float:
    """Share of a branch's head that its valve takes at the marks."""
    network = network_of(answer.plan)
    solution = solve(network)
    valve = next(each for each in network.valves if each.name == name)
    ((_, scale),) = valve.places
    k = valve.law.loss_coefficient(np.array([valve.part.open])).k[0]
    drop = network.topology.drop(solution.state.heads)[network.row_of[name], 0]
    return float(k * scale * solution.flow(name) ** 2 / drop)


@pytest.mark.parametrize("gph", [60, 120, 200])
def test_restriction_leaves_the_valve_less_than_half(gph: int) -> None:
    other = branch("b", 'target = "200 gph"', to="tank")
    before = settings(manifold(branch("a", f'target = "{gph} gph"'), other, points=PLAIN))
    row = before.branches[0]
    assert row.coarse
    assert row.remedy is not None
    assert valve_share(before, "a") > 0.5
    words = re.search(r"put ([\d.]+) ft of (.+) hose in series", row.remedy.text)
    assert words is not None
    valve = '{ valve = "ball", size = "3/4 in", open = "45 deg" }'
    with_hose = f'{valve},\n  {{ hose = "{words[2]}", length = "{words[1]} ft" }}'
    after = settings(
        manifold(branch("a", f'target = "{gph} gph"', valve=with_hose), other, points=PLAIN)
    )
    assert after.branches[0].met
    assert valve_share(after, "a") < 0.5
    moved, moves = row.flow_per_step, after.branches[0].flow_per_step
    assert moved is not None
    assert moves is not None
    assert moves < 0.6 * moved
    assert after.handles[0].opening == pytest.approx(row.remedy.opening, abs=5 / 90)
    assert row.remedy.flow_per_step == pytest.approx(moves, rel=0.5)


def test_a_valve_that_is_fine_needs_no_remedy() -> None:
    answer = settings(
        manifold(branch("a", 'target = "700 gph"', 'tolerance = "20 %"'), points=PLAIN)
    )
    assert not answer.branches[0].coarse
    assert answer.branches[0].remedy is None


def missed(text: str, *, speed: str) -> float:
    return search(network_of(read_text_of(text, points=WEAK, speed=speed))).missed


@pytest.mark.parametrize("speed", ["", FREE])
def test_single_changes_help_as_much_as_they_say(speed: str) -> None:
    riser = RISER_VALVE.replace(
        '"1 in sch 40", length = "12 in"', '"3/4 in sch 40", length = "60 in"'
    )
    riser = riser.replace('  { valve = "ball", size = "1 in", name = "main valve" },\n', "")
    rest = header("a", "b", start="top", pipe="3/4 in sch 40")
    rest += branch("a", 'target = "300 gph"', to="tank") + branch("b", 'target = "400 gph"')
    answer = settings(read_text_of(riser + rest, points=WEAK, speed=speed))
    assert not answer.met
    told = {change.text: change for change in answer.changes}
    assert list(told.values()) == sorted(told.values(), key=lambda change: change.missed)
    by_hand = {
        'run "riser" in 1 in sch 40': riser.replace("3/4 in sch 40", "1 in sch 40") + rest,
        'header "header" in 1 in sch 40': riser
        + rest.replace('pipe = "3/4 in sch 40"\n', 'pipe = "1 in sch 40"\n'),
    }
    assert told.keys() & by_hand.keys()
    for text, changed in by_hand.items():
        left = missed(changed, speed=speed)
        before = missed(riser + rest, speed=speed)
        if text in told:
            assert told[text].missed_before == pytest.approx(before, rel=1e-6)
            assert told[text].missed == pytest.approx(left, rel=1e-3, abs=1e-6)
            assert left < before
        else:
            assert left > 0.98 * before or len(told) == 5


def test_shutting_what_nobody_asked_for_helps() -> None:
    text = header("a", "b") + branch("a", 'target = "300 gph"', to="tank") + branch("b")
    answer = settings(read_text_of(text, points=WEAK))
    assert not answer.met
    first = answer.changes[0]
    assert first.text == 'shut "b", which has no target'
    shut = text.replace(branch("b"), branch("b").replace("45 deg", "shut"))
    assert first.missed == pytest.approx(missed(shut, speed=""), abs=1e-6)
    assert first.meets_all == settings(read_text_of(shut, points=WEAK)).met
