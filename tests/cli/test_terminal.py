"""Colours: on a terminal that wants them, and nowhere else."""

from __future__ import annotations

import os
import pty
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
COLOUR = re.compile(rb"\x1b\[(?:\d+;)*3\d")
STYLE = re.compile(rb"\x1b\[")


def on_a_terminal(plan: str, **more: str) -> bytes:
    """What the command prints to a terminal of its own."""
    near, far = pty.openpty()
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "TERM": "xterm-256color", **more}
    process = subprocess.Popen(
        [sys.executable, "-m", "balance", "flows", plan],
        stdout=far,
        stderr=subprocess.PIPE,
        env=environment,
    )
    os.close(far)
    printed = b""
    while True:
        try:
            piece = os.read(near, 4096)
        except OSError:  # how Linux says that the other end is closed
            break
        if not piece:
            break
        printed += piece
    os.close(near)
    _, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, b"")
    return printed


@pytest.fixture(autouse=True)
def plain_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("NO_COLOR", "FORCE_COLOR", "COLORTERM", "COLUMNS"):
        monkeypatch.delenv(name, raising=False)


def test_colours_on_a_terminal(starter: str) -> None:
    assert COLOUR.search(on_a_terminal(starter))


def test_no_colours_where_they_are_not_wanted(starter: str) -> None:
    assert not COLOUR.search(on_a_terminal(starter, NO_COLOR="1"))


def test_nothing_but_text_on_a_dumb_terminal(starter: str) -> None:
    assert not STYLE.search(on_a_terminal(starter, TERM="dumb"))
