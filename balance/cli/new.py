"""`balance new FILE` writes a plan to begin with."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from balance.cli.outcome import ANSWER

NewFile = Annotated[Path, typer.Argument(metavar="FILE", help="The file to write.")]
Force = Annotated[bool, typer.Option("--force", help="Write over a file that is there.")]


def new(file: NewFile, force: Force = False) -> int:
    """Write a small plan with remarks to begin with."""
    from balance.plan.starter import write_starter

    written = write_starter(file, force=force)
    print(f"{written} is written. Change it to what you have, then ask:")
    print(f"    balance check {written}")
    print(f"    balance settings {written}")
    return ANSWER
