"""`buy`: everything that a plan takes, in labelled bags."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from math import ceil

from balance.network.arrays import plan_water
from balance.plan.fields import nearest
from balance.plan.model import LossPart, Plan, Shop
from balance.questions.assembly.assemble import assemble
from balance.questions.assembly.clamps import held
from balance.questions.assembly.elements import Assembly
from balance.questions.assembly.joints import how_joined, joints_of, pairs
from balance.questions.assembly.lengths import Lengths, lengths_of
from balance.questions.assembly.pieces import Piece, pieces_of
from balance.questions.assembly.sticks import stick_words
from balance.questions.buy.answer import Buy, Item, label_of
from balance.questions.buy.consumables import BAG, consumables, glue_of
from balance.questions.buy.count import EQUIPMENT, counted
from balance.questions.buy.lacks import lacks_of
from balance.units import SYSTEMS, parse

PIPE, HOSE = "pipe", "hose"
GROUPS = (PIPE, HOSE, BAG, EQUIPMENT)


def buy(plan: Plan, *, prices: Mapping[str, float] | None = None) -> Buy:
    """What to buy for a plan.

    Parameters
    ----------
    prices
        Of things by their names on the list, with the kind of pipe or without it, in
        `power.currency`; before those of the plan's own `[shop]`.

    Raises
    ------
    UsageError
        A piece of pipe that no length sold is long enough for, or bad lengths of stock.
    """
    shop = plan.shop or Shop()
    assembly = assemble(plan)
    joints = joints_of(assembly)
    pieces = pieces_of(assembly, plan)
    glue = glue_of(joints)
    holding = held(pieces, plan, plan_water(plan))
    items = (
        *counted(assembly, spare=shop.spare),
        *_seals(assembly, shop.spare),
        *_threaded(pieces, plan),
        *_pipe(lengths_of(pieces, plan)),
        *_hose(assembly, plan),
        *consumables(glue, joints, holding, units=plan.units, spare=shop.spare),
        *_pumps(plan),
    )
    ordered = sorted(items, key=_place)
    priced, unknown = _priced(ordered, {**shop.prices, **(prices or {})})
    return Buy(
        plan=plan,
        items=tuple(priced),
        lacks=tuple(lacks_of(plan, assembly)),
        seals=tuple(_unions(assembly).items()),
        glue=glue,
        look_at=tuple(_look_at(plan, assembly, pieces)),
        spare=shop.spare,
        unknown_prices=tuple(unknown),
        short_pieces=sum(bool(piece.added) for piece in pieces),
    )


def _place(item: Item) -> tuple[int, float, str, str, str]:
    """Where an item stands on the list: bags by size, then kinds; the rest in its order."""
    rank = GROUPS.index(item.bag) + 1 if item.bag in GROUPS else 0
    if rank:
        return rank, 0.0, "", "", ""
    width = parse(item.bag.removesuffix(" bore"), "length")
    return rank, width, item.kind, item.size, f"{item.make} {item.ends}"


def _unions(assembly: Assembly) -> Counter[str]:
    """Unions of each size, those of true-union valves among them."""
    found: Counter[str] = Counter()
    for element in assembly.elements():
        if element.unions:
            found[element.begin.size.trade_size] += element.unions * element.count
    return found


def _seals(assembly: Assembly, share: float) -> Iterator[Item]:
    """Seals beyond those that come in the unions: one of each size at least."""
    for size, number in _unions(assembly).items():
        if share > 0.0:
            yield Item(size, "union seal", size, 0, spare=max(1, int(number * share + 1e-9)))


def _threaded(pieces: Sequence[Piece], plan: Plan) -> Iterator[Item]:
    """Pipe that is bought with threads at its ends, by its length over all."""
    for (name, cut), number in Counter(
        (piece.pipe.name, piece.cut) for piece in pieces if piece.threaded and piece.cut
    ).items():
        pipe = next(piece.pipe for piece in pieces if piece.pipe.name == name)
        length = SYSTEMS[plan.units].text(cut, "length")
        yield Item(
            pipe.trade_size, f"threaded pipe {length} long", pipe.trade_size, number,
            make=pipe.series, ends="male thread",
        )  # fmt: skip


def _pipe(lengths: Sequence[Lengths]) -> Iterator[Item]:
    """Lengths of pipe, as many as the pieces take; what is at hand is not bought."""
    for each in lengths:
        if each.packing is None:
            continue
        bought = Counter(stick.length for stick in each.packing.sticks if not stick.on_hand)
        lines = tuple(dict.fromkeys(piece.line for piece in each.pieces))
        for length, number in sorted(bought.items()):
            kind = f"{stick_words(length)} pipe"
            yield Item(PIPE, kind, each.pipe.trade_size, number, make=each.pipe.series, lines=lines)


def _hose(assembly: Assembly, plan: Plan) -> Iterator[Item]:
    """Hose of each kind, in whole feet or metres, rounded up."""
    unit, step = ("m", 1.0) if plan.units == "metric" else ("ft", parse("1 ft", "length"))
    found: dict[tuple[float, str], list[tuple[float, str]]] = {}
    for line in assembly.lines:
        for element in line.elements:
            if element.family == "hose":
                hose = element.begin.size
                pieces = found.setdefault((hose.bore, hose.name), [])
                pieces.append((element.length or 0.0, line.name))
    for (_, name), pieces in sorted(found.items()):
        total = ceil(sum(length for length, _ in pieces) / step - 1e-9)
        lines = tuple(dict.fromkeys(line for _, line in pieces))
        yield Item(HOSE, "hose", name, max(total, 1), unit=unit, lines=lines)


def _pumps(plan: Plan) -> Iterator[Item]:
    for name, pump in plan.pumps.items():
        curve = pump.curve[0].curve.name
        kind = f"pump {name}" if curve in ("", "pump") else f"pump {name} ({curve})"
        yield Item(EQUIPMENT, kind, "", 1, price=pump.price)


def _priced(items: Iterable[Item], prices: Mapping[str, float]) -> tuple[list[Item], list[str]]:
    """Items with their prices, and the names in the price list that none of them has."""
    listed = list(items)
    folded = {_folded(name): price for name, price in prices.items()}
    used: set[str] = set()
    found = []
    for item in listed:
        plain = label_of(item.kind, item.size, "", item.ends)
        names = [name for name in map(_folded, (item.label, plain)) if name in folded]
        used.update(names)
        found.append(replace(item, price=folded[names[0]]) if names else item)
    unknown = [name for name in prices if _folded(name) not in used]
    return found, [_with_nearest(name, listed) for name in unknown]


def _folded(name: str) -> str:
    return " ".join(name.split()).casefold()


def _with_nearest(name: str, items: Sequence[Item]) -> str:
    near = nearest(name, [item.label for item in items])
    return f'"{name}"' if near is None else f'"{name}" (nearest: "{near}")'


def _look_at(plan: Plan, assembly: Assembly, pieces: Sequence[Piece]) -> Iterator[str]:
    """What nothing tells, so that one has to look at the thing before buying what goes on it."""
    pumps = ", ".join(plan.pumps)
    if pumps:
        yield f"the outlet of each pump ({pumps}): which thread or barb it has is told nowhere"
    devices = sorted({e.kind for e in assembly.elements() if e.family == "device"})
    if devices:
        yield (
            f"the ends of each device ({', '.join(devices)}): taken to suit what stands beside "
            'them; `ends = "thread"` on the part says otherwise'
        )
    if any(joint.how == "thread" for joint in joints_of(assembly)):
        yield (
            "all threads are of one standard: those of inch and of metric countries look alike and "
            "do not seal in each other; plastic ones are turned by hand and a turn or two more"
        )
    thin = sorted({p.pipe.name for p in pieces if p.threaded and "80" not in p.pipe.series})
    if thin:
        yield f"a thread on {', '.join(thin)}: its wall is too thin for one; schedule 80 takes it"
    yield from _of_two_kinds(assembly)
    special = sorted({j.size.name for j in joints_of(assembly) if j.how == "special"})
    if special:
        yield (
            f"what joins pipe that no cement does ({', '.join(special)}): fittings of its own "
            "kind, and where it meets other pipe an adapter, which is not on this list"
        )
    losses = sorted(
        {s.name for s in plan.stretches() if any(isinstance(p, LossPart) for p in s.parts)}
    )
    if losses:
        yield f"what loses head in {', '.join(losses)}: the plan tells its loss and not what it is"
    other = sorted({piece.pipe.name for piece in pieces if None in piece.depths})
    if other:
        yield (
            f"how far pipe goes into its fittings ({', '.join(other)}): no table here tells; "
            'measure it and write socket = "1 in" on the parts'
        )
    missing = [piece.label for piece in pieces if piece.cut is None or piece.short]
    if missing:
        yield (
            f"pipe for {', '.join(missing)} is NOT on this list: `balance cut` says what is untold "
            "of it, or that there is no room"
        )
    many = [node.name for node in assembly.nodes if node.element.kind.startswith("manifold")]
    if many:
        yield f"a joint of more than four legs ({', '.join(many)}): no fitting has so many"


def _of_two_kinds(assembly: Assembly) -> Iterator[str]:
    """Where two plastics meet, or inch and metric sizes, which no plain joint does."""
    plastics, sizes = [], []
    for line in assembly.lines:
        for first, second in pairs(line):
            if first is None or second is None or how_joined(first, second) != "cement":
                continue
            both = {end.size.material.removesuffix("-u") for end in (first, second)} - {"plastic"}
            if len(both) == 2:
                plastics.append(line.name)
        for element in line.elements:
            units = {
                end.size.trade_size.rpartition(" ")[2]
                for end in (element.begin, element.finish)
                if end.size.series
            }
            if units >= {"in", "mm"}:
                sizes.append(line.name)
    if plastics:
        yield (
            f"two plastics meet in {', '.join(dict.fromkeys(plastics))}: they want a union or "
            "thread between them, or a cement made for both"
        )
    if sizes:
        yield (
            f"inch meets metric in {', '.join(dict.fromkeys(sizes))}: take a union or a thread for "
            "the bushing on this list, which few make"
        )
