"""What stands between two ends: after it, each end goes into the next."""

from __future__ import annotations

from itertools import product

import pytest

from balance.parts.ends import Form
from balance.parts.pipes import hose, pipe
from balance.questions.assembly.elements import Element, End
from balance.questions.assembly.joints import how_joined
from balance.questions.assembly.mating import between
from balance.questions.assembly.naming import depth_of

PLUMBING: tuple[Form, ...] = ("socket", "spigot", "female thread", "male thread")
SIZES = ("3/4 in sch 40", "1 in sch 40", "1 in sch 80", "32 mm PN10")
GOES_INTO = {
    frozenset({"socket", "spigot"}),
    frozenset({"female thread", "male thread"}),
    frozenset({"barb", "hose"}),
    frozenset({"fits", "socket"}),
    frozenset({"fits", "spigot"}),
    frozenset({"fits", "female thread"}),
    frozenset({"fits", "male thread"}),
}


def end(form: Form, size: str) -> End:
    return End(form, pipe(size), depth_of(form, pipe(size)))


@pytest.mark.parametrize(("one", "two"), list(product(PLUMBING, PLUMBING)))
@pytest.mark.parametrize(("first", "second"), list(product(SIZES, SIZES)))
def test_any_two_ends_can_be_joined(one: Form, two: Form, first: str, second: str) -> None:
    ends = (end(one, first), end(two, second))
    chain = between(*ends)
    assert len(chain) <= 5
    met = [ends[0], *(each for e in chain for each in (e.begin, e.finish)), ends[1]]
    for here, there in zip(met[::2], met[1::2], strict=True):
        assert frozenset({here.form, there.form}) in GOES_INTO, chain
        assert here.fits(there), chain
        assert how_joined(here, there) is not None


@pytest.mark.parametrize("other", [end(form, "1 in sch 40") for form in PLUMBING])
def test_a_hose_takes_a_barb(other: End) -> None:
    on_hose = End("hose", hose("3/4 in"))
    (behind,) = between(on_hose, other)
    (before,) = between(other, on_hose)
    assert behind.kind == before.kind == "barb"
    assert behind.begin.form == before.finish.form == "barb"


@pytest.mark.parametrize(
    ("first", "second", "kinds"),
    [
        (("socket", "1 in sch 40"), ("spigot", "1 in sch 40"), []),
        (("socket", "1 in sch 40"), ("socket", "1 in sch 40"), ["pipe"]),
        (("spigot", "1 in sch 40"), ("spigot", "1 in sch 40"), ["coupling"]),
        (("spigot", "1 in sch 40"), ("spigot", "3/4 in sch 40"), ["reducer"]),
        (("socket", "1 in sch 40"), ("spigot", "3/4 in sch 40"), ["bushing"]),
        (("socket", "3/4 in sch 40"), ("socket", "1 in sch 40"), ["pipe", "bushing"]),
        (("female thread", "1 in sch 40"), ("female thread", "1 in sch 40"), ["close nipple"]),
        (("female thread", "1 in sch 40"), ("spigot", "1 in sch 40"), ["adapter"]),
        (("male thread", "1 in sch 40"), ("spigot", "1 in sch 40"), ["female adapter"]),
        (("socket", "1 in sch 40"), ("female thread", "1 in sch 40"), ["pipe", "adapter"]),
        (("female thread", "1 in sch 40"), ("male thread", "3/4 in sch 40"), ["bushing"]),
    ],
)
def test_what_a_plumber_would_take(
    first: tuple[Form, str], second: tuple[Form, str], kinds: list[str]
) -> None:
    assert [element.kind for element in between(end(*first), end(*second))] == kinds
    assert [element.kind for element in between(end(*second), end(*first))] == kinds[::-1]


def test_what_is_added_says_why() -> None:
    added: list[Element] = []
    for one, two in product(PLUMBING, PLUMBING):
        added += between(end(one, "1 in sch 40"), end(two, "3/4 in sch 40"))
    assert added
    assert all(element.added for element in added)


def test_pipe_told_by_its_bore_alone_fits_what_it_meets() -> None:
    bare = End("spigot", pipe("25 mm bore"))
    assert between(end("socket", "1 in sch 40"), bare) == ()
    assert [e.kind for e in between(end("spigot", "1 in sch 40"), bare)] == ["coupling"]


def test_hoses_of_two_sizes_are_joined() -> None:
    narrow, wide = End("hose", hose("1/2 in")), End("hose", hose("5/8 in"))
    (joiner,) = between(narrow, wide)
    assert joiner.kind == "hose joiner"
    assert (joiner.begin.fits(narrow), joiner.finish.fits(wide)) == (True, True)
    assert not narrow.fits(wide)


def test_pipe_that_no_cement_joins_is_joined_as_its_maker_says() -> None:
    assert how_joined(end("socket", "1 in SDR 11 PE"), end("spigot", "1 in SDR 11 PE")) == "special"
    assert how_joined(end("socket", "1 in sch 40"), end("spigot", "1 in SDR 11 PE")) == "special"
    assert how_joined(end("socket", "1 in sch 40"), end("spigot", "1 in sch 80 CPVC")) == "cement"
