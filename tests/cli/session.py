"""The command run inside the test, as a shell would see it."""

from __future__ import annotations

import contextlib
import io
from dataclasses import dataclass

from balance.cli.app import app


@dataclass(frozen=True)
class Ran:
    """What a command printed on both streams, and its exit code."""

    code: object
    out: str
    err: str


def run(*words: str) -> Ran:
    out, err = io.StringIO(), io.StringIO()
    code: object = 0
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            app(list(words), prog_name="balance")
        except SystemExit as end:
            code = end.code
    return Ran(code, out.getvalue(), err.getvalue())
