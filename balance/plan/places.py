"""Where things stand in a plan's file: the line of a path, and the path in its writer's words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from balance.errors import Fault
from balance.plan.locate import Path


@dataclass(frozen=True)
class Places:
    """The lines of a plan file, and the names by which its writer knows the entries of its lists.

    Attributes
    ----------
    file
        Name of the file, as shown in faults.
    lines
        Line of every path, from `balance.plan.locate`.
    names
        Name of every entry of a list that has one: ``("branches", 0)`` -> ``"carbon reactor"``.
    origins
        Where a key that was copied with ``like`` was written.
    """

    file: str = ""
    lines: Mapping[Path, int] = field(default_factory=dict)
    names: Mapping[Path, str] = field(default_factory=dict)
    origins: Mapping[Path, Path] = field(default_factory=dict)

    def written(self, path: Path) -> Path:
        """Give the path at which this was written, which differs for what ``like`` copied."""
        for length in range(len(path), 0, -1):
            if origin := self.origins.get(path[:length]):
                return self.written(origin + path[length:])
        return path

    def line(self, path: Path) -> int | None:
        """Give the line of a path, or of the nearest thing around it that the file has."""
        path = self.written(self.by_index(path))
        while path:
            if path in self.lines:
                return self.lines[path]
            path = path[:-1]
        return None

    def by_index(self, path: Path) -> Path:
        """Give a path with the entries of lists by index where it has them by name."""
        if len(path) > 1 and isinstance(path[1], str):
            wanted = path[1].casefold()
            for known, name in self.names.items():
                if len(known) == 2 and known[0] == path[0] and name.casefold() == wanted:
                    return known + path[2:]
        return path

    def words(self, path: Path) -> str:
        """Give a path as its writer would say it: ``branches "refugium" > parts[3] > lenght``.

        Entries of a list count from 1, as people count.
        """
        path = self.by_index(path)
        said: list[str] = []
        for depth, key in enumerate(path, start=1):
            if isinstance(key, int):
                name = self.names.get(path[:depth])
                said[-1] += f"[{key + 1}]" if name is None else f' "{name}"'
            elif depth == 2 and path[0] in NAMED_TABLES:
                said[-1] += f' "{key}"'
            else:
                said.append(key)
        return " > ".join(said)

    def fault(self, path: Path, problem: str, remedy: str = "") -> Fault:
        """Make a fault of what stands at a path."""
        written = self.written(path)
        return Fault(self.file, self.line(written), self.words(written), problem, remedy)


NAMED_TABLES = ("vessels", "pumps", "joints", "groups")
"""The sections whose entries have their name in the table's header: ``[vessels.sump]``."""


def names_of(document: Mapping[str, object]) -> dict[Path, str]:
    """Find the name of every entry of a list that has one."""
    found: dict[Path, str] = {}
    for section, entries in document.items():
        if not isinstance(entries, list):
            continue
        for index, entry in enumerate(entries):
            if isinstance(entry, dict) and isinstance(entry.get("name"), str) and entry["name"]:
                found[section, index] = entry["name"]
    return found
