"""On which line of a TOML text each key, each array item and each statement stands.

The standard library's TOML reader gives values without places, and a fault without a line is hard
to mend. This locator walks a text that the reader has already accepted, so it needs to know only
where things begin and end, never whether they are right.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from typing import NamedTuple

Path = tuple[str | int, ...]

_SPACE = re.compile(r"[ \t]*")
_GAP = re.compile(r"(?:[ \t\n]+|#[^\n]*)*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^\n,\]}#]+")
_STRING = re.compile(
    r'"""(?:[^"\\]|\\.|"{1,2}(?!"))*"{3,5}'
    r"|'''(?:[^']|'{1,2}(?!'))*'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)


def locate(text: str) -> dict[Path, int]:
    """Give the line, counted from 1, of every table, key and array item.

    Parameters
    ----------
    text
        A TOML document that ``tomllib`` accepts.

    Returns
    -------
    dict
        From path (``("branches", 2, "parts", 0, "valve")``) to line. A key has the line of its
        name, an array item the line on which it begins, a table the first line that mentions it.
    """
    return _Walk(text.replace("\r\n", "\n")).document()


class Statement(NamedTuple):
    """A table's header, or a key with its value that stands below one: its first and last line."""

    table: str
    """The first key of all that it says."""
    first: int
    last: int


def statements(text: str) -> list[Statement]:
    """Give what a TOML document that ``tomllib`` accepts is made of, beside remarks, in order."""
    walk = _Walk(text.replace("\r\n", "\n"))
    walk.document()
    return walk.statements


class _Walk:
    """A position in the text and the lines found so far."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Path, int] = {}
        self.statements: list[Statement] = []
        self.lengths: dict[Path, int] = {}  # items so far of each [[array of tables]]
        self.line_ends = [match.start() for match in re.finditer("\n", text)]

    def document(self) -> dict[Path, int]:
        base: Path = ()
        self.skip(_GAP)
        while self.at < len(self.text):
            first = self.line()
            if self.take("[["):
                said = base = self.header(of_array=True)
                self.at += 2
            elif self.take("["):
                said = base = self.header(of_array=False)
                self.at += 1
            else:
                said = self.pair(base)
            self.statements.append(Statement(str(said[0]), first, self.line()))
            self.skip(_GAP)
        return self.lines

    def header(self, *, of_array: bool) -> Path:
        line, keys = self.line(), self.keys()
        path: Path = ()
        for depth, key in enumerate(keys, start=1):
            path += (key,)
            self.lines.setdefault(path, line)
            last = depth == len(keys)
            if last and of_array:
                self.lengths[path] = self.lengths.get(path, 0) + 1
            if path in self.lengths:
                path += (self.lengths[path] - 1,)
                self.lines.setdefault(path, line)
        return path

    def pair(self, base: Path) -> Path:
        line, path = self.line(), base
        for key in self.keys():
            path += (key,)
            self.lines.setdefault(path, line)
        self.at += 1  # the equals sign
        self.value(path)
        return path

    def keys(self) -> list[str]:
        found = []
        while True:
            self.skip(_SPACE)
            if quoted := _STRING.match(self.text, self.at):
                found.append(_unquoted(quoted.group()))
                self.at = quoted.end()
            else:
                start = self.at
                self.skip(_BARE_KEY)
                found.append(self.text[start : self.at])
            self.skip(_SPACE)
            if not self.take("."):
                return found

    def value(self, path: Path) -> None:
        self.skip(_SPACE)
        if self.take("["):
            self.array(path)
        elif self.take("{"):
            self.inline_table(path)
        elif string := _STRING.match(self.text, self.at):
            self.at = string.end()
        else:
            self.skip(_SCALAR)

    def array(self, path: Path) -> None:
        index = 0
        self.skip(_GAP)
        while not self.take("]"):
            item = (*path, index)
            self.lines[item] = self.line()
            self.value(item)
            index += 1
            self.separator()

    def inline_table(self, path: Path) -> None:
        self.skip(_GAP)
        while not self.take("}"):
            self.pair(path)
            self.separator()

    def separator(self) -> None:
        self.skip(_GAP)
        self.take(",")
        self.skip(_GAP)

    def skip(self, pattern: re.Pattern[str]) -> None:
        if match := pattern.match(self.text, self.at):
            self.at = match.end()

    def take(self, mark: str) -> bool:
        if self.text.startswith(mark, self.at):
            self.at += len(mark)
            return True
        return False

    def line(self) -> int:
        return bisect_right(self.line_ends, self.at - 1) + 1


def _unquoted(key: str) -> str:
    if "\\" not in key:
        return key[1:-1]
    return str(tomllib.loads(f"key = {key}")["key"])
