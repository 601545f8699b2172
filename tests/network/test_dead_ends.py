"""Small networks whose answers follow by hand: dead ends, pumps together, one-way parts."""

from __future__ import annotations

from math import pi, sqrt
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from balance.errors import NoSolutionError
from balance.network.arrays import network_of
from balance.network.solve import Solution, solve
from balance.parts import pumps
from balance.plan.read import read, read_text

G = 9.80665
BORE = 0.02
HEAD = """
title = "Small"
units = "metric"

[vessels.sump]
level = "0.5 m"

[vessels.tank]
level = "1.5 m"
"""
VESSELS = ("sump", "tank", "attic")
# A straight line, which stays one between its points: 4 m less 2000 s/m² times the flow.
LINE = '["0 m3/s at 4 m", "0.0005 m3/s at 3 m", "0.001 m3/s at 2 m", "0.002 m3/s at 0 m"]'
CLOSE = 1e-6  # the solver's least slope adds 1e-8 of the network's scale of head


def solved(text: str) -> Solution:
    return solve(network_of(read_text(HEAD + text)))


def pump(name: str, from_: str, to: str, more: str = "") -> str:
    return f'[pumps."{name}"]\npoints = {LINE}\nfrom = "{from_}"\nto = "{to}"\n{more}\n'


def run(name: str, from_: str, to: str, k: float, more: str = "") -> str:
    parts = ['{ inlet = "ideal" }'] if from_ in VESSELS else []
    parts += [f'{{ k = {k}, bore = "20 mm" }}', *([more] if more else [])]
    if to in VESSELS and "outlet" not in more:
        parts.append('{ outlet = "ideal" }')
    table = f'[[runs]]\nname = "{name}"\nfrom = "{from_}"\nto = "{to}"\n'
    return table + f"parts = [{', '.join(parts)}]\n"


def loss(k: float) -> float:
    """Head per flow squared of a loss coefficient."""
    return k / (2 * G * (pi / 4 * BORE**2) ** 2)


def positive_root(*, quadratic: float, linear: float, constant: float) -> float:
    """The flow at which quadratic q² + linear q = constant."""
    return (-linear + sqrt(linear**2 + 4 * quadratic * constant)) / (2 * quadratic)


SHUT = '{ valve = "ball", bore = "20 mm", open = "shut" }'


def test_everything_shut_is_dead_head() -> None:
    found = solved(pump("main", "sump", "foot") + run("up", "foot", "tank", 10, SHUT))
    assert found.flow("main") == 0.0
    assert found.flow("up") == 0.0
    assert found.head("foot") == pytest.approx(4.5, abs=CLOSE)


def test_a_stopped_pump_behind_a_shut_valve_is_at_rest() -> None:
    found = solved(
        pump("main", "sump", "foot", 'speed = "0 %"') + run("up", "foot", "tank", 10, SHUT)
    )
    assert found.flow("main") == 0.0
    assert found.head("foot") == pytest.approx(0.5, abs=CLOSE)


def test_a_shut_valve_passes_nothing_and_heads_on_both_sides_are_right() -> None:
    found = solved(
        pump("main", "sump", "near")
        + run("up", "near", "tank", 10)
        + run("cross", "near", "far", 10, SHUT)
        + run("side", "far", "sump", 10)
    )
    flow = positive_root(quadratic=loss(10), linear=2000.0, constant=4.5 - 1.5)
    assert found.flow("cross") == 0.0
    assert abs(found.flow("side")) < 1e-12
    assert found.flow("main") == pytest.approx(flow, rel=CLOSE)
    assert found.head("near") == pytest.approx(4.5 - 2000 * flow, abs=CLOSE)
    assert found.head("far") == pytest.approx(0.5, abs=CLOSE)


def test_a_draw_where_no_water_can_come_is_refused_by_name() -> None:
    text = (
        pump("main", "sump", "near")
        + run("up", "near", "tank", 10)
        + run("to it", "near", "kitchen", 10, SHUT)
        + run("from it", "kitchen", "tank", 10, SHUT)
        + '[joints.kitchen]\ndraw = "1 L/min"\n'
    )
    with pytest.raises(NoSolutionError, match='"kitchen" draws water'):
        solved(text)


def test_a_draw_is_met() -> None:
    found = solved(
        run("to it", "tank", "kitchen", 10)
        + run("from it", "kitchen", "sump", 10)
        + '[joints.kitchen]\ndraw = "12 L/min"\n'
    )
    assert found.flow("to it") - found.flow("from it") == pytest.approx(12e-3 / 60, abs=1e-13)


def test_pumps_in_series_add_heads() -> None:
    found = solved(
        pump("first", "sump", "between")
        + pump("second", "between", "foot")
        + run("up", "foot", "tank", 50)
    )
    flow = positive_root(quadratic=loss(50), linear=4000.0, constant=8.0 - 1.0)
    assert found.flow("up") == pytest.approx(flow, rel=CLOSE)
    assert found.head_of_pump("second") == pytest.approx(4.0 - 2000 * flow, abs=CLOSE)


def test_pumps_in_parallel_add_flows() -> None:
    found = solved(
        pump("one", "sump", "foot") + pump("two", "sump", "foot") + run("up", "foot", "tank", 50)
    )
    flow = positive_root(quadratic=loss(50), linear=1000.0, constant=4.0 - 1.0)
    assert found.flow("up") == pytest.approx(flow, rel=CLOSE)
    assert found.flow("one") == pytest.approx(flow / 2, rel=CLOSE)


def test_a_stopped_pump_lets_water_back() -> None:
    found = solved(
        pump("one", "sump", "foot")
        + pump("two", "sump", "foot", 'speed = "0 %"\nstopped = "1 m at 0.001 m3/s"')
        + run("up", "foot", "tank", 50)
    )

    def excess(head: float) -> float:
        forward = (4.0 - head) / 2000.0
        back = sqrt(head / 1e6)
        up = sqrt(max(head - 1.0, 0.0) / loss(50)) - sqrt(max(1.0 - head, 0.0) / loss(50))
        return forward - back - up

    head = brentq(excess, 1e-6, 4.0, xtol=1e-14)
    assert found.flow("two") == pytest.approx(-sqrt(head / 1e6), rel=CLOSE)
    assert found.head("foot") == pytest.approx(0.5 + head, abs=CLOSE)


def test_affinity_at_part_speed() -> None:
    found = solved(pump("main", "sump", "foot", 'speed = "70 %"') + run("up", "foot", "tank", 50))
    # n² (4 - 2000 q / n)
    flow = positive_root(quadratic=loss(50), linear=0.7 * 2000.0, constant=0.49 * 4.0 - 1.0)
    assert found.flow("up") == pytest.approx(flow, rel=CLOSE)


def test_speed_map_turns_what_is_shown_into_what_turns() -> None:
    up = run("up", "foot", "tank", 50)
    mapped = 'speed = "40 %"\nspeed_map = [["40 %", "62 %"], ["100 %", "100 %"]]'
    shown = solved(pump("main", "sump", "foot", mapped) + up)
    true = solved(pump("main", "sump", "foot", 'speed = "62 %"') + up)
    assert shown.flow("up") == pytest.approx(true.flow("up"), rel=1e-9)
    assert true.flow("up") > 0.0


def test_a_family_of_curves_between_its_speeds(tmp_path: Path) -> None:
    full = "flow_lph,head_m\n0,4.0\n1800,3.1\n3600,1.8\n5400,0\n"
    part = "flow_lph,head_m\n0,1.6\n1000,1.3\n2200,0.7\n3300,0\n"
    (tmp_path / "full.csv").write_text(full)
    (tmp_path / "part.csv").write_text(part)
    (tmp_path / "plan.toml").write_text(
        HEAD
        + '[pumps.main]\nfrom = "sump"\nto = "foot"\nspeed = "75 %"\ncurve = ['
        + '{ file = "full.csv", speed = "100 %" }, { file = "part.csv", speed = "60 %" }]\n'
        + run("up", "foot", "tank", 20)
    )
    found = solve(network_of(read(tmp_path / "plan.toml")))
    curves = [
        pumps.pump_curve(*np.loadtxt(text.splitlines()[1:], delimiter=",").T / [[3.6e6], [1.0]])
        for text in (full, part)
    ]

    def excess(flow: float) -> float:
        n = 0.75
        at_full = float(pumps.head(curves[0], flow, n).value)
        at_part = float(pumps.head(curves[1], flow, n / 0.6).value)
        share = (n - 0.6) / 0.4
        return share * at_full + (1 - share) * at_part - 1.0 - loss(20) * flow**2

    assert found.flow("up") == pytest.approx(brentq(excess, 0.0, 2e-3, xtol=1e-15), rel=CLOSE)


def test_three_vessels_at_different_heights() -> None:
    found = solved(
        '[vessels.attic]\nlevel = "3 m"\n'
        + run("down", "attic", "hub", 30)
        + run("middle", "hub", "tank", 10)
        + run("low", "hub", "sump", 200)
    )

    def through(head: float, k: float) -> float:
        return float(np.copysign(sqrt(abs(head) / loss(k)), head))

    def excess(hub: float) -> float:
        return through(3.0 - hub, 30) - through(hub - 1.5, 10) - through(hub - 0.5, 200)

    hub = brentq(excess, 0.5, 3.0, xtol=1e-14)
    assert found.head("hub") == pytest.approx(hub, abs=CLOSE)
    assert found.flow("middle") == pytest.approx(through(hub - 1.5, 10), rel=1e-5)


@pytest.mark.parametrize(("opening", "opens"), [(1.2, False), (0.3, True)])
def test_a_check_valve_opens_at_its_head(*, opening: float, opens: bool) -> None:
    check = f'{{ check = "spring", bore = "20 mm", opening = "{opening} m", k = 5 }}'
    found = solved(run("down", "tank", "hub", 5, check) + run("on", "hub", "sump", 10))
    if opens:
        # A stated coefficient is all that it loses beyond its opening head.
        assert found.flow("down") == pytest.approx(sqrt((1.0 - opening) / loss(20)), rel=CLOSE)
    else:
        assert found.flow("down") == 0.0
        assert found.head("hub") == pytest.approx(0.5, abs=CLOSE)


def test_a_check_valve_lets_nothing_back() -> None:
    check = '{ check = "swing", bore = "20 mm" }'
    found = solved(run("up", "sump", "hub", 5, check) + run("on", "hub", "tank", 10))
    assert found.flow("up") == 0.0
    assert found.head("hub") == pytest.approx(1.5, abs=CLOSE)


def test_a_free_outlet_takes_no_water_in() -> None:
    outlet = '{ outlet = "free", height = "2 m" }'
    found = solved(run("up", "sump", "hub", 5) + run("out", "hub", "tank", 5, outlet))
    assert found.flow("out") == 0.0
    assert found.head("hub") == pytest.approx(0.5, abs=CLOSE)


def test_a_hub_with_many_legs() -> None:
    legs = "".join(run(f"leg {n}", "hub", "sump", 100) for n in range(12))
    found = solved(run("in", "tank", "hub", 10) + legs)
    flow = sqrt(1.0 / (loss(10) + loss(100) / 144))
    assert found.flow("in") == pytest.approx(flow, rel=CLOSE)
    for n in range(12):
        assert found.flow(f"leg {n}") == pytest.approx(flow / 12, rel=CLOSE)
