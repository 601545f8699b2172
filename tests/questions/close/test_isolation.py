"""Which valves keep the water from one of them, and who loses flow."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from balance.errors import UnknownNameError, UsageError
from balance.network.arrays import network_of
from balance.network.settle import AT_REST
from balance.network.solve import solve
from balance.plan.model import Plan
from balance.plan.read import read, read_text
from balance.questions.close.cuts import Cut, Question, question_of
from balance.questions.close.isolation import Isolation, Standing, Way, isolate
from balance.questions.close.piping import End, Place, piping_of
from tests.questions.close.drawn import ring
from tests.questions.settings.manifolds import (
    GPH,
    RISER_VALVE,
    TOP,
    branch,
    header,
    manifold,
    pump,
    read_text_of,
)

DEMO = Path(__file__).parents[3] / "pump_curves_demo"
CHECKED = '{ valve = "ball", size = "3/4 in", open = "45 deg" }, { check = "swing" }'


def flows(way: Way) -> dict[str, float]:
    return {change.branch: change.after / GPH for change in way.flows}


def only_way(answer: Isolation) -> Way:
    (way,) = answer.ways
    return way


def is_cut_off(way: Way) -> None:
    """Nothing runs through the valve nor where it is said that nothing does."""
    assert way.left is not None
    assert abs(way.left) < AT_REST
    assert way.dry == way.without
    assert way.starved == ()


# Hand-made manifolds


def test_a_single_branch_needs_its_pump_stopped() -> None:
    way = only_way(isolate(manifold(branch("a")), "a"))
    assert (way.shut, way.stop, way.dead_headed, way.standing) == ((), ("main",), (), ())
    assert way.without == ("a",)
    is_cut_off(way)


def test_branches_to_the_sump_need_no_shutting() -> None:
    """Their water stands no higher than the valve."""
    way = only_way(isolate(manifold(branch("a"), branch("b")), "a"))
    assert (way.shut, way.stop, way.without) == ((), ("main",), ("a", "b"))
    is_cut_off(way)


def test_a_riser_valve_serves_no_better_than_stopping_the_pump() -> None:
    """Shut, the pump would turn against it: so it is stopped, and the valve left as it is."""
    plan = manifold(branch("a"), branch("b", to="tank"), riser=RISER_VALVE)
    way = only_way(isolate(plan, "a"))
    assert (way.shut, way.stop, way.dead_headed) == (("b",), ("main",), ("main",))
    assert way.without == ("a", "b")
    is_cut_off(way)


def test_a_riser_valve_itself() -> None:
    """From the pump no valve keeps the water; from above it comes back through the header."""
    plan = manifold(
        branch("a"), branch("b", to="tank"), branch("c", to="loft", valve=""), riser=RISER_VALVE
    )
    way = only_way(isolate(plan, "main valve"))
    assert (way.shut, way.stop, way.dead_headed) == (("b",), ("main",), ())
    assert way.standing == (Standing(vessel="loft", stretch="c", end="outlet", check=False),)
    is_cut_off(way)


def test_a_stretch_names_its_only_valve_and_nearest_names_are_told() -> None:
    plan = manifold(branch("a"), branch("b"), riser=RISER_VALVE)
    assert isolate(plan, "Riser").valve == "main valve"
    with pytest.raises(UnknownNameError, match="main valve"):
        isolate(plan, "main vlave")


def test_what_stands_back_is_lifted_out() -> None:
    plan = manifold(
        branch("a", to="tank"),
        branch("b", to="tank", valve=CHECKED),
        branch("c", to="tank", outlet='{ outlet = "free", height = "50 in" }'),
    )
    way = only_way(isolate(plan, "a"))
    assert way.standing == (Standing(vessel="tank", stretch="a", end="outlet", check=False),)
    assert way.shut == ("b",)  # through c nothing comes back
    assert way.checked == ("b",)
    other = only_way(isolate(plan, "b"))
    assert other.standing == (Standing(vessel="tank", stretch="b", end="outlet", check=True),)
    assert (other.shut, other.checked) == (("a",), ())
    for each in (way, other):
        is_cut_off(each)


RING = ("a", "b", "c", "d")


def test_a_ring_is_cut_on_both_sides() -> None:
    """Of a, b, c, d along a ring with valves before b and c, b can be cut off by those two."""
    plan = read_text_of(ring(*RING, valves=("b", "c")) + "".join(branch(name) for name in RING))
    answer = isolate(plan, "b")
    way = only_way(answer)
    assert (way.shut, way.stop) == (("before b", "before c"), ())
    assert way.without == ("b",)
    is_cut_off(way)
    assert all(flows(way)[name] > 10.0 for name in "acd")
    cut = {each.valve: each.branches for each in answer.cut_offs}
    assert cut["before b"] == cut["before c"] == ()  # water comes round the other way
    assert cut["b"] == ("b",)


def test_a_valve_of_a_ring_takes_its_neighbours() -> None:
    plan = read_text_of(
        ring(*RING, valves=("a", "b", "c", "d")) + "".join(branch(name) for name in RING)
    )
    way = only_way(isolate(plan, "before c"))
    assert (way.shut, way.stop, way.without) == (("before b", "before d"), (), ("b", "c"))
    is_cut_off(way)
    assert flows(way)["a"] > 10.0
    assert flows(way)["d"] > 10.0


def test_fewest_handles_or_most_running() -> None:
    """One riser valve cuts off three branches, two valves of the header one."""
    riser = RISER_VALVE.replace("riser", "side").replace("main valve", "side valve")
    names = ("a", "b", "c")
    taps = ring(*names, valves=(*names, "close")).replace('"foot"', '"top"')
    plan = read_text_of(
        riser + taps + branch("straight", 'from = "foot"') + "".join(branch(name) for name in names)
    )
    answer = isolate(plan, "b")
    fewest, nearest = answer.ways
    assert (fewest.kind, fewest.shut, fewest.stop) == ("fewest", ("side valve",), ())
    assert fewest.without == ("a", "b", "c")
    assert (nearest.kind, nearest.shut, nearest.stop) == ("nearest", ("before b", "before c"), ())
    assert nearest.without == ("b",)
    for way in answer.ways:
        is_cut_off(way)
        assert all(flows(way)[name] > 10.0 for name in flows(way) if name not in way.without)
    cut = {each.valve: (each.branches, each.all) for each in answer.cut_offs}
    assert cut["side valve"] == (("a", "b", "c"), False)
    assert cut["straight"] == (("straight",), False)


TWO_PUMPS = """
[pumps.{name}]
points = ["0 gph at 9 ft", "400 gph at 8 ft", "800 gph at 5 ft", "1200 gph at 0 ft"]
from = "sump"
to = "{name} foot"

[[runs]]
name = "{name} riser"
from = "{name} foot"
to = "foot"
parts = [
  {{ pipe = "1 in sch 40", length = "12 in" }},
  {valve}
]
"""


def two_pumps(*, other: str = '{ valve = "ball", size = "1 in" },') -> Plan:
    risers = TWO_PUMPS.format(
        name="left", valve='{ valve = "ball", size = "1 in" },'
    ) + TWO_PUMPS.format(name="right", valve=other)
    return read_text(TOP + risers + branch("a", 'from = "foot"') + branch("b", 'from = "foot"'))


def test_two_pumps_side_by_side() -> None:
    """The other pump's valve, shut, would let it turn without flow: so that one is stopped too."""
    way = only_way(isolate(two_pumps(), "left riser"))
    assert way.stop == ("left", "right")
    assert way.dead_headed == ("right",)
    assert way.shut == ()
    assert way.without == ("a", "b")
    is_cut_off(way)


def test_a_pump_beyond_a_valve_turns_on() -> None:
    """Two pumps to one loop each, joined by a valve: the far one keeps its own branch."""
    risers = TWO_PUMPS.format(name="left", valve="") + TWO_PUMPS.format(
        name="right", valve=""
    ).replace('to = "foot"', 'to = "end"')
    link = (
        '[[runs]]\nname = "link"\nfrom = "foot"\nto = "end"\n'
        'parts = [{ valve = "ball", size = "1 in", open = "30 deg" }]\n'
    )
    plan = read_text(
        TOP + risers + link + branch("a", 'from = "foot"') + branch("b", 'from = "end"')
    )
    way = only_way(isolate(plan, "a"))
    assert (way.shut, way.stop, way.without) == (("link",), ("left",), ("a",))
    is_cut_off(way)
    assert flows(way)["b"] > 10.0
    # The valve between both has no other before either pump.
    both = only_way(isolate(plan, "link"))
    assert (both.shut, both.stop) == ((), ("left", "right"))


def test_the_end_of_a_header() -> None:
    """A valve along the header leaves what lies before it running."""
    text = header("a", "b", "c").replace(
        'branch = "b", after = "4 in"',
        'branch = "b", after = "4 in", parts = [{ valve = "ball", size = "1 in", name = "half" }]',
    )
    plan = read_text_of(text + "".join(branch(name) for name in "abc"))
    answer = isolate(plan, "c")
    way = only_way(answer)
    assert (way.shut, way.stop, way.without) == (("half",), (), ("b", "c"))
    is_cut_off(way)
    assert flows(way)["a"] > 10.0
    assert {each.valve: each.branches for each in answer.cut_offs}["half"] == ("b", "c")


def suction(*, valve: str = '{ valve = "ball", size = "1 in", name = "gate" }') -> Plan:
    """A pump beside the sump, with a valve in its suction."""
    line = f"""
[[runs]]
name = "suction"
from = "sump"
to = "inlet"
parts = [{valve}]
"""
    rest = header("a", "b") + branch("a") + branch("b", to="tank")
    return read_text(TOP + pump().replace('from = "sump"', 'from = "inlet"') + line + rest)


def test_a_valve_in_the_suction_has_the_sump_above_it() -> None:
    way = only_way(isolate(suction(), "gate"))
    assert way.stop == ("main",)
    assert way.dead_headed == ()
    assert {(each.vessel, each.stretch, each.end) for each in way.standing} == {
        ("sump", "suction", "inlet"),
    }
    assert way.shut == ("a", "b")
    is_cut_off(way)


def test_all_that_a_suction_valve_cuts_off() -> None:
    cut = {each.valve: each for each in isolate(suction(), "gate").cut_offs}
    assert cut["gate"].branches == ("a", "b")
    assert cut["gate"].all
    assert not cut["a"].all


def test_shut_valves_stay_shut_and_locked_ones_open() -> None:
    locked = '{ valve = "ball", size = "3/4 in", open = "45 deg", locked = true }'
    plan = manifold(
        branch("a"), branch("b", to="tank"), branch("c", to="tank", valve=locked), branch("d")
    ).with_openings({"b": 0.0})
    way = only_way(isolate(plan, "a"))
    assert (way.shut, way.keep_shut) == ((), ("b",))
    assert [each.stretch for each in way.standing] == ["c"]
    is_cut_off(way)


def test_stopped_pumps_press_on_nothing() -> None:
    plan = manifold(branch("a"), branch("b")).with_speed({"main": 0.0})
    way = only_way(isolate(plan, "a"))
    assert (way.shut, way.stop, way.standing) == ((), (), ())


def test_what_water_runs_back_is_seen() -> None:
    """With the near pump stopped, the tank empties through another branch: it is told."""
    names = ("a", "b", "c")
    text = header(*names).replace(
        'branch = "b", after = "4 in"',
        'branch = "b", after = "4 in", parts = [{ valve = "ball", size = "1 in", name = "half" }]',
    )
    plan = read_text_of(text + branch("a") + branch("b", to="tank") + branch("c"))
    answer = isolate(plan, "a")
    way = only_way(answer)
    assert (way.shut, way.stop) == (("half",), ("main",))
    assert way.without == ("a", "b", "c")
    assert (way.backwards, way.dry) == (("b",), ("a",))
    assert way.left == pytest.approx(0.0, abs=AT_REST)


def test_a_drawn_joint_beyond_the_cut_draws_nothing() -> None:
    text = header("a", "b").replace(
        'branch = "b", after = "4 in"',
        'branch = "b", after = "4 in", parts = [{ valve = "ball", size = "1 in", name = "half" }]',
    )
    free = '{ outlet = "free", height = "12 in" }'
    draw = '[joints."b tap"]\ndraw = "10 gph"\n'
    plan = read_text_of(text + branch("a") + branch("b", outlet=free) + draw)
    is_cut_off(only_way(isolate(plan, "b")))


# Drains


def test_a_drain() -> None:
    answer = isolate(read(DEMO / "lagoon.toml"), "lagoon siphon")
    way = only_way(answer)
    assert (way.shut, way.stop, way.without, way.left) == ((), (), (), None)
    assert way.standing == (
        Standing(vessel="lagoon box", stretch="lagoon siphon", end="inlet", check=False),
    )
    assert '"lagoon trickle" and "lagoon emergency"' in answer.notes[0]


def test_what_serves_for_water_changes_alone() -> None:
    change = (
        '[[runs]]\nname = "fill"\nuse = "change"\nfrom = "loft"\nto = "foot"\n'
        'parts = [{ valve = "ball", size = "1 in" }]\n'
    )
    plan = read_text_of(change + header("a", "b") + branch("a") + branch("b"))
    with pytest.raises(UsageError, match="water changes alone"):
        isolate(plan, "fill")
    assert only_way(isolate(plan, "a")).standing == ()


# Taking it out


@pytest.mark.parametrize(
    ("parts", "loose"),
    [
        ("{V}", (False, False)),
        ('{ fitting = "union", size = "3/4 in" }, {V}', (True, False)),
        ('{V}, { fitting = "union", size = "3/4 in" }', (False, True)),
        ('{V}, { fitting = "barb", size = "3/4 in", hose = "1/2 in" }', (False, True)),
        ('{ fitting = "union", size = "3/4 in" }, {V}, { fitting = "union", size = "3/4 in" }',
         (True, True)),
    ],
)  # fmt: skip
def test_unions_beside_it(parts: str, loose: tuple[bool, bool]) -> None:
    valve = parts.replace("{V}", '{ valve = "ball", size = "3/4 in" }')
    answer = isolate(manifold(branch("a", valve=valve), branch("b")), "a")
    assert (answer.loose_before, answer.loose_after) == loose


# Against trying all


def drawn(seed: int) -> Plan:
    """A few joints and runs at random, with valves, check valves, two tanks and a pump or two."""
    rng = np.random.default_rng(seed)
    joints = int(rng.integers(3, 6))
    edges = [(f"j{rng.integers(0, n)}", f"j{n}") for n in range(1, joints)]
    for _ in range(int(rng.integers(0, 3))):
        one, other = rng.choice(joints, 2, replace=False)
        edges.append((f"j{one}", f"j{other}"))
    legs = {f"j{n}": sum(f"j{n}" in edge for edge in edges) for n in range(joints)}
    vessels = ["sump", "sump", "tank", "loft"]
    leaves = [joint for joint, count in legs.items() if count == 1]
    leaves += [str(rng.choice(list(legs))) for _ in range(int(rng.integers(1, 4)))]
    edges += [(joint, str(rng.choice(vessels))) for joint in leaves]
    text = TOP
    for name in ("one", "two")[: int(rng.integers(1, 3))]:
        text += (
            pump()
            .replace("pumps.main", f"pumps.{name}")
            .replace('"foot"', f'"{rng.choice(list(legs))}"')
        )
    kinds = rng.integers(0, 10, len(edges))
    kinds[rng.integers(0, len(edges))] = 0
    for number, ((one, other), kind) in enumerate(zip(edges, kinds, strict=True)):
        parts = ['{ pipe = "1 in sch 40", length = "20 in" }']
        if kind < 6:
            locked = ", locked = true" if kind == 5 else ""
            opening = "shut" if kind == 4 else "50 deg"
            parts.append(f'{{ valve = "ball", size = "1 in", open = "{opening}"{locked} }}')
        if rng.random() < 0.2:
            parts.append('{ check = "swing", size = "1 in" }')
        rng.shuffle(parts)
        head = "[[branches]]" if other in vessels else "[[runs]]"
        text += (
            f'\n{head}\nname = "run {number}"\nfrom = "{one}"\nto = "{other}"\n'
            f"parts = [{', '.join(parts)}]\n"
        )
    return read_text(text, folder=Path.cwd())


def comes(question: Question, shut: Collection[str], sources: Collection[Place]) -> bool:
    """Whether water comes to the valve with some others shut; without networkx."""
    joined: dict[Place, list[Place]] = {}
    for link in question.piping.links:
        name = link.ref.name if link.ref is not None else None
        if link.passes and link != question.link and name not in shut:
            joined.setdefault(link.start, []).append(link.end)
            joined.setdefault(link.end, []).append(link.start)
    seen, waiting = set(sources), list(sources)
    while waiting:
        for there in joined.get(waiting.pop(), ()):
            if there not in seen:
                seen.add(there)
                waiting.append(there)
    return bool({question.link.start, question.link.end} & seen)


def questions(seed: int) -> Iterator[Question]:
    piping = piping_of(drawn(seed))
    for link in piping.links:
        if link.ref is not None:
            yield question_of(piping, link)


def sources_of(question: Question, cut: Cut | None = None) -> list[Place]:
    """Places of all water under pressure, but for what a cut says that no valve holds."""
    stop = cut.stop if cut else ()
    standing: tuple[End, ...] = cut.standing if cut else ()
    pumps = [each.end for each in question.pumps if each.owner not in stop]
    return pumps + [each.place for each in question.ends if each not in standing]


@pytest.mark.parametrize("seed", range(60))
def test_no_fewer_valves_will_do(seed: int) -> None:
    for question in questions(seed):
        others = [
            link.ref.name
            for link in question.piping.links
            if link.ref is not None and link.can_be_shut and link != question.link
        ]
        cut = question.fewest()
        # What no valve holds back is what comes with all of them shut.
        for each in question.pumps:
            assert comes(question, others, [each.end]) == (each.owner in cut.stop)
        for end in question.ends:
            assert comes(question, others, [end.place]) == (end in cut.standing)
        sources = sources_of(question, cut)
        assert set(cut.shut) <= set(others)
        assert not comes(question, cut.shut, sources)
        for count in range(len(cut.shut)):
            for fewer in combinations(others, count):
                assert comes(question, fewer, sources)


@pytest.mark.parametrize("seed", range(60))
def test_the_nearest_valves_are_all_needed_and_leave_the_most(seed: int) -> None:
    for question in questions(seed):
        fewest, nearest = question.fewest(), question.nearest()
        assert (nearest.stop, nearest.standing) == (fewest.stop, fewest.standing)
        assert nearest.dry <= fewest.dry
        assert len(nearest.shut) >= len(fewest.shut)
        sources = sources_of(question, nearest)
        assert not comes(question, nearest.shut, sources)
        for valve in nearest.shut:
            assert comes(question, [other for other in nearest.shut if other != valve], sources)


@pytest.mark.parametrize("seed", range(40))
def test_random_plumbing_is_cut_off_when_solved(seed: int) -> None:
    plan = drawn(seed)
    before = solve(network_of(plan))
    for ref in plan.valves():
        for way in isolate(plan, ref.name).ways:
            assert way.left is not None
            assert abs(way.left) < AT_REST
            for change in way.flows:
                assert change.before == before.flow(change.branch)
                if change.branch in way.without and abs(change.after) > AT_REST:
                    # Out of a tank, or by a siphon that one feeds.
                    assert any(other.after < -AT_REST for other in way.flows)


def test_as_plain_values_and_as_a_table() -> None:
    answer = isolate(read(DEMO / "lagoon.toml"), "refugium")
    plain = answer.to_dict()
    assert plain["ways"][0]["shut"] == ["lagoon left", "lagoon right", "seagrass return"]
    assert plain["ways"][0]["flows"][0]["after_l_per_h"] == 0.0
    assert len(answer.to_frame()) == len(answer.plan.branches)
