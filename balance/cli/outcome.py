"""How a command ends: what it prints goes out, and its exit code says how it went.

0  an answer
1  the answer is that it cannot be met, or is not safe
2  a bad plan, or words of the command line that make no sense
3  a solve fails, or something went wrong that should not
130  interrupted from the keyboard
"""

from __future__ import annotations

import functools
import os
import sys
import traceback
from collections.abc import Callable
from typing import ParamSpec

import typer

from balance.errors import BalanceError, NoSolutionError, SolveError

ANSWER, NOT_MET, BAD_WORDS, FAILED, INTERRUPTED = 0, 1, 2, 3, 130
DEBUG = "BALANCE_DEBUG"

P = ParamSpec("P")


def ending(command: Callable[P, int]) -> Callable[P, None]:
    """The command, with its exit code given to the shell and every error put into plain words."""

    @functools.wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> None:
        raise typer.Exit(_code(lambda: command(*args, **kwargs)))

    return run


def _code(command: Callable[[], int]) -> int:
    code = ANSWER
    try:
        code = command()
        sys.stdout.flush()
    except BrokenPipeError:
        _hush()  # whoever read has read enough
    except KeyboardInterrupt:
        _say("interrupted")
        return INTERRUPTED
    except (NoSolutionError, SolveError) as error:
        _say(str(error))
        return FAILED
    except BalanceError as error:
        _say(str(error))
        return BAD_WORDS
    except Exception as error:  # noqa: BLE001  # no traceback ever reaches the person who asked
        if os.environ.get(DEBUG):
            traceback.print_exc()
        _say(
            f"something went wrong that should not: {type(error).__name__}: {error}\n"
            f"    please report it with the plan; {DEBUG}=1 shows where it happened"
        )
        return FAILED
    return code


def _say(text: str) -> None:
    print(f"balance: {text}", file=sys.stderr)


def _hush() -> None:
    """Let the interpreter's own last flush go nowhere."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
