"""Every figure says where it comes from: rows of tables, laws, and what tests compare with."""

from __future__ import annotations

import ast
import io
import re
import tokenize
from collections.abc import Iterator
from pathlib import Path

import pytest

from balance.parts.sources import WITHOUT_PRINT, named_in, page, sources
from balance.parts.tables import DATA, rows

ROOT = Path(__file__).parents[2]
CODE = sorted((ROOT / "balance").rglob("*.py"))
TABLES = sorted({path.stem for path in DATA.glob("*.csv")} - {"sources"})
ELSEWHERE = ("geometry", "each row of the table names its own", "see `", "of the curve `")
TESTS = sorted(path for path in (ROOT / "tests").rglob("*.py") if path != Path(__file__))
AUTHOR_AND_YEAR = re.compile(r"(?<![\w-])(?!Re |n )[A-Z][\w.]+,? \(?(?:1[89]|20)\d\d\b")
DATED_KEY = re.compile(r"(?<![\w.-])[a-z]+(?:-[a-z]+)*-\d{4}(?![\w-])")


def unlisted(text: str) -> set[str]:
    """Words of a text that look like the key of a source, name and year, and are none."""
    return set(DATED_KEY.findall(text)) - sources().keys()


def is_traced(text: str) -> bool:
    """Whether a text names a listed source, or says why there is none."""
    return bool(named_in(text)) or any(words in text for words in WITHOUT_PRINT)


@pytest.mark.parametrize("name", TABLES)
def test_every_row_of_a_table_names_its_source(name: str) -> None:
    for row in rows(name):
        assert is_traced(row["source"]), row
        assert not unlisted(row["source"]), row


def test_each_source_is_listed_once() -> None:
    listed = list(rows("sources"))
    assert len(listed) > 20
    for column in ("key", "source"):
        assert len({row[column].casefold() for row in listed}) == len(listed)
    assert all(re.fullmatch(r"[a-z][a-z0-9.-]*[a-z0-9]", row["key"]) for row in listed)
    assert all(len(row["source"]) > 20 and "|" not in row["source"] for row in listed)


def test_the_page_is_up_to_date() -> None:
    assert (ROOT / "docs" / "sources.md").read_text(encoding="utf-8") == page(), (
        "write it anew: python -m balance.parts.sources > docs/sources.md"
    )


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ("darby-2001, table of 3-K constants; k1 as hooper-1981.", ("darby-2001", "hooper-1981")),
        ("edb, table 32", ("edb",)),
        ("darcy-weisbach, not the other", ("darcy-weisbach",)),
        ("hooper-1981 twice: hooper-1981", ("hooper-1981",)),
        ("edbs, weisbachs and hooper-1981b are other words", ()),
        ("common practice, no source", ()),
    ],
)
def test_keys_are_found_as_whole_words(text: str, keys: tuple[str, ...]) -> None:
    assert named_in(text) == keys


def test_a_slip_in_a_key_is_seen() -> None:
    assert unlisted("hooper-1981; darby-2002 and fritsch-butler-1984") == {
        "darby-2002",
        "fritsch-butler-1984",
    }
    assert not is_traced("a handbook")


def docstrings(file: Path) -> Iterator[str]:
    """Docstrings of a module, its classes and functions, and texts that stand below constants."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            text = node.value.value
            if isinstance(text, str):
                yield text


def statements(docstring: str) -> Iterator[str]:
    """What a docstring gives as sources, one by one."""
    for found in re.findall(r"\bSource: (.*?)(?=\n\s*\n|\bRaises\b|\Z)", docstring, re.DOTALL):
        yield from (" ".join(part.split()) for part in found.split(";"))


@pytest.mark.parametrize("file", CODE, ids=lambda file: str(file.relative_to(ROOT)))
def test_sources_of_docstrings_are_listed(file: Path) -> None:
    for docstring in docstrings(file):
        for statement in statements(docstring):
            elsewhere = any(words in statement for words in ELSEWHERE)
            assert elsewhere or is_traced(statement), statement
        assert not unlisted(docstring)


def test_laws_have_sources() -> None:
    laws = [file for file in CODE if file.parent.name == "parts"]
    found = [each for file in laws for text in docstrings(file) for each in statements(text)]
    assert len(found) > 30


def test_statements_are_read_one_by_one() -> None:
    docstring = "A law.\n\nSource: edb, table 4;\n    geometry. Raises nothing.\n\nMore; words."
    assert list(statements(docstring)) == ["edb, table 4", "geometry."]


def quoted(file: Path) -> Iterator[str]:
    """Comments and texts of a file of code."""
    read = io.StringIO(file.read_text(encoding="utf-8")).readline
    for token in tokenize.generate_tokens(read):
        if token.type in (tokenize.COMMENT, tokenize.STRING):
            yield token.string


@pytest.mark.parametrize("file", [*CODE, *TESTS], ids=lambda file: str(file.relative_to(ROOT)))
def test_print_is_named_by_its_key(file: Path) -> None:
    """An author and a year belong into the table of sources."""
    assert not [found[0] for text in quoted(file) for found in AUTHOR_AND_YEAR.finditer(text)]


def test_an_author_and_a_year_are_seen() -> None:
    said = "as Hooper, 1981, or Cherry (1951) or Fluid Mechanics 2001; Re 2000 and hooper-1981"
    assert [found[0] for found in AUTHOR_AND_YEAR.finditer(said)] == [
        "Hooper, 1981", "Cherry (1951", "Mechanics 2001",
    ]  # fmt: skip


def test_every_source_is_named_somewhere() -> None:
    texts = [path for path in (*CODE, *DATA.glob("*.csv")) if path.stem != "sources"]
    tests = [*TESTS, *(ROOT / "tests").rglob("*.toml")]
    named = {key for path in (*texts, *tests) for key in named_in(path.read_text(encoding="utf-8"))}
    assert sources().keys() - named == set()
