"""Where pump lines and system curves meet."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from balance.plan.model import Plan
from balance.plan.read import read, read_text
from balance.questions.duty_points import DutyPoint, DutyPoints, duty_points
from balance.questions.flows import flows
from balance.questions.head_lines import HeadLine

DEMO = Path(__file__).parents[2] / "pump_curves_demo"

TWO_PUMPS = """
[vessels.sump]
level = "0 m"
[vessels.tank]
level = "1 m"
[pumps.first]
points = ["0 L/h at 4 m", "2000 L/h at 3 m", "4000 L/h at 0 m"]
from = "sump"
to = "first foot"
[pumps.second]
points = ["0 L/h at 3 m", "2000 L/h at 2.5 m", "5000 L/h at 0 m"]
from = "SECOND FROM"
to = "second foot"
RUNS
[[branches]]
name = "out"
from = "cross"
to = "tank"
parts = [{ valve = "ball", size = "1 in", open = "OPEN" }, { pipe = "32 mm PN10", length = "4 m" }]
"""
SIDE_BY_SIDE = """
[[runs]]
name = "first riser"
from = "first foot"
to = "cross"
parts = [{ pipe = "32 mm PN10", length = "1 m" }]
[[runs]]
name = "second riser"
from = "second foot"
to = "cross"
parts = [{ pipe = "32 mm PN10", length = "2 m" }]
"""
IN_A_ROW = """
[[runs]]
name = "riser"
from = "second foot"
to = "cross"
parts = [{ pipe = "32 mm PN10", length = "1 m" }]
"""


def two_pumps(*, in_a_row: bool, open_: str = "full") -> Plan:
    return read_text(
        TWO_PUMPS.replace("SECOND FROM", "first foot" if in_a_row else "sump")
        .replace("RUNS", IN_A_ROW if in_a_row else SIDE_BY_SIDE)
        .replace("OPEN", open_)
    )


def at(line: HeadLine, flow: float) -> float:
    return float(np.interp(flow, line.flow, line.head))


def present(point: DutyPoint) -> HeadLine:
    (line,) = [each.line for each in point.lines if each.is_present]
    return line


PLANS = {
    "lagoon": read(DEMO / "lagoon.toml"),
    "fish-room": read(DEMO / "fish-room.toml"),
    "side by side": two_pumps(in_a_row=False),
    "in a row": two_pumps(in_a_row=True),
}


@pytest.fixture(scope="module", params=PLANS)
def found(request: pytest.FixtureRequest) -> DutyPoints:
    return duty_points(PLANS[request.param])


def test_the_duty_lies_on_the_pump_line_and_on_the_system_curve(found: DutyPoints) -> None:
    for point in found.pumps:
        duty = point.duty
        assert duty.flow > 0.0
        line = present(point)
        # Between the points of a line it is drawn straight, which a curve is not.
        assert at(line, duty.flow) == pytest.approx(duty.head, abs=2e-3 * line.head[0])
        assert point.system is not None
        assert duty.flow in point.system.flow
        # The settled flows agree to a part in a million.
        assert at(point.system, duty.flow) == pytest.approx(duty.head, rel=1e-6, abs=1e-7)


def test_the_duty_is_that_of_flows(found: DutyPoints) -> None:
    assert tuple(point.duty for point in found.pumps) == flows(found.plan).pumps


def test_the_system_curve_rises_and_crosses_the_line_once(found: DutyPoints) -> None:
    for point in found.pumps:
        assert point.system is not None
        head = np.array(point.system.head)
        assert (np.diff(head) > 0.0).all()
        assert (np.diff(point.system.flow) > 0.0).all()
        line = present(point)
        flow = np.array(point.system.flow)
        within = flow <= line.flow[-1]
        surplus = np.interp(flow[within], line.flow, line.head) - head[within]
        ahead = np.sign(surplus[np.abs(surplus) > 2e-3 * line.head[0]])
        assert np.count_nonzero(np.diff(ahead)) <= 1


def test_affinity_holds_between_the_lines_of_one_measured_curve() -> None:
    (point,) = duty_points(PLANS["lagoon"]).pumps
    top = point.lines[0]
    for each in point.lines:
        ratio = each.speed / top.speed
        assert each.line.flow[-1] == pytest.approx(ratio * top.line.flow[-1])
        assert each.line.head[0] == pytest.approx(ratio**2 * top.line.head[0])
        assert each.useful_range is not None
        assert top.useful_range is not None
        assert each.useful_range == pytest.approx([ratio * flow for flow in top.useful_range])


@pytest.mark.parametrize(
    ("speed", "span", "expected"),
    [
        (0.85, (0.4, 1.0), (1.0, 0.9, 0.85, 0.8, 0.7, 0.6, 0.5, 0.4)),
        (0.8, (0.35, 0.82), (0.82, 0.8, 0.7, 0.6, 0.5, 0.4, 0.35)),
        (0.5, (0.05, 1.2), (1.2, 1.0, 0.8, 0.6, 0.5, 0.4, 0.2, 0.05)),
        (0.0, (0.9, 1.0), (1.0, 0.9)),
        (0.7, None, (0.7,)),
        (0.0, None, ()),
    ],
)
def test_speeds_of_the_lines(
    speed: float, span: tuple[float, float] | None, expected: tuple[float, ...]
) -> None:
    plan = PLANS["lagoon"]
    main = plan.pumps["main"].model_copy(update={"speed": speed, "speed_range": span})
    (point,) = duty_points(plan.model_copy(update={"pumps": {**plan.pumps, "main": main}})).pumps
    assert tuple(each.speed for each in point.lines) == pytest.approx(expected)
    assert [each.speed for each in point.lines if each.is_present] == [speed] * (speed > 0.0)


def test_pumps_for_changes_alone_are_left_out() -> None:
    assert set(PLANS["lagoon"].pumps) == {"main", "fill pump"}
    assert [point.pump for point in duty_points(PLANS["lagoon"]).pumps] == ["main"]


def test_a_pump_beside_is_left_on_its_own_curve() -> None:
    """The second pump adds to what the first must overcome: with it off, less head is asked for."""
    both = PLANS["side by side"]
    alone = both.with_speed({"second": 0.0})
    with_second, without = (duty_points(plan).pumps[0].system for plan in (both, alone))
    assert with_second is not None
    assert without is not None
    low = with_second.flow[2]
    assert at(with_second, low) > at(without, low) + 0.1


def test_pumps_in_a_row_share_what_is_asked() -> None:
    first, second = duty_points(PLANS["in a row"]).pumps
    assert first.duty.flow == pytest.approx(second.duty.flow)
    assert first.system is not None
    assert second.system is not None
    flow = first.duty.flow / 2  # at any flow what is asked of one is less by what the other gives
    assert at(first.system, flow) + at(present(second), flow) == pytest.approx(
        at(second.system, flow) + at(present(first), flow), abs=5e-3
    )


def test_where_all_is_shut_there_is_no_system_curve_and_a_reason() -> None:
    for point in duty_points(two_pumps(in_a_row=False, open_="shut")).pumps:
        if point.system is None:
            assert point.why_no_system
        else:
            assert not point.why_no_system
    (first, second) = duty_points(two_pumps(in_a_row=True, open_="shut")).pumps
    assert first.system is None
    assert second.system is None
    assert first.why_no_system == 'every way for water through "first" is shut'


def test_a_useful_range_that_is_not_known_is_none() -> None:
    for point in duty_points(PLANS["side by side"]).pumps:
        assert point.duty.useful_range is None
        assert [each.useful_range for each in point.lines] == [None]


def test_plain_values_and_table(found: DutyPoints) -> None:
    plain = found.to_dict()
    assert set(plain) == {"title", "pumps"}
    first = plain["pumps"][0]
    assert first["duty"]["flow_l_per_h"] == pytest.approx(3.6e6 * found.pumps[0].duty.flow)
    assert first["system"]["head_m"] == list(found.pumps[0].system.head)  # type: ignore[union-attr]
    assert list(found.to_frame()["pump"]) == [point.pump for point in found.pumps]
