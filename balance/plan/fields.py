"""The door for the fields of a plan: text from the file becomes SI floats and sizes here.

Each kind of field is metadata for pydantic: it reads the text, keeps the value within what plumbing
can be, describes itself for the JSON Schema and for the page about the plan file, and words its
faults. In a remedy the reader puts the key's name where ``{key}`` stands.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from itertools import pairwise
from pathlib import Path
from typing import Annotated, NamedTuple

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema
from pydantic_core.core_schema import ValidationInfo

from balance.errors import BalanceError, Fault, QuantityError, UnknownNameError
from balance.parts.pipes import PipeSize, hose, nominal_bore, pipe
from balance.units import parse, parse_range


def fault(problem: str, remedy: str = "") -> PydanticCustomError:
    """Make the error that a field raises: what is wrong and what to write instead."""
    return PydanticCustomError("fault", "{problem}", {"problem": problem, "remedy": remedy})


def faults_of_a_file(faults: Iterable[Fault]) -> PydanticCustomError:
    """Make the error of a field that names another file, with the faults found in that file."""
    return PydanticCustomError("faults of a file", "another file", {"faults": tuple(faults)})


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Give the known name that looks most like this one, or None."""
    names = {other.casefold(): other for other in known}
    close = get_close_matches(name.casefold(), names, n=1, cutoff=0.6)
    return names[close[0]] if close else None


def quoted(value: object) -> str:
    """Show a value of the file as the file has it, cut where it is long."""
    text = f'"{value}"' if isinstance(value, str) else _toml(value)
    return text if len(text) <= 60 else text[:56] + " ..."


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "{ ... }"
    if isinstance(value, list):
        return "[" + ", ".join(quoted(item) for item in value) + "]"
    return str(value)


class Readable:
    """Base of the kinds of field that are read from text (or a list of texts)."""

    schema: JsonSchemaValue

    def read(self, value: object) -> object:
        """Read what the file has, or raise ``fault``."""
        raise NotImplementedError

    def _read(self, value: object) -> object:
        try:
            return self.read(value)
        except QuantityError as error:
            raise fault(error.problem, error.remedy) from error
        except UnknownNameError as error:
            raise unknown_kind(error) from error
        except BalanceError as error:
            raise fault(str(error)) from error

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self._read)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        return dict(self.schema)


def unknown_kind(error: UnknownNameError) -> PydanticCustomError:
    """Word a name that no table of parts has, with the nearest that one has."""
    if error.nearest:
        remedy = "nearest: " + ", ".join(f'"{name}"' for name in error.nearest)
    else:
        remedy = "known: " + ", ".join(f'"{name}"' for name in error.known[:40])
    return fault(f'there is no {error.kind} "{error.name}"', remedy)


def _texts(example: str) -> JsonSchemaValue:
    return {"type": "string", "examples": [example]}


@dataclass(frozen=True)
class Quantity(Readable):
    """A number with its unit, as text; read into SI.

    ``least`` and ``most`` are what a plan can hold, in SI; beyond, a number is a slip of the pen.
    """

    dimension: str
    example: str
    least: float = -math.inf
    most: float = math.inf
    above_zero: bool = False

    @property
    def schema(self) -> JsonSchemaValue:  # type: ignore[override]
        """What the JSON Schema says of it."""
        return _texts(self.example)

    def read(self, value: object) -> float:
        """Read what the file has."""
        text = self.text(value)
        return self.within(parse(text, self.dimension), text)

    def text(self, value: object) -> str:
        """Insist on text, and show how a bare number is written with its unit."""
        if isinstance(value, str):
            return value
        if isinstance(value, int | float) and not isinstance(value, bool):
            unit = self.example.partition(" ")[2]
            if not finite(value):
                raise fault(
                    f"{_short(value)} is not a {self.dimension}",
                    f'write {{key}} = "{self.example}"',
                )
            raise fault(
                f"the number {_short(value)} has no unit",
                f'write it with its unit in quotation marks: {{key}} = "{_short(value)} {unit}"',
            )
        raise fault(
            f"{quoted(value)} is not a {self.dimension}", f'write {{key}} = "{self.example}"'
        )

    def within(self, number: float, text: str) -> float:
        """Refuse a number that no plumbing has."""
        if number < 0 <= self.least or (number == 0 and self.above_zero):
            word = "must be more than zero" if self.above_zero else "may not be negative"
            raise fault(
                f'"{text}": a {self.dimension} here {word}', f'for example "{self.example}"'
            )
        if not self.least <= number <= self.most:
            bound = "less" if number < self.least else "more"
            raise fault(
                f'"{text}" is {bound} than any plumbing has (from {self.least:g} to {self.most:g}'
                f"{_SI_UNITS.get(self.dimension, '')} is taken)",
                f'check the number and its unit; for example "{self.example}"',
            )
        return number


_SI_UNITS = {
    "length": " m",
    "head": " m",
    "flow": " m3/s",
    "volume": " m3",
    "time": " s",
    "temperature": " degC",
    "salinity": " g/kg",
    "pressure": " Pa",
    "density": " kg/m3",
    "kinematic viscosity": " m2/s",
    "power": " W",
    "speed ratio": " of full speed",
    "percent": " of the whole",
    "velocity": " m/s",
    "angle": " deg",
}


def folder_of(info: ValidationInfo) -> Path:
    """Give the folder from which file names in the plan count."""
    return Path(info.context["folder"]) if info.context else Path()


def finite(value: float) -> bool:
    """Whether a number of the file is one that can be reckoned with."""
    try:
        return math.isfinite(value)
    except OverflowError:  # a whole number of hundreds of digits
        return False


def _short(value: float) -> str:
    text = str(value)
    return text if len(text) <= 20 else text[:8] + "..."


@dataclass(frozen=True)
class QuantityPair(Readable):
    """Two quantities, low then high: ``["40 %", "100 %"]``."""

    one: Quantity
    example: tuple[str, str]

    @property
    def schema(self) -> JsonSchemaValue:  # type: ignore[override]
        """What the JSON Schema says of it."""
        return {
            "type": "array",
            "items": {"type": "string"},
            "minItems": 2,
            "maxItems": 2,
            "examples": [list(self.example)],
        }

    def read(self, value: object) -> tuple[float, float]:
        """Read what the file has."""
        written = f'{{key}} = ["{self.example[0]}", "{self.example[1]}"]'
        if isinstance(value, str) and ".." in value:
            low, high = parse_range(value, self.one.dimension)
        elif isinstance(value, list) and len(value) == 2:
            low, high = (self.one.read(item) for item in value)
        else:
            raise fault(f"{quoted(value)} is not a pair, low then high", f"write {written}")
        if low > high:
            raise fault(f"{quoted(value)} is the wrong way round", "write the lower one first")
        return self.one.within(low, quoted(value)), self.one.within(high, quoted(value))


_FAR = 1.0e5  # m: longer than any pipe in a plan, shorter than a slip of ten powers
_HIGH = 1.0e4  # m

HEIGHT = Quantity("length", "36 in", least=-_HIGH, most=_HIGH)
LENGTH = Quantity("length", "14 in", least=0.0, most=_FAR)
SIDE = Quantity("length", "36 in", least=0.0, most=_FAR, above_zero=True)
BORE = Quantity("length", "15 mm", least=0.0, most=100.0, above_zero=True)
ROUGHNESS = Quantity("length", "0.0015 mm", least=0.0, most=1.0)
FLOW = Quantity("flow", "120 gph", least=0.0, most=1.0e4)
HEAD = Quantity("head", "1.2 ft", least=0.0, most=_HIGH)
PRESSURE = Quantity("pressure", "15 psi", least=0.0, most=1.0e9)
GRAIN_DENSITY = Quantity("density", "1500 kg/m3", least=1060.0, most=8000.0)
VOLUME = Quantity("volume", "10 gal", least=0.0, most=1.0e12)
POWER = Quantity("power", "12 W", least=0.0, most=1.0e9, above_zero=True)
PERCENT = Quantity("percent", "10 %", least=0.0, most=1.0)
SLOPE = Quantity("percent", "2 %", least=0.0, most=1.0, above_zero=True)
FOULED = Quantity("percent", "30 %", least=0.0, most=100.0)
VOIDAGE = Quantity("percent", "40 %", least=0.05, most=0.95)
SPEED = Quantity("speed ratio", "85 %", least=0.0, most=2.0)
SPEED_STEP = Quantity("speed ratio", "5 %", least=0.0, most=1.0, above_zero=True)
ANGLE = Quantity("angle", "60 deg", least=0.0, most=180.0, above_zero=True)
TIME = Quantity("time", "0.3 s", least=0.0, most=1.0e10)

Angle = Annotated[float, ANGLE]
Height = Annotated[float, HEIGHT]
Length = Annotated[float, LENGTH]
Side = Annotated[float, SIDE]
Bore = Annotated[float, BORE]
Roughness = Annotated[float, ROUGHNESS]
Flow = Annotated[float, FLOW]
Head = Annotated[float, HEAD]
Pressure = Annotated[float, PRESSURE]
Volume = Annotated[float, VOLUME]
WaterVolume = Annotated[
    float, Quantity("volume", "160 gal", least=0.0, most=1.0e12, above_zero=True)
]
Cooling = Annotated[float, Quantity("power", "790 BTU/h", least=0.0, most=1.0e9, above_zero=True)]
Percent = Annotated[float, PERCENT]
Slope = Annotated[float, SLOPE]
Fouled = Annotated[float, FOULED]
Voidage = Annotated[float, VOIDAGE]
GrainDensity = Annotated[float, GRAIN_DENSITY]
Speed = Annotated[float, SPEED]
SpeedStep = Annotated[float, SPEED_STEP]
Time = Annotated[float, TIME]
Altitude = Annotated[float, Quantity("length", "1600 m", least=-500.0, most=9000.0)]
Temperature = Annotated[float, Quantity("temperature", "25 degC", least=0.0, most=45.0)]
Salinity = Annotated[float, Quantity("salinity", "35 g/kg", least=0.0, most=50.0)]
Density = Annotated[float, Quantity("density", "1023 kg/m3", least=500.0, most=2000.0)]
Viscosity = Annotated[
    float, Quantity("kinematic viscosity", "0.94e-6 m2/s", least=1.0e-8, most=1.0, above_zero=True)
]
SpeedRange = Annotated[tuple[float, float], QuantityPair(SPEED, ("40 %", "100 %"))]
PercentRange = Annotated[tuple[float, float], QuantityPair(PERCENT, ("30 %", "80 %"))]


@dataclass(frozen=True)
class Named(Readable):
    """A name that a table of parts knows, read by that table's own look-up."""

    look_up: Callable[[str], object]
    example: str

    @property
    def schema(self) -> JsonSchemaValue:  # type: ignore[override]
        """What the JSON Schema says of it."""
        return _texts(self.example)

    def read(self, value: object) -> object:
        """Read what the file has."""
        if not isinstance(value, str):
            raise fault(
                f"{quoted(value)} is not text", f'write it in quotation marks: "{self.example}"'
            )
        return self.look_up(" ".join(value.split()))


def _size(text: str) -> str:
    nominal_bore(text)
    return text


def _hose_size(text: str) -> str:
    hose(text)
    return text


def _pipe_name(text: str) -> str:
    return pipe(text).name


Pipe = Annotated[PipeSize, Named(pipe, "1 in sch 40")]
PipeName = Annotated[str, Named(_pipe_name, "1 in sch 40")]
Hose = Annotated[PipeSize, Named(hose, "1/2 in")]
Size = Annotated[str, Named(_size, "1 in")]
HoseSize = Annotated[str, Named(_hose_size, "1/2 in")]


@dataclass(frozen=True)
class Number(Readable):
    """A bare number without unit, finite and within bounds."""

    least: float = -math.inf
    most: float = math.inf
    above_zero: bool = False
    whole: bool = False

    @property
    def schema(self) -> JsonSchemaValue:  # type: ignore[override]
        """What the JSON Schema says of it."""
        return {"type": "integer" if self.whole else "number"}

    def read(self, value: object) -> float:
        """Read what the file has."""
        kind = "a whole number" if self.whole else "a number"
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise fault(
                f"{quoted(value)} is not {kind}", "write {key} = 2, without quotation marks"
            )
        if not finite(value) or (self.whole and not isinstance(value, int)):
            raise fault(f"{_short(value)} is not {kind}", "for example {key} = 2")
        if not self.least <= value <= self.most or (self.above_zero and value == 0):
            least = f"more than {self.least:g}" if self.above_zero else f"{self.least:g} or more"
            raise fault(
                f"{_short(value)} is out of range",
                f"write a number of {least}, up to {self.most:g}",
            )
        return value


@dataclass(frozen=True)
class WattsNumber(Number):
    """Power in W as a bare number, since its key says so; text with a unit is taken too."""

    @property
    def schema(self) -> JsonSchemaValue:  # type: ignore[override]
        """What the JSON Schema says of it."""
        return {"type": ["number", "string"]}

    def read(self, value: object) -> float:
        """Read what the file has."""
        return POWER.read(value) if isinstance(value, str) else super().read(value)


Watts = Annotated[float, WattsNumber(least=0.0, most=1.0e9, above_zero=True)]
HoursADay = Annotated[float, Number(least=0.0, most=24.0, above_zero=True)]
Positive = Annotated[float, Number(least=0.0, most=1.0e12, above_zero=True)]
NotNegative = Annotated[float, Number(least=0.0, most=1.0e12)]
LossCoefficient = Annotated[float, Number(least=0.0, most=1.0e12)]
Count = Annotated[int, Number(least=1, most=10_000, whole=True)]
Sphericity = Annotated[float, Number(least=0.05, most=1.0)]
Exponent = Annotated[float, Number(least=0.5, most=3.0)]
FrictionFactor = Annotated[float, Number(least=0.0, most=10.0, above_zero=True)]


ENDS = ("socket", "thread", "male thread", "female thread", "spigot")
"""How a plan may say that the ends of a part are made."""


@dataclass(frozen=True)
class EndsText(Readable):
    """How a part is joined: ``"thread"``, or two by the way of water, ``["socket", "thread"]``."""

    @property
    def schema(self) -> JsonSchemaValue:  # type: ignore[override]
        """What the JSON Schema says of it."""
        one = {"type": "string", "enum": list(ENDS)}
        two = {"type": "array", "items": one, "minItems": 2, "maxItems": 2}
        return {"anyOf": [one, two], "examples": ["thread"]}

    def read(self, value: object) -> tuple[str, str]:
        """Read what the file has."""
        given = value if isinstance(value, list) else [value, value]
        if len(given) != 2:
            raise fault(f"{quoted(value)} is not the two ends of a part", _WRITE_ENDS)
        first, second = map(self._one, given)
        return first, second

    def _one(self, item: object) -> str:
        folded = " ".join(item.split()).casefold() if isinstance(item, str) else ""
        if folded not in ENDS:
            raise fault(f"{quoted(item)} is no kind of end", _WRITE_ENDS)
        return folded


_WRITE_ENDS = (
    'write {key} = "thread", or two in order of the water, {key} = ["socket", "thread"]; known: '
    + ", ".join(f'"{end}"' for end in ENDS)
)

Ends = Annotated[tuple[str, str], EndsText()]


@dataclass(frozen=True)
class LengthList(Readable):
    """Lengths, one or several: ``["5 ft", "10 ft"]``."""

    example: tuple[str, ...] = ("5 ft", "10 ft")

    @property
    def schema(self) -> JsonSchemaValue:  # type: ignore[override]
        """What the JSON Schema says of it."""
        return {"type": "array", "items": {"type": "string"}, "examples": [list(self.example)]}

    def read(self, value: object) -> tuple[float, ...]:
        """Read what the file has."""
        given = [value] if isinstance(value, str) else value
        if not isinstance(given, list) or not given:
            written = ", ".join(f'"{each}"' for each in self.example)
            raise fault(f"{quoted(value)} is no list of lengths", f"write {{key}} = [{written}]")
        return tuple(SIDE.read(item) for item in given)


Lengths = Annotated[tuple[float, ...], LengthList()]


class HeadAtFlow(NamedTuple):
    """A loss of head [m] at a flow [m3/s]."""

    head: float
    flow: float


@dataclass(frozen=True)
class DropText(Readable):
    """Head lost at a flow: ``"1.2 ft at 120 gph"``."""

    example: str = "1.2 ft at 120 gph"

    @property
    def schema(self) -> JsonSchemaValue:  # type: ignore[override]
        """What the JSON Schema says of it."""
        return _texts(self.example)

    def read(self, value: object) -> HeadAtFlow:
        """Read what the file has."""
        head, at, flow = value.partition(" at ") if isinstance(value, str) else ("", "", "")
        if not at:
            raise fault(
                f"{quoted(value)} is not a head at a flow", f'write it so: "{self.example}"'
            )
        return HeadAtFlow(
            HEAD.read(head.strip()), Quantity("flow", "120 gph", 0.0, 1e4, True).read(flow.strip())
        )


@dataclass(frozen=True)
class DropPoints(Readable):
    """Head lost at several flows: ``["0.3 ft at 60 gph", "1.2 ft at 120 gph"]``; sorted by flow."""

    @property
    def schema(self) -> JsonSchemaValue:  # type: ignore[override]
        """What the JSON Schema says of it."""
        return {"type": "array", "items": {"type": "string"}, "minItems": 2}

    def read(self, value: object) -> tuple[HeadAtFlow, ...]:
        """Read what the file has."""
        if not isinstance(value, list) or len(value) < 2:
            raise fault(
                f"{quoted(value)} is not a list of two points or more",
                'write {key} = ["0.3 ft at 60 gph", "1.2 ft at 120 gph"]',
            )
        points = tuple(sorted((DropText().read(item) for item in value), key=lambda p: p.flow))
        for low, high in pairwise(points):
            if high.flow == low.flow or high.head <= low.head:
                raise fault(
                    "the loss does not rise with the flow from point to point",
                    "give each flow once, and a larger head for each larger flow",
                )
        return points


Drop = Annotated[HeadAtFlow, DropText()]
Drops = Annotated[tuple[HeadAtFlow, ...], DropPoints()]
