"""A shopping list, on a page."""

from __future__ import annotations

from collections.abc import Iterator

from rich.text import Text

from balance.parts.sources import named_in
from balance.questions.buy import Buy, Item
from balance.questions.buy.answer import Glue
from balance.show import cautions
from balance.show.page import Column, Page
from balance.show.terminal import page
from balance.show.words import percent
from balance.units import SYSTEMS, UnitSystem


def show(answer: Buy) -> None:
    """Print what `write` has to say."""
    with page() as to:
        write(to, answer)


def write(to: Page, answer: Buy) -> None:
    """Write what to buy bag by bag, what it costs, what was forgotten and what to look at."""
    system = SYSTEMS[answer.plan.units]
    to.title(f"{answer.title or 'This plan'}: what to buy")
    if not answer.items:
        to.print("There is nothing to buy: the plan names no part.")
        return
    _list(to, answer)
    to.print()
    to.print(_rule(answer))
    if answer.total is not None:
        to.print(_total(answer))
    to.section("Forgotten?", _lacks(answer))
    to.section("In it, though the plan does not name it", _implied(answer))
    to.section("Check in the shop", _check(answer))
    to.section("Glue", (_glue(each, system) for each in answer.glue))
    to.beware("Beware", (cautions.FUMES, cautions.SCOPE))


def _list(to: Page, answer: Buy) -> None:
    """The list, a bag at a time."""
    columns = (
        Column("", "words"),
        Column("ends", "words"),
        Column("takes"),
        Column("spare"),
        Column("buy"),
        Column(f"each\n{answer.currency}".rstrip(), "decimal"),
        Column(f"cost\n{answer.currency}".rstrip(), "decimal"),
    )
    rows: list[tuple[str | Text, ...]] = []
    bag = None
    for item in answer.items:
        if item.bag != bag:
            rows.append((Text(item.bag, style="bold"), "", "", "", "", "", ""))
        bag = item.bag
        rows.append(
            (
                f"  {_what(item)}",
                item.ends,
                _number(item, item.counted) if item.counted else "",
                str(item.spare) if item.spare else "",
                Text(_number(item, item.buy), style="bold"),
                money(item.price),
                money(item.cost),
            )
        )
    to.table(columns, rows)


def _what(item: Item) -> str:
    """Kind and size; the size is left out where the bag says it."""
    size = "" if item.size == item.bag else f" {item.size}"
    return f"{item.kind}{size}{', ' if item.make else ''}{item.make}"


def _number(item: Item, number: int) -> str:
    return f"{number} {item.unit}".strip()


def money(amount: float | None) -> str:
    """An amount to two decimals; nothing where it is unknown."""
    return "" if amount is None else f"{amount:.2f}"


def _rule(answer: Buy) -> str:
    if not answer.spare:
        return "No spares: `spare` in [shop] is 0 %."
    return (
        f"Spares: {percent(answer.spare)} of fittings and hose clamps, whole ones, and at least "
        "one of each elbow, tee, coupling and union seal. Valves, devices and pipe as counted."
    )


def _total(answer: Buy) -> str:
    said = f"Together {money(answer.total)} {answer.currency}".rstrip()
    if answer.unpriced:
        said += f", without the {answer.unpriced} kinds of thing that have no price"
    return f"{said}."


def _lacks(answer: Buy) -> Iterator[str]:
    """What lacks, those of one reason in one line."""
    reasons = dict.fromkeys((lack.what, lack.why) for lack in answer.lacks)
    for what, why in reasons:
        where = [each.where for each in answer.lacks if (each.what, each.why) == (what, why)]
        yield f"no {what}: {'; '.join(where)} ({why})"


def _implied(answer: Buy) -> Iterator[str]:
    added = [
        f"{item.implied} {item.kind} {item.size}".rstrip() for item in answer.items if item.implied
    ]
    if added:
        yield ", ".join(added)
    if answer.short_pieces:
        pieces = "piece" if answer.short_pieces == 1 else "pieces"
        yield (
            f"{answer.short_pieces} short {pieces} of pipe between sockets that touch, listed by "
            "`balance cut`"
        )


def _check(answer: Buy) -> Iterator[str]:
    if answer.seals:
        sizes = ", ".join(f"{number} of {size}" for size, number in answer.seals)
        yield f"each union has its seal in it: {sizes}"
    yield from answer.look_at
    if answer.unknown_prices:
        yield "in the price list, but not on this one: " + ", ".join(answer.unknown_prices)


def _glue(glue: Glue, system: UnitSystem) -> str:
    joints = "one cemented joint" if glue.joints == 1 else f"{glue.joints} cemented joints"
    if not glue.cement:
        return f"{joints} in {glue.plastic}: no table tells how much cement they take"
    said = f"{joints} in {glue.plastic}: {_volume(glue.cement, system)} of cement"
    if glue.primer:
        said += f", {_volume(glue.primer, system)} of primer or cleaner"
    return f"{said}, by the joints that a quart makes ({', '.join(named_in(glue.source))})"


def _volume(volume: float, system: UnitSystem) -> str:
    """A small volume as tins are labelled."""
    millilitres = f"{volume * 1e6:.0f} mL"
    if system.name != "us":
        return millilitres
    return f"{volume / FLUID_OUNCE:.1f} fl oz ({millilitres})"


FLUID_OUNCE = 29.5735295625e-6  # m3
