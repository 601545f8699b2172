"""What a person should know about how cases were reckoned, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from balance.network.arrays import Network
from balance.questions.close.cases import Move, Scenario
from balance.questions.handles import mark, valve_of


def notes_of(
    network: Network, scenarios: Sequence[Scenario], *, each: bool, to: str | None
) -> Iterator[str]:
    """Notes on some scenarios; `each` branch is done in turn, or turned `to` a mark."""
    moves = list(dict.fromkeys(move for scenario in scenarios for move in scenario.moves))
    for move in moves:
        yield from _move(network, move)
    if each:
        done = {move.stretch for move in moves}
        left = [
            f"{branch.name} ({_why(network, branch.name, to)})"
            for branch in network.plan.branches
            if branch.name not in done
        ]
        if left:
            yield f"left out: {', '.join(left)}"
    yield "levels are held as the plan has them"


def _why(network: Network, branch: str, to: str | None) -> str:
    """Why a branch is not done in its turn."""
    if network.capped[network.row_of[branch], 0]:
        return "capped"
    ref = valve_of(network.plan, branch)
    if ref is not None and ref.part.open == 0.0:
        return "shut already"
    if to is None:
        return "what is drawn at a joint comes through it"
    return "no valve" if ref is None else "no such mark"


def _move(network: Network, move: Move) -> Iterator[str]:
    if network.capped[network.row_of[move.stretch], 0]:
        yield f'"{move.name}" is capped: nothing flows there'
    elif move.valve is None:
        yield f'"{move.name}" has no valve: it is reckoned as capped off where it begins'
    elif move.valve.part.open == 0.0:
        yield f'"{move.name}" is shut already' + ("" if move.shuts else ": this opens it")
    elif move.opening > move.valve.part.open:
        yield f'"{move.name}" stands at {mark(move.valve.part)}: this opens it'
    elif move.valve.part.stops is not None and move.opening < move.valve.part.stops[0]:
        stop = mark(move.valve.part.model_copy(update={"open": move.valve.part.stops[0]}))
        yield f'a stop keeps "{move.name}" from going below {stop}: it is reckoned as gone'
