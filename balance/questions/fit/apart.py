"""What readings cannot tell apart, and what they tell nothing of."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from balance.questions.learning.doubts import offset_spread
from balance.questions.learning.learn import Learnt
from balance.questions.learning.numbers import told
from balance.questions.learning.unknowns import Unknown

TIED = 0.85  # of a correlation, from which two numbers are known together only; our own choice
TOGETHER = 3  # pairs that are told at the most
WHAT = {
    "pump": "how strong {name} is",
    "mains": "what riser and headers lose",
    "loss": "what {name} loses beside its valve",
    "throttling": "how much the valve {name} throttles",
    "offset": "where shut is on the handle of {name}",
    "bucket": "the volume of the bucket",
}
WEIGH = "weigh one fill: a litre of fresh water is 1.00 kg, of sea water 1.02 kg"
WAY = {
    frozenset({"throttling", "offset"}): "read it at a place further from the others",
    frozenset({"throttling", "loss"}): "read it with its valve wide open as well",
    frozenset({"loss"}): "read each of the two with the other one shut",
    frozenset({"pump", "loss"}): "read a level or the watts of the pump as well",
    frozenset({"pump", "mains"}): "read a level at the foot of the riser as well",
    frozenset({"pump", "bucket"}): WEIGH,
    frozenset({"bucket", "loss"}): WEIGH,
}


def words(each: Unknown) -> str:
    """What an unknown is, in words."""
    return WHAT[each.of].format(name=f'"{each.name}"')


def tied(learnt: Learnt) -> tuple[str, ...]:
    """Pairs of numbers that are known together much better than each for itself."""
    rows = told(learnt)
    covariance = learnt.covariance
    sd = np.sqrt(np.diag(covariance))
    pairs = sorted(
        (
            (float(covariance[one, other] / (sd[one] * sd[other])), one, other)
            for one, other in combinations(rows, 2)
        ),
        key=lambda each: -abs(each[0]),
    )
    found = []
    for correlation, one, other in pairs[:TOGETHER]:
        if abs(correlation) < TIED:
            break
        first, second = learnt.unknowns.all[one], learnt.unknowns.all[other]
        way = WAY.get(frozenset({first.of, second.of}), "")
        found.append(
            f"{words(first)}, and {words(second)}: if the one is more than said here, the other is "
            f"{'more' if correlation > 0.0 else 'less'} too, as surely as {abs(correlation):.2f} "
            "of 1" + (f". To tell them apart, {way}" if way else "")
        )
    return tuple(found)


def untold(learnt: Learnt) -> tuple[str, ...]:
    """What readings tell nothing of, gathered by kind, and what would tell it."""
    network, all_of_them = learnt.unknowns.network, learnt.unknowns.all
    known = told(learnt)
    silent: dict[str, list[str]] = {}
    for row, each in enumerate(all_of_them):
        capped = each.of == "throttling" and network.capped[network.valves[each.place].run, 0]
        if row not in known and not capped and each.of not in ("handle", "bucket"):
            silent.setdefault(each.of, []).append(f'"{each.name}"')
    near = [
        f'"{each.name}"'
        for each in (all_of_them[row] for row in known)
        if each.of == "throttling"
        and not learnt.log.told[each.place]
        and offset_spread(network.valves[each.place], network.plan.spread) > 0.0
    ]
    if near:
        silent["offset"] = near
    return tuple(_silence(kind, names) for kind, names in silent.items())


def _silence(kind: str, names: list[str]) -> str:
    listed, one = ", ".join(names), len(names) == 1
    match kind:
        case "pump":
            return f"how strong {listed} {'is' if one else 'are'}: read branches that it feeds"
        case "mains":
            return "what riser and headers lose"
        case "loss":
            return (
                f"what {listed} loses beside its valve: read it wide open"
                if one
                else f"what {listed} lose beside their valves: read them wide open"
            )
        case "throttling":
            return (
                f"how much {'the valve' if one else 'the valves'} {listed} "
                f"{'throttles' if one else 'throttle'}: read each at a mark, not only wide open"
            )
        case _:
            return (
                f"where shut is on {'the handle' if one else 'the handles'} of {listed}: read each "
                "at two marks 10 degrees apart or more"
            )
