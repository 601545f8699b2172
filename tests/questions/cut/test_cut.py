"""The cut list: what is seen, what goes in, what has no room, and how it goes together."""

from __future__ import annotations

from pathlib import Path

import pytest

from balance.parts.pipes import INCH
from balance.parts.pipes import pipe as size_of
from balance.parts.sockets import socket
from balance.plan.read import read, read_text
from balance.questions.assembly.pieces import Piece
from balance.questions.cut import Cut, cut
from tests.questions.assembly.plans import MANIFOLD, PUMP, VESSELS, fitting, pipe, plan

DEMO = Path(__file__).parents[3] / "pump_curves_demo"


def cut_of(text: str) -> Cut:
    return cut(read_text(text))


def inches(piece: Piece) -> tuple[float | None, float | None, float | None]:
    """Depth, cut and depth in inches."""
    values = (piece.depths[0], piece.cut, piece.depths[1])
    first, whole, last = (None if value is None else round(value / INCH, 4) for value in values)
    return first, whole, last


# How long ---------------------------------------------------------------------------------------


def test_a_piece_is_what_is_seen_and_what_goes_in() -> None:
    # astm-d2466: 7/8 in into a 1 in fitting of schedule 40; astm-d2467: 1 1/8 in into a valve.
    parts = fitting("elbow 90") + pipe("12 in") + '{ valve = "ball", size = "1 in" },\n'
    (piece,) = cut_of(plan(parts=parts)).pieces
    assert inches(piece) == (0.875, 14.0, 1.125)
    assert (piece.label, piece.before, piece.after) == ("return #1", "elbow 90", "ball valve")


@pytest.mark.parametrize("series", ["sch 40", "sch 80"])
@pytest.mark.parametrize(
    ("second", "cut_at"),
    [(fitting("elbow 90"), 14.0), ('{ check = "swing", size = "1 in" },\n', 13.75)],
    ids=["fitting", "check valve"],
)
def test_the_rule_of_thumb(series: str, second: str, cut_at: float) -> None:
    # About an inch goes into each fitting and about three quarters into a check valve, so that
    # 12 in between two fittings are cut at 14 in (common practice, no source); the rule speaks of
    # quarters of an inch.
    parts = fitting("elbow 90") + pipe("12 in", f"1 in {series}") + second
    (piece,) = cut_of(plan(parts=parts)).pieces
    assert piece.cut == pytest.approx(cut_at * INCH, abs=INCH / 4 + 1e-9)


def test_a_metric_piece_in_whole_millimetres() -> None:
    # iso-727: 0.5 dn + 6 mm.
    parts = (
        fitting("elbow 90", "32 mm")
        + pipe("30 cm", "32 mm PN10")
        + fitting("elbow 90", "32 mm")
        + pipe("20 cm", "32 mm PN10")
    )
    first, last = cut_of(plan(parts=parts, top='units = "metric"')).pieces
    assert first.cut == pytest.approx(0.300 + 2 * 0.022)
    assert last.cut == pytest.approx(0.200 + 0.022)
    assert last.depths[1] == 0.0
    assert last.after == ""


def test_what_the_plan_measured_comes_before_the_table() -> None:
    parts = fitting("elbow 90", more=', socket = "1 1/4 in"') + pipe("10 in")
    (piece,) = cut_of(plan(parts=parts)).pieces
    assert inches(piece) == (1.25, 11.25, 0.0)


def test_pipe_with_threads_goes_in_as_far_as_threads_do() -> None:
    elbow = fitting("elbow 90", more=', ends = "thread"')
    parts = elbow + pipe("10 in", "1 in sch 80", ', ends = "thread"') + elbow
    answer = cut_of(plan(parts=parts))
    (piece,) = answer.pieces
    assert piece.threaded
    assert piece.depths[0] is not None
    assert 0.4 * INCH < piece.depths[0] < 0.75 * INCH  # asme-b1.20.1: hand tight to effective
    assert answer.lengths == ()


def test_where_nothing_tells_nothing_is_said() -> None:
    parts = pipe("10 in", "25 mm bore") + '{ fitting = "elbow 90" },\n' + pipe("9 in", "25 mm bore")
    answer = cut_of(plan(parts=parts))
    assert [piece.cut for piece in answer.pieces] == [None, None]
    (lengths,) = answer.lengths
    assert lengths.packing is None
    assert lengths.untold == answer.pieces


@pytest.mark.parametrize("demo", ["lagoon.toml", "fish-room.toml"])
def test_each_piece_adds_up_to_a_mark_of_the_tape(demo: str) -> None:
    answer = cut(read(DEMO / demo))
    assert len(answer.pieces) > 15
    for piece in answer.pieces:
        assert piece.cut is not None
        assert piece.visible is not None
        first, last = piece.depths
        assert first is not None
        assert last is not None
        assert piece.cut == pytest.approx(piece.visible + first + last, abs=answer.mark / 2 + 1e-9)
        assert piece.cut / answer.mark == pytest.approx(round(piece.cut / answer.mark), abs=1e-6)


@pytest.mark.parametrize("demo", ["lagoon.toml", "fish-room.toml"])
def test_each_piece_is_cut_once(demo: str) -> None:
    answer = cut(read(DEMO / demo))
    out_of_lengths = [
        lengths.pieces[at].label
        for lengths in answer.lengths
        if lengths.packing is not None
        for stick in lengths.packing.sticks
        for at in stick.pieces
    ]
    assert sorted(out_of_lengths) == sorted(piece.label for piece in answer.pieces)
    for lengths in answer.lengths:
        assert lengths.packing is not None
        for stick in lengths.packing.sticks:
            used = sum(lengths.pieces[at].cut or 0.0 for at in stick.pieces)
            assert used + (len(stick.pieces) - 1) * answer.kerf <= stick.length + 1e-9


# From centre to centre --------------------------------------------------------------------------

CENTRES = 'measured = "centre"'


def told(kind: str, take_out: str, sockets: str = "7/8 in") -> str:
    return fitting(kind, more=f', take_out = "{take_out}", socket = "{sockets}"')


def test_a_piece_between_centres() -> None:
    # 20 in from centre to centre, 11/16 in of each to the bottom of its socket.
    parts = told("elbow 90", "11/16 in") + pipe("20 in") + told("elbow 90", "11/16 in")
    (piece,) = cut_of(plan(parts=parts, top=CENTRES)).pieces
    assert piece.cut == pytest.approx((20 - 2 * 11 / 16) * INCH)
    assert piece.visible == pytest.approx((20 - 2 * (11 / 16 + 7 / 8)) * INCH)
    assert piece.centres == pytest.approx(20 * INCH)


def test_the_end_in_the_water_is_measured_to_its_edge() -> None:
    parts = told("elbow 90", "11/16 in") + pipe("20 in")
    (piece,) = cut_of(plan(parts=parts, top=CENTRES)).pieces
    assert piece.cut == pytest.approx((20 - 11 / 16) * INCH)


def test_both_ways_of_measuring_give_one_piece() -> None:
    def text(length: str, top: str) -> str:
        parts = told("elbow 90", "1/2 in") + pipe(length) + told("union", "3/4 in", "1 1/8 in")
        return plan(parts=parts, top=top)

    (seen,) = cut_of(text("10 in", "")).pieces
    centres = 10 + 1 / 2 + 7 / 8 + 3 / 4 + 1 + 1 / 8
    (by_centres,) = cut_of(text(f"{centres} in", CENTRES)).pieces
    assert by_centres.cut == pytest.approx(seen.cut)
    assert by_centres.visible == pytest.approx(10 * INCH)
    assert by_centres.depths == seen.depths


def test_pipe_longer_than_is_sold_keeps_its_centres() -> None:
    parts = told("elbow 90", "11/16 in") + pipe("15 ft") + told("elbow 90", "11/16 in")
    pieces = cut_of(plan(parts=parts, top=CENTRES)).pieces
    assert sum(piece.centres or 0.0 for piece in pieces) == pytest.approx(15 * 0.3048)
    assert len(pieces) == 2
    just = parts.replace("15 ft", "121 in")
    assert len(cut_of(plan(parts=just, top=CENTRES)).pieces) == 1  # 119 5/8 in are cut


def test_an_estimate_is_named() -> None:
    parts = fitting("union") + pipe("20 in") + fitting("elbow 90")
    assert cut_of(plan(parts=parts, top=CENTRES)).estimates == ("union",)
    assert cut_of(plan(parts=parts)).estimates == ()


def test_no_room_between_two_sockets() -> None:
    # Centres 2 in apart, of which each elbow takes 11/16 + 7/8 in: 1 1/8 in too near.
    parts = told("elbow 90", "11/16 in") + pipe("2 in") + told("elbow 90", "11/16 in")
    answer = cut_of(plan(parts=parts, top=CENTRES))
    (tight,) = answer.tight
    assert not answer.fits
    assert tight.short == pytest.approx(1.125 * INCH)
    assert tight.least_centres == pytest.approx(3.125 * INCH)
    assert tight.elbow
    enough = parts.replace('"2 in"', '"3 1/8 in"')
    assert cut_of(plan(parts=enough, top=CENTRES)).fits


def test_an_adapter_that_the_plan_does_not_name_is_no_centre() -> None:
    threaded = fitting("elbow 90", more=', take_out = "1 in", ends = "thread"')
    parts = threaded + pipe("20 in") + told("elbow 90", "11/16 in")
    (piece,) = cut_of(plan(parts=parts, top=CENTRES)).pieces
    assert piece.cut is None


def test_the_side_of_a_reducing_tee_is_no_nearer_than_its_run() -> None:
    narrow = (
        VESSELS
        + PUMP
        + MANIFOLD.replace(
            '{ valve = "ball", size = "3/4 in" },', '{ pipe = "3/4 in sch 40", length = "9 in" },'
        )
    )
    piece = next(p for p in cut_of(f"{CENTRES}\n{narrow}").pieces if p.label == "reactor #1")
    assert piece.estimated == ("tee",)


def test_room_is_judged_before_depths_are_rounded() -> None:
    # 3/4 in elbows of astm-d2466: 9/16 in and 0.719 in each, 2 9/16 in from centre to centre.
    elbow = fitting("elbow 90", "3/4 in", ', take_out = "9/16 in", socket = "0.719 in"')
    parts = elbow + pipe("2 9/16 in", "3/4 in sch 40") + elbow
    assert cut_of(plan(parts=parts, top=CENTRES)).fits


def test_what_has_no_room_is_not_cut() -> None:
    parts = (
        told("elbow 90", "11/16 in") + pipe("2 in") + told("elbow 90", "11/16 in") + pipe("9 in")
    )
    answer = cut_of(plan(parts=parts, top=CENTRES))
    (lengths,) = answer.lengths
    assert [piece.label for piece in lengths.pieces] == ["return #2"]
    assert [piece.label for piece in lengths.untold] == ["return #1"]


def test_a_centre_that_nothing_tells_is_asked_for() -> None:
    parts = told("elbow 90", "11/16 in") + pipe("20 in") + fitting("sweep 90") + pipe("20 in")
    answer = cut_of(plan(parts=parts, top=CENTRES))
    assert [piece.cut for piece in answer.pieces] == [None, None]
    assert None not in answer.pieces[0].depths


def test_a_check_valve_with_unions_has_sockets_as_a_valve_has() -> None:
    parts = '{ check = "swing", size = "1 in", true_union = true },\n' + pipe("5 in")
    (piece,) = cut_of(plan(parts=parts)).pieces
    assert piece.depths[0] == pytest.approx(1.125 * INCH)


def test_a_union_in_no_room_takes_no_street_elbow() -> None:
    parts = told("union", "1 in") + pipe("2 in") + told("coupling", "1/8 in")
    (tight,) = cut_of(plan(parts=parts, top=CENTRES)).tight
    assert not tight.elbow


# What holds it up -------------------------------------------------------------------------------


def test_clamps_go_by_the_length_of_each_line() -> None:
    # pvc-makers: 1 in schedule 40 at 80 degF, every 5 ft; 12 ft take three, 9 in one.
    water = '[water]\ntemperature = "80 degF"\n'
    parts = pipe("9 ft") + fitting("elbow 90") + pipe("3 ft")
    run = f'[[runs]]\nname = "r"\nfrom = "sump"\nto = "tank"\nparts = [{pipe("9 in")}]\n'
    (held,) = cut_of(plan(water, run, parts=parts)).held
    assert held.spacing is not None
    assert held.spacing.length == pytest.approx(5 * 0.3048)
    assert held.clamps == 3 + 1
    assert held.seen == pytest.approx(12.75 * 0.3048)


def test_warm_water_wants_more_clamps() -> None:
    def every(temperature: str) -> float:
        water = f'[water]\ntemperature = "{temperature}"\n'
        (held,) = cut_of(plan(water, parts=pipe("30 in"))).held
        assert held.spacing is not None
        assert held.span_weight is not None
        assert held.weight is not None
        assert held.span_weight == pytest.approx(held.spacing.length * held.weight)
        return held.spacing.length

    assert every("60 degF") > every("80 degF") > every("100 degF")


# The dry-fit sheet ------------------------------------------------------------------------------


def steps(answer: Cut, line: str) -> list[str]:
    walk = next(walk for walk in answer.sheet.walks if walk.line == line)
    return [step.thing for step in walk.steps]


def test_a_line_goes_together_in_order_of_the_water() -> None:
    answer = cut_of(VESSELS + PUMP + MANIFOLD)
    assert steps(answer, "riser") == ["union", "riser #1", "tee at cross"]
    assert steps(answer, "header") == ["header #1", "tee", "header #2", "elbow 90"]
    riser = answer.sheet.walks[0]
    assert [step.stays_open for step in riser.steps] == [True, False, False]
    assert [step.how for step in riser.steps] == [None, "cement", "cement"]
    assert (riser.start, riser.stop) == ("pump main", "tee at cross")


def test_what_looks_a_way_is_marked() -> None:
    answer = cut_of(VESSELS + PUMP + MANIFOLD)
    aimed = {step.thing for walk in answer.sheet.walks for step in walk.steps if step.aim}
    assert aimed == {"tee", "elbow 90", "ball valve", "gate valve"}


def test_a_line_between_two_fixed_ends_says_which_joint_is_last() -> None:
    wall = fitting("bulkhead")
    parts = wall + pipe("10 in") + fitting("elbow 90") + pipe("10 in") + wall
    run = f'[[runs]]\nname = "r"\nfrom = "sump"\nto = "tank"\nparts = [{parts}]\n'
    walk = next(w for w in cut_of(plan(run, parts=pipe("5 in"))).sheet.walks if w.line == "r")
    assert walk.tied
    assert [step.glued_last for step in walk.steps] == [False] * 4 + [True]
    loose = run.replace(
        '{ fitting = "elbow 90"', '{ fitting = "union", size = "1 in" }, { fitting = "elbow 90"'
    )
    walk = next(w for w in cut_of(plan(loose, parts=pipe("5 in"))).sheet.walks if w.line == "r")
    assert not walk.tied
    assert not any(step.glued_last for step in walk.steps)


def test_a_ring_is_closed_by_the_joint_that_is_glued_last() -> None:
    sides = "".join(
        f'[[runs]]\nname = "{name}"\nfrom = "foot"\nto = "end"\nparts = [{parts}]\n'
        for name, parts in (("near", pipe("9 in")), ("far", pipe("9 in")))
    )
    ring = plan(sides, parts=pipe("5 in")).replace(
        'from = "foot"\nto = "tank"', 'from = "end"\nto = "tank"'
    )
    tied = {walk.line: walk.tied for walk in cut_of(ring).sheet.walks}
    assert tied == {"near": True, "far": True, "return": False}
    loose = ring.replace(f"[{pipe('9 in')}]", f"[{pipe('9 in')}{fitting('union')}]", 1)
    assert not any(walk.tied for walk in cut_of(loose).sheet.walks)


def test_what_unions_and_hoses_part_is_glued_apart() -> None:
    answer = cut_of(VESSELS + PUMP + MANIFOLD)
    # The union ends at the pump; the rest hangs together by the cross. A hose parts the reactor.
    (body,) = answer.sheet.bodies
    assert body.lines == ("riser", "header", "other header", "reactor", "left", "right")
    assert body.pieces == len(answer.pieces)
    assert not body.in_place
    tap = 'branch = "left", after = "5 in",'
    union = MANIFOLD.replace(tap, f'{tap} parts = [{{ fitting = "union" }}],')
    bodies = cut_of(VESSELS + PUMP + union).sheet.bodies
    assert [body.lines for body in bodies] == [
        ("riser", "header", "other header", "reactor", "right"),
        ("header", "left"),
    ]


def test_what_goes_through_a_wall_is_glued_there() -> None:
    drain = (
        '[[drains]]\nname = "d"\nfrom = "tank"\nto = "sump"\n'
        f"parts = [{fitting('bulkhead')}{pipe('20 in')}]\n"
    )
    bodies = cut_of(plan(drain, parts=pipe("5 in"))).sheet.bodies
    assert [(body.lines, body.in_place) for body in bodies] == [
        (("return",), False),
        (("d",), True),
    ]


def test_how_long_glue_takes_is_that_of_the_largest_joint() -> None:
    small = cut_of(plan(parts=fitting("elbow 90") + pipe("5 in"))).sheet
    wide = cut_of(plan(parts=fitting("elbow 90", "2 in") + pipe("5 in", "2 in sch 40"))).sheet
    assert (small.cure_size, wide.cure_size) == ("1 in", "2 in")
    assert small.cure is not None
    assert wide.cure is not None
    assert wide.cure.set >= small.cure.set
    assert wide.cure.cure >= small.cure.cure


def test_the_sockets_of_the_table_are_those_of_the_parts() -> None:
    found = socket(size_of("1 in sch 40"), body="valve")
    assert found is not None
    assert found.depth == pytest.approx(1.125 * INCH, abs=INCH / 32)
