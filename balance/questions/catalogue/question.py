"""The question: which parts a plan may use, found by words."""

from __future__ import annotations

from math import isclose

from balance.errors import UsageError
from balance.parts.pipes import PipeSize, nominal_bore
from balance.parts.sources import named_in, sources
from balance.parts.spreads import printed_spread
from balance.questions.catalogue.answer import Catalogue, KnownPart
from balance.questions.catalogue.forms import STATED, TEMPERATURE, Form, bored, forms, pipe_of
from balance.questions.catalogue.losses import Loss, losses
from balance.questions.catalogue.search import size_in, that_fit
from balance.units import SYSTEMS, parse

SIZE = "1 in"  # in which losses are stated where no other is asked for; our own choice
VELOCITY = 5 * 0.3048
"""At which losses are stated [m/s]: about the most that is run through pipe; velocity-maker."""


def catalogue(*words: str, units: str = "us") -> Catalogue:
    """List the parts that a plan may use, with what they lose and the sources of that.

    Parameters
    ----------
    words : left out: all parts; else those that every word fits, by kind, name or source. A size
        among them, such as "3/4 in", "3/4" or "32 mm", is the one that losses are stated for, and
        of pipe and hose only that size is kept.
    units : in which the answer is to be shown: us, imperial or metric

    Raises
    ------
    UnknownNameError
        A word that fits nothing, or a size that nothing is made in, with the nearest.
    UsageError
        Words that no part fits all of, or units that are none.
    """
    if units not in SYSTEMS:
        raise UsageError(f'"{units}" are no units; write one of {", ".join(SYSTEMS)}')
    stated, others = size_in([each for word in words for each in word.split()])
    size = SIZE if stated is None else stated
    pipe = pipe_of(size)
    found = [
        form
        for form in that_fit(tuple(forms(size)), others)
        if _is_made(form, None if stated is None else parse(stated, "length"), pipe)
    ]
    if not found:
        if pipe is None:
            nominal_bore(size)  # refuses the size with those that there are
        asked = " and ".join(f'"{word}"' for word in (*others, *filter(None, [stated])))
        raise UsageError(f"no part is {asked} at once; leave one of these words out")
    own = bored(size) if pipe is None else pipe
    parts = tuple(
        _known(form, loss)
        for form, loss in zip(found, losses(found, pipe=own, velocity=VELOCITY), strict=True)
    )
    keys = dict.fromkeys(key for part in parts for key in part.keys)
    return Catalogue(
        words=words,
        size=size,
        pipe=own.name,
        velocity=VELOCITY,
        temperature=TEMPERATURE,
        parts=parts,
        sources={key: sources()[key] for key in sorted(keys)},
        units=units,
    )


def _is_made(form: Form, stated: float | None, pipe: PipeSize | None) -> bool:
    """Whether a part is made in the size that was asked for, if one was."""
    if form.bore is None:
        return pipe is not None or form.kind in STATED
    return stated is None or form.size is None or isclose(form.size, stated, rel_tol=1e-6)


def _known(form: Form, loss: Loss) -> KnownPart:
    spread = None if loss.k is None else printed_spread(form.kind, form.name)
    source = form.source if spread is None else f"{form.source}; spread: {spread.source}"
    return KnownPart(
        kind=form.kind,
        name=form.name,
        written=form.written,
        loss=form.loss,
        bore=loss.bore,
        flow=loss.flow,
        k=loss.k,
        k_half=loss.k_half,
        gradient=loss.gradient,
        as_pipe=loss.as_pipe,
        opening_head=loss.opening_head,
        stands=form.stands,
        spread=None if spread is None else spread.share,
        source=source,
        keys=named_in(source),
    )
