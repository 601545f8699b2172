"""The answer of `buy`: a shopping list in bags, and what was forgotten."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from balance.plan.model import Plan

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Item:
    """One kind of thing to buy.

    Attributes
    ----------
    bag : what to write on its bag: the size, or "pipe", "hose", "to join and hold it", "equipment"
    kind, size : "elbow 90", "1 in"; empty where it has none
    counted : how many it takes
    make : series of pipe that it goes with: "sch 40"
    ends : how it is joined where that is not as usual: "thread", "socket x thread"
    implied : of those, how many the plan does not name
    spare : how many more to buy
    unit : in which it is counted where it is sold by length: "ft" or "m"
    price : of one, in `power.currency`; None where it is not given
    lines : where it is needed
    """

    bag: str
    kind: str
    size: str
    counted: int
    make: str = ""
    ends: str = ""
    implied: int = 0
    spare: int = 0
    unit: str = ""
    price: float | None = None
    lines: tuple[str, ...] = ()

    @property
    def buy(self) -> int:
        """How many to buy."""
        return self.counted + self.spare

    @property
    def cost(self) -> float | None:
        """Of all of them."""
        return None if self.price is None else self.price * self.buy

    @property
    def label(self) -> str:
        """What it is called in a price list."""
        return label_of(self.kind, self.size, self.make, self.ends)


def label_of(kind: str, size: str, make: str = "", ends: str = "") -> str:
    """What a thing is called in a price list: "elbow 90, 1 in sch 40, thread"."""
    return ", ".join(filter(None, (kind, f"{size} {make}".strip(), ends)))


@dataclass(frozen=True)
class Lack:
    """Something that was forgotten, or that one will wish for.

    Attributes
    ----------
    what : "union", "second valve", "bulkhead"
    where : line, pump, device or valve that lacks it
    why : what it is for
    """

    what: str
    where: str
    why: str


@dataclass(frozen=True)
class Glue:
    """Solvent cement for one kind of plastic.

    Attributes
    ----------
    material : as in `balance.parts.pipes.PipeSize`
    joints : of one socket each
    cement, primer : volumes [m3]
    source : of the rule
    """

    material: str
    joints: int
    cement: float
    primer: float
    source: str

    @property
    def plastic(self) -> str:
        """What the tin says: "PVC"."""
        return self.material if self.material == "plastic" else self.material.upper()


@dataclass(frozen=True)
class Buy:
    """What to buy for a plan.

    Attributes
    ----------
    plan : that it is about
    items : in the order of the bags
    lacks : what was forgotten
    seals : unions of each size whose seals to check
    glue : cement and primer by number of joints
    look_at : what nothing tells, so that one has to look before buying
    spare : share by which fittings are bought beyond what is counted
    unknown_prices : things in the price list that are not on this list
    short_pieces : of pipe between sockets that touch, which the plan does not name
    """

    plan: Plan
    items: tuple[Item, ...]
    lacks: tuple[Lack, ...]
    seals: tuple[tuple[str, int], ...]
    glue: tuple[Glue, ...]
    look_at: tuple[str, ...]
    spare: float
    unknown_prices: tuple[str, ...]
    short_pieces: int

    @property
    def title(self) -> str:
        """Of the plan."""
        return self.plan.title

    @property
    def currency(self) -> str:
        """In which prices are given; empty where the plan names none."""
        return "" if self.plan.power is None else self.plan.power.currency

    @property
    def total(self) -> float | None:
        """Cost of everything that has a price; None where nothing has."""
        costs = [item.cost for item in self.items if item.cost is not None]
        return sum(costs) if costs else None

    @property
    def unpriced(self) -> int:
        """Number of kinds of thing without a price."""
        return sum(item.price is None for item in self.items)

    def to_frame(self) -> pd.DataFrame:
        """The list as a table, a row for each kind of thing."""
        import pandas as pd

        return pd.DataFrame([_row(item) for item in self.items])

    def to_dict(self) -> dict[str, Any]:
        """Plain values, ready for JSON; volumes in m3."""
        return {
            "title": self.title,
            "items": [
                {**_row(item), "lines": list(item.lines)} for item in self.items
            ],
            "total": self.total,
            "currency": self.currency,
            "without_price": self.unpriced,
            "not_on_the_list": list(self.unknown_prices),
            "spare_ratio": self.spare,
            "lacks": [
                {"what": lack.what, "where": lack.where, "why": lack.why} for lack in self.lacks
            ],
            "seals": [{"size": size, "unions": unions} for size, unions in self.seals],
            "glue": [
                {
                    "material": each.material,
                    "joints": each.joints,
                    "cement_m3": each.cement,
                    "primer_m3": each.primer,
                    "source": each.source,
                }
                for each in self.glue
            ],
            "short_pieces": self.short_pieces,
            "look_at": list(self.look_at),
        }  # fmt: skip


def _row(item: Item) -> dict[str, Any]:
    return {
        "bag": item.bag,
        "item": item.label,
        "kind": item.kind,
        "size": item.size,
        "make": item.make,
        "ends": item.ends,
        "counted": item.counted,
        "implied": item.implied,
        "spare": item.spare,
        "buy": item.buy,
        "unit": item.unit,
        "price": item.price,
        "cost": item.cost,
    }
