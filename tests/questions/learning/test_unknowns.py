"""Which numbers there are to be learnt, and how handles are followed through a log."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from balance.network.arrays import Network, network_of
from balance.plan.model import Plan
from balance.plan.read import read, read_text
from balance.plan.readings import Readings, read_readings
from balance.questions.learning.handles import HandleLog, covariance_of, handle_log
from balance.questions.learning.learn import learn
from balance.questions.learning.unknowns import unknowns_of
from tests.questions.learning.two_pumps import GAUGES, TWO_PUMPS

DEMO = Path(__file__).parents[3] / "pump_curves_demo"
HEAD = "branch,flow,open,head,at,watts\n"
MARK, OFFSET = 2.0 / 90.0, 3.0 / 90.0


@pytest.fixture(scope="module")
def plan() -> Plan:
    return read_text(TWO_PUMPS)


@pytest.fixture(scope="module")
def network(plan: Plan) -> Network:
    return network_of(plan)


def readings(folder: Path, plan: Plan, *rows: str) -> Readings:
    file = folder / "log.csv"
    file.write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    return read_readings(file, plan)


def followed(folder: Path, network: Network, *rows: str) -> HandleLog:
    return handle_log(network, readings(folder, network.plan, *rows).rows)


def names_told(network: Network, log: HandleLog) -> list[str]:
    return [valve.name for valve, told in zip(network.valves, log.told, strict=True) if told]


@pytest.mark.parametrize(
    ("marks", "told"),
    [
        (("50 deg", "40.1 deg"), []),
        (("50 deg", "40 deg"), ["reactor"]),
        (("40 deg", "50 deg"), ["reactor"]),
        (("50 deg", "45 deg", "40 deg"), ["reactor"]),
        (("50 deg", "+10 deg"), ["reactor"]),
        (("full", "40 deg"), []),
        (("40 deg", "full"), []),
        (("50 deg",), []),
    ],
)
def test_an_offset_is_told_by_two_places_ten_degrees_apart(
    tmp_path: Path, network: Network, marks: tuple[str, ...], told: list[str]
) -> None:
    rows = [f"reactor,300 lph,reactor={mark}" for mark in marks]
    assert names_told(network, followed(tmp_path, network, *rows)) == told


def test_it_is_not_told_by_readings_of_other_branches(tmp_path: Path, network: Network) -> None:
    rows = [f"return,1500 lph,reactor={mark}" for mark in ("50 deg", "30 deg")]
    assert names_told(network, followed(tmp_path, network, *rows)) == []


def test_a_spindle_has_no_offset(tmp_path: Path, network: Network) -> None:
    rows = [f"stir,900 lph,stir={mark}" for mark in ("1 turn", "4 turns")]
    assert names_told(network, followed(tmp_path, network, *rows)) == []


def test_a_valve_on_the_way_to_all_is_read_by_any_branch(tmp_path: Path) -> None:
    text = TWO_PUMPS.replace(
        '{ pipe = "24 mm bore", length = "2 m" },',
        '{ valve = "ball", size = "3/4 in", open = "50 deg", name = "throttle" },',
    )
    network = network_of(read_text(text))
    rows = ["return,1500 lph,", "stir,900 lph,throttle=40 deg"]
    assert names_told(network, followed(tmp_path, network, *rows)) == ["throttle"]


def test_each_mark_has_an_error_nudges_add_theirs_and_stops_have_none(
    tmp_path: Path, network: Network
) -> None:
    log = followed(
        tmp_path, network,
        "reactor,300 lph,",                 # three handles as planned: errors 0, 1, 2
        "reactor,300 lph,reactor=50 deg",   # 3 in place of its first
        "reactor,300 lph,reactor=+2 deg",   # 4 on top of 3
        "reactor,300 lph,reactor=-5 deg",   # 5 on top of both
        "reactor,300 lph,reactor=full",     # none
        "reactor,300 lph,",                 # as it stood
        "reactor,300 lph,reactor=47 deg",   # 6
        "reactor,300 lph,reactor=shut; stir=full",
    )  # fmt: skip
    place = {valve.name: at for at, valve in enumerate(network.valves)}
    at = [stand.errors[place["reactor"]] for stand in log.stands]
    assert at == [(1,), (3,), (3, 4), (3, 4, 5), (), (), (6,), ()]
    assert [stand.errors[place["stir"]] for stand in log.stands] == [(2,)] * 7 + [()]
    assert [stand.errors[place["return"]] for stand in log.stands] == [(0,)] * 8
    assert log.last == log.stands[-1]
    sizes = [setting.sd for setting in log.settings]
    # A quarter of a mark by eye and a fifth of the move; of a spindle half of its backlash.
    wanted = [
        MARK, MARK, 0.5 * 0.125 / 5.0, MARK, 0.25 * MARK + 0.2 * 2.0 / 90.0,
        0.25 * MARK + 0.2 * 5.0 / 90.0, MARK,
    ]  # fmt: skip
    assert sizes == pytest.approx(wanted)


def test_an_offset_that_is_not_told_is_shared_by_marks_but_added_by_no_nudge(
    tmp_path: Path, network: Network
) -> None:
    log = followed(
        tmp_path, network,
        "reactor,300 lph,reactor=50 deg",
        "reactor,300 lph,reactor=+2 deg",
        "reactor,300 lph,reactor=47 deg",
    )  # fmt: skip
    assert [setting.shared for setting in log.settings] == pytest.approx(
        [OFFSET, OFFSET, 0.0, OFFSET, 0.0, OFFSET]
    )
    covariance = covariance_of(log.settings)
    first, nudge, second = 3, 4, 5
    assert covariance[first, second] == pytest.approx(OFFSET**2)
    assert covariance[first, first] == pytest.approx(MARK**2 + OFFSET**2)
    assert covariance[first, nudge] == 0.0
    assert covariance[0, first] == 0.0  # another valve's
    told = followed(
        tmp_path, network, "reactor,300 lph,reactor=50 deg", "reactor,300 lph,reactor=30 deg"
    )
    assert [s.shared for s in told.settings if network.valves[s.valve].name == "reactor"] == [
        0.0
    ] * 3


@pytest.mark.parametrize(
    ("rows", "mains"),
    [
        (("return,1500 lph,",), 0),
        (("return,1500 lph,", ",,,2 m,first riser"), 1),
        (("return,1500 lph,", ",,,,,first=30 W"), 1),
    ],
)
def test_mains_are_told_by_levels_or_watts(
    tmp_path: Path, plan: Plan, rows: tuple[str, ...], mains: int
) -> None:
    log = readings(tmp_path, plan, *rows)
    places = [row.at for row in log.rows if row.at is not None]
    unknowns = learn(network_of(plan, gauges=places), log.rows).unknowns
    kinds = Counter(each.of for each in unknowns.all)
    assert kinds.pop("mains", 0) == mains
    assert kinds == {"pump": 2, "loss": 3, "throttling": 3, "bucket": 1, "handle": 3}


def test_a_capped_branch_has_no_loss_to_learn() -> None:
    network = network_of(read(DEMO / "lagoon.toml"))
    unknowns = unknowns_of(network, (), told=[False] * len(network.valves), supply_told=False)
    losses = [each.name for each in unknowns.all if each.of == "loss"]
    assert "spare 1" not in losses
    assert len(losses) == 9


@pytest.mark.parametrize("name", ["lagoon", "fish-room", "two pumps"])
def test_a_gauge_changes_no_prior(plan: Plan, name: str) -> None:
    there = plan if name == "two pumps" else read(DEMO / f"{name}.toml")
    plain, cut = (
        unknowns_of(network, (), told=[True] * len(network.valves), supply_told=True)
        for network in (network_of(there), network_of(there, gauges=GAUGES[name]))
    )
    assert plain.all == cut.all
    sizes = np.sqrt(np.diag(plain.covariance))
    assert np.abs((cut.covariance - plain.covariance) / np.outer(sizes, sizes)).max() < 1e-6


def test_what_a_plan_calls_sure_is_no_trouble(tmp_path: Path, plan: Plan) -> None:
    sure = dict.fromkeys(type(plan.spread).model_fields, 0.0)
    there = plan.model_copy(update={"spread": plan.spread.model_copy(update=sure)})
    log = readings(tmp_path, there, "return,1500 lph,", "reactor,300 lph,reactor=50 deg")
    found = learn(network_of(there), log.rows)
    assert found.regression.converged
    spindle = {("handle", "stir")}  # half of its backlash stands in no plan
    kept = [
        row for row, each in enumerate(found.unknowns.all) if (each.of, each.name) not in spindle
    ]
    assert len(kept) == len(found.z) - 1
    assert np.abs(found.z[kept]).max() < 1e-6
