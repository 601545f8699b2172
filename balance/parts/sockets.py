"""How far pipe goes into sockets and threads, and how far from the centre of a part it ends.

A piece of pipe between two parts is as long as what is seen of it and its two ends in their
sockets; measured from centre to centre it is shorter by the take-out of each part. Sockets taper:
pipe reaches their bottom only with cement on it.
"""

from __future__ import annotations

from functools import cache
from typing import Literal, NamedTuple

from balance.parts.pipes import INCH, PipeSize
from balance.parts.tables import rows
from balance.units import parse

Body = Literal["fitting", "valve", "check valve"]

_BODIES: dict[str, Body] = {"valve": "valve", "check valve": "check valve"}  # the rest: fittings


class Socket(NamedTuple):
    """The socket of a fitting or valve.

    Attributes
    ----------
    depth : how far pipe goes in [m]
    standard : that the socket follows, as a person may read it
    source : where the depth comes from
    """

    depth: float
    standard: str
    source: str


class TakeOut(NamedTuple):
    """What a part takes from a length measured to its centre.

    Attributes
    ----------
    length : from its centre to the bottom of its socket, where pipe ends [m]
    estimate : whether makers differ, so that the part at hand should be measured
    source : where the length comes from
    """

    length: float
    estimate: bool
    source: str


class Thread(NamedTuple):
    """A tapered male pipe thread, made up: how far it goes in [m], and where that comes from."""

    depth: float
    source: str


def socket(pipe: PipeSize, *, body: Body) -> Socket | None:
    """Return the socket that a pipe is cemented into.

    Parameters
    ----------
    pipe : a size of pipe
    body : what has the socket; unions have that of a valve

    Returns
    -------
    Socket; None for pipe that is not cemented, and for sizes that no table has.

    Source: each row of the table names its own.
    """
    end = _ends().get((pipe.series, body))
    if end is None:
        return None
    found = _depths().get((end.sockets, pipe.trade_size))
    if found is None:
        return None
    depth, source = found
    return Socket(end.share * depth, end.standard, f"{source}; {end.source}")


def take_out(pipe: PipeSize, *, kind: str) -> TakeOut | None:
    """Return what a part takes from a length measured to its centre.

    Parameters
    ----------
    pipe : the size of pipe that ends in it
    kind : a kind of fitting, such as "elbow 90", "tee" for its three legs and "wye 45" for its two
        long ones; or "valve" or "check valve"

    Returns
    -------
    TakeOut; None where nothing is known.

    Source: each row of the table names its own.
    """
    same = _kinds().get(kind)
    laid_as = same.like if same else kind
    end = _ends().get((pipe.series, _BODIES.get(laid_as, "fitting")))
    if end is None or not end.take_outs:
        return None
    found = _take_outs().get((laid_as, pipe.trade_size))
    if found is None or same is None:
        return found
    return TakeOut(
        found.length, found.estimate or same.estimate, f"{found.source}; {kind}: {same.source}"
    )


def thread_depth(nominal: str) -> Thread | None:
    """Return how far a tapered male pipe thread goes in when it is made up in plastic.

    Parameters
    ----------
    nominal : its size, such as "3/4 in"

    Returns
    -------
    Thread; None for sizes that no table has, metric ones among them.
    Raises QuantityError where the size is no length.

    Equation: the engagement by hand and as many turns more as makers of plastic ask for.

    Source: each row of the table names its own.
    """
    size = parse(nominal, "length")
    near = (thread for length, thread in _threads() if abs(length - size) < 1e-6)
    return next(near, None)


class _End(NamedTuple):
    """How pipe of a series ends in a body: in a share of the depth of whose sockets."""

    standard: str
    sockets: str
    share: float
    take_outs: bool
    source: str


class _Same(NamedTuple):
    """A kind of part that is laid as another one."""

    like: str
    estimate: bool
    source: str


@cache
def _ends() -> dict[tuple[str, str], _End]:
    return {
        (row["series"], row["body"]): _End(
            row["standard"],
            row["sockets"],
            float(row["share"]),
            row["take_outs"] == "yes",
            row["source"],
        )
        for row in rows("socket_series")
    }


@cache
def _depths() -> dict[tuple[str, str], tuple[float, str]]:
    return {
        (row["standard"], row["size"]): (parse(row["depth"], "length"), row["source"])
        for row in rows("sockets")
    }


@cache
def _kinds() -> dict[str, _Same]:
    return {
        row["kind"]: _Same(row["like"], row["estimate"] == "yes", row["source"])
        for row in rows("take_out_kinds")
    }


@cache
def _take_outs() -> dict[tuple[str, str], TakeOut]:
    return {
        (row["kind"], row["size"]): TakeOut(
            parse(row["length"], "length"), row["estimate"] == "yes", row["source"]
        )
        for row in rows("take_outs")
    }


@cache
def _threads() -> tuple[tuple[float, Thread], ...]:
    return tuple(
        (
            parse(row["size"], "length"),
            Thread(
                parse(row["hand_tight"], "length")
                + float(row["turns"]) / float(row["per_inch"]) * INCH,
                row["source"],
            ),
        )
        for row in rows("threads")
    )
