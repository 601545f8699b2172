"""The published sources that the answers to a plan rest on."""

from __future__ import annotations

from collections.abc import Iterator

from balance import water
from balance.parts import friction, pumps, tees
from balance.parts.sources import named_in, sources
from balance.plan.model import Plan
from balance.questions.catalogue.forms import forms
from balance.questions.catalogue.question import SIZE


def sources_of(plan: Plan) -> tuple[str, ...]:
    """Give each source in print of the laws of water, pipes, tees and pumps, and of its parts."""
    laws = (key for text in _laws() for key in named_in(text))
    return tuple(sources()[key] for key in dict.fromkeys((*laws, *_of_parts(plan))))


def _laws() -> Iterator[str]:
    """The docstrings of laws, which name their sources."""
    for module in (water, friction, tees, pumps):
        yield module.__doc__ or ""
        for name, member in vars(module).items():
            if not name.startswith("_") and getattr(member, "__module__", "") == module.__name__:
                yield member.__doc__ or ""


def _of_parts(plan: Plan) -> Iterator[str]:
    """The keys of what is known of the kinds of part in it."""
    named = {
        kind
        for stretch in plan.stretches()
        for part in stretch.parts
        for field in ("fitting", "valve", "check", "inlet", "outlet")
        if isinstance(kind := getattr(part, field, None), str)
    }
    for form in forms(SIZE):
        if form.name in named:
            yield from named_in(form.source)
