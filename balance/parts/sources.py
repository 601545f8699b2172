"""The published sources that laws, tables and tests rest on, by the short keys used beside them.

``python -m balance.parts.sources > docs/sources.md`` writes the page of them anew.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping
from functools import cache

from balance.parts.tables import rows

WITHOUT_PRINT = {
    "from memory": "it was recalled, and the print not seen",
    "common practice, no source": "people of the trade do so, and no print was found",
    "by definition": "there is nothing to look up",
    "our own choice": "this project set it, where nothing outside decides",
}
"""What stands beside a figure that rests on no print that was seen, and what it says."""

_INTRODUCTION = """\
# Sources

<!-- Made from `balance/parts/data/sources.csv` by `python -m balance.parts.sources`. -->

Every published source that a law, a table or a test rests on, once, by the short key that is used
beside it. Some figures have no print that was seen; beside those stands why. Numbers that only
steer a computation, such as how near is near enough or where a search begins, have no source.

"""


@cache
def sources() -> Mapping[str, str]:
    """Return all sources: key -> author, title, year, and how it was seen where not in print."""
    return {row["key"]: row["source"] for row in rows("sources")}


def named_in(text: str) -> tuple[str, ...]:
    """Return the keys of the sources that a text names, each once, in its order."""
    return tuple(dict.fromkeys(_keys().findall(text)))


@cache
def _keys() -> re.Pattern[str]:
    # A key may end a sentence, but not a longer word: darcy-weisbach does not name weisbach.
    longest_first = sorted(sources(), key=len, reverse=True)
    return re.compile(rf"(?<![\w.-])(?:{'|'.join(map(re.escape, longest_first))})(?![\w-])")


def page() -> str:
    """Write the page."""
    why = [f"- `{words}`: {meaning}." for words, meaning in WITHOUT_PRINT.items()]
    table = [f"| {key} | {text} |" for key, text in sorted(sources().items())]
    return _INTRODUCTION + "\n".join([*why, "", "| key | source |", "|---|---|", *table]) + "\n"


if __name__ == "__main__":
    sys.stdout.write(page())
