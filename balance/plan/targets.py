"""What a branch is asked to carry, and how near counts as met."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from pydantic.json_schema import JsonSchemaValue

from balance.plan.fields import FLOW, Readable, fault, quoted
from balance.units import parse_range

BOUND_MARGIN = 0.05
"""How far inside a bound its aim lies, as a share of the bound; our own choice."""

TOLERANCE = 0.10
"""What counts as met beside a target flow, where the plan does not say; common practice, no
source."""


@dataclass(frozen=True)
class Target:
    """A flow asked for [m3/s]: one flow, a range of flows, or a bound from one side."""

    kind: Literal["flow", "range", "at least", "at most"]
    low: float | None
    high: float | None

    @property
    def aim(self) -> float:
        """Flow to come close to [m3/s]: the target, the middle of a range, just inside a bound."""
        low = self.low if self.low is not None else 0.0
        high = self.high if self.high is not None else 0.0
        match self.kind:
            case "flow":
                return low
            case "range":
                return 0.5 * (low + high)
            case "at least":
                return low * (1.0 + BOUND_MARGIN)
            case "at most":
                return high * (1.0 - BOUND_MARGIN)

    @property
    def default_tolerance(self) -> float:
        """Share of the flow within which it counts as met, where the plan does not say."""
        return TOLERANCE if self.kind == "flow" else 0.0


@dataclass(frozen=True)
class TargetText(Readable):
    """``"120 gph"``, ``"100..150 gph"``, ``">= 300 gph"`` or ``"<= 60 gph"``."""

    @property
    def schema(self) -> JsonSchemaValue:  # type: ignore[override]
        """What the JSON Schema says of it."""
        return {"type": "string", "examples": ["120 gph", "100..150 gph", ">= 300 gph"]}

    def read(self, value: object) -> Target:
        """Read what the file has."""
        text = FLOW.text(value).strip()
        if bound := re.match(r"(>=|≥|=>|<=|≤|=<|[<>])\s*", text):
            flow = FLOW.read(text[bound.end() :])
            if ">" in bound[1] or bound[1] == "≥":
                return Target("at least", flow, None)
            if flow == 0.0:
                raise fault(
                    f"{quoted(text)} asks for no flow at all",
                    'leave the target out and write open = "shut" on its valve',
                )
            return Target("at most", None, flow)
        if ".." in text:
            low, high = parse_range(text, "flow")
            if low > high:
                raise fault(f"{quoted(text)} is the wrong way round", "write the lower flow first")
            return Target("range", FLOW.within(low, text), FLOW.within(high, text))
        flow = FLOW.read(text)
        if flow == 0.0:
            raise fault(
                f"{quoted(text)} asks for no flow at all",
                'leave the target out and write open = "shut" on its valve, '
                'or write ">= 0 gph" to free it as a bleed',
            )
        return Target("flow", flow, flow)


Limits = tuple[float | None, float | None]


@dataclass(frozen=True)
class LimitsText(Readable):
    """``["60 gph", "160 gph"]``, or one bound: ``">= 60 gph"``."""

    @property
    def schema(self) -> JsonSchemaValue:  # type: ignore[override]
        """What the JSON Schema says of it."""
        return {
            "type": ["array", "string"],
            "items": {"type": "string"},
            "minItems": 2,
            "maxItems": 2,
        }

    def read(self, value: object) -> Limits:
        """Read what the file has."""
        remedy = 'write limits = ["60 gph", "160 gph"], or ">= 60 gph", or "<= 160 gph"'
        if isinstance(value, list) and len(value) == 2:
            low, high = (FLOW.read(item) for item in value)
            if low >= high:
                raise fault(
                    f"{quoted(value)} is the wrong way round", "write the lower limit first"
                )
            return low, high
        if isinstance(value, str) and re.match(r"\s*[<>≤≥=]|.*\.\.", value):
            bound = TargetText().read(value)
            return bound.low, bound.high
        raise fault(f"{quoted(value)} is not a pair of limits", remedy)
