"""One namespace for everything in a plan, and what its references mean.

Works on the document as TOML gives it, before the values are read, so that a wrong reference is
told in one go with a wrong unit. References are rewritten in place to the spelling of what they
name.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

from balance.plan.fields import nearest, quoted
from balance.plan.likes import Complaint
from balance.plan.locate import Path

OUTSIDE = "outside"

_KINDS = {
    "vessels": "vessel",
    "pumps": "pump",
    "joints": "joint",
    "groups": "group",
    "runs": "run",
    "headers": "header",
    "branches": "branch",
    "drains": "drain",
    "weirs": "weir",
}
LEARNT_OF = {
    "pump": "pump",
    "loss": "branch",
    "throttling": "valve",
    "offset": "valve",
    "mains": None,
    "bucket": None,
}
"""What the name of a learnt number names: one kind of thing, or nothing."""

_LEGS = ("pumps", "runs", "headers", "branches", "drains")


@dataclass(frozen=True)
class _Thing:
    """Something that has a name."""

    name: str
    kind: str
    path: Path


@dataclass
class _Joint:
    """A joint: how its name is spelt, and what begins or ends there (name, path of reference)."""

    name: str
    legs: list[tuple[str, Path]] = field(default_factory=list)

    @property
    def is_dead_end(self) -> bool:
        """Whether water that comes here could not go on."""
        return len(self.legs) == 1 or all(
            here[0] in ("branches", "drains") and here[-1] == "to" for _, here in self.legs
        )


def resolve(document: dict[str, Any]) -> list[Complaint]:
    """Check all names and references of a document; rewrite references as their names are spelt."""
    book = _Book(document)
    book.collect()
    book.header_taps()
    book.ends()
    book.references()
    book.joints_have_legs()
    return book.complaints


def entries(document: dict[str, Any], section: str) -> Iterator[tuple[Path, dict[str, Any]]]:
    """Give the well-formed entries of a section, each with its path."""
    content = document.get(section)
    if isinstance(content, dict):
        pairs: Iterable[tuple[str | int, Any]] = content.items()
    else:
        pairs = enumerate(content) if isinstance(content, list) else ()
    for key, entry in pairs:
        if isinstance(entry, dict):
            yield (section, key), entry


def tables(value: object) -> Iterator[tuple[int, dict[str, Any]]]:
    """Give the tables in a list, each with its index."""
    for index, item in enumerate(value if isinstance(value, list) else ()):
        if isinstance(item, dict):
            yield index, item


def valve_names(stretch: str, valves: Sequence[tuple[str | None, bool]]) -> list[str]:
    """Name the valves of a stretch, each told by its own name, if any, and whether it is locked.

    The one to turn has the stretch's name if none of its own.
    """
    unnamed = [at for at, (name, _) in enumerate(valves) if name is None]
    free = [at for at in unnamed if not valves[at][1]]
    heir = next(iter(free or unnamed), None)
    return [
        name or (stretch if at == heir else f"{stretch} valve {at + 1}")
        for at, (name, _) in enumerate(valves)
    ]


def fold(name: str) -> str:
    """Give a name as names are compared: without regard to case and to width of spaces."""
    return " ".join(name.split()).casefold()


def _name(path: Path, entry: dict[str, Any]) -> str | None:
    name = entry.get("name") if isinstance(path[1], int) else path[1]
    return name if isinstance(name, str) and name.strip() else None


class _Book:
    """The names of one document."""

    def __init__(self, document: dict[str, Any]) -> None:
        self.document = document
        self.things: dict[str, _Thing] = {OUTSIDE: _Thing(OUTSIDE, "vessel", ())}
        self.joints: dict[str, _Joint] = {}
        self.complaints: list[Complaint] = []

    def complain(self, path: Path, problem: str, remedy: str = "") -> None:
        self.complaints.append((path, problem, remedy))

    # Names

    def collect(self) -> None:
        """Gather every name, each once."""
        for section, kind in _KINDS.items():
            for path, entry in entries(self.document, section):
                at = (*path, "name") if isinstance(path[1], int) else path
                if name := _name(path, entry):
                    self.add(name, kind, at)
                elif not isinstance(path[1], int) or isinstance(entry.get("name"), str):
                    self.complain(at, "the name is empty", f"call the {kind} something")
        for path, valve, stretch in self.valves():
            name = valve.get("name")
            if isinstance(name, str) and (stretch is None or fold(name) != fold(stretch)):
                self.add(name, "valve", (*path, "name"))

    def add(self, name: str, kind: str, path: Path) -> None:
        if bad := [mark for mark in "=," if mark in name]:
            self.complain(path, f"a name may not hold {bad[0]!r}", "use letters, digits and spaces")
            return
        known = self.things.get(fold(name))
        if known is None:
            self.things[fold(name)] = _Thing(name, kind, path)
        elif known.name == OUTSIDE:
            self.complain(
                path, f'"{name}" is the floor drain and the open air', "choose another name"
            )
        else:
            both = f"two {_plural(kind)}" if known.kind == kind else f"a {known.kind} and a {kind}"
            self.complain(
                path,
                f'{both} are called "{name}"',
                "give one another name: all things in a plan share one set of names, in any case",
            )

    def valves(self) -> Iterator[tuple[Path, dict[str, Any], str | None]]:
        """Give every valve with its path and the name of its stretch."""
        for section in ("runs", "branches", "drains"):
            for path, entry in entries(self.document, section):
                for index, part in tables(entry.get("parts")):
                    if "valve" in part:
                        yield (*path, "parts", index), part, _name(path, entry)
        for path, header in entries(self.document, "headers"):
            for at, tap in tables(header.get("taps")):
                stretch = f"{_name(path, header)} to {tap.get('branch') or header.get('to')}"
                for index, part in tables(tap.get("parts")):
                    if "valve" in part:
                        yield (*path, "taps", at, "parts", index), part, stretch

    # References

    def header_taps(self) -> None:
        """Join each tap to its branch."""
        tapped: dict[str, Path] = {}
        for path, header in entries(self.document, "headers"):
            taps = list(tables(header.get("taps")))
            for at, tap in taps:
                here = (*path, "taps", at)
                last = at == taps[-1][0]
                if "branch" not in tap:
                    if not last or "to" not in header:
                        self.complain(
                            here,
                            "this tap has no branch",
                            'name one, branch = "spare 1"; only the last tap of a header with '
                            "`to` goes without: it is the pipe that leads there",
                        )
                    continue
                if last and "to" in header:
                    self.complain(
                        here,
                        "the header goes on from here to "
                        f"{quoted(header['to'])}, by a pipe that is not given",
                        'add a last tap without a branch, { after = "12 in" }',
                    )
                if "end" in tap and (not last or "to" in header):
                    self.complain(
                        (*here, "end"),
                        "the header does not end here",
                        "only its last tap has an end",
                    )
                branch = self.refer(tap, "branch", here, ("branch",))
                if branch is None:
                    continue
                if branch.name in tapped:
                    self.complain(
                        (*here, "branch"),
                        f'"{branch.name}" starts from another tap already',
                        "a branch starts from one tap",
                    )
                    continue
                tapped[branch.name] = here
                self.tap_joint(branch, _name(path, header) or "header", here)
        for path, entry in entries(self.document, "branches"):
            name = _name(path, entry)
            if name is None:
                continue
            thing = self.things.get(fold(name))
            if thing is None or thing.path[:2] != path:
                continue
            if "from" in entry and thing.name in tapped:
                self.complain(
                    (*path, "from"),
                    f'"{name}" has a tap on a header and a `from` as well',
                    "keep one of the two",
                )
            elif "from" not in entry and thing.name not in tapped:
                self.complain(
                    path,
                    "the branch starts nowhere",
                    f'name it in the taps of a header, {{ branch = "{name}", after = "4 in" }}, '
                    'or give it from = "..."',
                )

    def tap_joint(self, branch: _Thing, header: str, here: Path) -> None:
        """Make the joint that a tap is; its legs need no counting."""
        name = f"{branch.name} tap"
        known = self.things.get(fold(name))
        if known is not None and known.kind != "joint":
            self.complain(
                (*here, "branch"),
                f'the tap is called "{name}", and so is a {known.kind}',
                f"give the {known.kind} another name",
            )
        joint = self.joints.setdefault(fold(name), _Joint(known.name if known else name))
        joint.legs += [(header, here), (header, here), (branch.name, here)]

    def ends(self) -> None:
        """Find both ends of all that water flows through: vessels, or joints by their names."""
        for section in _LEGS:
            for path, entry in entries(self.document, section):
                for key in ("from", "to"):
                    if section == "drains" and key == "from" and not self.is_vessel(entry):
                        self.refer(entry, key, path, ("vessel",))
                    elif isinstance(entry.get(key), str):
                        self.end(entry, key, path, _name(path, entry) or section)
        for path, entry in entries(self.document, "weirs"):
            for key in ("from", "to"):
                self.refer(entry, key, path, ("vessel",))

    def is_vessel(self, entry: dict[str, Any]) -> bool:
        """Whether an entry begins in a vessel, as a drain must."""
        thing = self.things.get(fold(str(entry.get("from"))))
        return thing is not None and thing.kind == "vessel"

    def end(self, entry: dict[str, Any], key: str, path: Path, leg: str) -> None:
        text, here = entry[key], (*path, key)
        thing = self.things.get(fold(text))
        if thing is not None and thing.kind == "vessel":
            entry[key] = thing.name
            if thing.name == OUTSIDE and key == "from":
                self.complain(
                    here, "nothing flows in from outside", "make the source a vessel with its level"
                )
            elif thing.name == OUTSIDE and path[0] in ("pumps", "headers"):
                self.complain(
                    here,
                    f"a {_KINDS[str(path[0])]} cannot end outside",
                    'let it end in a joint, and a run from there to "outside" with its outlet',
                )
            return
        if thing is not None and thing.kind != "joint":
            if thing.kind == "header" and key == "to":
                remedy = 'write the joint where the header begins, its own "from"'
            else:
                remedy = "write a vessel, or any new name for a joint where several things meet"
            self.complain(
                here, f'"{thing.name}" is a {thing.kind}, not a vessel or a joint', remedy
            )
            return
        if not text.strip():
            self.complain(here, "the name is empty", "write a vessel or a joint")
            return
        if bad := [mark for mark in "=," if mark in text]:
            self.complain(here, f"a name may not hold {bad[0]!r}", "use letters, digits and spaces")
            return
        name = thing.name if thing is not None else text
        joint = self.joints.setdefault(fold(text), _Joint(name))
        joint.legs.append((leg, here))
        entry[key] = joint.name

    def refer(
        self, entry: dict[str, Any], key: str | int, path: Path, kinds: tuple[str, ...]
    ) -> _Thing | None:
        """Look up a reference to one of some kinds of thing."""
        holder: Any = entry
        text = holder.get(key) if isinstance(holder, dict) else holder[key]
        if not isinstance(text, str):
            return None
        thing = self.things.get(fold(text))
        if thing is not None and thing.kind in kinds:
            holder[key] = thing.name
            return thing
        wanted = " or ".join(kinds)
        near = nearest(text, (t.name for t in self.things.values() if t.kind in kinds))
        remedy = f'nearest: "{near}"' if near else f"name a {wanted} of this plan"
        if thing is not None:
            self.complain((*path, key), f'"{thing.name}" is a {thing.kind}, not a {wanted}', remedy)
        else:
            self.complain((*path, key), f"there is no {wanted} {quoted(text)}", remedy)
        return None

    def references(self) -> None:
        """Look up what groups, joints and the water change name."""
        for path, group in entries(self.document, "groups"):
            branches = group.get("branches")
            if isinstance(branches, list):
                for index in range(len(branches)):
                    self.refer(branches, index, (*path, "branches"), ("branch",))  # type: ignore[arg-type]
        change = self.document.get("change")
        if isinstance(change, dict):
            self.refer(change, "from", ("change",), ("vessel",))
            self.refer(change, "drain", ("change",), ("drain", "run"))
            self.refer(change, "pump", ("change",), ("pump",))
        learnt = self.document.get("learnt")
        for index, number in tables(learnt.get("numbers") if isinstance(learnt, dict) else None):
            here = ("learnt", "numbers", index)
            kind = LEARNT_OF.get(str(number.get("of")))
            if kind == "valve":
                self.refer_valve(number, here)
            elif kind is not None:
                self.refer(number, "name", here, (kind,))

    def refer_valve(self, entry: dict[str, Any], path: Path) -> None:
        """Look up the name of a valve, which may be that of its stretch."""
        text = entry.get("name")
        if not isinstance(text, str):
            return
        known: dict[str, str] = {}
        for _, group in groupby(self.valves(), key=lambda found: found[0][:-1]):
            valves = list(group)
            own = [(v.get("name"), v.get("locked") is True) for _, v, _ in valves]
            if all(name is None or isinstance(name, str) for name, _ in own):
                known |= {fold(n): n for n in valve_names(str(valves[0][2]), own)}
        if fold(text) in known:
            entry["name"] = known[fold(text)]
            return
        near = nearest(text, known.values())
        self.complain(
            (*path, "name"),
            f"there is no valve {quoted(text)}",
            f'nearest: "{near}"' if near else "name a valve of this plan",
        )

    def joints_have_legs(self) -> None:
        """Insist that each joint joins something, and that a named side leg is one of its legs."""
        for path, entry in entries(self.document, "joints"):
            joint = self.joints.get(fold(str(path[1])))
            if joint is None:
                near = nearest(str(path[1]), (j.name for j in self.joints.values()))
                self.complain(
                    path,
                    f'nothing begins or ends at "{path[1]}"',
                    f'nearest: "{near}"' if near else "name it in a `from` or `to`, or take it out",
                )
                continue
            side = self.refer(entry, "side", path, ("run", "header", "branch", "pump", "drain"))
            if side is None:
                continue
            legs = [name for name, _ in joint.legs]
            if fold(side.name) not in map(fold, legs):
                self.complain(
                    (*path, "side"),
                    f'"{side.name}" neither begins nor ends at this joint',
                    "its legs are " + ", ".join(f'"{leg}"' for leg in legs),
                )
            elif len(legs) != 3:
                self.complain(
                    (*path, "side"),
                    f"a side leg makes a tee of three legs, and here meet {len(legs)}: "
                    + ", ".join(f'"{leg}"' for leg in legs),
                    "take `side` out: two legs are a plain connection, four lose nothing",
                )
        draws = {
            fold(str(path[1]))
            for path, entry in entries(self.document, "joints")
            if "draw" in entry
        }
        vessels = [thing.name for thing in self.things.values() if thing.kind == "vessel"]
        for name, joint in self.joints.items():
            if name in draws or not joint.is_dead_end:
                continue
            others = [j.name for j in self.joints.values() if j is not joint]
            near = nearest(joint.name, [*vessels, *others])
            remedy = "name a vessel, or let a second run, pump or header begin there"
            if len(joint.legs) == 1:
                met = f'nothing but "{joint.legs[0][0]}" meets there'
            else:
                met = "branches end there and nothing leads on"
            for _, here in joint.legs:
                self.complain(
                    here,
                    f'there is no vessel "{joint.name}", and as a joint it has one end only: {met}',
                    f'nearest: "{near}"; or {remedy}' if near else remedy,
                )


def _plural(kind: str) -> str:
    return "branches" if kind == "branch" else f"{kind}s"
