"""Words that a person looks for: a size among them, and which parts the others fit."""

from __future__ import annotations

import re
from collections.abc import Sequence

from balance.errors import BalanceError, UnknownNameError
from balance.parts.pipes import nominal_bore
from balance.parts.sources import named_in, sources
from balance.parts.tables import unknown
from balance.questions.catalogue.forms import ALSO, CALLED, Form
from balance.units import parse

_LONGEST = 3  # words of a size: "1 1/2 in"
_UNITS = {"": "in", "in": "in", "inch": "in", '"': "in", "″": "in", "mm": "mm"}
_WIDEST = 0.61  # m, of any pipe that has a name
_WORD = re.compile(r"[\w/.]*\w")


def size_in(words: Sequence[str]) -> tuple[str | None, tuple[str, ...]]:
    """The first size among words, such as "1 1/2 in", and the other words.

    A number with its unit is one; a bare one is, where pipe is made in so many inches.
    """
    for first in range(len(words)):
        for last in range(min(first + _LONGEST, len(words)), first, -1):
            size = _size(" ".join(words[first:last]))
            if size is not None:
                return size, (*words[:first], *words[last:])
    return None, tuple(words)


def _size(text: str) -> str | None:
    found = re.fullmatch(r"(\d[\d./ -]*?)\s*([a-z\"″]*)", text.casefold())
    if found is None or found[2] not in _UNITS:
        return None
    size = f"{found[1]} {_UNITS[found[2]]}"
    try:
        if not 0.0 < parse(size, "length") < _WIDEST:
            return None
        if not found[2]:
            nominal_bore(size)
    except BalanceError:
        return None
    return size


def that_fit(forms: Sequence[Form], words: Sequence[str]) -> list[Form]:
    """The parts that every word fits; there may be none.

    A word fits where it begins a word of a part's name, or a word of the trade for its kind; one
    that begins none of any part fits where it begins a word of the source.

    Raises
    ------
    UnknownNameError
        A word that fits nothing, with the nearest.
    """
    names = [
        _words(f"{CALLED.get(form.kind, form.kind)} {ALSO.get(form.kind, '')} {form.name}")
        for form in forms
    ]
    behind = [_words(_in_full(form.source)) for form in forms]
    known = sorted(word for word in _words(" ".join(sources())).union(*names) if word.isalpha())
    kept = set(range(len(forms)))
    for word in words:
        plain = word.casefold()
        fits = _fitting(plain, names) or _fitting(plain, behind)
        if not fits:
            nearest = unknown("part", plain, known).nearest
            raise UnknownNameError("part", word, nearest, tuple(_kinds(forms)))
        kept &= fits
    return [forms[place] for place in sorted(kept)]


def _fitting(word: str, texts: Sequence[set[str]]) -> set[int]:
    """Places of the texts in which some word begins so, as it is or without its plural's s."""
    for begun in dict.fromkeys((word, word.removesuffix("s"))):
        found = {
            place
            for place, text in enumerate(texts)
            if any(other.startswith(begun) for other in text)
        }
        if found and begun:
            return found
    return set()


def _kinds(forms: Sequence[Form]) -> dict[str, None]:
    return dict.fromkeys(CALLED.get(form.kind, form.kind) for form in forms)


def _words(text: str) -> set[str]:
    """The words of a text; those joined by a hyphen each and together."""
    joined = text.casefold().split()
    return {*_WORD.findall(text.casefold()), *(word.strip(",;:.()`") for word in joined)}


def _in_full(source: str) -> str:
    return " ".join([source, *(sources()[key] for key in named_in(source))])
