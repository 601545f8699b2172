"""The drawing of the plumbing: all of a plan is on it, and nothing touches anything else."""

from __future__ import annotations

import io
import re
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import pypdf
import pytest

from balance.plan.read import read
from balance.questions.drains import drains
from balance.questions.flows import Flows, flows
from balance.show.pictures.canvas import Picture, text_width
from balance.show.pictures.plumbing import flows_of, plumbing
from balance.show.pictures.plumbing.layout import layout_of
from balance.show.pictures.plumbing.scheme import Gauge
from balance.show.pictures.plumbing.things import Layout, Words
from balance.units import SYSTEMS
from tests.show.pictures import plumbing_plans as plans

ROOT = Path(__file__).parents[3]
DEMOS = ["lagoon", "fish-room"]
PLANS = {
    **{f"{n} branches": plans.manifold(plans.numbered(n)) for n in (3, 8, 14, 25, 40)},
    "one header": plans.manifold(plans.numbered(9), sides=1),
    "hostile names": plans.manifold(plans.HOSTILE),
    "ring": plans.RING,
    "both ends": plans.BOTH_ENDS,
    "parallel pumps": plans.PARALLEL,
    "pumps in series": plans.SERIES,
    "loop": plans.LOOP,
    "suction": plans.SUCTION,
    "endless": plans.ENDLESS,
    "on the header": plans.ON_HEADER,
    "sections": plans.SECTIONS,
    **{f"random {seed}": plans.at_random(seed) for seed in range(5)},
}
Box = tuple[float, float, float, float]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("plans")


@cache
def answer(name: str, folder: Path) -> tuple[Flows, dict[str, float]]:
    file = ROOT / "pump_curves_demo" / f"{name}.toml"
    if name in PLANS:
        file = folder / f"{name}.toml"
        file.write_text(PLANS[name], encoding="utf-8")
    plan = read(file)
    drained = flows_of(drains(plan)) if plan.drains else {}
    return flows(plan), drained


def laid(name: str, folder: Path) -> Layout:
    return layout_of(*answer(name, folder))


def drawn(name: str, folder: Path) -> Picture:
    found = answer(name, folder)[0]
    return plumbing(found, drains(found.plan) if found.plan.drains else None)


def box(words: Words) -> Box:
    width = text_width(words.text, words.size, bold=words.bold)
    left = words.x - width * {"left": 0.0, "center": 0.5, "right": 1.0}[words.anchor]
    return left, words.y - 0.74 * words.size, left + width, words.y + 0.2 * words.size


def meet(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def lines(layout: Layout) -> list[Box]:
    """Boxes of pipes, walls, floors, leaders and of what stands on pipes."""
    found: list[Box] = []
    strokes = [(pipe.points, pipe.width / 2 + 1.5) for pipe in layout.pipes]
    strokes += [(rule.points, 0.5) for rule in layout.rules]
    for glass in layout.glasses:
        left, right = glass.left, glass.right
        strokes += [
            (((left, glass.rim), (left, glass.bottom)), 1.2),
            (((right, glass.rim), (right, glass.bottom)), 1.2),
            (((left, glass.bottom), (right, glass.bottom)), 1.2),
            (((left, glass.level), (right, glass.level)), 0.8),
        ]
    for points, half in strokes:
        for (x0, y0), (x1, y1) in pairwise(points):
            across, along = (half, 0.0) if x0 == x1 else (0.0, half)
            low, high = (min(x0, x1), min(y0, y1)), (max(x0, x1), max(y0, y1))
            found.append((low[0] - across, low[1] - along, high[0] + across, high[1] + along))
    found += [(d.x - 4.6, d.y - 26.0, d.x + 26.0, d.y + 4.6) for d in layout.dials]
    found += [(p.x - 20.0, p.y - 13.0, p.x + 20.0, p.y + 13.0) for p in layout.pumps]
    found += [(d.x - 20.0, d.y, d.x + 20.0, d.y + 48.0) for d in layout.devices]
    return found


@pytest.mark.parametrize("name", [*DEMOS, *PLANS])
def test_no_words_touch_one_another_or_a_line_or_leave_the_sheet(name: str, folder: Path) -> None:
    layout = laid(name, folder)
    boxes = [(words.text, box(words)) for words in layout.words]
    clashes = [(a, b) for (a, one), (b, two) in combinations(boxes, 2) if meet(one, two)]
    assert clashes == []
    drawn_lines = lines(layout)
    assert [text for text, at in boxes if any(meet(at, line) for line in drawn_lines)] == []
    for _, (left, top, right, bottom) in boxes:
        assert 0.0 < left < right < layout.width
        assert 0.0 < top < bottom < layout.height
    assert min(words.size for words in layout.words) >= 11.0


@pytest.mark.parametrize("name", [*DEMOS, *PLANS])
def test_handles_pumps_and_devices_keep_clear_of_one_another(name: str, folder: Path) -> None:
    layout = laid(name, folder)
    things = [(d.x - 4.6, d.y - 26.0, d.x + 26.0, d.y + 4.6) for d in layout.dials]
    things += [(p.x - 20.0, p.y - 13.0, p.x + 20.0, p.y + 13.0) for p in layout.pumps]
    things += [(d.x - 20.0, d.y, d.x + 20.0, d.y + 48.0) for d in layout.devices]
    assert not any(meet(one, two) for one, two in combinations(things, 2))
    upright = [
        (a[0], min(a[1], b[1]), max(a[1], b[1]))
        for pipe in layout.pipes
        for a, b in pairwise(pipe.points)
        if a[0] == b[0]
    ]
    for (x, low, high), (there, top, bottom) in combinations(upright, 2):
        assert abs(x - there) > 3.0 or high <= top + 1e-6 or bottom <= low + 1e-6


@pytest.mark.parametrize("name", [*DEMOS, *PLANS])
def test_everything_is_there_by_its_name(name: str, folder: Path) -> None:
    found = answer(name, folder)[0]
    told = drawn(name, folder).description
    plan = found.plan
    names = [*plan.vessels, *plan.pumps, *(header.name for header in plan.headers)]
    names += [each.name for each in (*plan.stretches(), *plan.weirs)]
    assert [each for each in names if each not in told] == []


@pytest.mark.parametrize("name", [*DEMOS, "8 branches", "ring", "loop"])
def test_numbers_are_those_of_the_answer(name: str, folder: Path) -> None:
    found, drained = answer(name, folder)
    system = SYSTEMS[found.plan.units]
    shown = [words.text for words in laid(name, folder).words]
    flowing = [branch.flow for branch in found.branches] + [duty.flow for duty in found.pumps]
    wanted = [system.text(flow, "flow") for flow in [*flowing, *drained.values()]]
    for text in set(wanted):
        assert shown.count(text) >= wanted.count(text)
    for branch in found.branches:
        if branch.valve:
            assert branch.mark in shown
    handles = sorted(round(dial.opening, 6) for dial in laid(name, folder).dials)
    for ref in found.plan.valves():
        assert round(ref.part.open, 6) in handles


def test_more_flow_is_wider_and_none_is_hollow(folder: Path) -> None:
    found, _ = answer("lagoon", folder)
    layout = laid("lagoon", folder)
    at = {round(dial.x, 3): dial.opening for dial in layout.dials}
    flowing = sorted(branch.flow for branch in found.branches if branch.flow > 0.0)
    widths = sorted(
        pipe.width
        for pipe in layout.pipes
        if round(pipe.points[0][0], 3) in at and pipe.depth == 0 and pipe.state == "wet"
    )
    assert len(set(widths)) >= len(set(flowing)) - 1
    shut = {x for x, opening in at.items() if opening == 0.0}
    hollow = [pipe for pipe in layout.pipes if round(pipe.points[0][0], 3) in shut]
    assert hollow
    assert all(pipe.state != "wet" for pipe in hollow if pipe.depth == 0)


def test_width_rises_with_flow() -> None:
    gauge = Gauge(most=1e-3)
    widths = [gauge.width(share * 1e-3) for share in (0.001, 0.01, 0.1, 0.5, 1.0)]
    assert widths == sorted(set(widths))
    assert gauge.state(0.0) == "dry"
    assert gauge.state(None) == "unknown"


def test_water_stands_true_to_its_height(folder: Path) -> None:
    layout = laid("fish-room", folder)
    upper = [glass for glass in layout.glasses if glass.level == layout.glasses[5].level]
    assert len(upper) == 3
    rooms = {(g.bottom - g.level) / (g.level - g.rim) for g in upper}
    assert all(room == pytest.approx(35.0 / 5.0) for room in rooms)


def test_names_are_escaped_and_whole_in_the_description(folder: Path) -> None:
    picture = drawn("hostile names", folder)
    inline = picture.inline("plumbing")
    assert "<script>" not in inline
    root = ET.fromstring(inline)  # noqa: S314  # our own
    words = root.find("{http://www.w3.org/2000/svg}desc")
    assert words is not None
    assert all(name in (words.text or "") for name in plans.HOSTILE)


def test_files_are_whole_and_the_same_twice(folder: Path) -> None:
    for kind in ("svg", "png", "pdf"):
        one, two = (drawn("loop", folder).as_file(kind) for _ in range(2))
        assert one == two
    picture = drawn("loop", folder)
    layout = laid("loop", folder)
    ET.fromstring(picture.as_file("svg"))  # noqa: S314  # our own
    png = picture.as_file("png")
    assert png.startswith(b"\x89PNG\r\n\x1a\n")
    size = int.from_bytes(png[16:20], "big"), int.from_bytes(png[20:24], "big")
    assert size == pytest.approx((layout.width * 2.5, layout.height * 2.5), abs=1.0)
    assert len(pypdf.PdfReader(io.BytesIO(picture.as_file("pdf"))).pages) == 1


def test_the_sheet_of_the_demo_is_no_wider_than_a_page(folder: Path) -> None:
    assert laid("lagoon", folder).width < 1120.0


def test_without_drains_answered_they_stand_without_figures(folder: Path) -> None:
    found, _ = answer("lagoon", folder)
    shown = [words.text for words in layout_of(found, {}).words]
    assert "lagoon siphon" in shown
    assert not re.search("gph", " ".join(shown[shown.index("lagoon siphon") + 1 :][:1]))
