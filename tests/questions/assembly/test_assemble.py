"""Plumbing as it is put together: what a plan names, and what joining it takes."""

from __future__ import annotations

from pathlib import Path

import pytest

from balance.plan.model import Plan
from balance.plan.read import read, read_text
from balance.questions.assembly.assemble import assemble
from balance.questions.assembly.elements import Assembly, Line
from balance.questions.assembly.joints import joints_of, pairs
from balance.questions.assembly.pieces import pieces_of
from tests.questions.assembly.plans import MANIFOLD, PUMP, VESSELS, fitting, pipe, plan


def assembled(text: str) -> tuple[Plan, Assembly]:
    read = read_text(text)
    return read, assemble(read)


def kinds(line: Line) -> list[str]:
    return [element.kind for element in line.elements]


def line_of(assembly: Assembly, name: str) -> Line:
    return next(line for line in assembly.lines if line.name == name)


def test_a_header_implies_its_tees_an_elbow_and_a_cap() -> None:
    _, found = assembled(VESSELS + PUMP + MANIFOLD)
    assert kinds(line_of(found, "header")) == ["pipe", "tee", "pipe", "elbow 90"]
    assert kinds(line_of(found, "other header")) == ["pipe", "tee", "pipe", "cap"]
    tee = line_of(found, "header").elements[1]
    assert tee.side is not None
    assert (tee.begin.size.trade_size, tee.side.size.trade_size) == ("1 in", "3/4 in")


def test_lines_that_meet_take_a_tee_once() -> None:
    _, found = assembled(VESSELS + PUMP + MANIFOLD)
    (node,) = found.nodes
    assert (node.name, node.element.kind) == ("cross", "tee")
    assert node.lines == ("riser", "header", "other header")


def test_a_branch_hangs_on_the_side_of_its_tee() -> None:
    _, found = assembled(VESSELS + PUMP + MANIFOLD)
    reactor = line_of(found, "reactor")
    assert reactor.start is not None
    assert reactor.start.name == "tee of header"
    assert kinds(reactor) == ["pipe", "ball valve", "barb", "hose", "reactor", "hose"]
    short = reactor.elements[0]
    assert (short.begin.size.name, short.length) == ("3/4 in sch 40", 0.0)


def test_a_spare_is_capped() -> None:
    _, found = assembled(VESSELS + PUMP + MANIFOLD)
    assert kinds(line_of(found, "right")) == ["pipe", "ball valve", "pipe", "cap"]


def test_a_tee_of_lines_is_as_wide_as_the_widest() -> None:
    wide = MANIFOLD.replace(
        '"1 in sch 40", length = "10 in"', '"1 1/4 in sch 40", length = "10 in"'
    )
    _, found = assembled(VESSELS + PUMP + wide)
    (node,) = found.nodes
    assert node.element.begin.size.trade_size == "1 1/4 in"
    assert kinds(line_of(found, "header"))[:2] == ["bushing", "pipe"]
    assert kinds(line_of(found, "riser")) == ["union", "pipe", "reducer", "pipe"]


@pytest.mark.parametrize(("kind", "word"), [("wye 45", "wye 45"), ("tee", "tee")])
def test_a_joint_may_be_a_wye(kind: str, word: str) -> None:
    text = VESSELS + PUMP + MANIFOLD.replace('side = "riser"', f'side = "riser"\nkind = "{kind}"')
    assert assembled(text)[1].nodes[0].element.kind == word


def test_four_lines_take_a_cross() -> None:
    more = f'[[branches]]\nname = "fourth"\nfrom = "cross"\nto = "sump"\nparts = [{pipe("5 in")}]\n'
    text = VESSELS + PUMP + MANIFOLD.replace('[joints.cross]\nside = "riser"\n', "") + more
    assert assembled(text)[1].nodes[0].element.kind == "cross"


@pytest.mark.parametrize(
    ("at", "place", "kind"), [("reactor tap", 1, "cross"), ("left tap", 3, "tee")]
)
def test_a_line_from_a_tap_makes_more_of_its_fitting(at: str, place: int, kind: str) -> None:
    more = f'[[runs]]\nname = "more"\nfrom = "{at}"\nto = "tank"\nparts = [{pipe("5 in")}]\n'
    _, found = assembled(VESSELS + PUMP + MANIFOLD + more)
    assert kinds(line_of(found, "header"))[place] == kind
    start = line_of(found, "more").start
    assert start is not None
    assert start.name == f"{kind} of header"
    branch = line_of(found, at.removesuffix(" tap")).start
    assert branch is not None
    assert branch.name == start.name


def test_two_lines_that_meet_in_a_joint_are_coupled_once() -> None:
    run = (
        f'[[runs]]\nname = "first"\nfrom = "sump"\nto = "middle"\nparts = [{pipe("10 in")}]\n'
        f'[[branches]]\nname = "second"\nfrom = "middle"\nto = "tank"\nparts = [{pipe("20 in")}]\n'
    )
    read, found = assembled(plan(run, parts=pipe("5 in")))
    assert [kinds(line_of(found, name)) for name in ("first", "second")] == [
        ["pipe"],
        ["coupling", "pipe"],
    ]
    assert sum(joint.how == "cement" for joint in joints_of(found)) == 2
    first, second = (
        next(piece for piece in pieces_of(found, read) if piece.line == name)
        for name in ("first", "second")
    )
    assert first.depths[1] == second.depths[0]
    assert first.depths[1]


def test_threads_and_sockets_meet_by_adapters() -> None:
    thread = ', ends = "thread"'
    parts = pipe("5 in") + f'{{ valve = "ball", size = "1 in"{thread} }},\n' + fitting("elbow 90")
    _, found = assembled(plan(parts=parts))
    assert kinds(line_of(found, "return")) == [
        "pipe", "adapter", "ball valve", "adapter", "pipe", "elbow 90",
    ]  # fmt: skip
    assert [joint.how for joint in joints_of(found)] == [
        "cement", "thread", "thread", "cement", "cement",
    ]  # fmt: skip


def test_a_barb_is_made_to_suit_what_it_stands_in() -> None:
    def barb(ends: str) -> str:
        parts = (
            pipe("5 in")
            + f'{{ valve = "ball", size = "3/4 in"{ends} }},\n'
            + fitting("barb", "3/4 in", ', hose = "1/2 in"')
            + '{ hose = "1/2 in", length = "20 in" },\n'
        )
        line = line_of(assembled(plan(parts=parts))[1], "return")
        return next(e.begin.form for e in line.elements if e.kind == "barb")

    assert barb("") == "spigot"
    assert barb(', ends = "thread"') == "male thread"


def test_a_barb_stands_the_way_its_hose_does() -> None:
    parts = (
        '{ hose = "1/2 in", length = "20 in" },\n'
        + fitting("barb", "1/2 in", ', hose = "1/2 in"')
        + pipe("5 in", "1/2 in sch 40")
    )
    line = line_of(assembled(plan(parts=parts))[1], "return")
    barb = line.elements[1]
    assert (barb.begin.form, barb.finish.form) == ("barb", "socket")


def test_a_street_elbow_goes_straight_into_a_fitting() -> None:
    parts = pipe("5 in") + fitting("elbow 90") + fitting("street elbow 90") + pipe("5 in")
    line = line_of(assembled(plan(parts=parts))[1], "return")
    assert kinds(line) == ["pipe", "elbow 90", "street elbow 90", "pipe"]
    turned = pipe("5 in") + fitting("street elbow 90") + fitting("elbow 90") + pipe("5 in")
    line = line_of(assembled(plan(parts=turned))[1], "return")
    assert kinds(line) == ["pipe", "street elbow 90", "elbow 90", "pipe"]


def test_a_count_is_so_many_one_after_another() -> None:
    parts = (
        pipe("5 in") + fitting("elbow 90", more=", count = 3") + pipe("5 in", more=", count = 2")
    )
    line = line_of(assembled(plan(parts=parts))[1], "return")
    assert kinds(line) == [
        "pipe", "elbow 90", "pipe", "elbow 90", "pipe", "elbow 90", "pipe", "coupling", "pipe",
    ]  # fmt: skip


def test_pipe_longer_than_is_sold_is_coupled() -> None:
    read, found = assembled(plan(parts=fitting("union") + pipe("25 ft") + fitting("elbow 90")))
    line = line_of(found, "return")
    assert kinds(line) == ["union", "pipe", "coupling", "pipe", "coupling", "pipe", "elbow 90"]
    pieces = pieces_of(found, read)
    assert all(piece.cut is not None and piece.cut <= 120 * 0.0254 for piece in pieces)
    coupling = line.elements[2].begin
    assert coupling.depth is not None
    assert coupling.take_out is not None
    seen = sum(piece.visible or 0.0 for piece in pieces)
    whole = seen + 2 * 2.0 * (coupling.depth + coupling.take_out)
    assert whole == pytest.approx(25 * 0.3048, abs=1e-9)


def test_what_the_plan_names_least_tells_is_left_out() -> None:
    parts = '{ k = 3.0, bore = "25 mm" },\n' + pipe("5 in") + '{ outlet = "submerged" },\n'
    assert kinds(line_of(assembled(plan(parts=parts))[1], "return")) == ["pipe"]


@pytest.mark.parametrize("demo", ["lagoon.toml", "fish-room.toml"])
def test_everything_in_the_demo_goes_into_what_is_beside_it(demo: str) -> None:
    found = assemble(read(Path(__file__).parents[3] / "pump_curves_demo" / demo))
    forms = {
        frozenset({first.form, second.form})
        for line in found.lines
        for first, second in pairs(line)
        if first is not None and second is not None
    }
    assert forms <= {
        frozenset({"socket", "spigot"}),
        frozenset({"socket", "slips in"}),
        frozenset({"barb", "hose"}),
        frozenset({"fits", "hose"}),
        frozenset({"fits", "spigot"}),
        frozenset({"fits", "socket"}),
        frozenset({"own", "socket"}),
        frozenset({"own", "fits"}),
        frozenset({"own", "spigot"}),
    }
