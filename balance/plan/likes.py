"""``like = "tank 1"``: copy all that is not restated."""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from typing import Any

from balance.plan.fields import nearest, quoted
from balance.plan.locate import Path

SECTIONS = ("vessels", "branches", "drains")

Complaint = tuple[Path, str, str]
"""A path, what is wrong there and what to write instead."""


def expand(document: dict[str, Any]) -> tuple[dict[Path, Path], list[Complaint]]:
    """Write out every ``like`` in the document, in place.

    Names are not copied: a stretch has its own, and so have its valves.

    Returns
    -------
    tuple
        From each copied key to where it was written, and the complaints.
    """
    origins: dict[Path, Path] = {}
    complaints: list[Complaint] = []
    for section in SECTIONS:
        entries = dict(_entries(document, section))
        done: set[str] = set()
        for fold in entries:
            _fill(section, fold, entries, done, (), origins, complaints)
    return origins, complaints


def _entries(document: dict[str, Any], section: str) -> Iterator[tuple[str, tuple[Path, Any]]]:
    """Give the entries of a section by their names in lower case."""
    content = document.get(section)
    if isinstance(content, dict):
        for name, entry in content.items():
            if isinstance(entry, dict):
                yield name.casefold(), ((section, name), entry)
    elif isinstance(content, list):
        for index, entry in enumerate(content):
            if isinstance(entry, dict):
                name = entry.get("name")
                fold = name.casefold() if isinstance(name, str) else f"={index}"
                yield fold, ((section, index), entry)


def _fill(
    section: str,
    fold: str,
    entries: dict[str, tuple[Path, Any]],
    done: set[str],
    chain: tuple[str, ...],
    origins: dict[Path, Path],
    complaints: list[Complaint],
) -> None:
    """Fill one entry from the one it is like, that one first."""
    if fold in done:
        return
    path, entry = entries[fold]
    like = entry.get("like")
    if not isinstance(like, str):
        done.add(fold)
        return
    here, other = (*path, "like"), like.casefold()
    if other not in entries:
        near = nearest(like, (_name(*entries[known]) for known in entries if known != fold))
        remedy = f'nearest: "{near}"' if near else f"it copies from another of the {section}"
        complaints.append((here, f"there is no {quoted(like)} among the {section}", remedy))
    elif other == fold or other in chain:
        loop = [*chain[chain.index(other) :], fold] if other in chain else [fold]
        names = [_name(*entries[known]) for known in (*loop, loop[0])]
        complaints.append(
            (
                here,
                "the chain of like returns to itself: " + " is like ".join(f'"{n}"' for n in names),
                "write one of them out in full",
            )
        )
    else:
        _fill(section, other, entries, done, (*chain, fold), origins, complaints)
        origin, model = entries[other]
        for key, value in model.items():
            if key not in entry and key not in ("name", "like"):
                entry[key] = _without_names(value)
                origins[*path, key] = (*origin, key)
    done.add(fold)


def _name(path: Path, entry: dict[str, Any]) -> str:
    return str(entry.get("name", path[-1]))


def _without_names(value: object) -> object:
    copied = deepcopy(value)
    for part in copied if isinstance(copied, list) else ():
        if isinstance(part, dict):
            part.pop("name", None)
    return copied
