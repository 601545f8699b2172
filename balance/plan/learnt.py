"""What readings at the real plumbing told of a plan: numbers, and how sure they are together."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, field_validator, model_validator
from pydantic.json_schema import JsonSchemaValue
from pydantic_core.core_schema import ValidationInfo

from balance.errors import QuantityError
from balance.plan.fields import Quantity, Readable, fault, finite, quoted
from balance.plan.openings import offset
from balance.plan.pieces import Table, ValvePart

LearntOf = Literal["pump", "loss", "throttling", "offset", "mains", "bucket"]

LEAST, MOST = 0.1, 10.0
"""What a factor can be; beyond, it is a slip of the pen. Our own choice."""

ROUNDING = 1.0e-3
"""By how much an eigenvalue may be below zero: correlations are written with few digits."""

_FACTOR = Quantity("percent", "97.2 %")


@dataclass(frozen=True)
class CorrelationNumber(Readable):
    """A bare number from -1 to 1."""

    @property
    def schema(self) -> JsonSchemaValue:  # type: ignore[override]
        """What the JSON Schema says of it."""
        return {"type": "number", "minimum": -1, "maximum": 1}

    def read(self, value: object) -> float:
        """Read what the file has."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise fault(
                f"{quoted(value)} is not a number", "write {key} = [-0.31], without quotation marks"
            )
        if not finite(value) or abs(value) > 1.0:
            raise fault(f"{quoted(value)} is no correlation", "correlations are from -1 to 1")
        return float(value)


Correlation = Annotated[float, CorrelationNumber()]


class LearntNumber(Table):
    """One number that readings told, against what the plan says.

    `pump`: its strength, with which flow goes, and head with its square; `loss`: what a branch
    loses beside its valve's throttling; `throttling`: what a valve loses by being partly shut;
    `offset`: how much less open a valve is than its handle says; `mains`: what all runs and headers
    lose; `bucket`: its true volume.
    """

    of: LearntOf = Field(description="what it is of")
    name: str | None = Field(
        None,
        description="pump, branch (`loss`) or valve (`throttling`, `offset`); none for `mains` and "
        "`bucket`",
        examples=["main"],
    )
    value: float = Field(
        description="percent of what the plan says; an offset in degrees, turns or percent of "
        "travel",
        examples=["97.2 %"],
    )
    sure: float = Field(description="its standard deviation, written alike", examples=["1.1 %"])
    with_: tuple[Correlation, ...] = Field(
        (),
        alias="with",
        description="correlation with each of the numbers above it; left out: with none",
        examples=[[-0.31]],
    )

    @field_validator("value", mode="plain", json_schema_input_type=str)
    @classmethod
    def _value(cls, value: object, info: ValidationInfo) -> float:
        number = _ratio(value, info)
        if info.data.get("of") != "offset" and not LEAST <= number <= MOST:
            raise fault(
                f"{quoted(value)} is hardly what readings tell: from 10 % to 1000 % is taken",
                'check the number; "100 %" is as the plan says',
            )
        return number

    @field_validator("sure", mode="plain", json_schema_input_type=str)
    @classmethod
    def _sure(cls, value: object, info: ValidationInfo) -> float:
        sure = _ratio(value, info)
        if sure < 0.0:
            raise fault(
                f"{quoted(value)}: a standard deviation may not be negative",
                "take the sign away",
            )
        if sure > MOST:
            raise fault(
                f"{quoted(value)} is hardly how sure a number is: up to 1000 % is taken",
                'for example {key} = "1.1 %"',
            )
        return sure


def _ratio(value: object, info: ValidationInfo) -> float:
    """Read percent, or of an offset a part of the travel of its valve's handle."""
    try:
        if info.data.get("of") == "offset":
            return _offset(value, info)
        return _FACTOR.read(value)
    except QuantityError as error:
        raise fault(error.problem, error.remedy) from error


def _offset(value: object, info: ValidationInfo) -> float:
    if not isinstance(value, str):
        raise fault(
            f"{quoted(value)} is not a part of a handle's travel",
            'write {key} = "1.4 deg", "-2 %" or "0.05 turns"',
        )
    valves: Mapping[str, ValvePart] = info.context["valves"] if info.context else {}
    valve = valves.get(str(info.data.get("name")).casefold())
    if valve is None:  # a fault of its own; read in any unit for now
        return offset(value, handle="degrees", turns=1e9)
    return offset(value, handle=valve.handle, turns=valve.turns)


class Learnt(Table):
    """What readings told, as `[[learnt.numbers]]`; written by a fit, not by hand."""

    readings: str | None = Field(
        None, description="file that it was learnt from", examples=["lagoon-readings.csv"]
    )
    numbers: tuple[LearntNumber, ...] = Field((), description="what was learnt")

    @model_validator(mode="after")
    def _possible(self) -> Learnt:
        if all(len(number.with_) in (0, at) for at, number in enumerate(self.numbers)):
            least = min(np.linalg.eigvalsh(self._correlation()), default=0.0)
            if least < -ROUNDING:
                raise fault(
                    "the correlations of its numbers contradict one another: their matrix has the "
                    f"eigenvalue {least:.2g}",
                    "write `with` as it was, or fit anew",
                )
        return self

    def value(self, of: LearntOf, name: str | None = None, *, default: float) -> float:
        """Give the number of a kind and name, whatever the case, or else the default."""
        wanted = (of, (name or "").casefold())
        return next(
            (n.value for n in self.numbers if (n.of, (n.name or "").casefold()) == wanted), default
        )

    def without(self, of: LearntOf, names: Collection[str]) -> Learnt:
        """Give the same without the numbers of a kind and some names, whatever the case."""
        gone = {name.casefold() for name in names}
        kept = [
            index
            for index, number in enumerate(self.numbers)
            if number.of != of or (number.name or "").casefold() not in gone
        ]
        numbers = tuple(
            self.numbers[index].model_copy(
                update={
                    "with_": tuple(
                        self.numbers[index].with_[above]
                        for above in kept[:place]
                        if self.numbers[index].with_
                    )
                }
            )
            for place, index in enumerate(kept)
        )
        return self.model_copy(update={"numbers": numbers})

    def covariance(self) -> NDArray[np.float64]:
        """Give the covariance of the numbers, in their order, without a negative eigenvalue."""
        correlation = self._correlation()
        eigenvalues, vectors = np.linalg.eigh(correlation)
        if len(eigenvalues) and eigenvalues[0] < 0.0:  # by the rounding of what was written
            correlation = (vectors * np.maximum(eigenvalues, 0.0)) @ vectors.T
            scale = np.sqrt(np.diag(correlation))
            correlation /= np.outer(scale, scale)
        sure = np.array([number.sure for number in self.numbers])
        return np.outer(sure, sure) * (correlation + correlation.T) / 2.0

    def _correlation(self) -> NDArray[np.float64]:
        """Give the correlations as written."""
        matrix = np.eye(len(self.numbers))
        for row, number in enumerate(self.numbers):
            if number.with_:
                matrix[row, :row] = matrix[:row, row] = number.with_
        return matrix
