"""`balance curve FILE...` says what one pump can do."""

from __future__ import annotations

from typing import Annotated

import typer

from balance.cli.options import AsJson, InUnits, Units, print_json
from balance.cli.outcome import ANSWER
from balance.errors import QuantityError, UsageError
from balance.units import parse

Files = Annotated[
    list[str],
    typer.Argument(
        metavar="FILE[@SPEED]...",
        help="Its curve: a CSV file such as flow_gph,head_ft,power_w. Several files are one pump "
        'measured at several speeds: "x-100.csv x-60.csv@60%", with blanks or + between them.',
    ),
]
Speeds = Annotated[
    str | None,
    typer.Option(
        "--speeds",
        metavar="SPEEDS",
        help='Show it at these speeds: "100 %, 80 %, 60 %". Without it: 100, 90 ... 40 %.',
    ),
]


def curve(files: Files, speeds: Speeds = None, units: InUnits = None, json: AsJson = False) -> int:
    """Say what one pump can do: its curve as measured, as it is used, and at other speeds."""
    from balance.plan.curve_words import curve_family
    from balance.questions.curve import curve as ask

    asked = None if speeds is None else [_speed(word) for word in speeds.split(",")]
    answer = ask(curve_family(files), speeds=asked, units=(units or Units.US).value)
    if json:
        print_json(answer.to_dict())
    else:
        from balance.show.curve import show

        show(answer)
    return ANSWER


def _speed(word: str) -> float:
    try:
        return parse(word.strip(), "speed ratio")
    except QuantityError as error:
        raise UsageError(f'--speeds "{word.strip()}": {error}') from error
