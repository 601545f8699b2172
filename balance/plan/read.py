"""From a plan file to a plan, or to every fault of the file, each with its line and the way out."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path as FilePath
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from balance.errors import Fault, PlanError
from balance.plan import bores, likes, names, rules
from balance.plan.describe import example_of
from balance.plan.fields import nearest, quoted
from balance.plan.likes import Complaint
from balance.plan.locate import Path, locate
from balance.plan.model import (
    Branch,
    Candidate,
    Drain,
    Group,
    Header,
    Joint,
    Plan,
    Pump,
    Run,
    Stretch,
    Table,
    Tap,
    ValveRef,
    Vessel,
    Weir,
)
from balance.plan.pieces import KINDS
from balance.plan.places import Places, names_of
from balance.plan.traps import explain

LARGEST = 2_000_000
"""Bytes; a plan of a thousand branches has about a tenth of that."""

NAMED: dict[str, type[Table]] = {"vessels": Vessel, "pumps": Pump, "joints": Joint, "groups": Group}
"""Sections written ``[vessels.sump]``, by name."""

LISTED: dict[str, type[Table]] = {
    "runs": Run,
    "headers": Header,
    "branches": Branch,
    "drains": Drain,
    "weirs": Weir,
    "candidates": Candidate,
}
"""Sections written ``[[runs]]``, in order."""

_TOP_KEYS = ("title", "units", "measured")


def read(path: str | os.PathLike[str]) -> Plan:
    """Read a plan file.

    Parameters
    ----------
    path
        A TOML file; the names of curve files in it count from its folder.

    Raises
    ------
    PlanError
        With every fault of the file, in the order of the file.
    """
    file = FilePath(path)
    return read_text(text_of(file), file=file.name, folder=file.parent).read_from(file)


def read_text(text: str, *, file: str = "plan", folder: FilePath | None = None) -> Plan:
    """Read a plan from the text of its file, as `read` does.

    Parameters
    ----------
    text
        The document.
    file
        How faults name it.
    folder
        From which the names of curve files count; left out: the current one.
    """
    text = text.replace("\r\n", "\n")
    document, lines = _document(text, file)
    book = Places(file, lines, names_of(document))
    raw = deepcopy(document)
    origins, complaints = likes.expand(raw)
    unlike = {path[:2] for path, _, _ in complaints}
    places = Places(file, lines, book.names, origins)

    complaints += names.resolve(raw)
    complaints += rules.of_document(raw)
    reader = _Reader(places, folder or FilePath(), unlike)
    plan = reader.tables(raw)
    complaints += reader.bores()
    told = {path for path, _, _ in complaints}
    complaints += rules.of_entries(reader.found, names=raw.get("vessels", {}), told=told)
    if not reader.faults:
        complaints += rules.something_moves(reader.found)

    faults = reader.faults + [
        (places.line(path), places.fault(path, problem, remedy))
        for path, problem, remedy in complaints
    ]
    if faults:
        faults.sort(key=lambda each: each[0] or 0)
        raise PlanError(tuple(dict.fromkeys(fault for _, fault in faults)))
    return plan.model_copy(update=reader.sections(raw)).placed(places)


def text_of(file: FilePath) -> str:
    """Read the text of a plan file with its line ends, or say in plain words why it is none."""

    def refuse(problem: str, remedy: str) -> PlanError:
        return PlanError((Fault(file.name or str(file), None, "", problem, remedy),))

    try:
        size = file.stat().st_size
        if size > LARGEST:
            raise refuse(
                f"the file has {size / 1e6:.0f} MB, far too much for a plan",
                "name the plan file, a few pages of text ending in .toml",
            )
        content = file.read_bytes()
    except FileNotFoundError as error:
        raise refuse("there is no such file", "check its name and folder") from error
    except IsADirectoryError as error:
        raise refuse("this is a folder", "name the plan file in it") from error
    except OSError as error:
        raise refuse(
            f"the file cannot be read: {error.strerror}", "check its permissions"
        ) from error
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise refuse("the file is saved as UTF-16", "save it again as UTF-8")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        if b"\0" in content:
            raise refuse(
                "this is not a text file", "name the plan file, ending in .toml"
            ) from error
        raise PlanError(
            (
                Fault(
                    file.name,
                    line,
                    "",
                    "a character is not saved as UTF-8",
                    "save the file again as UTF-8; if it is no text file, it is no plan",
                ),
            )
        ) from error
    if "\0" in text:
        raise refuse("this is not a text file", "name the plan file, ending in .toml")
    return text


def _document(text: str, file: str) -> tuple[dict[str, Any], dict[Path, int]]:
    """Read the TOML, with the line of everything in it."""
    try:
        return tomllib.loads(text), locate(text)
    except tomllib.TOMLDecodeError as error:
        found = explain(text, error)
        fault = Fault(file, found.line, "", found.problem, found.remedy)
    except RecursionError:
        deepest = re.search(r"[\[{\s]{50,}", text)
        line = text.count("\n", 0, deepest.start()) + 1 if deepest else None
        fault = Fault(file, line, "", "brackets inside brackets without end", "close each [ and {")
    except ValueError as error:  # a whole number with thousands of digits, a date that is none
        huge = re.search(r"\d{1000,}", text)
        line = text.count("\n", 0, huge.start()) + 1 if huge else None
        problem = "a number with thousands of digits" if huge else f"not TOML: {error}"
        fault = Fault(file, line, "", problem, "check what stands there")
    raise PlanError((fault,)) from None


class _Reader:
    """Reads a document entry by entry, so that a fault in one hides none in another."""

    def __init__(self, places: Places, folder: FilePath, unlike: set[Path]) -> None:
        self.places = places
        self.context: dict[str, object] = {"folder": folder}
        self.unlike = unlike
        self.found: dict[Path, Table] = {}
        self.faults: list[tuple[int | None, Fault]] = []

    def tables(self, document: dict[str, Any]) -> Plan:
        """Read every entry; give the plan without its sections."""
        for path, model, entry in self._entries(document):
            if (item := self.validated(model, entry, path)) is not None:
                self.found[path] = item
        self.context["valves"] = {ref.name.casefold(): ref.part for ref in self._valves()}
        rest = {key: document[key] for key in document if key not in NAMED | LISTED}
        plan = self.validated(Plan, rest, ())
        return plan if isinstance(plan, Plan) else Plan()

    def _valves(self) -> tuple[ValveRef, ...]:
        """Give the valves of all sound stretches."""
        stretches = {
            section: tuple(item for path, item in self.found.items() if path[0] == section)
            for section in ("runs", "headers", "branches", "drains")
        }
        return Plan().model_copy(update=stretches).valves()

    def _entries(self, document: dict[str, Any]) -> Iterator[tuple[Path, type[Table], Any]]:
        for section, model in NAMED.items():
            content = document.get(section, {})
            if isinstance(content, dict):
                loose = {
                    key: value
                    for key, value in content.items()
                    if key in _keys(model) and not isinstance(value, dict)
                }
                if loose:
                    self.add(
                        (section, next(iter(loose))),
                        f"this stands in [{section}] itself, which has no name",
                        f"write [{section}.sump], or another name, above it",
                    )
                for name, entry in content.items():
                    if name not in loose:
                        yield (section, name), model, entry
            else:
                self.add((section,), f"{section} go by name", f"write [{section}.sump] for each")
        for section, model in LISTED.items():
            content = document.get(section, [])
            if isinstance(content, list):
                for index, entry in enumerate(content):
                    yield (section, index), model, entry
            else:
                self.add(
                    (section,),
                    f"{section} are a list",
                    f"write [[{section}]], with two brackets on each side, above each",
                )

    def add(self, path: Path, problem: str, remedy: str) -> None:
        fault = self.places.fault(path, problem, remedy)
        self.faults.append((self.places.line(path), fault))

    def validated(self, model: type[Table], entry: object, path: Path) -> Table | None:
        """Read one entry, or note its faults."""
        try:
            return model.model_validate(entry, context=self.context)
        except ValidationError as error:
            for detail in error.errors(include_url=False):
                self.note(model, path, detail)
            return None

    def note(self, model: type[Table], path: Path, detail: ErrorDetails) -> None:
        """Put one of pydantic's findings into plain words."""
        loc = detail["loc"]
        inside, owner = _without_tags(loc), _owner(model, loc)
        here = path + inside
        if detail["type"] == "faults of a file":
            line = self.places.line(here)
            self.faults += [(line, fault) for fault in detail["ctx"]["faults"]]
        elif detail["type"] == "missing":
            if here[:2] not in self.unlike:
                key = str(inside[-1])
                self.add(here[:-1], f"{key} is missing", f"add {key} = {example_of(owner, key)}")
        elif detail["type"] == "extra_forbidden":
            self.add(here, *_unknown_key(str(inside[-1]), owner, self.places.words(here[:-1])))
        else:
            key = next((str(k) for k in reversed(here) if isinstance(k, str)), "")
            problem, remedy = _in_words(detail, key)
            self.add(here, problem, remedy.replace("{key}", key))

    def bores(self) -> Iterator[Complaint]:
        """Fill in the bores of all parts of sound stretches."""
        sides: dict[str, float] = {}
        for path, item in list(self.found.items()):
            if not isinstance(item, Header):
                continue
            taps = []
            for at, tap in enumerate(item.taps):
                here = (*path, "taps", at)
                try:
                    parts = bores.resolve(tap.parts, default=item.pipe.bore)
                except bores.UnresolvedError as error:
                    yield (*here, "parts", error.index), error.problem, error.remedy
                    parts = tap.parts
                last = at == len(item.taps) - 1 and item.to is None
                end = tap.end or ("cap" if last else None)
                taps.append(tap.model_copy(update={"parts": parts, "end": end}))
                if tap.branch is not None:
                    sides[tap.branch] = tap.side_bore or item.pipe.bore
            self.found[path] = item.model_copy(update={"taps": tuple(taps)})
        for path, item in list(self.found.items()):
            if isinstance(item, Stretch):
                name = str(getattr(item, "name", ""))
                try:
                    parts = bores.resolve(item.parts, default=sides.get(name))
                except bores.UnresolvedError as error:
                    yield (*path, "parts", error.index), error.problem, error.remedy
                    continue
                self.found[path] = item.model_copy(update={"parts": parts})

    def sections(self, document: dict[str, Any]) -> dict[str, Any]:
        """Give the sections of a plan without faults."""
        named: dict[str, Any] = {
            section: {name: self.found[section, name] for name in document.get(section, {})}
            for section in NAMED
        }
        listed = {
            section: tuple(
                self.found[section, index] for index in range(len(document.get(section, [])))
            )
            for section in LISTED
        }
        return named | listed


def _without_tags(loc: tuple[int | str, ...]) -> Path:
    """Drop from a place the kinds of parts that pydantic puts after their index."""
    return tuple(
        key
        for at, key in enumerate(loc)
        if key != "[key]"
        and not (at >= 2 and loc[at - 2] == "parts" and isinstance(loc[at - 1], int))
    )


def _owner(model: type[Table], loc: tuple[int | str, ...]) -> type[Table]:
    """Give the table to which the last key of a place belongs."""
    for at, key in enumerate(loc[:-1]):
        if at >= 2 and loc[at - 2] == "parts" and isinstance(loc[at - 1], int):
            model = KINDS[str(key)]
        elif key == "taps":
            model = Tap
        elif key in model.model_fields:
            model = _table_of(model, str(key))
    return model


def _table_of(model: type[Table], key: str) -> type[Table]:
    """Give the table that a key holds, such as ``water`` of the plan; else the key's own table."""
    annotation = model.model_fields[key].annotation
    choices = (annotation, *getattr(annotation, "__args__", ()))
    return next((c for c in choices if isinstance(c, type) and issubclass(c, Table)), model)


def _keys(model: type[Table]) -> tuple[str, ...]:
    return tuple(info.alias or name for name, info in model.model_fields.items())


def _unknown_key(key: str, owner: type[Table], where: str) -> tuple[str, str]:
    """Word a key that its table does not have."""
    if key in _TOP_KEYS and where:
        return (
            f"{key} stands below a table, so it counts as part of {where}",
            f"move {key} to the top of the file, above the first [ ]",
        )
    if owner is not Plan and issubclass(owner, tuple(KINDS.values())) and key in KINDS:
        return f"one part cannot have {key} as well", "write two parts, each in its own { }"
    if near := nearest(key, _keys(owner)):
        return f"there is no key {key} here", f"nearest: {near}"
    return f"there is no key {key} here", "known here: " + ", ".join(_keys(owner))


def _in_words(detail: ErrorDetails, key: str) -> tuple[str, str]:
    """Word what is wrong with a value, and what may stand there instead."""
    value, context = detail["input"], detail.get("ctx", {})
    kind = detail["type"]
    if kind == "fault":
        return context["problem"], context["remedy"]
    if kind == "literal_error":
        allowed = re.findall(r"'([^']*)'", context["expected"])
        near = nearest(value, allowed) if isinstance(value, str) else None
        choices = ", ".join(f'"{choice}"' for choice in allowed)
        return (
            f"{quoted(value)} is not one of the words known here",
            f'nearest: "{near}"; known: {choices}' if near else f"write one of {choices}",
        )
    if kind == "string_type":
        return f"{quoted(value)} is not text", "write it in quotation marks: {key} = " + _as_text(
            value
        )
    if kind in ("bool_type", "bool_parsing"):
        return (
            f"{quoted(value)} is neither true nor false",
            "write {key} = true, without quotation marks",
        )
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return (
            f"{quoted(value)} is not a table of keys",
            "write key = value lines below its [ ] or in { }",
        )
    if kind in ("tuple_type", "list_type"):
        return f"{quoted(value)} is not a list", "write {key} = [ ... ]"
    if kind in ("too_short", "string_too_short"):
        return (
            f"{key} is empty",
            "write at least one entry" if kind == "too_short" else "write a name",
        )
    return f"{quoted(value)}: {detail['msg'][:1].lower()}{detail['msg'][1:]}", ""


def _as_text(value: object) -> str:
    return f'"{value}"' if isinstance(value, int | float) else '"..."'
