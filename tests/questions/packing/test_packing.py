"""Packing: known least numbers in print, every way tried on small cases, laws on any."""

from __future__ import annotations

import random
import tomllib
from collections.abc import Iterator, Sequence
from itertools import combinations, combinations_with_replacement
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balance.errors import UsageError
from balance.questions.packing import Packing, pack
from balance.questions.packing.bounds import may_fit, most_taken
from balance.questions.packing.ending import STEP
from balance.questions.packing.filling import best_fit, one_by_one
from balance.questions.packing.job import METRE, SLACK, picometres
from balance.questions.packing.redealing import redealt

IN_PRINT: list[dict[str, Any]] = tomllib.loads(
    Path(__file__).with_name("instances.toml").read_text(encoding="utf-8")
)["instances"]
INCH = 0.0254


def checked(found: Packing, lengths: Sequence[float], kerf: float) -> Packing:
    """A packing in which each piece is once, nothing is too full, and no bound is passed."""
    cut = sorted(piece for stick in found.sticks for piece in stick.pieces)
    assert cut == list(range(len(lengths)))
    for stick in found.sticks:
        used = sum(lengths[piece] for piece in stick.pieces)
        number = len(stick.pieces)
        assert used + max(number - 1, 0) * kerf <= stick.length + 1e-8
        assert stick.offcut == pytest.approx(
            max(0.0, stick.length - used - number * kerf), abs=2e-8
        )
        assert list(stick.pieces) == sorted(stick.pieces, key=lambda at: -lengths[at])
    bought = [stick for stick in found.sticks if not stick.on_hand]
    assert found.bought == len(bought) >= found.fewest
    assert found.bought_length == pytest.approx(sum(stick.length for stick in bought))
    assert found.bought_length >= found.least_length - 1e-9 or found.bought > found.fewest
    if found.sticks:
        assert found.longest_offcut == pytest.approx(max(s.offcut for s in found.sticks))
    assert found.offcut_bound >= found.longest_offcut - 1e-9
    return found


# In print ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("case", IN_PRINT, ids=lambda case: case["name"])
def test_the_least_number_in_print(case: dict[str, Any]) -> None:
    lengths = [size / 100 for size in case["sizes"]]
    found = checked(pack(lengths, stock=[case["capacity"] / 100], kerf=0.0), lengths, 0.0)
    assert found.bought == found.fewest == case["least"]


def test_rolls_of_paper_beyond_fifty_pieces() -> None:
    # The paper rolls of the encyclopaedias' article on the cutting-stock problem: 5600 mm, 219
    # rolls of 13 widths, at best out of 73; from memory.
    wanted = {
        1380: 22, 1520: 25, 1560: 12, 1710: 14, 1820: 18, 1880: 18, 1930: 20, 2000: 10, 2050: 12,
        2100: 14, 2140: 16, 2150: 18, 2200: 20,
    }  # fmt: skip
    lengths = [width / 1000 for width, number in wanted.items() for _ in range(number)]
    found = checked(pack(lengths, stock=[5.6], kerf=0.0), lengths, 0.0)
    assert found.by == "heuristic"
    assert (found.bought, found.fewest) == (73, 73)


# Every way --------------------------------------------------------------------------------------


def ways(
    lengths: Sequence[float], rooms: Sequence[float], kerf: float
) -> Iterator[tuple[list[float], list[bool]]]:
    """Room left in each stick, a cut for each piece, and whether it is used, for every way."""

    def place(at: int, left: list[float], used: list[bool]) -> Iterator[Any]:
        if at == len(lengths):
            yield list(left), list(used)
            return
        for stick, room in enumerate(left):
            if lengths[at] <= room + 1e-9:
                left[stick] -= lengths[at] + kerf
                was, used[stick] = used[stick], True
                yield from place(at + 1, left, used)
                left[stick], used[stick] = room, was

    yield from place(0, list(rooms), [False] * len(rooms))


def by_every_way(
    lengths: Sequence[float], stock: Sequence[float], on_hand: Sequence[float], kerf: float
) -> tuple[int, float, float]:
    """Fewest bought, least length bought, longest offcut."""
    for count in range(len(lengths) + 1):
        best: tuple[float, float] | None = None
        for mix in combinations_with_replacement(sorted(stock), count):
            for left, used in ways(lengths, [*on_hand, *mix], kerf):
                if all(used[len(on_hand) :]):
                    rest = max(
                        (
                            max(0.0, room)
                            for room, is_used in zip(left, used, strict=True)
                            if is_used
                        ),
                        default=0.0,
                    )
                    value = (-sum(mix), rest)
                    best = value if best is None else max(best, value)
        if best is not None:
            return count, -best[0], best[1]
    raise AssertionError


TENTHS = st.integers(2, 20).map(lambda tenths: tenths / 10)


@settings(deadline=None, max_examples=60)
@given(
    lengths=st.lists(TENTHS, min_size=1, max_size=5),
    stock=st.lists(st.sampled_from([2.0, 2.5, 3.0]), min_size=1, max_size=2, unique=True),
    on_hand=st.lists(TENTHS, max_size=2),
    kerf=st.sampled_from([0.0, 0.05, 0.1]),
)
def test_no_way_at_all_is_better(
    lengths: list[float], stock: list[float], on_hand: list[float], kerf: float
) -> None:
    found = checked(pack(lengths, stock=stock, on_hand=on_hand, kerf=kerf), lengths, kerf)
    count, length, offcut = by_every_way(lengths, stock, on_hand, kerf)
    assert found.bought == found.fewest == count
    assert found.bought_length == pytest.approx(length)
    assert found.least_length == pytest.approx(length)
    assert found.longest_offcut == pytest.approx(offcut, abs=STEP / METRE + 1e-9)
    assert found.exact


# Laws -------------------------------------------------------------------------------------------


def shelf(seed: int, number: int) -> list[float]:
    """Pieces of a manifold: 2 to 40 in, in sixteenths."""
    chance = random.Random(seed)
    return [chance.randint(32, 640) / 16 * INCH for _ in range(number)]


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("number", [5, 20, 50, 80])
def test_laws_hold_for_any_shelf(seed: int, number: int) -> None:
    lengths = shelf(seed, number)
    stock, on_hand = [60 * INCH, 120 * INCH], [31 * INCH, 14 * INCH]
    plain = checked(pack(lengths, stock=stock, kerf=INCH / 8), lengths, INCH / 8)
    helped = checked(pack(lengths, stock=stock, on_hand=on_hand, kerf=INCH / 8), lengths, INCH / 8)
    wide = checked(pack(lengths, stock=stock, kerf=INCH / 2), lengths, INCH / 2)
    assert (plain.by == "heuristic") == (number > 50)
    assert plain.fewest <= plain.bought <= plain.fewest + 1
    if number <= 20:  # where all is settled
        assert helped.bought <= plain.bought <= wide.bought
    assert pack(lengths, stock=stock, kerf=INCH / 8) == plain  # the same again


def test_the_count_that_quick_ways_miss_is_settled_by_a_programme() -> None:
    # A stick holds 10: {6, 4} {5, 3, 2} twice and {4, 3, 3} fill five sticks without a rest, which
    # the longest first into the fullest does not find.
    lengths = [6.0, 4.0, 5.0, 3.0, 2.0, 6.0, 4.0, 5.0, 3.0, 2.0, 4.0, 3.0, 3.0]
    found = checked(pack(lengths, stock=[10.0], kerf=0.0), lengths, 0.0)
    assert (found.bought, found.fewest) == (5, 5)
    assert found.longest_offcut == 0.0


def test_dealing_anew_places_what_the_first_ways_leave() -> None:
    lengths, kerf = shelf(46, 40), INCH / 8
    sizes = sorted((picometres(length + kerf) for length in lengths), reverse=True)
    rooms = (picometres(2.0 + kerf) + SLACK,) * 11
    assert best_fit(sizes, rooms) is None
    assert one_by_one(sizes, rooms) is None
    fills = redealt(sizes, rooms)
    assert fills is not None
    assert sorted(piece for fill in fills for piece in fill) == list(range(40))
    assert all(sum(sizes[piece] for piece in fill) <= rooms[0] for fill in fills)
    assert checked(pack(lengths, stock=[2.0], kerf=kerf), lengths, kerf).bought == 11


def test_dealing_anew_gives_up_where_there_is_no_room() -> None:
    assert redealt([6, 6, 6], (10, 10), turns=50) is None
    assert redealt([6], ()) is None


def test_one_long_rest_rather_than_stubs() -> None:
    found = pack([1.0, 1.0, 1.0, 1.0], stock=[3.0], kerf=0.0)
    assert (found.bought, found.longest_offcut) == (2, 2.0)
    assert found.exact


def test_a_shorter_length_is_bought_where_it_is_enough() -> None:
    found = pack([1.0], stock=[1.5, 3.0], kerf=0.0)
    assert (found.bought, found.bought_length) == (1, 1.5)


def test_the_last_piece_may_end_with_the_stick() -> None:
    assert pack([1.0] * 3, stock=[3.0], kerf=0.0).bought == 1
    assert pack([1.0] * 3, stock=[3.02], kerf=0.01).bought == 1
    assert pack([1.0] * 3, stock=[3.0], kerf=0.01).bought == 2


def test_what_is_at_hand_is_used_before_anything_is_bought() -> None:
    found = pack([0.5, 0.4], stock=[3.0], on_hand=[1.0, 2.0], kerf=0.0)
    assert found.bought == 0
    assert all(stick.on_hand for stick in found.sticks)


def test_room_that_no_pieces_fill_is_no_room() -> None:
    assert may_fit([4, 4], (7, 6))
    assert not may_fit([4, 4, 4], (7, 6))  # 12 in 13, but each takes one


@given(sizes=st.lists(st.integers(1, 30), min_size=1, max_size=8), room=st.integers(1, 80))
def test_the_most_a_stick_takes_is_that_of_the_best_set(sizes: list[int], room: int) -> None:
    sets = (chosen for n in range(len(sizes) + 1) for chosen in combinations(sizes, n))
    assert most_taken(sizes, room) == max(s for s in map(sum, sets) if s <= room)


def test_nothing_to_cut() -> None:
    found = pack([], stock=[3.0], kerf=0.0)
    assert (found.bought, found.sticks) == (0, ())


@pytest.mark.parametrize(
    ("lengths", "stock", "on_hand", "kerf", "words"),
    [
        ([4.0], [3.0], [], 0.0, "longer than every stick"),
        ([1.0], [], [], 0.0, "no length is sold"),
        ([0.0], [3.0], [], 0.0, "is none"),
        ([float("nan")], [3.0], [], 0.0, "is none"),
        ([1.0], [-3.0], [], 0.0, "is none"),
        ([1.0], [3.0], [float("inf")], 0.0, "is none"),
        ([1.0], [3.0], [], -1.0, "a cut is not"),
        ([3.5, 3.5], [3.0], [4.0], 0.0, "find no place"),
    ],
)
def test_what_cannot_be_packed_says_why(
    lengths: list[float], stock: list[float], on_hand: list[float], kerf: float, words: str
) -> None:
    with pytest.raises(UsageError, match=words):
        pack(lengths, stock=stock, on_hand=on_hand, kerf=kerf)
