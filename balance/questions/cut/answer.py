"""The answer of `cut`: pieces, lengths, what does not fit, what holds it, the dry-fit sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from balance.plan.model import Plan
from balance.questions.assembly.clamps import Held
from balance.questions.assembly.lengths import Lengths
from balance.questions.assembly.pieces import Piece
from balance.questions.cut.sheet import Sheet

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Tight:
    """A piece for which there is no room between what it joins.

    Attributes
    ----------
    piece : the piece
    short : by which the two sockets are too near to each other [m]
    least_centres : nearest that the two centres can come, the sockets touching [m]
    elbow : one of the two is an elbow, so that a street elbow can take its place
    """

    piece: Piece
    short: float
    least_centres: float
    elbow: bool


@dataclass(frozen=True)
class HosePiece:
    """A length of hose [m], of a kind, and the line that it is in."""

    hose: str
    line: str
    length: float


@dataclass(frozen=True)
class Cut:
    """Where to cut the pipe of a plan.

    Attributes
    ----------
    plan : that it is about
    pieces : of pipe, line by line in order of the water
    lengths : kind by kind, out of what they are cut
    tight : pieces for which there is no room
    hoses : pieces of hose, line by line
    held : what holds the pipe up, kind by kind
    sheet : how it goes together
    kerf : lost at each cut [m]
    tolerance : how near to its length a piece is cut [m]
    mark : lengths are rounded to whole multiples of this [m]
    estimates : kinds of part of whose centres an estimate stands
    """

    plan: Plan
    pieces: tuple[Piece, ...]
    lengths: tuple[Lengths, ...]
    tight: tuple[Tight, ...]
    hoses: tuple[HosePiece, ...]
    held: tuple[Held, ...]
    sheet: Sheet
    kerf: float
    tolerance: float
    mark: float
    estimates: tuple[str, ...]

    @property
    def title(self) -> str:
        """Of the plan."""
        return self.plan.title

    @property
    def fits(self) -> bool:
        """There is room for every piece."""
        return not self.tight

    def to_frame(self) -> pd.DataFrame:
        """The pieces as a table, a row for each, lengths in m."""
        import pandas as pd

        return pd.DataFrame([_piece(piece) for piece in self.pieces])

    def to_dict(self) -> dict[str, Any]:
        """Plain values, ready for JSON, lengths in m."""
        return {
            "title": self.title,
            "measured": self.plan.measured,
            "kerf_m": self.kerf,
            "tolerance_m": self.tolerance,
            "mark_m": self.mark,
            "pieces": [_piece(piece) for piece in self.pieces],
            "lengths": [_lengths(each) for each in self.lengths],
            "no_room": [
                {
                    "label": each.piece.label,
                    "short_m": each.short,
                    "least_centres_m": each.least_centres,
                    "street_elbow": each.elbow,
                }
                for each in self.tight
            ],
            "hoses": [
                {"hose": each.hose, "line": each.line, "cut_m": each.length} for each in self.hoses
            ],
            "supports": [_held(each) for each in self.held],
            "dry_fit": self.sheet.to_dict(),
            "estimated_centres": list(self.estimates),
        }


def _piece(piece: Piece) -> dict[str, Any]:
    return {
        "label": piece.label,
        "line": piece.line,
        "pipe": piece.pipe.name,
        "from": piece.before,
        "to": piece.after,
        "visible_m": piece.visible,
        "depth_from_m": piece.depths[0],
        "depth_to_m": piece.depths[1],
        "cut_m": piece.cut,
        "centres_m": piece.centres,
        "threaded": piece.threaded,
        "implied": bool(piece.added),
    }


def _lengths(each: Lengths) -> dict[str, Any]:
    packing = each.packing
    found: dict[str, Any] = {
        "pipe": each.pipe.name,
        "pieces": len(each.pieces),
        "without_cut": [piece.label for piece in each.untold],
        "bought": 0,
        "sticks": [],
    }
    if packing is None:
        return found
    return {
        **found,
        "bought": packing.bought,
        "fewest": packing.fewest,
        "bought_length_m": packing.bought_length,
        "least_length_m": packing.least_length,
        "longest_offcut_m": packing.longest_offcut,
        "offcut_bound_m": packing.offcut_bound,
        "exact": packing.exact,
        "by": packing.by,
        "sticks": [
            {
                "length_m": stick.length,
                "at_hand": stick.on_hand,
                "pieces": [each.pieces[at].label for at in stick.pieces],
                "offcut_m": stick.offcut,
            }
            for stick in packing.sticks
        ],
    }


def _held(each: Held) -> dict[str, Any]:
    return {
        "pipe": each.pipe.name,
        "seen_m": each.seen,
        "filled_kg_per_m": each.weight,
        "spacing_m": None if each.spacing is None else each.spacing.length,
        "source": None if each.spacing is None else each.spacing.source,
        "span_kg": each.span_weight,
        "clamps": each.clamps,
    }
