"""What joins and holds pipe: cement, primer, tape, hose clamps, pipe clamps."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from math import ceil

from balance.parts import cement
from balance.parts.pipes import PipeSize
from balance.questions.assembly.clamps import Held
from balance.questions.assembly.joints import Joint
from balance.questions.buy.answer import Glue, Item

LITRE = 1e-3  # m3
BAG = "to join and hold it"
PRIMED = ("pvc", "cpvc")
"""Plastics whose joints want a primer or cleaner before the cement; ABS takes none: from memory."""
# Tins and rolls as shops have them; common practice, no source.
TINS = {
    "us": (("4 fl oz", 0.1183), ("8 fl oz", 0.2366), ("16 fl oz", 0.4732), ("32 fl oz", 0.9464)),
    "metric": (("125 mL", 0.125), ("250 mL", 0.25), ("500 mL", 0.5), ("1 L", 1.0)),
}
ROLL = 12.0  # m


def glue_of(joints: Sequence[Joint]) -> tuple[Glue, ...]:
    """Cement and primer by number of joints, plastic by plastic."""
    by_material: dict[str, Counter[PipeSize]] = {}
    for joint in joints:
        if joint.how == "cement":
            # PVC is one plastic by both of its names.
            material = joint.size.material.removesuffix("-u")
            by_material.setdefault(material, Counter())[joint.size] += 1
    return tuple(_glue(material, sizes) for material, sizes in by_material.items())


def _glue(material: str, sizes: Counter[PipeSize]) -> Glue:
    litres, sources = 0.0, []
    for size, number in sizes.items():
        known = cement.joints_per_volume(size.trade_size) if size.series else None
        if known is not None:
            litres += number / known.per_litre
            sources.append(known.source)
    primer = cement.PRIMER_SHARE * litres if material in PRIMED else 0.0
    source = "; ".join(dict.fromkeys(sources))
    return Glue(material, sizes.total(), litres * LITRE, primer * LITRE, source)


def consumables(
    glue: Sequence[Glue],
    joints: Sequence[Joint],
    holding: Sequence[Held],
    *,
    units: str,
    spare: float,
) -> Iterator[Item]:
    """Tins, rolls and clamps to buy."""
    tins = TINS["us" if units == "us" else "metric"]
    for each in glue:
        yield from _tins(f"{each.plastic} solvent cement", each.cement, tins)
        if each.primer:
            yield from _tins(f"{each.plastic} primer or cleaner", each.primer, tins)
    threads = [joint.size for joint in joints if joint.how == "thread"]
    tape = [cement.thread_tape(size.trade_size) if size.series else None for size in threads]
    if tape:
        length = sum(each.length for each in tape if each is not None)
        yield Item(BAG, "thread tape, roll", "", max(1, ceil(length / ROLL)))
    hoses = Counter(
        (joint.size.bore, joint.size.trade_size) for joint in joints if joint.how == "hose"
    )
    for (_, size), number in sorted(hoses.items()):
        yield Item(BAG, "hose clamp", f"for {size} hose", number, spare=int(number * spare + 1e-9))
    clamps: Counter[str] = Counter()
    for pipe in holding:
        clamps[pipe.pipe.trade_size] += pipe.clamps or 0
    for size, number in clamps.items():
        if number:
            yield Item(BAG, "pipe clamp", size, number)


def _tins(kind: str, volume: float, tins: Sequence[tuple[str, float]]) -> Iterator[Item]:
    """The smallest tin that is enough, or so many of the largest."""
    litres = volume / LITRE
    if not litres:
        return
    for label, holds in tins:
        if litres <= holds:
            yield Item(BAG, kind, label, 1)
            return
    label, holds = tins[-1]
    yield Item(BAG, kind, label, ceil(litres / holds))
