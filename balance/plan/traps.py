"""What TOML's own complaints mean in plain words.

Each rule looks at the line where the reader stopped and recognises one mistake that people make at
the bench; what none recognises is told in the reader's own words.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Stumble:
    """Where the text stops being TOML, what is wrong there, and what to write instead."""

    line: int
    problem: str
    remedy: str


@dataclass(frozen=True)
class _Spot:
    """The place of a fault: the text before it, its line, and the reader's own message."""

    before: str
    line: str
    rest: str
    message: str


def explain(text: str, error: tomllib.TOMLDecodeError) -> Stumble:
    """Translate a fault of the TOML text into plain words.

    Parameters
    ----------
    text
        The document as it was given to ``tomllib``, with line ends as newlines.
    error
        What ``tomllib`` raised for it.
    """
    message = str(error)
    where = re.search(r"\(at line (\d+), column (\d+)\)", message)
    lines = text.split("\n")
    if where:
        row, column = int(where[1]), int(where[2]) - 1
    else:  # "at end of document"
        row, column = len(text.rstrip().split("\n")), len(text)
    at = min(sum(len(line) + 1 for line in lines[: row - 1]) + column, len(text))
    spot = _Spot(
        before=text[:at],
        line=lines[row - 1],
        rest=text[at:],
        message=re.sub(r" \(at .*\)$", "", message),
    )
    for rule in _RULES:
        if found := rule(spot):
            return Stumble(row, *found)
    return Stumble(row, f"this is not TOML: {spot.message[:1].lower()}{spot.message[1:]}", "")


_Found = tuple[str, str] | None


def _curly_quotes(spot: _Spot) -> _Found:
    if not re.search("[“”„‟‘’]", spot.line):
        return None
    straight = re.sub("[“”„‟]", '"', re.sub("[‘’]", "'", spot.line.strip()))
    return (
        "curly quotation marks, as a word processor makes them",
        f"write straight ones: {straight}",
    )


def _table_name_with_a_space(spot: _Spot) -> _Found:
    header = re.match(r"\s*(\[\[?)\s*([^\]\"']*\S)\s*(\]\]?)", spot.line)
    if not header or not re.search(r"[^\w.\s-]|\S\s+[^.\s]", header[2], re.ASCII):
        return None
    first, dot, last = header[2].partition(".")
    name = f"{first.strip()}.{_quoted(last)}" if dot else _quoted(first)
    return (
        "a name with a space or a special character in [ ] needs quotation marks",
        f"write {header[1]}{name}{header[3]}",
    )


def _quoted(name: str) -> str:
    return '"' + name.strip() + '"'


def _key_with_a_space(spot: _Spot) -> _Found:
    key = re.search(r"(?:^|[{,])\s*([A-Za-z]\w*(?:\s+\w+)+)\s*=", spot.line)
    if not key or not re.match(r"Expected '='|Invalid initial", spot.message):
        return None
    joined = "_".join(key[1].split())
    return (
        f'the key "{key[1]}" has a space in it',
        f"write {joined} = ..., or put the key in quotation marks if it is a name",
    )


def _no_equals_sign(spot: _Spot) -> _Found:
    if not spot.message.startswith("Expected '='"):
        return None
    return "a key without an equals sign", 'write key = "value"'


def _inside_braces(spot: _Spot) -> _Found:
    opened = _open_brackets(spot.before)
    if (
        not opened
        or opened[-1] != "{"
        or not spot.message.startswith(
            ("Invalid initial character for a key", "Unclosed inline table")
        )
    ):
        return None
    before = spot.before.rstrip()
    if spot.rest.startswith("}") and before.endswith(","):
        return "a comma before the closing }", "take that comma out: { ... } ends without one"
    if spot.rest.lstrip(" \t\r").startswith(("\n", "#")) or not spot.rest.strip():
        return (
            "a { ... } that goes on over the end of its line",
            "keep each { ... } on one line; the list [ ... ] around it may take several",
        )
    return None


def _no_comma(spot: _Spot) -> _Found:
    opened = _open_brackets(spot.before)
    unfinished = spot.message.startswith(("Unclosed array", "Unclosed inline table"))
    at_end = not spot.rest.strip()
    if not opened or not (unfinished or at_end):
        return None
    if at_end or spot.rest.startswith("="):
        return (
            f"the {opened[-1]} is never closed",
            f"add the missing {']' if opened[-1] == '[' else '}'}",
        )
    return "a comma is missing between two entries", f"put a comma before {_begin(spot.rest)}"


def _begin(rest: str) -> str:
    return rest.strip().split("\n")[0][:30]


def _value_without_quotes(spot: _Spot) -> _Found:
    after_value = spot.message.startswith(
        (
            "Expected newline",
            "Unclosed inline table",
            "Unclosed array",
            "Invalid value",
            "Expected '='",
        )
    )
    bare = [
        match
        for match in re.finditer(r"([\w-]+)\s*=\s*([^\s\"'\[{=#,}\]][^\"'\[{=#,}\]]*)", spot.line)
        if not re.fullmatch(
            r"[+-]?\d[\d_]*(\.\d+)?([eE][+-]?\d+)?|true|false|inf|nan", match[2].strip()
        )
    ]
    if not after_value or not bare:
        return None
    key, value = bare[0][1], bare[0][2].strip()
    return "a value without quotation marks", f'write {key} = "{value}"'


def _no_value(spot: _Spot) -> _Found:
    key = re.search(r"([\w-]+)\s*=\s*(?:[#,}\n]|$)", spot.line)
    if not spot.message.startswith("Invalid value") or not key:
        return None
    return f"{key[1]} has no value", f'write {key[1]} = "..." or take the line out'


def _open_string(spot: _Spot) -> _Found:
    if not re.match(
        r"Illegal character '\\n'|Unterminated string|Expected \"'|Expected '\"'", spot.message
    ):
        return None
    return "a quotation mark is opened and never closed", "close it on the same line"


def _backslash(spot: _Spot) -> _Found:
    if "Unescaped '\\'" not in spot.message:
        return None
    return (
        'a backslash inside "..." begins a special character',
        "write file names with / or in single quotes: 'curves\\pump.csv'",
    )


def _twice(spot: _Spot) -> _Found:
    if spot.message.startswith(("Cannot overwrite a value", "Duplicate inline table key")):
        key = re.findall(r"([\w\"'.-]+)\s*=", spot.line)
        return f"{key[-1] if key else 'a key'} is written twice", "keep one of the two"
    if spot.message.startswith("Cannot declare"):
        return (
            f"{spot.line.strip()} stands here for the second time",
            "keep one, or give the second another name (lists such as branches take [[branches]])",
        )
    if spot.message.startswith(("Cannot mutate", "Cannot redefine", "Cannot append")):
        return (
            f"{spot.line.strip()} adds to something that is complete already",
            "write it in one place",
        )
    return None


_RULES: tuple[Callable[[_Spot], _Found], ...] = (
    _curly_quotes,
    _twice,
    _backslash,
    _open_string,
    _table_name_with_a_space,
    _inside_braces,
    _value_without_quotes,
    _key_with_a_space,
    _no_value,
    _no_comma,
    _no_equals_sign,
)


def _open_brackets(text: str) -> list[str]:
    """Give the brackets that are open at the end of the text, outermost first."""
    opened: list[str] = []
    for mark in re.findall(r"\"(?:[^\"\\\n]|\\.)*\"|'[^'\n]*'|#[^\n]*|[\[\]{}]", text):
        if mark in "[{":
            opened.append(mark)
        elif mark in "]}" and opened:
            opened.pop()
    return opened
