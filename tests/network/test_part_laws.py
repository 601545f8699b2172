"""The law of a run of any one part: it rises with flow, and its slope is its slope."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from balance.network.arrays import Network, network_of
from balance.network.solve import Solution, solve
from balance.parts import checks, fittings, outlets, valves
from balance.plan.read import read_text
from tests.plan.plans import one_run

Floats = NDArray[np.float64]

PIPE = '{ pipe = "3/4 in sch 40", length = "3 in" }'
NARROW = '{ pipe = "1/2 in sch 40", length = "3 in" }'
BED = 'bed = { diameter = "4 in", depth = "6 in", grain = "1.5 mm"'

_TWO_SIZES = ("bushing", "reducer")
FITTINGS = [
    f'{PIPE}, {{ fitting = "{kind}" }}'
    for kind in fittings.kinds()
    if kind not in (*_TWO_SIZES, "barb", "cap")
]
BETWEEN = [
    f'{PIPE}, {{ fitting = "barb", hose = "1/2 in" }}, {{ hose = "1/2 in", length = "4 in" }}',
    *(f'{PIPE}, {{ fitting = "{kind}" }}, {NARROW}' for kind in _TWO_SIZES),
    f'{NARROW}, {{ fitting = "reducer", angle = "25 deg" }}, {PIPE}',
    f'{NARROW}, {{ fitting = "reducer", taper = "30 mm" }}, {PIPE}',
    f"{PIPE}, {NARROW}",
]
FAILED = [f'{PIPE}, {{ check = "{kind}", failed = true }}' for kind in checks.kinds()]
DEVICES = [
    f'{PIPE}, {{ device = "{device}", {loss} }}'
    for device, loss in [
        ("steriliser", 'drop = "0.6 ft at 250 gph"'),
        ("chiller", 'drop = "3 ft at 400 gph", exponent = 1.75'),
        ("heater", "k = 8"),
        ("filter sock", 'drop = "0.1 ft at 500 gph", exponent = 1, fouled = "250 %"'),
        ("skimmer", 'points = ["0.3 ft at 60 gph", "1.2 ft at 120 gph", "2.5 ft at 170 gph"]'),
        ("reactor", BED + " }"),
        ("reactor", BED + ', grain_density = "1400 kg/m3" }, fouled = "30 %"'),
    ]
]
INLETS = [f'{{ inlet = "{kind}" }}, {PIPE}' for kind in outlets.inlets()]
UNDER_WATER = [
    f"{PIPE}, {{ {outlet} }}"
    for outlet in (
        'outlet = "submerged", size = "1/2 in"',
        'outlet = "submerged", size = "1 in"',
        'outlet = "bulkhead"',
        'outlet = "ideal"',
        'outlet = "jet nozzle", depth = "2 in"',
        'outlet = "jet nozzle", bore = "8 mm", count = 2',
        'outlet = "flare nozzle", k = 1.5',
        'outlet = "multi-jet nozzle"',
        'outlet = "multi-jet nozzle", holes = 6, hole = "7 mm"',
        'outlet = "spray bar", holes = 20, hole = "4 mm", count = 2',
        'outlet = "slot", slot_length = "8 in", slot_width = "3 mm"',
        'outlet = "eductor"',
        'outlet = "eductor", points = ["3 ft at 200 gph", "12 ft at 400 gph"], count = 2',
        'outlet = "eductor", drop = "9 ft at 350 gph"',
    )
]
VALVES = [
    f'{PIPE}, {{ valve = "{kind}", open = "{opening} %" }}'
    for kind in valves.kinds()
    for opening in (15, 50, 100)
]
BOTH_WAYS = [*FITTINGS, *VALVES, *BETWEEN, *FAILED, *DEVICES, *INLETS, *UNDER_WATER]

_ABOVE = ', height = "40 in" }'
ONE_WAY = [
    *(f'{PIPE}, {{ check = "{kind}" }}' for kind in checks.kinds()),
    f'{PIPE}, {{ outlet = "free"{_ABOVE}',
    f'{PIPE}, {{ outlet = "jet nozzle"{_ABOVE}',
    f'{PIPE}, {{ outlet = "spray bar", holes = 20, hole = "4 mm"{_ABOVE}',
    f'{PIPE}, {{ outlet = "slot", slot_length = "8 in", slot_width = "3 mm"{_ABOVE}',
]

SIZE = np.geomspace(1e-7, 1e-3, 41)  # [m³/s]
FLOW = np.concatenate([-SIZE[::-1], [0.0], SIZE])


def network(parts: str, *, high: float = 30.0) -> Network:
    return network_of(read_text(one_run(parts, high=high)))


def solved(parts: str, *, high: float) -> Solution:
    return solve(network(parts, high=high))


def law(parts: str, flow: Floats) -> tuple[Floats, Floats]:
    """Of the run with its valve where it stands."""
    whole = network(parts)
    laws, _ = whole.at(whole.openings, whole.speeds)
    found = laws(flow[None, :])
    return found.head[0], found.slope[0]


@pytest.mark.parametrize("parts", [*BOTH_WAYS, *ONE_WAY])
def test_loss_rises_with_flow(parts: str) -> None:
    head, slope = law(parts, FLOW)
    assert (np.diff(head) > 0.0).all()
    assert (slope > 0.0).all()


FOULING = np.array([[1.0, 1.3, 2.5]])


@pytest.mark.parametrize("parts", [*BOTH_WAYS, *ONE_WAY])
def test_what_fouls_loses_in_proportion_at_equal_flow(parts: str) -> None:
    """Loss at equal flow, times the factor: of all but the valve, and of no opening head."""
    clean = network(parts)
    wide = np.ones_like(clean.openings)

    def lost(network: Network, opening: Floats) -> Floats:
        laws, _ = network.at(opening, network.speeds)
        runs = np.repeat(np.linspace(1e-6, 3e-4, 3)[None, :], network.topology.runs, axis=0)
        return laws(runs).head - laws.constant

    valve = lost(clean, clean.openings) - lost(clean, wide)
    fouled = clean.fouled(FOULING)
    factor = FOULING[0]
    assert lost(fouled, clean.openings) == pytest.approx(
        lost(clean, wide) * factor + valve - _of_a_valve_wide_open(clean) * (factor - 1.0)
    )


def _of_a_valve_wide_open(network: Network) -> Floats:
    """What the valve itself loses wide open, which does not foul, (1, 3)."""
    flow = np.linspace(1e-6, 3e-4, 3)
    return sum(
        (
            valve.law.loss_coefficient(np.ones(1)).k[0] * scale * flow**2
            for valve in network.valves
            for _, scale in valve.places
        ),
        np.zeros(3),
    )[None, :]


@pytest.mark.parametrize("kind", valves.kinds())
def test_loss_of_a_valve_falls_as_it_opens(kind: str) -> None:
    lost = [
        law(f'{PIPE}, {{ valve = "{kind}", open = "{opening} %" }}', np.array([3e-4]))[0][0]
        for opening in (15, 30, 50, 75, 100)
    ]
    assert (np.diff(lost) < 0.0).all()
    assert lost[0] > 3.0 * lost[-1]


@settings(max_examples=60, deadline=None)
@given(
    kind=st.sampled_from(valves.kinds()),
    opening=st.floats(11.0, 100.0),  # percent; nothing passes a ball valve below 10
    flow=st.lists(st.floats(-2e-3, 2e-3), min_size=2, max_size=10),
)
def test_loss_of_a_valve_rises_with_flow_wherever_it_stands(
    kind: str, opening: float, flow: list[float]
) -> None:
    parts = f'{PIPE}, {{ valve = "{kind}", open = "{opening:.3f} %" }}'
    head, slope = law(parts, np.sort(np.array(flow)))
    assert (np.diff(head) >= 0.0).all()
    assert (slope > 0.0).all()


@pytest.mark.parametrize("parts", [*BOTH_WAYS, *ONE_WAY])
def test_slope_against_central_differences(parts: str) -> None:
    # At rest so short that what grows with the square of flow, of a valve nearly shut, is nothing.
    step = np.where(FLOW == 0.0, 1e-13, 1e-4 * np.abs(FLOW))
    # A check valve's law has a corner at rest: either side is tested, not the corner.
    away = FLOW != 0.0 if parts in ONE_WAY else np.ones(len(FLOW), dtype=np.bool_)
    (ahead, _), (behind, _) = law(parts, FLOW + step), law(parts, FLOW - step)
    slope = law(parts, FLOW)[1]
    np.testing.assert_allclose(slope[away], ((ahead - behind) / (2 * step))[away], rtol=2e-3)


@pytest.mark.parametrize("parts", BOTH_WAYS)
def test_water_runs_back_through_what_is_open(parts: str) -> None:
    """Up or down between two vessels, whichever stands higher."""
    up, down = (solved(parts, high=level).flow("run") for level in (2.0, 18.0))
    assert up > 0.0 > down
    there, back = law(parts, np.array([1e-4]))[0], law(parts, np.array([-1e-4]))[0]
    assert there[0] > 0.0 > back[0]


@pytest.mark.parametrize("parts", ONE_WAY)
def test_nothing_runs_back_through_what_is_shut(parts: str) -> None:
    assert solved(parts, high=38.0).flow("run") == 0.0


@pytest.mark.parametrize("kind", checks.kinds())
def test_a_failed_check_valve_loses_as_much_both_ways(kind: str) -> None:
    sound, failed = (
        f'{{ k = 0, bore = "20 mm" }}, {{ check = "{kind}", bore = "20 mm"{state} }}'
        for state in ("", ", failed = true")
    )
    flow = np.array([-2e-4, 2e-4])
    (back, there), (_, guarded) = law(failed, flow)[0], law(sound, flow)[0]
    # An exit of 1.0 and an entrance of 0.5 stand at either end of it, whichever way.
    assert there == pytest.approx(-back)
    assert guarded - there == pytest.approx(checks.check_valve(kind, bore=0.02).opening_head)


@pytest.mark.parametrize("where", ["", '{ outlet = "free", height = "12 in" }'])
def test_a_cap_shuts_its_stretch(where: str) -> None:
    parts = ", ".join(filter(None, [PIPE, '{ fitting = "cap" }', where]))
    assert solved(parts, high=2.0).flow("run") == 0.0


def test_an_end_of_another_bore_has_its_step() -> None:
    """Narrowing 0.5 (1 - beta²) and exit 1.0; backwards entrance 0.5 and widening (1 - beta²)²."""
    parts = (
        '{ inlet = "ideal" }, { k = 0, bore = "20 mm" }, { outlet = "submerged", bore = "10 mm" }'
    )
    flow = np.array([-1e-4, 1e-4])
    head = (flow[1] / (np.pi / 4 * 0.01**2)) ** 2 / (2 * 9.80665)
    (back, there), _ = law(parts, flow)
    assert there == pytest.approx((0.5 * 0.75 + 1.0) * head, rel=1e-6)
    assert back == pytest.approx(-(0.5 + 0.75**2) * head, rel=1e-6)
    # A nozzle's narrowing is in its own coefficient; backwards it widens like any step.
    (back, there), _ = law(parts.replace("submerged", "jet nozzle"), flow)
    assert there == pytest.approx(outlets.outlet("jet nozzle").k * head, rel=1e-6)
    assert back == pytest.approx(-(0.5 + 0.75**2) * head, rel=1e-6)


def test_a_bulkhead_by_any_name_loses_the_same() -> None:
    flow = np.array([-3e-4, 2e-4])
    named = law(f'{{ inlet = "bulkhead" }}, {PIPE}, {{ outlet = "bulkhead" }}', flow)[0]
    bulkhead = '{ fitting = "bulkhead" }'
    np.testing.assert_allclose(law(f"{bulkhead}, {PIPE}, {bulkhead}", flow)[0], named)


@pytest.mark.parametrize("kind", _TWO_SIZES)
def test_a_change_of_size_replaces_the_step(kind: str) -> None:
    """Written out, or taken from the pipes beside it; a bushing is the step itself."""
    flow = np.array([-3e-4, 2e-4])
    named = f'{{ fitting = "{kind}", size = "3/4 in", to = "1/2 in" }}'
    written = law(f"{PIPE}, {named}, {NARROW}", flow)[0]
    taken = law(f'{PIPE}, {{ fitting = "{kind}" }}, {NARROW}', flow)[0]
    step = law(f"{PIPE}, {NARROW}", flow)[0]
    np.testing.assert_allclose(written, taken)
    if kind == "bushing":
        np.testing.assert_allclose(written, step)
    else:
        # In a cone of 60 deg water widens no better than at once, and narrows better.
        assert written[0] == pytest.approx(step[0])
        assert written[1] < step[1]


def test_outlets_side_by_side_share_the_flow() -> None:
    """Two eductors take twice the flow at the head of one."""
    points = '{ outlet = "eductor", points = ["3 ft at 200 gph", "12 ft at 400 gph"]'
    nothing = '{ k = 0, bore = "30 mm" }, '
    one = law(f'{{ inlet = "ideal" }}, {nothing}{points} }}', np.array([1e-4]))[0]
    two = law(f'{{ inlet = "ideal" }}, {nothing}{points}, count = 2 }}', np.array([2e-4]))[0]
    np.testing.assert_allclose(one, two, rtol=1e-6)
