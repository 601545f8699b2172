"""The command `balance`: parses words, asks one question, shows its answer.

Each command imports its science inside itself, so that help comes at once.
"""

from __future__ import annotations

import gc
import io
import os
import sys
from typing import Annotated

import typer

from balance.cli.buy import buy
from balance.cli.change import change
from balance.cli.check import check
from balance.cli.close import close
from balance.cli.curve import curve
from balance.cli.cut import cut
from balance.cli.drains import drains
from balance.cli.draw import draw
from balance.cli.fit import fit
from balance.cli.flows import flows
from balance.cli.new import new
from balance.cli.outage import outage
from balance.cli.outcome import ANSWER, ending
from balance.cli.parts import parts
from balance.cli.pumps import pumps
from balance.cli.report import report
from balance.cli.settings import settings
from balance.cli.spread import spread
from balance.cli.tune import tune

GARBAGE_AFTER = 200_000  # new objects between two looks for circles of dead ones

app = typer.Typer(
    name="balance",
    help="Where each valve handle goes, so that every branch of a pumped manifold gets its flow.",
    epilog="Ends with 0 for an answer, 1 if it cannot be met or is not safe, 2 for a bad plan or "
    "bad words, 3 if a solve fails.",
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)
for command in (
    new, check, flows, settings, close, drains, outage, change, pumps, curve, spread, fit, tune,
    buy, cut, report, draw, parts,
):  # fmt: skip
    app.command()(ending(command))


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import PackageNotFoundError, version

        try:
            print(version("balance-manifold"))
        except PackageNotFoundError:
            print("not installed: run from its source")
        raise typer.Exit(ANSWER)


@app.callback()
def _start(
    _: Annotated[
        bool,
        typer.Option("--version", callback=_version, is_eager=True, help="Print the version."),
    ] = False,
) -> None:
    # What a terminal's character set lacks is no reason to fail.
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def main() -> None:
    """Run the command with the words of the command line."""
    # Loading makes much to keep and no rubbish: looking for some would cost a seventh of the start.
    gc.set_threshold(GARBAGE_AFTER)
    # Looking for plugins, of which it has no use, would cost pydantic a tenth of the start.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "true")
    # Nor is any matrix here worth the threads that numpy would start for it.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    app(prog_name="balance")
