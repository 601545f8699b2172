"""The plumbing of a plan drawn as one would sketch it, with its handles and what flows."""

from __future__ import annotations

from balance.questions.drains import Drains
from balance.questions.flows import Flows
from balance.show.pictures.canvas import Picture, drawing
from balance.show.pictures.plumbing.describe import description_of
from balance.show.pictures.plumbing.draw import draw
from balance.show.pictures.plumbing.layout import layout_of

__all__ = ["plumbing"]


def plumbing(answer: Flows, drained: Drains | None = None) -> Picture:
    """Draw the vessels at their heights, and all that is between them.

    Parameters
    ----------
    answer : handles, pumps and flows
    drained : what drains carry, nothing blocked; without it they have no figures
    """
    flows = flows_of(drained)
    with drawing():
        figure = draw(layout_of(answer, flows))
    title = f"{answer.title or 'The plan'}: its plumbing, where its handles stand and what flows"
    return Picture(figure, title, description_of(answer, flows))


def flows_of(drained: Drains | None) -> dict[str, float]:
    """What each drain carries with nothing blocked and nothing touched [m³/s]."""
    if drained is None:
        return {}
    return {
        drain.drain: drain.flow for vessel in drained.vessels for drain in vessel.as_it_runs.drains
    }
