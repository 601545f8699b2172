"""Who comes first, and why: every reason in words, and an order that nothing else decides."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balance.errors import SolveError
from balance.plan.model import Candidate, Plan
from balance.questions.duty import PumpDuty
from balance.questions.pumps import pumps
from balance.questions.pumps.answer import DeadHead, PumpTrial, RankBy, Shortfall
from balance.questions.pumps.contenders import Contender
from balance.questions.pumps.contest import IN_A_ROW, WORTH_CORES
from balance.questions.pumps.ranking import ranked
from balance.questions.pumps.trial import try_out
from tests.questions.pumps.invented import LPH, bare, candidate, trial_of, tried
from tests.questions.settings.manifolds import branch, manifold

PRICED = '[power]\nprice = 0.5\ncurrency = "EUR"\n'
RANKINGS: tuple[RankBy, ...] = ("watts", "margin", "cost")


def plan() -> Plan:
    return bare(target="1000 L/h", rest=PRICED)


@cache
def sound() -> PumpTrial:
    """A trial without any fault."""
    found = tried(plan(), candidate([0, 1000, 2000], [4, 3, 0], [20, 25, 27], price=50.0))
    assert found.meets
    assert not found.dead_head.too_much
    return replace(found, in_useful_range=True)


def made(name: str, **changes: object) -> PumpTrial:
    return replace(sound(), name=name, **changes)  # type: ignore[arg-type]


def short(
    name: str, missing: float = 0.2, *, out_of_reach: bool = False, lift: float | None = None
) -> PumpTrial:
    missed = Shortfall(
        name="a",
        is_total=False,
        flow=0.0 if out_of_reach else 700 * LPH,
        bound=900 * LPH,
        missing=missing,
        out_of_reach=out_of_reach,
        lift_missing=lift,
    )
    return made(name, meets=False, shortfalls=(missed,), reach=None if out_of_reach else 0.75)


def straying(name: str, *, flow: float) -> PumpTrial:
    duty: PumpDuty = replace(
        sound().pumps[0],
        flow=flow * LPH,
        useful_range=(800 * LPH, 1600 * LPH),
        in_useful_range=False,
    )
    return made(name, pumps=(duty,), in_useful_range=False)


def pressing(name: str, *, stands: float = 30e3) -> PumpTrial:
    dead = DeadHead(pressure=40e3, at_least=False, weakest='"a"', stands=stands, too_much=True)
    return made(name, dead_head=dead)


def why(*trials: PumpTrial, by: RankBy = "watts") -> dict[str, str]:
    return {trial.name: trial.why for trial in ranked(trials, by=by, plan=plan())}


def test_too_weak() -> None:
    said = why(made("good"), short("weak"))
    assert said["good"] == "alone meets all targets"
    assert said["weak"] == (
        '"a" gets 700 L/h, 200 L/h short of what would do; gives 75 % of all targets at once'
    )


def test_all_too_weak() -> None:
    said = why(short("weak", 0.2), short("weaker", 0.5))
    assert said["weak"].startswith('comes closest, yet "a" gets 700 L/h')
    assert said["weaker"].startswith('"a" gets 700 L/h')


def test_one_out_of_reach() -> None:
    low = short("low", out_of_reach=True, lift=0.34)
    said = 'lifts no water to "a", 0.34 m short of it'
    assert why(made("good"), low)["low"] == said
    several = replace(low, shortfalls=(*low.shortfalls, *short("x").shortfalls))
    assert why(made("good"), several)["low"] == f"{said}; 1 more missed"
    barred = why(made("good"), short("barred", out_of_reach=True))["barred"]
    assert barred == 'no water comes to "a", whatever the pump'


def test_too_much_for_a_limit() -> None:
    over = Shortfall(
        name="a",
        is_total=False,
        flow=1200 * LPH,
        bound=1100 * LPH,
        missing=0.1,
        out_of_reach=False,
        lift_missing=None,
    )
    strong = made("strong", meets=False, shortfalls=(over,), reach=2.0)
    said = why(made("good"), strong)["strong"]
    assert said == '"a" gets 1200 L/h, 100 L/h over what would do'


@pytest.mark.parametrize(
    ("flow", "said"),
    [
        (600, "works below its useful range (600 L/h, range from 800 L/h)"),
        (1700, "works above its useful range (1700 L/h, range to 1600 L/h)"),
    ],
)
def test_outside_the_useful_range(flow: float, said: str) -> None:
    found = why(made("good"), straying("astray", flow=flow))
    assert found["astray"] == said
    assert found["good"] == (
        "meets all targets, and alone of those that do works in its useful range and harms no part"
    )
    assert why(straying("astray", flow=flow))["astray"] == f"meets all targets, but {said}"


def test_of_a_pump_that_cannot_be_judged_no_useful_range_is_claimed() -> None:
    found = why(made("good", in_useful_range=None), straying("astray", flow=600))
    assert found["good"] == "meets all targets; its useful range is not known"
    judged = why(made("good", in_useful_range=None), made("dear", power=90.0))
    assert judged["good"] == "its useful range is not known"
    assert judged["dear"].startswith("meets all targets")


def test_what_would_burst_a_part() -> None:
    said = 'with all shut it presses with 40.0 kPa on "a", more than the 30.0 kPa that it stands'
    found = why(made("good"), pressing("strong"))
    assert found["strong"] == said
    assert why(pressing("strong"))["strong"] == f"meets all targets, but {said}"
    loose = why(made("good"), pressing("strong", stands=0.0))["strong"]
    assert loose == 'with all shut it presses on "a", which is not made for pressure'


def test_more_watts_and_what_they_cost() -> None:
    base = sound()
    assert base.power is not None
    assert base.cost is not None
    more = made("thirsty", power=base.power + 10.0, cost=base.cost + 43.8)
    found = why(base, more)
    assert found[base.name] == "meets all targets for the fewest watts"
    assert found["thirsty"] == 'draws 10.0 W more than "candidate", 43.8 EUR a year'


def test_without_power_nothing_is_claimed_about_watts() -> None:
    mute = made("mute", power=None, cost=None, total_cost=None)
    for by in ("watts", "cost"):
        assert why(made("good"), mute, by=by)["mute"] == (
            f"its curve has no power, so {by} and useful range cannot be told"
        )
    assert why(mute, made("mute 2", power=None))["mute"] == "meets all targets"


def test_water_that_runs_home_or_stands_is_no_duty() -> None:
    home = made("home", meets=False, backwards=("main",))
    still = made("still", meets=False, idle=("main 2",))
    found = why(made("good"), home, still)
    assert found["home"].startswith("water runs home through main:")
    assert found["still"] == "main 2 turns and moves no water"


def test_without_a_price_costs_are_electricity_alone_or_not_known() -> None:
    bare = {"price": None, "total_cost": None}
    cheap, dear = made("cheap", cost=20.0, **bare), made("dear", cost=25.0, **bare)
    assert why(cheap, dear, by="cost") == {
        "cheap": "meets all targets at the lowest cost of electricity",
        "dear": 'costs 5.0 EUR more of electricity than "cheap"',
    }
    found = why(cheap, made("priced", total_cost=900.0), by="cost")
    assert found["cheap"] == "it has no price, so its cost cannot be told"


def test_of_two_that_cannot_lift_the_nearer_comes_first() -> None:
    found = why(
        short("far", out_of_reach=True, lift=1.5), short("near", out_of_reach=True, lift=0.1)
    )
    assert found["near"].startswith("comes closest, yet lifts no water")


def test_less_margin() -> None:
    found = why(made("ample", reach=1.5), made("scant", reach=1.1), by="margin")
    assert found == {
        "ample": "meets all targets with the most to spare",
        "scant": 'has less to spare than "ample"',
    }


def test_dearer() -> None:
    cheap, dear = made("cheap", total_cost=200.0), made("dear", total_cost=250.0)
    assert why(cheap, dear, by="cost") == {
        "cheap": "meets all targets at the lowest cost over 5 years",
        "dear": 'costs 50.0 EUR more over 5 years than "cheap"',
    }


@pytest.mark.parametrize("by", RANKINGS)
def test_as_good_as_equal(by: RankBy) -> None:
    assert why(made("a"), made("b"), by=by)["b"] == 'as good as "a"'


def drawn() -> st.SearchStrategy[PumpTrial]:
    return st.builds(
        lambda fault, power, reach, cost, judged: replace(
            fault,
            power=power,
            cost=power,
            reach=fault.reach and reach,
            total_cost=cost,
            in_useful_range=fault.in_useful_range and judged,
        ),
        st.sampled_from(
            [
                made("sound"),
                short("weak"),
                short("weaker", 0.6),
                short("dry", out_of_reach=True),
                straying("low", flow=600),
                straying("high", flow=1900),
                pressing("strong"),
                replace(straying("both", flow=600), dead_head=pressing("x").dead_head),
            ]
        ),
        st.none() | st.sampled_from([10.0, 20.0, 20.01, 35.0]),
        st.sampled_from([0.8, 1.0, 1.3, 2.0]),
        st.none() | st.sampled_from([100.0, 150.0]),
        st.sampled_from([True, None]),
    )


@given(st.lists(drawn(), min_size=1, max_size=7), st.sampled_from(RANKINGS), st.randoms())
@settings(max_examples=60)
def test_the_order_is_total_and_nothing_but_the_pumps_decides_it(
    trials: list[PumpTrial], by: RankBy, mixed: random.Random
) -> None:
    named = [replace(trial, name=f"{place}") for place, trial in enumerate(trials)]
    found = ranked(named, by=by, plan=plan())
    assert [trial.rank for trial in found] == list(range(1, len(named) + 1))
    assert {trial.name for trial in found} == {trial.name for trial in named}
    assert all(trial.why for trial in found)
    mixed.shuffle(named)
    assert ranked(named, by=by, plan=plan()) == found
    # What does less well at what comes first never stands before what does better.
    faults = [
        (not trial.meets, trial.dead_head.too_much, trial.in_useful_range is False)
        for trial in found
        if trial.meets
    ]
    assert faults == sorted(faults)
    met = [trial.meets for trial in found]
    assert met == sorted(met, reverse=True)
    # A pump is left out without moving the others.
    gone = found[len(found) // 2].name
    fewer = ranked([trial for trial in named if trial.name != gone], by=by, plan=plan())
    assert [t.name for t in fewer] == [t.name for t in found if t.name != gone]


def crowd(count: int) -> list[Candidate]:
    """Pumps from too weak to more than enough."""
    rng = np.random.default_rng(3)
    shares = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
    found = []
    for place in range(count):
        head, most = rng.uniform(0.8, 3.0), rng.uniform(800.0, 4000.0)
        found.append(
            candidate(
                most * shares,
                head * (1.0 - shares**1.8),
                15.0 + head * most / 400.0 * (0.6 + 0.4 * shares),
                name=f"pump {place:02}",
                speeds=None if place % 3 else (0.4, 1.0),
            )
        )
    return found


def small() -> Plan:
    return manifold(
        branch("a", 'target = "180 gph"'),
        branch("b", 'target = "120 gph"', to="tank"),
        branch("c", 'target = ">= 60 gph"', 'limits = ["50 gph", "400 gph"]'),
    )


def figures(trial: PumpTrial) -> list[float]:
    return [
        *trial.speeds,
        trial.flow,
        trial.wide_open,
        trial.fouling_loss,
        trial.reach or 0.0,
        trial.fouled_reach or 0.0,
        trial.power or 0.0,
        *(handle.opening for handle in trial.handles),
    ]


def test_a_crowd_on_several_cores_is_tried_as_each_alone() -> None:
    asked = crowd(WORTH_CORES + 1)
    answer = pumps(small(), asked)
    assert len(answer.trials) == WORTH_CORES + 2
    assert 4 < sum(trial.meets for trial in answer.trials) < WORTH_CORES - 4
    for place in (0, 4, 9, 12, 15):
        one = asked[place]
        trial, same = (trial_of(found, one.label) for found in (answer, pumps(small(), [one])))
        assert (trial.meets, trial.speeds) == (same.meets, same.speeds)
        # Where all aims can be had the answer is exact.  A compromise begins near that of the pump
        # before, and ends where no step is worth it.
        exact = same.reach is not None and same.reach >= 1.0
        assert figures(trial) == pytest.approx(figures(same), rel=1e-6 if exact else 1e-4)
        assert sum(each.missing for each in trial.shortfalls) == pytest.approx(
            sum(each.missing for each in same.shortfalls), abs=1e-6
        )


def test_the_order_of_the_words_does_not_matter() -> None:
    asked = crowd(IN_A_ROW + 3)
    found, turned = pumps(small(), asked).trials, pumps(small(), asked[::-1]).trials
    for trial, other in zip(found, turned, strict=True):
        assert (trial.name, trial.why) == (other.name, other.why)
        assert figures(trial) == pytest.approx(figures(other), rel=1e-6)


def test_progress_is_told_up_to_the_whole() -> None:
    told: list[tuple[int, int]] = []
    pumps(plan(), crowd(IN_A_ROW), progress=lambda done, whole: told.append((done, whole)))
    assert told == [(IN_A_ROW, IN_A_ROW + 1), (IN_A_ROW + 1, IN_A_ROW + 1)]


def failing(monkeypatch: pytest.MonkeyPatch, *names: str) -> None:
    """Trials of some candidates that do not settle."""

    def try_it(contender: Contender, **options: Any) -> Any:  # as it is called
        if contender.name in names:
            raise SolveError("riser", 0.25, 60)
        return try_out(contender, **options)

    monkeypatch.setattr("balance.questions.pumps.contest.try_out", try_it)


def test_one_that_cannot_be_solved_is_left_out_and_told(monkeypatch: pytest.MonkeyPatch) -> None:
    failing(monkeypatch, "pump 01")
    answer = pumps(plan(), crowd(3))
    assert {trial.name for trial in answer.trials} == {"main", "pump 00", "pump 02"}
    (told,) = [note for note in answer.notes if "left out" in note]
    assert told.startswith("pump 01 is left out: the flows did not settle in 60 steps")


def test_where_none_can_be_solved_the_first_failure_is_raised(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    failing(monkeypatch, "main", "pump 00")
    with pytest.raises(SolveError, match="did not settle"):
        pumps(plan(), crowd(1))
