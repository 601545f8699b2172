"""What it takes to join two ends that do not go into each other."""

from __future__ import annotations

from dataclasses import replace

from balance.parts.ends import Form
from balance.parts.pipes import PipeSize
from balance.questions.assembly.elements import Element, End
from balance.questions.assembly.naming import centred, depth_of

NOTHING: tuple[Form, ...] = ("own", "open", "wall", "shut")
MATED = (
    {"socket", "spigot"},
    {"socket", "slips in"},
    {"female thread", "male thread"},
    {"barb", "hose"},
)


def between(first: End, second: End) -> tuple[Element, ...]:
    """What stands between two ends, in order; nothing where one goes into the other.

    A short piece of pipe between sockets, a nipple between threads, an adapter from thread to
    socket, a bushing or a reducing coupling where sizes differ, a barb for a hose.
    """
    step = _step(first, second)
    return () if step is None else (step, *between(step.finish, second))


def _step(first: End, second: End) -> Element | None:
    """The element that comes next behind the first end; None where the second can follow."""
    one, two = first.form, second.form
    if one in NOTHING or two in NOTHING or ("barb" in (one, two) and "hose" not in (one, two)):
        return None
    same = first.fits(second)
    if "fits" in (one, two):
        if same or "hose" in (one, two):
            return None
        # What is made to suit is so in form, not in size.
        first, second = (
            replace(end, form="socket") if end.form == "fits" else end for end in (first, second)
        )
        one, two = first.form, second.form
    if "hose" in (one, two):
        return _for_a_hose(first, second)
    if same and {one, two} in MATED:
        return None
    if one == "socket":
        return _behind_a_socket(first, second)
    if one in ("spigot", "slips in"):
        return _behind_a_spigot(first, second)
    if one == "female thread":
        if two in ("spigot", "socket"):
            return _fitting("adapter", _end("male thread", first.size), _end("socket", first.size))
        if two == "male thread" and _larger(first.size, second.size):
            return _fitting(
                "bushing", _end("male thread", first.size), _end("female thread", second.size)
            )
        return _nipple(first.size)
    return _behind_a_male_thread(first, second)


def _behind_a_socket(first: End, second: End) -> Element:
    if second.form == "male thread" and first.fits(second):
        return _fitting(
            "female adapter", _end("spigot", first.size), _end("female thread", first.size)
        )
    if second.form in ("spigot", "socket") and _larger(first.size, second.size):
        return _fitting("bushing", _end("spigot", first.size), _end("socket", second.size))
    return _short_piece(first.size)


def _behind_a_spigot(first: End, second: End) -> Element:
    if second.form == "socket":  # of another size
        if _larger(second.size, first.size):
            return _fitting("bushing", _end("socket", first.size), _end("spigot", second.size))
        return _coupling(first, second)
    if not first.fits(second) or second.form == "spigot":
        return _coupling(first, second)
    thread: Form = "male thread" if second.form == "female thread" else "female thread"
    kind = "adapter" if thread == "male thread" else "female adapter"
    return _fitting(kind, _end("socket", first.size), _end(thread, second.size))


def _behind_a_male_thread(first: End, second: End) -> Element:
    if second.form in ("spigot", "socket"):
        return _fitting(
            "female adapter", _end("female thread", first.size), _end("socket", first.size)
        )
    if second.form == "female thread" and _larger(second.size, first.size):
        return _fitting(
            "bushing", _end("female thread", first.size), _end("male thread", second.size)
        )
    kind = "coupling" if first.fits(second) else "reducer"
    return _fitting(kind, _end("female thread", first.size), _end("female thread", second.size))


def _for_a_hose(first: End, second: End) -> Element | None:
    if first.form == "hose" and second.form == "hose":
        if first.fits(second):
            return _fitting("hose joiner", _end("barb", first.size), _end("barb", first.size))
        return _fitting("hose joiner", _end("barb", first.size), _end("barb", second.size))
    if "barb" in (first.form, second.form):
        return None
    if first.form == "hose":
        return _fitting("barb", _end("barb", first.size), _end("fits", second.size))
    return _fitting("barb", _end("fits", first.size), _end("barb", second.size))


def _larger(one: PipeSize, other: PipeSize) -> bool:
    return (one.outside or one.bore) > (other.outside or other.bore)


def _coupling(first: End, second: End) -> Element:
    kind = "coupling" if first.fits(second) else "reducer"
    return _fitting(kind, _end("socket", first.size, kind), _end("socket", second.size, kind))


def _fitting(kind: str, begin: End, finish: End) -> Element:
    return Element(kind, "fitting", begin, finish, added="to join what stands beside it")


def _short_piece(size: PipeSize) -> Element:
    end = End("spigot", size, 0.0, 0.0)
    return Element("pipe", "pipe", end, end, length=0.0, added="between two sockets that touch")


def _nipple(size: PipeSize) -> Element:
    end = End("male thread", size, 0.0, 0.0)
    return Element("close nipple", "fitting", end, end, added="between two threads")


def _end(form: Form, size: PipeSize, kind: str = "coupling") -> End:
    return centred(End(form, size, depth_of(form, size)), kind=kind)
