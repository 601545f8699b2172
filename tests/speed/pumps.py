"""Invented pumps compared on the demo's plan, and one of them as scipy alone would do it.

Two dozen of them; with `--all` two hundred.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares, root

from balance.network.arrays import Network, network_of
from balance.plan.candidates import read_candidates
from balance.plan.model import Candidate, Plan
from balance.plan.read import read
from balance.questions.aims import aims_of
from balance.questions.pumps import pumps
from balance.questions.pumps.answer import PumpTrial
from balance.questions.pumps.arrangements import arranged
from balance.questions.pumps.contenders import Contender
from balance.questions.pumps.question import FOULING
from balance.questions.pumps.trial import try_out
from tests.speed._cases import Setting, seconds
from tests.speed.kernel import Equations

Floats = NDArray[np.float64]

DEMO = Path(__file__).parents[2] / "pump_curves_demo" / "lagoon.toml"
FEW, ALL = 24, 200
MOST = 1e6  # loss coefficient of a valve that hardly lets water through
SHUT = 1e12  # and of one that is shut, for a solver that knows no such thing


def invented(count: int, folder: Path) -> None:
    """Writes curves of pumps of 2.2 to 6 m and 3000 to 8500 L/h, with power."""
    rng = np.random.default_rng(7)
    share = np.linspace(0.0, 1.0, 9)
    for place in range(count):
        shut_off, most = rng.uniform(2.2, 6.0), rng.uniform(3000.0, 8500.0)
        bend, best = rng.uniform(1.7, 2.3), rng.uniform(0.35, 0.48)
        head = shut_off * (1.0 - share**bend)
        # Watts rise by half on the way to run-out; at half of it the pump is about at its best.
        full = 1000.0 * 9.80665 * most / 3.6e6 / 2.0 * shut_off * (1.0 - 0.5**bend) / best
        watts = full * (0.7 + 0.6 * share - 0.2 * share**2)
        rows = "".join(
            f"{q:.0f},{h:.3f},{p:.1f}\n" for q, h, p in zip(most * share, head, watts, strict=True)
        )
        (folder / f"pump-{place:03}.csv").write_text(
            f"flow_lph,head_m,power_w\n{rows}", encoding="utf-8"
        )


def contenders(plan: Plan, candidates: tuple[Candidate, ...]) -> Iterator[Contender]:
    """Each candidate in the plan's pump's place."""
    (pump,) = plan.running
    for each in candidates:
        there = arranged(plan, each, replaces=(pump,))
        yield Contender(each.label, "single", there.plan, there.pumps, as_planned=False)


def with_scipy(network: Network, speed: float) -> tuple[Floats, Floats]:
    """Flows of the branches that ask for one, and their aims, by a search over log K of valves.

    What a person would write who has a general least squares and a general root finder: speed is
    given, and no margin, dead head or curve is asked for.
    """
    plan = network.plan
    aims = {aim.branches[0]: aim.aim for aim in aims_of(plan) if not aim.group and aim.aim}
    turned = [valve for valve in network.valves if valve.stretch in aims]
    rows = [network.row_of[valve.stretch] for valve in turned]
    wanted = np.array([aims[valve.stretch] for valve in turned])
    speeds = np.full((1, 1), speed)
    equations = Equations(Setting(network, network.openings, speeds))
    bare = network.at_speeds(network.passive, speeds)
    # A valve that no branch asks for stands as the plan has it.
    still = np.zeros((network.topology.runs, 1))
    for valve, opening in zip(network.valves, network.openings[:, 0], strict=True):
        if valve not in turned:
            k = float(valve.law.loss_coefficient(np.array([opening])).k[0])
            for run, scale in valve.places:
                still[run] += min(k, SHUT) * scale
    seen = [equations.start()]

    def flows(log_k: Floats) -> Floats:
        extra = still.copy()
        for valve, k in zip(turned, np.exp(log_k), strict=True):
            for run, scale in valve.places:
                extra[run] += k * scale
        equations.laws = replace(bare, forward=bare.forward + extra, backward=bare.backward + extra)
        found = root(equations.residual, seen[0], method="hybr")
        if found.success:
            seen[0] = found.x
        return np.asarray(found.x[rows] * equations.flow_unit)

    least = [
        float(valve.law.loss_coefficient(np.array([(valve.part.stops or (0.0, 1.0))[1]])).k[0])
        for valve in turned
    ]

    def missing(log_k: Floats) -> Floats:
        return np.asarray((flows(log_k) - wanted) / wanted)

    start = np.full(len(turned), np.log(30.0))
    found = least_squares(missing, start, bounds=(np.log(least), np.log(MOST)))
    return flows(found.x), wanted


def timed(trials: list[Contender]) -> tuple[list[float], list[PumpTrial]]:
    """Seconds and answers, one contender after the other, each from nothing."""
    taken, found = [], []
    for contender in trials:
        before = perf_counter()
        found.append(try_out(contender, fouling=FOULING)[0])
        taken.append(perf_counter() - before)
    return taken, found


def main(*, every: bool = False) -> None:
    """Prints how long it takes."""
    plan = read(DEMO)
    count = ALL if every else FEW
    with TemporaryDirectory() as folder:
        invented(count, Path(folder))
        before = perf_counter()
        candidates = read_candidates([folder], plan=plan, speeds="40 %..100 %").candidates
        reading = perf_counter() - before
    pumps(plan, candidates[:1])  # loads what is loaded once
    before = perf_counter()
    answer = pumps(plan, candidates)
    whole = perf_counter() - before
    met = sum(trial.meets for trial in answer.trials)
    print(f"{count} invented pumps on lagoon.toml, of which {met} meet all targets")
    print(f"  reading their curves               {reading:8.2f} s")
    print(f"  comparing them, on all cores       {whole:8.2f} s")
    alone = list(contenders(plan, candidates))
    ours, found = timed(alone)
    for words, which in (("that meets all targets", True), ("that does not", False)):
        some = [t for t, trial in zip(ours, found, strict=True) if trial.meets == which]
        if some:
            print(f"  one {words:<31}{median(some) * 1e3:8.1f} ms on one core")
    place = next(at for at, trial in enumerate(found) if trial.meets)
    before = perf_counter()
    flow, wanted = with_scipy(network_of(alone[place].plan), found[place].speeds[0])
    theirs = perf_counter() - before
    here = seconds(lambda: try_out(alone[place], fouling=FOULING), repeats=5)
    off = np.abs(flow / wanted - 1.0).max()
    print("one of these, its valves alone at a speed that is given")
    print(f"  scipy, least squares over root     {theirs:8.2f} s, within {off:.0e} of its aims")
    print(f"  ours, with speed and margins       {here:8.3f} s")
    print(f"  ratio                              {theirs / here:8.0f}")


if __name__ == "__main__":
    main(every="--all" in sys.argv[1:])
