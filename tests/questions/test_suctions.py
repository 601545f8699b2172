"""Suction of pumps: what there is, what is needed, and what is said of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from balance.plan.model import Plan
from balance.plan.read import read
from balance.questions.check import check
from balance.questions.flows import flows
from balance.questions.suctions import Suction

G = 9.80665
FOOT = 0.3048

CURVE = "flow_gpm,head_ft,npsh_ft\n0,60,{need}\n60,40,{need}\n120,0,{need}\n"
PLAN = """
units = "us"

[water]
salinity = "0 g/kg"
temperature = "60 degF"

[vessels.reservoir]
level = "{level}"

[pumps.pump]
curve = "pump.csv"
from = "{start}"
to = "delivery"
{height}

[joints.delivery]
draw = "120 gpm"

[[runs]]
name = "suction line"
from = "reservoir"
to = "suction"
parts = [
  {{ inlet = "ideal", bore = "3 in" }},
  {{ device = "strainer and pipe", drop = "2.4 ft at 120 gpm" }},
]
"""


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def plan(
    *,
    level: str = "15 ft",
    start: str = "suction",
    height: str = 'intake = "0 ft"',
    need: float = 5.0,
) -> Plan:
    Path("pump.csv").write_text(CURVE.format(need=need), encoding="utf-8")
    Path("plan.toml").write_text(
        PLAN.format(level=level, start=start, height=height), encoding="utf-8"
    )
    return read("plan.toml")


def changed(old: str, new: str, *more: tuple[str, str], start: str = "suction") -> Plan:
    """The plan with other text in it."""
    text = PLAN
    for before, after in ((old, new), *more):
        assert text.count(before) == 1, before
        text = text.replace(before, after)
    plan()  # for its curve
    Path("plan.toml").write_text(
        text.format(level="15 ft", start=start, height='intake = "0 ft"'), encoding="utf-8"
    )
    return read("plan.toml")


def suction(found: Plan) -> Suction:
    (only,) = flows(found).suctions
    return only


@pytest.mark.parametrize(
    ("level", "expected"),
    # A handbook of plants for waste water, examples 10.10 and 10.11, in a copy that names neither
    # author nor year: 34 ft of air, 0.6 ft of vapour at 60 degF, 0.4 and 2 ft lost.
    [("15 ft", 46.0), ("-20 ft", 11.0)],
)
def test_suction_head_by_a_handbook(level: str, expected: float) -> None:
    available = suction(plan(level=level)).available
    assert available is not None
    assert available / FOOT == pytest.approx(expected, abs=0.1)  # its air is 33.9 ft, rounded up


def test_a_pump_in_a_vessel_has_no_suction_line_to_lose_head_in() -> None:
    piped = suction(plan())
    drowned = suction(changed(PLAN[PLAN.index("[[runs]]") :], "", start="reservoir"))
    assert drowned.available is not None
    assert piped.available is not None
    assert drowned.available - piped.available == pytest.approx(2.4 * FOOT, rel=1e-6)
    assert flows(read("plan.toml")).pressures == ()


def test_height_is_that_of_the_intake_else_of_the_joint() -> None:
    joint = '[joints.suction]\nheight = "3 ft"'
    assert suction(plan(height=joint)).height == pytest.approx(3 * FOOT)
    both = plan(height=f'intake = "2 ft"\n{joint}')
    assert suction(both).height == pytest.approx(2 * FOOT)
    assert flows(plan(height="")).suctions == ()


def test_pressure_at_the_suction_is_told_once() -> None:
    (alone,) = flows(plan()).pressures
    assert (alone.kind, alone.place, alone.stretch) == ("suction", "suction", "suction line")
    velocity = 120 * 231 * 0.0254**3 / 60 / (0.7853981634 * 0.0762**2)
    density = 999.0  # of water at 60 degF
    expected = density * (G * (15 - 2.4) * FOOT - velocity**2 / 2)
    assert alone.pressure == pytest.approx(expected, rel=1e-3)
    (joint,) = flows(plan(height='[joints.suction]\nheight = "3 ft"')).pressures
    assert joint.kind == "joint"


@pytest.mark.parametrize(
    ("need", "enough", "said"),
    # 46.0 ft there: half a metre is 1.6 ft, a tenth of what is needed more than that.
    [
        (41.0, True, None),
        (42.5, False, "too little over the 42.5 ft that it needs"),
        (46.5, False, "it cavitates"),
    ],
)
def test_what_is_enough(need: float, enough: bool, said: str | None) -> None:  # noqa: FBT001
    found = plan(need=need)
    assert suction(found).needed == pytest.approx(need * FOOT)
    assert suction(found).enough is enough
    told = [doubt.text for doubt in check(found).doubts if "suction head" in doubt.text]
    noted = [note for note in flows(found).notes if "suction head" in note]
    assert len(told) == len(noted) == (said is not None)
    if said is not None:
        assert said in told[0]
        assert said in noted[0]


def test_half_a_metre_is_the_least_margin() -> None:
    assert suction(plan(level="-28 ft", need=1.5)).enough is False  # 2.9 ft there, 1.6 more wanted
    assert suction(plan(level="-28 ft", need=1.2)).enough is True


def test_a_curve_that_does_not_say_is_not_judged() -> None:
    found = plan()
    Path("pump.csv").write_text("flow_gpm,head_ft\n0,60\n60,40\n120,0\n", encoding="utf-8")
    told = suction(read("plan.toml"))
    assert (told.needed, told.enough) == (None, None)
    assert told.available == suction(found).available


def test_a_pump_cut_off_from_all_water_is_not_judged() -> None:
    shut = '{{ valve = "gate", size = "3 in", open = "shut" }}'
    found = changed(
        '{{ device = "strainer and pipe", drop = "2.4 ft at 120 gpm" }},\n]',
        f'{shut},\n]\n[[runs]]\nname = "out"\nfrom = "delivery"\nto = "reservoir"\n'
        f"parts = [{shut}]",
        ('draw = "120 gpm"', ""),
    )
    told = suction(found)
    assert (told.available, told.head, told.enough) == (None, None, None)
    (pressure,) = flows(found).pressures
    assert (pressure.pressure, pressure.head, pressure.stretch) == (None, None, None)
