"""What readings cannot tell apart, and what they tell nothing of."""

from __future__ import annotations

from itertools import combinations

import numpy as np

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
WAY = {
    frozenset({"throttling", "offset"}): "read it at two places 10 degrees apart",
    frozenset({"throttling", "loss"}): "read it with its valve wide open as well",
    frozenset({"loss"}): "read each of the two with the other one shut",
    frozenset({"pump", "loss"}): "read a level or the watts of the pump as well",
    frozenset({"pump", "mains"}): "read a level at the foot of the riser as well",
    frozenset({"pump", "bucket"}): "weigh the water of one fill: a litre of it is its density",
    frozenset({"bucket", "loss"}): "weigh the water of one fill: a litre of it is its density",
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
            f"{words(first)}, and {words(second)}: correlation {correlation:+.2f}"
            + (f". To tell them apart, {way}" if way else "")
        )
    return tuple(found)


def untold(learnt: Learnt) -> tuple[str, ...]:
    """What readings tell nothing of, gathered by kind."""
    rows = set(told(learnt))
    silent: dict[str, list[str]] = {}
    for row, each in enumerate(learnt.unknowns.all):
        if row not in rows and each.of not in ("handle", "bucket"):
            silent.setdefault(each.of, []).append(f'"{each.name}"')
    sentences = {
        "pump": "how strong {names} is: read its branches",
        "mains": "what riser and headers lose",
        "loss": "what {names} lose beside their valves: read them wide open",
        "throttling": "how much the valves {names} throttle: they were read wide open or shut, "
        "not at a mark",
        "offset": "where shut is on the handles of {names}",
    }
    return tuple(sentences[kind].format(names=", ".join(names)) for kind, names in silent.items())
