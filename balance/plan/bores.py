"""The bore of every part: its own, or that of the pipe before it, else after."""

from __future__ import annotations

import math
from collections.abc import Sequence

from balance.parts import fittings
from balance.parts.pipes import hose, nominal_bore
from balance.plan.pieces import (
    CHANGES_SIZE,
    OF_THE_NEIGHBOURS,
    AnyPart,
    FittingPart,
    HosePart,
    OutletPart,
    PipePart,
)

Sides = tuple[float | None, float | None]

NO_BORE = (
    "nothing says how wide this is: there is no pipe before or after it",
    'add size = "3/4 in" or bore = "19 mm"',
)
NO_HOSE = (
    "nothing says which hose is on this barb: none stands before or after it",
    'add hose = "1/2 in"',
)
NO_SECOND_SIZE = (
    "a {kind} has two sizes",
    'write size = "1 1/2 in", to = "3/4 in", or neither of them between two pipes',
)


class UnresolvedError(Exception):
    """A part whose bore nothing tells: its index, what is wrong, what to write."""

    def __init__(self, index: int, problem: str, remedy: str) -> None:
        self.index, self.problem, self.remedy = index, problem, remedy
        super().__init__(problem)


def resolve(parts: Sequence[AnyPart], *, default: float | None = None) -> tuple[AnyPart, ...]:
    """Give the parts of a stretch with every bore filled in.

    Parameters
    ----------
    parts
        In the order of flow.
    default
        Bore [m] of what the stretch hangs on, for a stretch that names no size at all.

    Raises
    ------
    UnresolvedError
        If nothing tells the bore of a part.
    """
    stated = [_stated(part) for part in parts]
    return tuple(_filled(index, parts, stated, default) for index in range(len(parts)))


def _stated(part: AnyPart) -> Sides:
    """Give the bores at both sides of a part as far as the part itself states them."""
    if isinstance(part, PipePart | HosePart):
        return part.bore, part.bore
    own = nominal_bore(part.size) if part.size is not None else None
    if isinstance(part, FittingPart):
        if part.is_barb:
            return own, hose(part.hose).bore if part.hose is not None else None
        if part.to is not None:
            return own, nominal_bore(part.to)
    if own is None and part.bore != OF_THE_NEIGHBOURS:
        own = part.bore
    return own, own


def _is_pipe(part: AnyPart) -> bool:
    """Whether parts beside it take their bore from it: a pipe, a hose, or a change of size."""
    if isinstance(part, FittingPart):
        return part.is_barb or part.to is not None
    return isinstance(part, PipePart | HosePart)


def _takes_both_sides(part: AnyPart) -> bool:
    """Whether this changes the size from that of the pipe before it to that of the pipe after."""
    return (
        isinstance(part, FittingPart)
        and part.fitting in CHANGES_SIZE
        and part.size is None
        and part.to is None
    )


def _before(
    index: int, parts: Sequence[AnyPart], stated: list[Sides], *, pipes: bool
) -> float | None:
    for at in range(index - 1, -1, -1):
        if _takes_both_sides(parts[at]):
            return None
        if _is_pipe(parts[at]) == pipes and stated[at][1] is not None:
            return _leaving(at, parts, stated)
    return None


def _after(
    index: int, parts: Sequence[AnyPart], stated: list[Sides], *, pipes: bool
) -> float | None:
    for at in range(index + 1, len(parts)):
        if _takes_both_sides(parts[at]):
            return None
        if _is_pipe(parts[at]) == pipes and stated[at][0] is not None:
            return _entering(at, parts, stated)
    return None


def _leaving(at: int, parts: Sequence[AnyPart], stated: list[Sides]) -> float | None:
    return stated[at][0] if _turned(at, parts, stated) else stated[at][1]


def _entering(at: int, parts: Sequence[AnyPart], stated: list[Sides]) -> float | None:
    return stated[at][1] if _turned(at, parts, stated) else stated[at][0]


def _turned(at: int, parts: Sequence[AnyPart], stated: list[Sides]) -> bool:
    """Whether a change of size stands the other way round than it is written.

    A bushing is named large size first and a barb thread first, whichever way the water goes; the
    neighbours show how it stands.
    """
    part = parts[at]
    first, second = stated[at]
    if not isinstance(part, FittingPart) or not _is_pipe(part):
        return False
    if part.is_barb:
        hose_before = at > 0 and isinstance(parts[at - 1], HosePart)
        hose_after = at + 1 < len(parts) and isinstance(parts[at + 1], HosePart)
        if hose_before != hose_after:
            return hose_before
        return any(isinstance(other, HosePart) for other in parts[:at]) and not any(
            isinstance(other, HosePart) for other in parts[at + 1 :]
        )
    if first is None or second is None or first == second:
        return False
    as_written = turned = 0.0
    if at > 0 and (before := stated[at - 1][1]) is not None:
        as_written += abs(math.log(before / first))
        turned += abs(math.log(before / second))
    if at + 1 < len(parts) and (after := stated[at + 1][0]) is not None:
        as_written += abs(math.log(after / second))
        turned += abs(math.log(after / first))
    return turned < as_written - 1e-9


def _neighbour(
    index: int, parts: Sequence[AnyPart], stated: list[Sides], default: float | None
) -> float | None:
    """Give the bore of the pipe before a part, else after, else of any sized part near."""
    for pipes in (True, False):
        for look in (_before, _after):
            if (bore := look(index, parts, stated, pipes=pipes)) is not None:
                return bore
    return default


def _filled(
    index: int, parts: Sequence[AnyPart], stated: list[Sides], default: float | None
) -> AnyPart:
    part = parts[index]
    if isinstance(part, PipePart | HosePart):
        return part
    first, second = stated[index]
    if isinstance(part, FittingPart):
        if part.is_barb:
            return _barb(index, part, parts, stated, default)
        if _takes_both_sides(part):
            return _between(index, part, parts, stated)
        if part.fitting in CHANGES_SIZE and (part.to is None or part.size is None):
            raise _no_second_size(index, part)
        if part.to is not None:
            if first is None:
                first = _neighbour(index, parts, stated, default) or second
            if first is None or second is None:
                raise UnresolvedError(index, *NO_BORE)
            sides = (second, first) if _turned(index, parts, stated) else (first, second)
            own = part.bore if part.bore != OF_THE_NEIGHBOURS else min(sides)
            return part.placed(bore=own, sides=sides)
    bore = first if first is not None else _neighbour(index, parts, stated, default)
    if bore is None:
        raise UnresolvedError(index, *NO_BORE)
    own = part.bore if part.bore != OF_THE_NEIGHBOURS else bore
    if isinstance(part, FittingPart):
        return part.placed(bore=own, sides=(bore, bore))
    if isinstance(part, OutletPart) and part.has_a_throat:
        if part.bore == OF_THE_NEIGHBOURS and first is None:
            return part.placed(bore=part.law.throat(bore), pipe_bore=bore)
        pipe = _neighbour(index, parts, stated, default)
        if pipe is not None and (pipe > own or part.k is not None):
            return part.placed(bore=own, pipe_bore=pipe)
    return part.model_copy(update={"bore": own})


def _no_second_size(index: int, part: FittingPart) -> UnresolvedError:
    problem, remedy = NO_SECOND_SIZE
    return UnresolvedError(index, problem.format(kind=part.fitting), remedy)


def _between(
    index: int, part: FittingPart, parts: Sequence[AnyPart], stated: list[Sides]
) -> FittingPart:
    """Fill in a change of size that takes both its bores from the pipes beside it."""
    before = _before(index, parts, stated, pipes=True)
    after = _after(index, parts, stated, pipes=True)
    if before is None or after is None:
        raise _no_second_size(index, part)
    own = part.bore if part.bore != OF_THE_NEIGHBOURS else min(before, after)
    return part.placed(bore=own, sides=(before, after))


def _barb(
    index: int,
    part: FittingPart,
    parts: Sequence[AnyPart],
    stated: list[Sides],
    default: float | None,
) -> FittingPart:
    """Fill in a barb: thread, hose, and between them a bore narrower than the hose."""
    thread, hose_bore = stated[index]
    turned = _turned(index, parts, stated)
    if hose_bore is None:
        beside = parts[index - 1 :: -1] if turned and index else parts[index + 1 :]
        hose_bore = next((other.bore for other in beside if isinstance(other, HosePart)), None)
    if hose_bore is None:
        raise UnresolvedError(index, *NO_HOSE)
    if thread is None:
        look = (_after, _before) if turned else (_before, _after)
        thread = look[0](index, parts, stated, pipes=True) or default or hose_bore
    estimated = part.bore == OF_THE_NEIGHBOURS
    return part.placed(
        bore=fittings.barb_bore(hose_bore) if estimated else part.bore,
        sides=(hose_bore, thread) if turned else (thread, hose_bore),
        estimated=estimated,
    )
