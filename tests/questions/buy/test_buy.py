"""The shopping list: counted by hand, with spares, prices, and what was forgotten."""

from __future__ import annotations

import io
from collections import Counter
from pathlib import Path

import pytest

from balance.plan.model import FittingPart, ValvePart
from balance.plan.prices import read_prices
from balance.plan.read import read, read_text
from balance.questions.buy import Buy, buy
from balance.questions.buy.count import spares
from tests.questions.assembly.plans import MANIFOLD, PUMP, VESSELS, fitting, pipe, plan

DEMO = Path(__file__).parents[3] / "pump_curves_demo"


def bought(text: str) -> Buy:
    return buy(read_text(text))


def counts(answer: Buy) -> dict[str, int]:
    return {item.label: item.counted for item in answer.items}


def test_a_manifold_counted_by_hand() -> None:
    # Riser: a union. At the cross a tee. Header: tee 1 x 3/4 and an elbow. The other header: a tee
    # whose end is capped. Reactor: valve, barb, two hoses of 30 in. Left: gate. Right: valve, cap.
    found = counts(bought(VESSELS + PUMP + MANIFOLD))
    assert found == {
        "ball valve, 3/4 in": 1,
        "barb, 3/4 in x 1/2 in hose, spigot": 1,
        "ball valve, 1 in": 1,
        "cap, 1 in sch 40": 2,
        "elbow 90, 1 in sch 40": 1,
        "gate valve, 1 in": 1,
        "tee, 1 in sch 40": 2,
        "tee, 1 x 3/4 in sch 40": 1,
        "union, 1 in": 1,
        "union seal, 1 in": 0,
        "10 ft pipe, 3/4 in sch 40": 1,
        "10 ft pipe, 1 in sch 40": 1,
        "hose, 1/2 in": 5,
        "PVC solvent cement, 8 fl oz": 1,
        "PVC primer or cleaner, 4 fl oz": 1,
        "hose clamp, for 1/2 in hose": 3,
        "pipe clamp, 1 in": 4,
        "reactor": 1,
        "pump main": 1,
    }


@pytest.mark.parametrize("demo", ["lagoon.toml", "fish-room.toml"])
def test_every_part_that_a_plan_names_is_on_the_list(demo: str) -> None:
    read_plan = read(DEMO / demo)
    named: Counter[str] = Counter()
    parts = [part for stretch in read_plan.stretches() for part in stretch.parts]
    parts += [part for header in read_plan.headers for tap in header.taps for part in tap.parts]
    for part in parts:
        if isinstance(part, FittingPart):
            named[part.fitting] += part.count
        elif isinstance(part, ValvePart):
            named[f"{part.valve} valve"] += part.count
    listed: Counter[str] = Counter()
    for item in buy(read_plan).items:
        listed[item.kind] += item.counted - item.implied
    for header in read_plan.headers:
        for tap in header.taps:  # what a tap says of itself, without naming a part
            if tap.branch is not None:
                named["elbow 90" if tap.end == "elbow" else "tee"] += 1
    assert {kind: listed[kind] for kind in named} == named
    assert named.total() > 20


def test_bags_go_by_size_then_kind() -> None:
    items = buy(read(DEMO / "lagoon.toml")).items
    bags = list(dict.fromkeys(item.bag for item in items))
    assert bags == [
        "1/2 in", "3/4 in", "1 in", "1 1/4 in", "2 in",
        "pipe", "hose", "to join and hold it", "equipment",
    ]  # fmt: skip
    for bag in bags[:5]:
        kinds = [item.kind for item in items if item.bag == bag]
        assert kinds == sorted(kinds)
    assert len({item.label for item in items}) == len(items)


@pytest.mark.parametrize(
    ("kind", "number", "share", "more"),
    [
        ("elbow 90", 1, 0.2, 1),
        ("elbow 90", 9, 0.2, 1),
        ("elbow 90", 10, 0.2, 2),
        ("tee", 4, 0.2, 1),
        ("coupling", 0, 0.2, 1),
        ("cap", 4, 0.2, 0),
        ("cap", 5, 0.2, 1),
        ("cap", 15, 0.2, 3),
        ("elbow 45", 3, 0.0, 0),
    ],
)
def test_spares_are_one_in_five_and_one_of_each_that_breaks_a_day(
    kind: str, number: int, share: float, more: int
) -> None:
    assert spares(kind, number, share=share) == more


def test_valves_and_devices_are_bought_as_counted() -> None:
    items = buy(read(DEMO / "lagoon.toml")).items
    assert all(
        item.spare == 0
        for item in items
        if "valve" in item.kind or item.bag in ("equipment", "pipe", "hose")
    )
    assert next(item for item in items if item.label == "tee, 1 x 3/4 in sch 40").spare == 1


def test_threads_and_sockets_are_kept_apart() -> None:
    parts = (
        pipe("5 in")
        + fitting("elbow 90")
        + pipe("5 in")
        + fitting("elbow 90", more=', ends = ["socket", "thread"]')
        + fitting("elbow 90", more=', ends = "thread"')
    )
    found = counts(bought(plan(parts=parts)))
    assert found["elbow 90, 1 in sch 40"] == 1
    assert found["elbow 90, 1 in sch 40, socket x thread"] == 1
    assert found["elbow 90, 1 in sch 40, thread"] == 1
    assert found["close nipple, 1 in, male thread"] == 1
    assert found["thread tape, roll"] == 1


def test_schedules_are_kept_apart() -> None:
    parts = (
        pipe("5 in", "1 in sch 80") + '{ fitting = "elbow 90" },\n' + pipe("5 in", "1 in sch 80")
    )
    found = counts(bought(plan(parts=parts)))
    assert found["elbow 90, 1 in sch 80"] == 1


def test_a_true_union_valve_needs_no_union_and_has_two_seals() -> None:
    plain = bought(plan(parts=pipe("5 in") + '{ valve = "ball", size = "1 in" },\n'))
    true = bought(
        plan(parts=pipe("5 in") + '{ valve = "ball", size = "1 in", true_union = true },\n')
    )
    assert [lack.where for lack in plain.lacks] == ["pump main", "ball valve of return"]
    assert true.lacks == ()
    assert true.seals == (("1 in", 2),)
    assert counts(true)["true-union ball valve, 1 in"] == 1


# Prices -----------------------------------------------------------------------------------------

PRICED = plan(
    '[power]\ncurrency = "EUR"\n[shop]\n'
    'prices = { "elbow 90, 1 in" = 1.5, "10 ft pipe, 1 in" = 8 }\n',
    parts=pipe("5 in") + fitting("elbow 90", more=", count = 2") + pipe("5 in"),
)


def test_prices_are_summed_spares_among_them() -> None:
    answer = bought(PRICED)
    assert answer.total == 3 * 1.5 + 8  # two elbows and a spare, one length of pipe
    assert answer.currency == "EUR"
    assert answer.unpriced == len(answer.items) - 2


def test_a_price_list_comes_before_the_plan_and_says_what_it_has_too_many() -> None:
    answer = buy(
        read_text(PRICED), prices={"ELBOW 90, 1 in sch 40": 2.0, "elbow 45, 1 in sch 40": 9.0}
    )
    elbow = next(item for item in answer.items if item.kind == "elbow 90")
    assert elbow.cost == 6.0
    assert answer.unknown_prices == ('"elbow 45, 1 in sch 40" (nearest: "elbow 90, 1 in sch 40")',)


def test_the_list_filled_in_is_a_price_list(tmp_path: Path) -> None:
    frame = buy(read(DEMO / "fish-room.toml")).to_frame()
    frame["price"] = range(1, len(frame) + 1)
    path = tmp_path / "prices.csv"
    path.write_text(frame.to_csv(index=False), encoding="utf-8")
    answer = buy(read(DEMO / "fish-room.toml"), prices=read_prices(path))
    assert [item.price for item in answer.items] == list(frame["price"])
    assert answer.unknown_prices == ()
    assert answer.total == sum(frame["price"] * frame["buy"])


def test_a_price_list_may_stand_beside_the_plan(tmp_path: Path) -> None:
    (tmp_path / "shop.csv").write_text('item,price\nunion,\n"elbow 90, 1 in",2\n', encoding="utf-8")
    text = PRICED.replace('{ "elbow 90, 1 in" = 1.5, "10 ft pipe, 1 in" = 8 }', '"shop.csv"')
    answer = buy(read_text(text, folder=tmp_path))
    assert answer.total == 6.0


# Length of things -------------------------------------------------------------------------------


def test_pipe_at_hand_is_not_bought() -> None:
    text = plan('[shop]\noffcuts = { "1 in sch 40" = ["20 in"] }\n', parts=pipe("15 in"))
    assert "10 ft pipe, 1 in sch 40" not in counts(bought(text))
    text = text.replace("15 in", "30 in")
    assert counts(bought(text))["10 ft pipe, 1 in sch 40"] == 1


def test_pipe_is_bought_in_the_lengths_that_are_sold() -> None:
    text = plan(
        '[shop]\nstock = ["5 ft"]\n', parts=pipe("50 in") + fitting("elbow 90") + pipe("50 in")
    )
    assert counts(bought(text))["5 ft pipe, 1 in sch 40"] == 2
    metric = plan(parts=pipe("150 cm", "32 mm PN10"), top='units = "metric"')
    assert counts(bought(metric))["2 m pipe, 32 mm PN10"] == 1


def test_threaded_pipe_is_bought_by_its_length() -> None:
    parts = (
        fitting("elbow 90", more=', ends = "thread"')
        + pipe("6 in", "1 in sch 80", ', ends = "thread"')
        + fitting("elbow 90", more=', ends = "thread"')
    )
    found = counts(bought(plan(parts=parts)))
    (label,) = [label for label in found if label.startswith("threaded pipe")]
    assert label.endswith("1 in sch 80, male thread")
    assert not any(label.startswith("10 ft pipe") for label in found)


def test_threads_are_looked_at() -> None:
    elbow = fitting("elbow 90", more=', ends = "thread"')

    def said(series: str) -> str:
        piece = pipe("6 in", f"1 in {series}", ', ends = "thread"')
        return " ".join(bought(plan(parts=elbow + piece + elbow)).look_at)

    assert "all threads are of one standard" in said("sch 80")
    assert "too thin" not in said("sch 80")
    assert "a thread on 1 in sch 40: its wall is too thin" in said("sch 40")
    assert "threads" not in " ".join(bought(plan(parts=SOUND)).look_at)


def test_hose_is_bought_by_the_foot_or_the_metre() -> None:
    parts = (
        fitting("barb", "1/2 in", ', hose = "1/2 in"') + '{ hose = "1/2 in", length = "25 in" },\n'
    )
    us = next(item for item in bought(plan(parts=parts)).items if item.kind == "hose")
    assert (us.counted, us.unit) == (3, "ft")
    metric = bought(plan(parts=parts, top='units = "metric"'))
    assert next((i.counted, i.unit) for i in metric.items if i.kind == "hose") == (1, "m")


# Forgotten --------------------------------------------------------------------------------------

DRAIN = """\
[[drains]]
name = "floor drain"
from = "tank"
to = "outside"
role = "change"
parts = [
  { fitting = "bulkhead", size = "1 in" },
  { valve = "ball", size = "1 in", open = "shut", true_union = true },
  { outlet = "free", height = "0 in" },
]
"""


def lacks(text: str) -> list[tuple[str, str]]:
    return [(lack.what, lack.where) for lack in bought(text).lacks]


SOUND = fitting("union") + pipe("5 in")


def test_a_drain_that_empties_the_system_has_two_valves() -> None:
    assert lacks(plan(DRAIN, parts=SOUND)) == [("second valve", "floor drain")]
    second = '  { valve = "gate", size = "1 in", locked = true },\n  { outlet'
    assert lacks(plan(DRAIN.replace("  { outlet", second), parts=SOUND)) == []


def test_a_drain_goes_through_a_bulkhead() -> None:
    text = plan(DRAIN.replace('  { fitting = "bulkhead", size = "1 in" },\n', ""), parts=SOUND)
    assert ("bulkhead", "floor drain") in lacks(text)


def test_a_pump_has_a_union() -> None:
    assert lacks(plan(parts=SOUND)) == []
    assert lacks(plan(parts=pipe("5 in"))) == [("union", "pump main")]
    hose = (
        fitting("barb", "1/2 in", ', hose = "1/2 in"') + '{ hose = "1/2 in", length = "5 in" },\n'
    )
    assert lacks(plan(parts=hose)) == []


def test_a_union_beyond_a_tee_does_not_free_the_pump() -> None:
    beyond = MANIFOLD.replace('{ fitting = "union", size = "1 in" }, ', "").replace(
        'parts = [{ valve = "gate", size = "1 in" },',
        'parts = [{ fitting = "union", size = "1 in" }, { valve = "gate", size = "1 in" },',
    )
    assert ("union", "pump main") in lacks(VESSELS + PUMP + beyond)
    assert ("union", "pump main") not in lacks(VESSELS + PUMP + MANIFOLD)


@pytest.mark.parametrize(
    ("before", "behind", "said"),
    [
        (fitting("union"), fitting("union"), None),
        (fitting("union"), "", "behind it"),
        ("", fitting("union"), "before it"),
        ("", "", "before and behind it"),
    ],
)
def test_a_device_comes_out_on_both_sides(before: str, behind: str, said: str | None) -> None:
    # The first union frees the pump; the other device keeps it from freeing the second one.
    device = '{ device = "chiller", drop = "1 ft at 100 gph" },\n'
    first = SOUND + device.replace("chiller", "heater") + pipe("5 in") + fitting("union")
    parts = (
        first + pipe("5 in") + device.replace("chiller", "lamp") + before + pipe("2 in") + device
    )
    last = (
        '[[runs]]\nname = "last"\nfrom = "end"\nto = "tank"\n'
        'parts = [{ fitting = "bulkhead", size = "1 in" }]\n'
    )
    text = plan(last, parts=parts + pipe("3 in") + behind, end="end")
    found = [where for _, where in lacks(text) if where.startswith("chiller")]
    assert found == ([] if said is None else [f'chiller of "return", {said}'])


def test_a_hose_does_not_free_a_valve_from_its_tee() -> None:
    found = [where for _, where in lacks(VESSELS + PUMP + MANIFOLD)]
    assert "ball valve of reactor" in found
    true = MANIFOLD.replace(
        '{ valve = "ball", size = "3/4 in" }',
        '{ valve = "ball", size = "3/4 in", true_union = true }',
    )
    assert not any("of reactor" in where for _, where in lacks(VESSELS + PUMP + true))


def test_a_header_comes_out_in_one_piece() -> None:
    found = [where for _, where in lacks(VESSELS + PUMP + MANIFOLD) if "header" in where]
    assert found == ["header, where it begins", "other header, where it begins"]


def test_what_nothing_tells_is_to_be_looked_at() -> None:
    parts = (
        pipe("10 in", "25 mm bore") + '{ fitting = "elbow 90" },\n' + pipe("10 in", "25 mm bore")
    )
    said = " ".join(bought(plan(parts=parts)).look_at)
    assert "how far pipe goes into its fittings (25 mm bore)" in said
    assert "the outlet of each pump (main)" in said


def test_the_table_has_a_row_for_each_kind() -> None:
    answer = buy(read(DEMO / "lagoon.toml"))
    text = answer.to_frame().to_csv(index=False)
    assert len(io.StringIO(text).readlines()) == len(answer.items) + 1


def test_pipe_that_is_not_cemented_takes_no_cement() -> None:
    pe = pipe("20 in", "1 in SDR 11 PE")
    answer = bought(plan(parts=pe + '{ fitting = "elbow 90" },\n' + pe))
    assert answer.glue == ()
    assert any("1 in SDR 11 PE" in said and "no cement" in said for said in answer.look_at)


def test_what_loses_head_without_a_name_is_told() -> None:
    text = plan(parts=pipe("5 in") + '{ k = 3, bore = "20 mm" },\n')
    assert any("what loses head in return" in said for said in bought(text).look_at)


def test_clamps_of_one_size_are_counted_together() -> None:
    parts = pipe("20 in") + fitting("elbow 90") + pipe("20 in", "1 in sch 80")
    assert counts(bought(plan(parts=parts)))["pipe clamp, 1 in"] == 2


def test_cemented_joints_counted_by_hand() -> None:
    # Fish room. Riser: three pieces, 6; upper riser: 2; each header: four pieces, 8. Feeds 1 to 3:
    # two short pieces, the pipe behind the union and the barb on it, 6 each; feeds 4 to 6: a short
    # piece and the barb in the valve, 3 each. Six standpipes with one elbow each.
    (glue,) = buy(read(DEMO / "fish-room.toml")).glue
    assert glue.joints == 6 + 2 + 2 * 8 + 3 * 6 + 3 * 3 + 6


def test_pipe_by_its_nominal_bore_is_bought_as_any() -> None:
    found = counts(
        bought(plan(parts=fitting("elbow 90") + pipe("9 in", "1 in sch 40 nominal bore")))
    )
    assert found["elbow 90, 1 in sch 40"] == 1


def test_pipe_that_is_not_on_the_list_is_told() -> None:
    tight = fitting("elbow 90") + pipe("1 in") + fitting("elbow 90")
    said = " ".join(bought(plan(parts=tight, top='measured = "centre"')).look_at)
    assert "pipe for return #1 is NOT on this list" in said


def test_two_plastics_and_two_systems_of_sizes_are_told() -> None:
    def said(series: str) -> str:
        return " ".join(
            bought(plan(parts=pipe("9 in") + fitting("union") + pipe("9 in", series))).look_at
        )

    assert "two plastics meet in return" in said("1 in sch 80 CPVC")
    assert "inch meets metric in return" in said("32 mm PN10")
    assert "meet" not in said("1 in sch 80")


def test_the_suction_of_a_pump_has_a_union_too() -> None:
    suction = '[[runs]]\nname = "s"\nfrom = "sump"\nto = "draw"\nparts = [{}]\n'
    text = plan(suction.format(pipe("5 in")), parts=SOUND).replace(
        'from = "sump"\nto = "foot"', 'from = "draw"\nto = "foot"'
    )
    assert ("union", "suction of pump main") in lacks(text)
    assert lacks(text.replace(suction.format(pipe("5 in")), suction.format(SOUND))) == []


def test_a_valve_between_hoses_comes_out() -> None:
    barb = fitting("barb", "1/2 in", ', hose = "1/2 in"')
    hose = '{ hose = "1/2 in", length = "9 in" },\n'
    valve = '{ valve = "ball", size = "1/2 in" },\n'
    found = lacks(plan(parts=hose + barb + valve + barb + hose))
    assert not any("ball valve" in where for _, where in found)


def test_a_hose_on_the_barb_of_a_pump_has_its_clamp() -> None:
    hose = '{ hose = "1/2 in", length = "9 in" },\n'
    barb = fitting("barb", "1/2 in", ', hose = "1/2 in"')
    found = counts(bought(plan(parts=hose + barb + pipe("5 in", "1/2 in sch 40"))))
    assert found["hose clamp, for 1/2 in hose"] == 2


def test_a_device_of_another_size_takes_a_reducer() -> None:
    device = '{ device = "lamp", size = "3/4 in", drop = "1 ft at 100 gph" },\n'
    found = counts(bought(plan(parts=SOUND + device + pipe("5 in"))))
    assert found["reducer, 1 x 3/4 in sch 40"] == 2
