"""What a plan holds once it is read."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balance.errors import Fault, PlanError, UnknownNameError, UsageError
from balance.parts.pipes import nominal_bore, pipe
from balance.plan.model import (
    Branch,
    DevicePart,
    FittingPart,
    OutletPart,
    Plan,
    ValvePart,
)
from balance.plan.read import read_text
from tests.plan.plans import PLAN, line_of, spoilt

INCH = 0.0254
GPH = 3.785411784e-3 / 3600.0


@pytest.fixture(scope="module")
def plan() -> Plan:
    return read_text(PLAN, file="lagoon.toml")


def test_values_are_si(plan: Plan) -> None:
    assert plan.water.temperature == 25.5
    assert plan.vessels["lagoon"].level == pytest.approx(58 * INCH)
    assert plan.pumps["main"].speed == pytest.approx(0.85)
    assert plan.pumps["main"].speed_range == pytest.approx((0.4, 1.0))
    assert plan.pumps["main"].curve[0].curve.flow[-1] == pytest.approx(1200 * GPH)
    reactor = plan.branches[0]
    assert reactor.limits == pytest.approx((60 * GPH, 160 * GPH))
    assert reactor.target is not None
    assert reactor.target.kind == "flow"
    assert reactor.target.aim == pytest.approx(120 * GPH)
    device = reactor.parts[3]
    assert isinstance(device, DevicePart)
    assert device.drop == pytest.approx((1.2 * 12 * INCH, 120 * GPH))


def test_references_take_the_spelling_of_what_they_name(plan: Plan) -> None:
    assert plan.branches[0].to == "sump"
    assert plan.headers[0].from_ == plan.runs[0].to == "cross"
    assert plan.headers[0].taps[0].branch == "carbon reactor"


def test_like_copies_what_is_not_restated(plan: Plan) -> None:
    reactor, refugium = plan.branches[:2]
    assert refugium.parts == reactor.parts
    assert refugium.limits == reactor.limits
    assert refugium.target is not None
    assert refugium.target.kind == "at least"
    assert refugium.target.low == pytest.approx(100 * GPH)
    assert (refugium.name, refugium.like) == ("refugium", "carbon reactor")


def test_like_follows_chains_but_copies_no_names() -> None:
    text = spoilt(
        '{ valve = "ball", size = "3/4 in", open = "45 deg" }',
        ('{ valve = "ball", size = "3/4 in", name = "front valve" }'),
    ).replace('after = "6 in"', 'after = "6 in" },\n  { branch = "third"')
    text += (
        '[[branches]]\nname = "third"\nlike = "Refugium"\nlimits = "<= 90 gph"\ntarget = "50 gph"\n'
    )
    plan = read_text(text)
    third = plan.branches[-1]
    assert third.parts[1:] == plan.branches[0].parts[1:]
    assert third.limits[0] is None
    assert third.limits[1] == pytest.approx(90 * GPH)
    names = [ref.name for ref in plan.valves()]
    assert names[:2] == ["front valve", "refugium"]
    assert "third" in names


def test_the_last_tap_of_a_header_is_an_end(plan: Plan) -> None:
    assert [tap.end for tap in plan.headers[0].taps] == [None, None, None, "elbow"]
    text = spoilt(', end = "elbow"', "")
    assert read_text(text).headers[0].taps[-1].end == "cap"


def test_every_bore_is_filled_in(plan: Plan) -> None:
    valve, barb, hose, device, _, outlet = plan.branches[0].parts
    assert valve.bore == nominal_bore("3/4 in")
    assert isinstance(barb, FittingPart)
    assert barb.bore == pytest.approx(0.7 * hose.bore)
    assert barb.bore_is_estimate
    assert (barb.bore_from, barb.bore_to) == (nominal_bore("3/4 in"), hose.bore)
    assert device.bore == outlet.bore == hose.bore == pytest.approx(INCH / 2)
    assert plan.branches[3].parts[3].bore == pipe("1 in sch 40").bore


def branch_of(parts: str) -> Branch:
    text = f"""\
[vessels]
a = {{ level = "2 m" }}
b = {{ level = "1 m" }}
[[branches]]
name = "x"
from = "a"
to = "b"
parts = [{parts}]
"""
    return read_text(text).branches[0]


def bores(branch: Branch) -> list[float]:
    return [round(part.bore * 1000, 3) for part in branch.parts]


def test_a_bore_left_out_is_of_the_pipe_before_else_after() -> None:
    two = '{ pipe = "20 mm bore", length = "1 m" }', '{ pipe = "30 mm bore", length = "1 m" }'
    elbow = '{ fitting = "elbow 90" }'
    assert bores(branch_of(f"{two[0]}, {elbow}, {two[1]}")) == [20, 20, 30]
    assert bores(branch_of(f"{elbow}, {two[1]}")) == [30, 30]
    assert bores(branch_of(f"{elbow}, {{ valve = 'ball', bore = '17 mm' }}")) == [17, 17]


def test_a_change_of_size_stands_as_its_neighbours_show() -> None:
    wide, slim = (
        '{ pipe = "1 1/2 in sch 40", length = "1 m" }',
        '{ pipe = "3/4 in sch 40", length = "1 m" }',
    )
    bushing = '{ fitting = "bushing", size = "1 1/2 in", to = "3/4 in" }'
    big, small = nominal_bore("1 1/2 in"), nominal_bore("3/4 in")
    down = branch_of(f"{wide}, {bushing}, {slim}").parts[1]
    up = branch_of(f"{slim}, {bushing}, {wide}").parts[1]
    assert (down.bore_from, down.bore_to, down.bore) == (big, small, small)
    assert (up.bore_from, up.bore_to, up.bore) == (small, big, small)
    union = branch_of(f"{wide}, {bushing}, {{ fitting = 'union' }}, {slim}").parts[2]
    assert union.bore == small
    hose, thread = '{ hose = "1/2 in", length = "1 m" }', '{ fitting = "barb", size = "3/4 in" }'
    into = branch_of(f"{slim}, {thread}, {hose}").parts[1]
    out_of = branch_of(f"{hose}, {thread}, {slim}").parts[1]
    assert (into.bore_from, into.bore_to) == pytest.approx((small, INCH / 2))
    assert (out_of.bore_from, out_of.bore_to) == pytest.approx((INCH / 2, small))


def test_an_outlet_takes_its_throat_from_its_kind_but_stands_on_the_pipe() -> None:
    outlet = branch_of('{ pipe = "20 mm bore", length = "1 m" }, { outlet = "submerged" }').parts[1]
    assert isinstance(outlet, OutletPart)
    assert outlet.bore_from == outlet.bore == pytest.approx(0.020)


@pytest.mark.parametrize(
    ("parts", "problem"),
    [
        ("{ fitting = 'elbow 90' }", "how wide this is"),
        ("{ pipe = '20 mm bore', length = '1 m' }, { fitting = 'barb' }", "which hose"),
        ("{ pipe = '20 mm bore', length = '1 m' }, { fitting = 'bushing' }", "two sizes"),
        ("{ k = 3 }", "how wide this is"),
    ],
)
def test_a_bore_that_nothing_tells(parts: str, problem: str) -> None:
    with pytest.raises(PlanError, match=problem):
        branch_of(parts)


def test_valves_go_by_their_own_name_or_their_stretch(plan: Plan) -> None:
    assert [(ref.name, ref.stretch, ref.index) for ref in plan.valves()] == [
        ("carbon reactor", "carbon reactor", 0),
        ("refugium", "refugium", 0),
        ("spare 1", "spare 1", 0),
        ("lagoon left", "lagoon left", 0),
        ("main drain", "main drain", 0),
    ]
    text = spoilt(
        '{ check = "swing", size = "1 in" }', '{ valve = "gate", size = "1 in", locked = true }'
    ).replace(
        'after = "4 in", side_size = "3/4 in"',
        'after = "4 in", parts = [{ valve = "ball" }]',
    )
    names = [ref.name for ref in read_text(text).valves()]
    assert names[0] == "left header to carbon reactor"
    assert names[4:6] == ["lagoon left", "lagoon left valve 2"]


def test_stretches(plan: Plan) -> None:
    assert [stretch.name for stretch in plan.stretches()] == [
        "riser",
        "carbon reactor",
        "refugium",
        "spare 1",
        "lagoon left",
        "main drain",
    ]


def test_a_plan_with_other_openings_and_speed(plan: Plan) -> None:
    other = plan.with_openings({"Carbon Reactor": 0.3, "main drain": 1}).with_speed({"MAIN": 0.7})
    assert other.valve("carbon reactor").part.open == 0.3
    assert other.valve("main drain").part.open == 1.0
    assert other.pumps["main"].speed == 0.7
    assert other.valve("refugium").part.open == 0.5
    assert plan.valve("carbon reactor").part.open == 0.5
    assert plan.pumps["main"].speed == pytest.approx(0.85)
    assert other.line_of(("branches", "refugium")) == plan.line_of(("branches", "refugium"))
    with pytest.raises(UnknownNameError, match="carbon reactor"):
        plan.with_openings({"carbon reactr": 0.3})
    with pytest.raises(UsageError, match="fraction of travel"):
        plan.with_openings({"carbon reactor": 30})
    with pytest.raises(UnknownNameError, match="main"):
        plan.with_speed({"mein": 0.3})
    with pytest.raises(UsageError, match="is full"):
        plan.with_speed({"main": 70})


def test_valves_of_a_header_can_be_set_too() -> None:
    text = spoilt('after = "4 in" },', 'after = "4 in", parts = [{ valve = "ball" }] },')
    plan = read_text(text).with_openings({"left header to refugium": 0.25})
    part = plan.headers[0].taps[1].parts[0]
    assert isinstance(part, ValvePart)
    assert part.open == 0.25


def test_lines_and_words_for_doubts(plan: Plan) -> None:
    assert plan.line_of(("branches", "refugium", "target")) == line_of(PLAN, '">= 100 gph"')
    assert plan.line_of(("branches", 1, "parts", 2)) == line_of(PLAN, 'length = "4 ft"')
    assert plan.line_of(("vessels", "sump", "rim")) == line_of(PLAN, 'rim = "16 in"')
    assert plan.line_of(("branches", "spare 1", "target")) == line_of(PLAN, 'name = "spare 1"') - 1
    assert plan.words(("branches", 1, "parts", 2)) == 'branches "refugium" > parts[3]'
    assert plan.words(("vessels", "sump", "rim")) == 'vessels "sump" > rim'
    assert plan.file == "lagoon.toml"


def test_a_plan_is_frozen(plan: Plan) -> None:
    with pytest.raises(ValueError, match="frozen"):
        plan.title = "other"  # type: ignore[misc]


RING = """\
[vessels]
sump = { level = "0 m" }
tank = { level = "1 m" }
[pumps.main]
points = ["0 gph at 13 ft", "600 gph at 9 ft", "1200 gph at 0 ft"]
from = "sump"
to = "foot"
[[headers]]
name = "ring"
from = "foot"
to = "foot"
pipe = "1 in sch 40"
taps = [{ branch = "a", after = "1 m" }, { branch = "b", after = "1 m" }, { after = "12 in" }]
[[branches]]
name = "a"
to = "tank"
parts = [{ valve = "ball", size = "1 in" }]
[[branches]]
name = "b"
like = "a"
"""


def test_a_ring() -> None:
    header = read_text(RING).headers[0]
    assert header.to == header.from_ == "foot"
    assert header.taps[-1].branch is None
    with pytest.raises(PlanError, match="goes on from here"):
        read_text(RING.replace(', { after = "12 in" }', ""))
    with pytest.raises(PlanError, match="this tap has no branch"):
        read_text(RING.replace('to = "foot"\npipe', "pipe"))


def test_joints() -> None:
    tee = (
        '[[runs]]\nname = "extra"\nfrom = "foot"\nto = "sump"\n'
        'parts = [{ pipe = "1 in sch 40", length = "1 m" }]\n'
    )
    joint = '[joints.foot]\nside = "extra"\n'
    straight = RING.replace('to = "foot"\npipe', "pipe").replace(', { after = "12 in" }', "")
    assert read_text(straight + tee + joint).joints["foot"].side == "extra"
    with pytest.raises(PlanError, match="here meet 4"):
        read_text(RING + tee + joint)
    with pytest.raises(PlanError, match="neither begins nor ends"):
        read_text(straight + tee + joint.replace("extra", "a"))
    with pytest.raises(PlanError, match="nothing begins or ends"):
        read_text(straight + tee + joint.replace("foot", "fut"))


def test_outside_is_always_there() -> None:
    text = PLAN + (
        '[[branches]]\nname = "waste"\nfrom = "cross"\nto = "outside"\n'
        'parts = [{ hose = "1/2 in", length = "1 m" }, { outlet = "free", height = "0 in" }]\n'
    )
    assert read_text(text).branches[-1].to == "outside"
    with pytest.raises(PlanError, match="at no stated height"):
        read_text(text.replace(', { outlet = "free", height = "0 in" }', ""))
    with pytest.raises(PlanError, match="nothing flows in from outside"):
        read_text(text.replace('from = "cross"\nto = "outside"', 'from = "outside"\nto = "sump"'))


def test_all_the_tables_that_later_questions_use() -> None:
    text = PLAN + (
        '[[weirs]]\nname = "lip"\nfrom = "lagoon"\nto = "sump"\ncrest = "57 in"\nlength = "10 in"\n'
        '[groups.reactors]\nbranches = ["Carbon Reactor", "refugium"]\ntarget = "<= 250 gph"\n'
        '[power]\nprice = 0.3\ncurrency = "EUR"\nhours = 24\nyears = 5\n'
        '[change]\nvolume = "20 gal"\ndrain = "Main Drain"\npump = "main"\nfrom = "sump"\n'
        '[spread]\nball = 0.4\nmark = "1 deg"\nlevel = "2 mm"\nstopwatch = "0.5 s"\n'
        '[shop]\nstock = ["10 ft"]\noffcuts = { \'1" sch 40\' = ["27 in"] }\n'
        'kerf = "1/8 in"\nspare = "15 %"\nprices = { "elbow 90" = 1.2 }\n'
    )
    plan = read_text(text)
    assert plan.groups["reactors"].branches == ("carbon reactor", "refugium")
    assert plan.power is not None
    assert plan.power.price == 0.3
    assert plan.change is not None
    assert plan.change.drain == "main drain"
    assert plan.spread.mark == pytest.approx(1 / 90)
    assert plan.spread.ball_offset == pytest.approx(3 / 90)
    assert plan.shop is not None
    assert plan.shop.kerf == pytest.approx(INCH / 8)
    assert plan.shop.stock == pytest.approx((120 * INCH,))
    assert plan.shop.offcuts == {"1 in sch 40": pytest.approx((27 * INCH,))}
    assert plan.weirs[0].crest == pytest.approx(57 * INCH)
    with pytest.raises(PlanError, match="no drain or run"):
        read_text(text.replace('"Main Drain"', '"Main drain 9"'))


def test_a_valve_of_ones_own() -> None:
    table = 'valve = "mine", table = [["45 deg", "cv 6"], ["20 deg", "k 40"]], open = "45 deg"'
    valve = branch_of(f"{{ {table}, size = '1 in' }}").parts[0]
    assert isinstance(valve, ValvePart)
    assert valve.open == 0.5
    measured = valve.measured(bore=0.0254)
    assert measured is not None
    # K = 891 d^4/Cv^2, d in inches: crane-tp410, flow coefficient.
    assert measured[0] == pytest.approx((20 / 90, 40.0))
    assert measured[1] == pytest.approx((0.5, 891.0 / 36.0))


def assert_told(text: str) -> None:
    """A text is a plan, or its faults are told in a few words each."""
    faults: tuple[Fault, ...] | None = None
    try:
        read_text(text)
    except PlanError as error:
        faults = error.faults
    assert faults is None or faults
    assert all(fault.problem and len(str(fault)) < 1500 for fault in faults or ())


@settings(max_examples=150)
@given(st.data())
def test_no_spoilt_plan_raises_anything_but_a_plan_error(data: st.DataObject) -> None:
    text = PLAN
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        length = data.draw(st.integers(0, 12))
        scrap = data.draw(
            st.sampled_from(["", '"', "{", "]", "=", "\n", "9", "-", "[[", "like", ".", "''", "ü"])
        )
        text = text[:start] + scrap + text[start + length :]
    assert_told(text)


VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.sampled_from(
        ["", "x", "9 in", "120 gph", "-1 ft", "sump", "50 %", "k 3", "1 ft at 2 gph"]
    ),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["file", "pipe", "valve", "after", "k"]), inner, max_size=2
        )
    ),
    max_leaves=4,
)


def as_toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, list):
        return "[" + ", ".join(map(as_toml, value)) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {as_toml(inner)}" for key, inner in value.items()) + "}"
    return "'none'" if value is None else repr(value)


@settings(max_examples=200)
@given(st.sampled_from([line for line in PLAN.splitlines() if " = " in line]), VALUES)
def test_no_value_of_any_kind_raises_anything_but_a_plan_error(line: str, value: object) -> None:
    key = line.split(" = ", maxsplit=1)[0]
    if "{" in key:
        head, _, tail = line.rpartition(" = ")
        close = " }," if tail.rstrip().endswith("},") else " }"
        new = f"{head} = {as_toml(value)}{close if '}' in tail else ''}"
    else:
        new = f"{key} = {as_toml(value)}"
        if line.endswith("["):
            new += "\nrest = ["
    assert_told(PLAN.replace(line, new, 1))
