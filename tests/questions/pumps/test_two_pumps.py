"""Two pumps side by side, in a row and at both ends, against the sum of their curves."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.fittings import (
    Darby3K,
    K_branch_converging_Crane,
    K_branch_diverging_Crane,
    K_run_converging_Crane,
    K_run_diverging_Crane,
)
from scipy.optimize import brentq, root

from balance.network.arrays import network_of
from balance.network.solve import solve
from balance.plan.candidates import arranged_as
from balance.plan.model import Arrangement, Plan
from balance.questions.pumps import pumps
from balance.questions.pumps.answer import PumpTrial
from balance.questions.pumps.arrangements import arranged
from tests.network.head_equations import closure
from tests.questions.pumps.invented import (
    AREA,
    BORE,
    LIFT,
    LPH,
    VISCOSITY,
    Parabola,
    bare,
    candidate,
    crossing,
    loss,
    tried,
)
from tests.questions.settings.manifolds import RISER_VALVE, branch, manifold

PUMP = Parabola(4.0, 4000 * LPH)
CLOSE = 1e-4
TEE = 3e-3  # of a flow; a tee's printed curves are followed within 0.008 of a K of 12 and more
OPENING = 0.02  # [m], of a swing check valve: common practice, no source
K = 12.5  # of `bare` with its valve wide open
MORE_THAN_CAN_BE = "9000 L/h"  # so that the valve stays wide open


def two(arrangement: Arrangement) -> PumpTrial:
    return tried(bare(target=MORE_THAN_CAN_BE), PUMP.candidate(arrangement=arrangement))


def check(flow: float) -> float:
    """Head that a swing check valve of 20 mm takes [m]: darby-2001, by way of fluids."""
    reynolds = flow / AREA * BORE / VISCOSITY
    return OPENING + loss(Darby3K(NPS=BORE / 0.0254, Re=reynolds, name="Valve, Swing check")) * (
        flow**2
    )


def plumbing(flow: float) -> float:
    return LIFT + loss(K) * flow**2


def test_two_in_a_row_double_the_head() -> None:
    trial = two("series")
    flow = brentq(lambda q: 2.0 * PUMP.head(q) - check(q) - plumbing(q), 1e-5, PUMP.most)
    assert trial.flow == pytest.approx(flow, rel=CLOSE)
    assert trial.wide_open == pytest.approx(flow, rel=CLOSE)
    assert [duty.head for duty in trial.pumps] == pytest.approx([PUMP.head(flow)] * 2, rel=CLOSE)
    assert trial.power == pytest.approx(80.0, rel=1e-2)
    assert trial.line is not None
    assert trial.line.head == pytest.approx([2.0 * PUMP.head(q) for q in trial.line.flow], abs=1e-4)


def test_two_side_by_side_double_the_flow() -> None:
    trial = two("parallel")

    def missing(flows: np.ndarray[tuple[int], np.dtype[np.float64]]) -> list[float]:
        """Of the head of the joint, by way of the straight leg and of the side leg [m]."""
        straight, side = flows * 1e-4
        both = straight + side
        words = {"D_run": BORE, "D_branch": BORE, "Q_run": straight, "Q_branch": side, "angle": 90}
        run, turned = K_run_converging_Crane(**words), K_branch_converging_Crane(**words)
        return [
            PUMP.head(q) - check(q) - loss(k) * both**2 - plumbing(both)
            for q, k in ((straight, run), (side, turned))
        ]

    found = root(missing, [3.0, 3.0], tol=1e-12)
    assert found.success
    assert trial.flow == pytest.approx(found.x.sum() * 1e-4, rel=TEE)
    assert sorted(duty.flow for duty in trial.pumps) == pytest.approx(
        sorted(found.x * 1e-4), rel=3 * TEE
    )
    assert trial.line is not None
    assert trial.line.head == pytest.approx([PUMP.head(q / 2.0) for q in trial.line.flow], abs=1e-4)


def test_one_of_two_stopped_behind_its_check_valve_leaves_what_one_gives() -> None:
    before = two("parallel")
    stopped = {row.pump: row for row in before.one_stopped}
    # Through the straight leg, past a side leg at rest, nothing is lost in the tee.
    alone = brentq(lambda q: PUMP.head(q) - check(q) - plumbing(q), 1e-5, PUMP.most)
    assert stopped["main 2"].flow == pytest.approx(alone, rel=CLOSE)
    assert stopped["main 2"].share == pytest.approx(alone / before.flow, rel=CLOSE)
    assert stopped["main 2"].least_branch == "a"
    assert stopped["main 2"].least_share == pytest.approx(alone / before.flow, rel=CLOSE)
    assert stopped["main 2"].dry == ()
    turn = K_branch_converging_Crane(D_run=BORE, D_branch=BORE, Q_run=0.0, Q_branch=alone, angle=90)
    turned = brentq(
        lambda q: PUMP.head(q) - check(q) - loss(turn) * q**2 - plumbing(q), 1e-5, PUMP.most
    )
    assert stopped["main"].flow == pytest.approx(turned, rel=TEE)


def test_with_its_check_valve_open_too_water_runs_home_through_the_stopped_pump() -> None:
    before = two("parallel")
    (row,) = [row for row in before.one_stopped if row.pump == "main 2"]
    at_rest = 0.5 * PUMP.shut_off / PUMP.most**2  # a pump at rest: common practice, no source

    def missing(flows: np.ndarray[tuple[int], np.dtype[np.float64]]) -> list[float]:
        pumped, back = flows * 1e-4
        onward = pumped - back
        words = {"D_run": BORE, "D_branch": BORE, "Q_run": onward, "Q_branch": back, "angle": 90}
        run, turned = K_run_diverging_Crane(**words), K_branch_diverging_Crane(**words)
        foot = PUMP.head(pumped) - check(pumped)
        home = check(back) - OPENING + at_rest * back**2
        return [
            foot - loss(run) * pumped**2 - plumbing(onward),
            foot - loss(turned) * pumped**2 - home,
        ]

    found = root(missing, [6.0, 4.0], tol=1e-12)
    assert found.success
    left = (found.x[0] - found.x[1]) * 1e-4
    assert row.check_failed_share is not None
    assert row.check_failed_share == pytest.approx(left / before.flow, rel=3 * TEE)
    assert row.check_failed_share < row.share


def test_one_of_two_in_a_row_stopped_stands_in_the_way() -> None:
    trial = two("series")
    at_rest = 0.5 * PUMP.shut_off / PUMP.most**2  # a pump at rest: common practice, no source
    left = brentq(lambda q: PUMP.head(q) - at_rest * q**2 - check(q) - plumbing(q), 1e-5, PUMP.most)
    for row in trial.one_stopped:
        assert row.flow == pytest.approx(left, rel=CLOSE)
    failed = {row.pump: row.check_failed_share for row in trial.one_stopped}
    assert failed["main"] is None  # its water has no check valve of its own
    # Of one that stands open its opening head is spared.
    assert failed["main 2"] == pytest.approx(left / trial.flow, rel=1e-2)


@pytest.mark.parametrize("arrangement", ["parallel", "series"])
def test_arranged_by_hand_it_is_the_same(arrangement: Arrangement) -> None:
    """The head equations, written anew, close along every way through an arranged plan."""
    plan = bare(target="2000 L/h")
    there = arranged(plan, PUMP.candidate(arrangement=arrangement), replaces=("main",))
    found = closure(solve(network_of(there.plan)))
    assert found.worst < 1e-4
    assert found.equations >= (2 if arrangement == "parallel" else 1)


def symmetric() -> Plan:
    return manifold(*(branch(name, 'target = "300 gph"') for name in "abcd"))


def test_a_header_fed_alike_at_both_ends_feeds_alike() -> None:
    plan = symmetric()
    asked = candidate([0, 1500, 3000], [3.0, 2.4, 0.0], [20, 25, 30], arrangement="both ends")
    there = arranged(plan, asked, replaces=("main",))
    solution = solve(network_of(there.plan))
    flow = [solution.flow(name) for name in "abcd"]
    assert flow == pytest.approx(flow[::-1], rel=1e-6)
    assert solution.flow("main") == pytest.approx(solution.flow("main 2"), rel=1e-6)
    trial = tried(plan, asked)
    one, other = trial.pumps
    assert one.flow == pytest.approx(other.flow, rel=1e-3)
    assert [row.share for row in trial.one_stopped] == pytest.approx(
        [trial.one_stopped[0].share] * 2, rel=1e-3
    )
    (first, second) = trial.one_stopped
    mirrored = dict(zip("abcd", "dcba", strict=True))
    assert second.least_branch == mirrored[first.least_branch]


def test_feeding_both_ends_gives_each_end_the_same_riser() -> None:
    plan = manifold(
        *(branch(name, 'target = "300 gph"') for name in "ab"),
        riser='[[runs]]\nname = "riser"\nfrom = "foot"\nto = "top"\n'
        'parts = [{ pipe = "1 in sch 40", length = "12 in" }]\n',
    )
    asked = candidate([0, 1500, 3000], [3.0, 2.4, 0.0], arrangement="both ends")
    solution = solve(network_of(arranged(plan, asked, replaces=("main",)).plan))
    assert solution.flow("a") == pytest.approx(solution.flow("b"), rel=1e-6)


def test_a_valve_in_the_riser_is_two_valves_with_two_risers() -> None:
    plan = manifold(*(branch(name, 'target = "200 gph"') for name in "ab"), riser=RISER_VALVE)
    asked = candidate([0, 1500, 3000], [3.0, 2.4, 0.0], arrangement="both ends")
    there = arranged(plan, asked, replaces=("main",)).plan
    names = [valve.name for valve in there.valves()]
    assert sorted(names) == ["a", "b", "main valve", "main valve 2"]
    shut = there.with_openings({"main valve 2": 0.0})
    solution = solve(network_of(shut))
    assert solution.flow("main 2") == 0.0
    assert solution.flow("main") > 0.0
    assert {handle.valve for handle in tried(plan, asked).handles} == set(names)


FILLER = """
[pumps.filler]
points = ["0 L/h at 2 m", "500 L/h at 1 m", "1000 L/h at 0 m"]
from = "tank"
to = "sump"
use = "change"
"""


def test_a_pump_for_water_changes_stands_aside() -> None:
    # Written first, so that pumps in the plan and pumps that run are not numbered alike.
    plan = bare(target=MORE_THAN_CAN_BE)
    changing = bare(target=MORE_THAN_CAN_BE, before=FILLER)
    assert list(changing.pumps) == ["filler", "main"]
    asked = PUMP.candidate(arrangement="parallel")
    assert tried(changing, asked).one_stopped == tried(plan, asked).one_stopped


def test_two_that_move_nothing_lose_nothing() -> None:
    feeble = candidate([0, 500, 1000], [0.2, 0.1, 0.0], [5, 6, 7])
    answer = pumps(bare(target="500 L/h"), arranged_as([feeble], ["single", "parallel", "series"]))
    for trial in answer.trials[1:]:
        assert trial.shortfalls[0].out_of_reach
        assert trial.one_stopped == ()
        assert trial.flow == pytest.approx(0.0, abs=1e-9)


def test_side_by_side_a_pump_that_can_do_alone_crosses_further_out() -> None:
    trial = two("parallel")
    assert crossing(PUMP, K) < trial.flow < 2 * crossing(PUMP, K)
