"""What pumps press on with everything shut, beside what it stands."""

from __future__ import annotations

import pytest

from balance.plan.model import Plan
from balance.plan.read import read_text
from balance.plan.starter import STARTER
from balance.questions.check import Check, check
from balance.questions.check.answer import Doubt
from balance.show.check import show

# Water of 25 degC and 35 g/kg, EOS-80: 1023.3 kg/m³. The starter's pump: 13 ft of dead head.
PER_FOOT = 1023.3 * 9.80665 * 0.3048
PSI = 6894.757
HOSE = '{ hose = "1/2 in", length = "4 ft" }'
PIPE = '{ pipe = "1 in sch 40", length = "46 in" }'
TOP = '"0 gph at 13 ft, 30 W",'

SECOND = """
[pumps.second]
points = ["0 gph at 20 ft", "500 gph at 15 ft", "1000 gph at 0 ft"]
from = "{start}"
to = "{end}"
"""


def plan(*changes: tuple[str, str], more: str = "") -> Plan:
    text = STARTER
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return read_text(text + more)


def pressed(answer: Check) -> list[Doubt]:
    return [doubt for doubt in answer.doubts if "with everything shut" in doubt.text]


def only(answer: Check) -> Doubt:
    (found,) = pressed(answer)
    return found


def test_usual_plumbing_is_far_from_its_limits() -> None:
    assert pressed(check(plan())) == []


def test_soft_hose_nears_its_limit() -> None:
    # Silicone hose of 1/2 in usually stands 0.7 bar, 10 psi: common practice, no source.
    answer = check(plan((HOSE, HOSE.replace("1/2 in", "1/2 in silicone"))))
    found = only(answer)
    share = 100 * 13 * PER_FOOT / 0.7e5
    assert f"{share:.0f} % of the 10.2 psi that such hose usually stands" in found.text
    assert f"brings {13 * PER_FOOT / PSI:.1f} psi to the 1/2 in silicone hose" in found.text
    assert found.where == 'branches "reactor" > parts[3]'
    assert "stands =" in found.remedy
    assert answer.safe


def test_what_the_print_says_goes_before_the_table() -> None:
    strong = HOSE.replace('1/2 in"', '1/2 in silicone", stands = "35 psi"')
    assert pressed(check(plan((HOSE, strong)))) == []
    weak = PIPE.replace(" }", ', stands = "5 psi" }')
    answer = check(plan((PIPE, weak)))
    assert "more than the 5.0 psi that it stands" in only(answer).text
    assert not answer.safe


def test_a_reactor_that_stands_less_than_the_pump_brings() -> None:
    device = 'drop = "1 ft at 100 gph"'
    answer = check(plan((device, f'{device}, stands = "4 psi"')))
    found = only(answer)
    assert "to it, more than the 4.0 psi" in found.text
    assert found.unsafe
    near = only(check(plan((device, f'{device}, stands = "8 psi"'))))
    assert "72 % of the 8.0 psi that it stands" in near.text
    assert not near.unsafe
    assert pressed(check(plan((device, f'{device}, stands = "12 psi"')))) == []


def test_drain_pipe_is_no_pressure_pipe() -> None:
    answer = check(plan((PIPE, PIPE.replace("1 in sch 40", "1 1/4 in sch 40 ABS"))))
    found = only(answer)
    assert "made for drains and not for pressure" in found.text
    assert not found.unsafe
    (row,) = (row for row in answer.pipes if "ABS" in row.size)
    assert row.stands == 0.0


def test_drain_pipe_on_the_way_to_the_pump_is_not_pressed_on() -> None:
    suction = """
[[runs]]
name = "suction"
from = "sump"
to = "eye"
parts = [{ pipe = "1 1/2 in sch 40 ABS", length = "10 in" }]
"""
    answer = check(plan(('from = "sump"\nto = "riser foot"', 'from = "eye"\nto = "riser foot"'),
                        more=suction))  # fmt: skip
    assert pressed(answer) == []


def test_warm_water_weakens_pipe() -> None:
    # clear-pvc-maker: 4 in schedule 40 stands 110 psi at 73 degF. pvc-makers: 0.88 of that at 80
    # degF, 0.51 at 110 and 0.40 at 120, between which lie 25 degC, 77 degF, and 45 degC, 113 degF.
    changes = (
        (PIPE, PIPE.replace("1 in sch 40", "4 in sch 40 clear")),
        (
            TOP,
            '"0 gph at 200 ft, 30 W",',
        ),
    )
    cool = next(d for d in pressed(check(plan(*changes))) if "clear" in d.text)
    stood = 110 * (1.0 - 0.12 * 4 / 7)
    assert f"{100 * 200 * PER_FOOT / PSI / stood:.0f} % of the {stood:.0f} psi" in cool.text
    warm = check(plan(*changes, ('temperature = "25 degC"', 'temperature = "45 degC"')))
    hot = next(d for d in pressed(warm) if "clear" in d.text)
    assert f"more than the {110 * (0.51 - 0.033):.1f} psi that it stands at 113 degF" in hot.text
    assert hot.unsafe


def test_like_pipes_are_told_once() -> None:
    found = pressed(check(plan((TOP, '"0 gph at 600 ft, 30 W",'))))
    texts = [doubt.text for doubt in found if "1 in sch 40 pipe" in doubt.text]
    assert len(texts) == 1
    assert 'of "riser", "manifold", "return"' in texts[0]


def test_the_top_speed_counts() -> None:
    soft = (HOSE, HOSE.replace("1/2 in", "1/2 in silicone"))
    slow = ('speed = "100 %"', 'speed = "60 %"')
    assert pressed(check(plan(soft, slow))) == []
    free = ('speed = "100 %"', 'speed = "60 %"\nspeed_range = ["40 %", "100 %"]')
    assert "57 %" in only(check(plan(soft, free))).text


def psi_of(answer: Check) -> float:
    """Pressure [psi] that an answer tells of the part that `watched` has weakened."""
    (text,) = (d.text for d in pressed(answer) if "more than the 1.0 psi" in d.text)
    return float(text.partition("brings ")[2].split()[0])


def watched(*changes: tuple[str, str], more: str = "") -> Check:
    """A plan whose return is said to stand 1 psi, so that the pressure on it is told."""
    weak = (PIPE, PIPE.replace(" }", ', stands = "1 psi" }'))
    return check(plan(weak, *changes, more=more))


def test_pumps_in_series_add_up() -> None:
    chain = ('from = "sump"\nto = "riser foot"', 'from = "middle"\nto = "riser foot"')
    link = """
[[runs]]
name = "link"
from = "between"
to = "middle"
parts = [{ pipe = "1 in sch 40", length = "10 in" }]
"""
    for more in (
        SECOND.format(start="sump", end="middle"),  # one pump into the other
        SECOND.format(start="sump", end="between") + link,
    ):
        assert psi_of(watched(chain, more=more)) == pytest.approx(33 * PER_FOOT / PSI, abs=0.06)


def test_pumps_side_by_side_bring_the_head_of_the_stronger() -> None:
    answer = watched(more=SECOND.format(start="sump", end="riser foot"))
    assert psi_of(answer) == pytest.approx(20 * PER_FOOT / PSI, abs=0.06)


def test_a_pump_that_draws_from_what_it_feeds_counts_once() -> None:
    more = SECOND.format(start="manifold start", end="riser foot")
    assert psi_of(watched(more=more)) == pytest.approx(33 * PER_FOOT / PSI, abs=0.06)


def test_pipe_below_the_water_carries_its_depth_too() -> None:
    low = ('pipe = "1 in sch 40"\ntaps', 'pipe = "1 in sch 40"\nheight = "-47 in"\ntaps')
    deep = psi_of(watched(low))
    assert deep == pytest.approx((13 + 60 / 12) * PER_FOOT / PSI, abs=0.06)


def test_what_each_size_stands() -> None:
    answer = check(plan())
    stands = {row.size: row.stands for row in answer.pipes}
    # astm-d1785: 450 psi at 73 degF; pvc-makers: 0.88 of it at 80 degF; the water has 77 degF.
    assert stands["1 in sch 40"] == pytest.approx(450 * PSI * (1 - 0.12 * 4 / 7), rel=1e-6)
    assert check(plan((PIPE, PIPE.replace("1 in sch 40", "28 mm bore")))).pipes[0].stands is None


def test_the_page_says_what_each_size_stands(capsys: pytest.CaptureFixture[str]) -> None:
    show(check(plan((PIPE, PIPE.replace("1 in sch 40", "1 1/4 in sch 40 ABS")))))
    printed = " ".join(capsys.readouterr().out.split())
    assert "3.8 ft of 1 1/4 in sch 40 ABS (no pressure)" in printed
    assert f"of 1 in sch 40 ({450 * (1 - 0.12 * 4 / 7):.0f} psi)" in printed
    assert "7.0 ft of 1/2 in (~27 psi)" in printed
