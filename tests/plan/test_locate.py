"""The locator against tomllib: on random documents both see the same keys, each on its line."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from balance.plan.locate import Path, locate


def paths_of(value: object, path: Path = ()) -> set[Path]:
    found: set[Path] = {path} if path else set()
    if isinstance(value, dict):
        for key, inner in value.items():
            found |= paths_of(inner, (*path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            found |= paths_of(inner, (*path, index))
    return found


@dataclass
class Writer:
    """Writes a random document and notes the line on which each thing went."""

    draw: Any
    text: str = ""
    lines: dict[Path, int] = field(default_factory=dict)

    def line(self) -> int:
        return self.text.count("\n") + 1

    def put(self, text: str) -> None:
        self.text += text

    def space(self) -> None:
        self.put(self.draw(st.sampled_from(["", " ", "\t", "  "])))

    def gap(self) -> None:
        self.put(
            self.draw(st.sampled_from(["", " ", "\n", "\r\n", " # a ] } \" ' = b\n", "\n\t\n"]))
        )

    def key(self, name: str) -> None:
        forms = [
            f"'{name}'",
            '"' + name + '"',
            '"' + "".join(f"\\u{ord(c):04X}" for c in name) + '"',
        ]
        if name and all(c.isascii() and (c.isalnum() or c in "-_") for c in name):
            forms += [name, name]
        self.put(self.draw(st.sampled_from(forms)))

    def pair(self, base: Path, name: str, depth: int) -> None:
        path = (*base, name)
        self.lines[path] = self.line()
        self.key(name)
        self.space()
        if self.draw(st.booleans()) and depth < 2:
            self.put(".")
            self.space()
            inner = self.draw(NAMES)
            path = (*path, inner)
            self.lines[path] = self.line()
            self.key(inner)
            self.space()
        self.put("=")
        self.space()
        self.value(path, depth)

    def value(self, path: Path, depth: int) -> None:
        kind = self.draw(
            st.sampled_from(["scalar", "scalar", "array", "table"] if depth < 4 else ["scalar"])
        )
        if kind == "scalar":
            self.put(self.draw(SCALARS))
            return
        if kind == "array":
            self.put("[")
            count = self.draw(st.integers(0, 3))
            for index in range(count):
                self.gap()
                self.lines[(*path, index)] = self.line()
                self.value((*path, index), depth + 1)
                self.gap()
                if index < count - 1 or self.draw(st.booleans()):
                    self.put(",")
            self.gap()
            self.put("]")
            return
        self.put("{")
        names = self.draw(st.lists(NAMES, max_size=3, unique=True))
        for index, name in enumerate(names):
            self.space()
            self.pair(path, name, depth + 1)
            self.space()
            if index < len(names) - 1:
                self.put(",")
        self.put("}")

    def pairs(self, base: Path) -> None:
        for name in self.draw(st.lists(NAMES, max_size=3, unique=True)):
            self.space()
            self.pair(base, name, 0)
            self.space()
            self.put(self.draw(st.sampled_from(["\n", "\r\n", "# note [x]\n"])))
            self.gap()
        if not self.text.endswith("\n"):
            self.put("\n")

    def document(self) -> None:
        self.gap()
        self.pairs(())
        taken = {path[0] for path in self.lines}
        for name in self.draw(st.lists(NAMES, max_size=3, unique=True)):
            if name in taken:
                continue
            if self.draw(st.booleans()):
                self.table((name,))
            else:
                for index in range(self.draw(st.integers(1, 3))):
                    self.item((name,), index)

    def table(self, path: Path) -> None:
        self.lines[path] = self.line()
        self.space()
        self.put("[")
        self.space()
        self.key(str(path[-1]))
        self.space()
        self.put("]\n")
        self.pairs(path)

    def item(self, path: Path, index: int) -> None:
        self.lines.setdefault(path, self.line())
        here = (*path, index)
        self.lines[here] = self.line()
        self.put("[[")
        self.space()
        self.key(str(path[-1]))
        self.put("]]")
        self.put(self.draw(st.sampled_from(["\n", " # [[x]]\n"])))
        self.pairs(here)
        if self.draw(st.booleans()):
            inner = (*here, "below it")
            if not any(known[: len(inner)] == inner for known in self.lines):
                self.lines[inner] = self.line()
                self.put("[")
                self.key(str(path[-1]))
                self.put(" . 'below it']\n")
                self.pairs(inner)


NAMES = st.text(st.sampled_from("abc-_1 .=#[é"), min_size=0, max_size=4)
SCALARS = st.sampled_from(
    [
        "1",
        "-3.5e2",
        "true",
        "inf",
        "1979-05-27 07:32:00",
        '"a # ] } = \\" b"',
        "'c:\\ # ] }'",
        '""',
        "''",
        '"""two\nlines ] # "" } \\""""',
        '"""ends in two quotes"""""',
        "'''raw\n ' '' ] \\\n'''",
        '""""""',
    ]
)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_every_key_of_a_random_document_has_its_line(data: st.DataObject) -> None:
    writer = Writer(data.draw)
    writer.document()
    try:
        document = tomllib.loads(writer.text)
    except tomllib.TOMLDecodeError as error:  # two dotted keys met by chance
        if "Cannot" not in str(error):
            raise
        return
    found = locate(writer.text)
    assert set(found) == paths_of(document)
    assert {path: line for path, line in found.items() if path in writer.lines} == writer.lines


def test_lines_of_a_small_plan() -> None:
    text = (
        'title = "x"\n\n[vessels.sump]\nlevel = "9 in"  # here\n\n'
        '[[branches]]\nname = "a"\nparts = [\n  { valve = "ball" },\n\n  { hose = "1/2 in" },\n]\n'
        '[[branches]]\nname = "b"\n'
    )
    lines = locate(text)
    assert lines["title",] == 1
    assert lines["vessels",] == lines["vessels", "sump"] == 3
    assert lines["vessels", "sump", "level"] == 4
    assert lines["branches",] == lines["branches", 0] == 6
    assert lines["branches", 0, "parts", 1] == lines["branches", 0, "parts", 1, "hose"] == 11
    assert lines["branches", 1, "name"] == 14
