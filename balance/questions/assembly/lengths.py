"""The pieces of each kind of pipe, packed into the lengths in which it is sold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from balance.errors import UsageError
from balance.parts.pipes import PipeSize
from balance.plan.model import Plan, Shop
from balance.questions.assembly.pieces import Piece
from balance.questions.assembly.sticks import stick_words, stock_of
from balance.questions.packing import Packing, pack
from balance.units import SYSTEMS


@dataclass(frozen=True)
class Lengths:
    """One kind of pipe.

    Attributes
    ----------
    pieces : that are cut of it, in the order in which `packing` counts them
    packing : how they are cut out of lengths bought and at hand
    untold : pieces that are left out: nothing tells their cut, or there is no room for them
    """

    pipe: PipeSize
    pieces: tuple[Piece, ...]
    packing: Packing | None
    untold: tuple[Piece, ...]


def lengths_of(pieces: Sequence[Piece], plan: Plan) -> tuple[Lengths, ...]:
    """The pieces of each kind of pipe in lengths; kinds by size, then by series.

    A piece for which there is no room, and pipe that is bought with threads, is not cut.
    """
    shop = plan.shop or Shop()
    by_name: dict[str, list[Piece]] = {}
    for piece in pieces:
        if not piece.threaded:
            by_name.setdefault(piece.pipe.name, []).append(piece)
    kinds = sorted(
        by_name.values(), key=lambda of: (of[0].pipe.outside or of[0].pipe.bore, of[0].pipe.name)
    )
    return tuple(_lengths(of, plan, shop) for of in kinds)


def _lengths(of: Sequence[Piece], plan: Plan, shop: Shop) -> Lengths:
    pipe = of[0].pipe
    told = tuple(piece for piece in of if piece.cut is not None and not piece.short)
    packing = None
    longest = max((*stock_of(pipe, plan.shop), *shop.offcuts.get(pipe.name, ())))
    for piece in told:
        if (piece.cut or 0.0) > longest + 1e-9:
            system = SYSTEMS[plan.units]
            raise UsageError(
                f"{piece.label} is cut {system.text(piece.cut or 0.0, 'length')} long, and the "
                f"longest {pipe.name} is {stick_words(longest)}; write a longer `stock` in [shop]"
            )
    if told:
        packing = pack(
            [piece.cut or 0.0 for piece in told],
            stock=stock_of(pipe, plan.shop),
            on_hand=shop.offcuts.get(pipe.name, ()),
            kerf=shop.kerf,
        )
    return Lengths(pipe, told, packing, tuple(piece for piece in of if piece not in told))
