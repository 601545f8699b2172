"""What holds pipe up: how far apart clamps may stand, and what hangs between two of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from balance.parts.pipes import PipeSize
from balance.parts.supports import Spacing, support_spacing, weight_filled
from balance.plan.model import Plan
from balance.questions.assembly.pieces import Piece
from balance.water import Water

LEAST = 0.15
"""Length of pipe in a line that wants a clamp of its own [m]; our own choice."""


@dataclass(frozen=True)
class Held:
    """Pipe of one kind, and what holds it.

    Attributes
    ----------
    seen : length of it between fittings, in all lines [m]
    weight : of pipe and water [kg/m]; None where nothing tells
    spacing : greatest distance between clamps, with its source; None where nothing tells
    clamps : one for each spacing or part of it, line by line; None where nothing tells
    """

    pipe: PipeSize
    seen: float
    weight: float | None
    spacing: Spacing | None
    clamps: int | None

    @property
    def span_weight(self) -> float | None:
        """Weight between two clamps that far apart [kg]."""
        if self.weight is None or self.spacing is None:
            return None
        return self.weight * self.spacing.length


def held(pieces: Sequence[Piece], plan: Plan, water: Water) -> tuple[Held, ...]:
    """What holds the pipe of a plan, kind by kind, at the temperature of its water."""
    seen: dict[str, dict[str, float]] = {}
    kinds: dict[str, PipeSize] = {}
    for piece in pieces:
        kinds[piece.pipe.name] = piece.pipe
        lines = seen.setdefault(piece.pipe.name, {})
        lines[piece.line] = lines.get(piece.line, 0.0) + max(piece.visible or 0.0, 0.0)
    found = []
    for name, pipe in sorted(
        kinds.items(), key=lambda kind: (kind[1].outside or kind[1].bore, kind[0])
    ):
        spacing = support_spacing(pipe, temperature=plan.water.temperature)
        clamps = None
        if spacing is not None:
            clamps = sum(
                ceil(length / spacing.length - 1e-9)
                for length in seen[name].values()
                if length >= LEAST
            )
        weight = weight_filled(pipe, density=water.density)
        found.append(Held(pipe, sum(seen[name].values()), weight, spacing, clamps))
    return tuple(found)
