"""`cut`: how long each piece of pipe is cut, and out of what."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from balance.network.arrays import plan_water
from balance.plan.model import Plan, Shop
from balance.questions.assembly.assemble import assemble
from balance.questions.assembly.clamps import held
from balance.questions.assembly.lengths import lengths_of
from balance.questions.assembly.pieces import Piece, mark_of, pieces_of
from balance.questions.cut.answer import Cut, HosePiece, Tight
from balance.questions.cut.sheet import sheet_of


def cut(plan: Plan) -> Cut:
    """Where to cut the pipe of a plan.

    Raises
    ------
    UsageError
        Bad lengths of stock or offcuts.
    """
    shop = plan.shop or Shop()
    assembly = assemble(plan)
    pieces = pieces_of(assembly, plan)
    return Cut(
        plan=plan,
        pieces=pieces,
        lengths=lengths_of(pieces, plan),
        tight=tuple(_tight(pieces)),
        hoses=tuple(
            HosePiece(element.begin.size.name, line.name, element.length or 0.0)
            for line in assembly.lines
            for element in line.elements
            if element.family == "hose"
        ),
        held=held(pieces, plan, plan_water(plan)),
        sheet=sheet_of(assembly, pieces, temperature=plan.water.temperature),
        kerf=shop.kerf,
        tolerance=shop.tolerance,
        mark=mark_of(plan),
        estimates=tuple(dict.fromkeys(name for each in pieces for name in each.estimated)),
    )


def _tight(pieces: Sequence[Piece]) -> Iterator[Tight]:
    for piece in pieces:
        if piece.short > 0.0 and piece.centres is not None:
            elbow = "elbow" in piece.before or "elbow" in piece.after
            yield Tight(piece, piece.short, piece.centres + piece.short, elbow)
