"""What all answers can do: give themselves as plain values with units in their keys."""

from __future__ import annotations

from dataclasses import field, fields
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

# For each dimension: the ending of the key and what an SI value is multiplied by.
_ENDINGS: dict[str, tuple[str, float]] = {
    "flow": ("_l_per_h", 3.6e6),
    "head": ("_m", 1.0),
    "length": ("_m", 1.0),
    "velocity": ("_m_per_s", 1.0),
    "volume": ("_l", 1e3),
    "power": ("_w", 1.0),
    "time": ("_s", 1.0),
    "pressure": ("_kpa", 1e-3),
    "density": ("_kg_per_m3", 1.0),
    "mass": ("_kg", 1.0),
    "temperature": ("_deg_c", 1.0),
    "salinity": ("_g_per_kg", 1.0),
    "ratio": ("_percent", 100.0),
    "energy": ("_kwh", 1.0),
    "warming": ("_k_per_h", 3600.0),
}


def quantity(dimension: str) -> Any:  # noqa: ANN401  # what dataclasses.field gives
    """A field that holds an SI value of a dimension, or None."""
    return field(metadata={"dimension": dimension})


class Record:
    """Base of answers and their rows: frozen dataclasses."""

    def to_dict(self) -> dict[str, Any]:
        """Plain values, the same keys always, each quantity with its unit in its key."""
        found: dict[str, Any] = {}
        for each in fields(self):  # type: ignore[arg-type]
            value = getattr(self, each.name)
            dimension = each.metadata.get("dimension")
            if dimension is not None:
                ending, factor = _ENDINGS[dimension]
                found[each.name + ending] = _scaled(value, factor)
            elif not each.metadata.get("private"):
                found[each.name] = _plain(value)
        return found


def _scaled(value: Any, factor: float) -> Any:  # noqa: ANN401  # whatever a field holds
    if value is None:
        return None
    if isinstance(value, tuple):
        return [_scaled(item, factor) for item in value]
    return float(value) * factor


def _plain(value: Any) -> Any:  # noqa: ANN401
    if isinstance(value, Record):
        return value.to_dict()
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    return value


def frame(rows: tuple[Record, ...]) -> pd.DataFrame:
    """Rows of an answer as a pandas table, one column a key of `to_dict`."""
    import pandas as pd

    return pd.DataFrame([row.to_dict() for row in rows])
