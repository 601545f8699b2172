"""What the names of a plan mean where stretches are named, whatever their case."""

from __future__ import annotations

from balance.errors import UnknownNameError, UsageError
from balance.network.arrays import Network
from balance.plan.fields import nearest
from balance.plan.model import ValveRef
from balance.questions.handles import valve_of


def _fold(name: str) -> str:
    return " ".join(name.split()).casefold()


class Named:
    """The stretches, groups, headers and valves of a network's plan, by name."""

    def __init__(self, network: Network) -> None:
        self.plan = plan = network.plan
        runs = [run.name for run in plan.runs if run.use != "change"]
        self.stretches = {_fold(name): name for name in (*runs, *(b.name for b in plan.branches))}
        self.groups = {_fold(name): group.branches for name, group in plan.groups.items()}
        self.headers = {_fold(header.name): header for header in plan.headers}
        turned = {valve.name for valve in network.valves}  # none of drains
        self.valves = {_fold(ref.name): ref for ref in plan.valves() if ref.name in turned}

    def meant(self, name: str) -> tuple[str, ...]:
        """Stretches and valves that a name means: of a group or header all its branches.

        Raises
        ------
        UnknownNameError
            With the nearest name.
        """
        folded = _fold(name)
        if folded in self.stretches:
            return (self.stretches[folded],)
        if folded in self.groups:
            return self.groups[folded]
        if folded in self.headers:
            return tuple(tap.branch for tap in self.headers[folded].taps if tap.branch)
        if folded in self.valves:
            return (self.valves[folded].name,)
        raise self._unknown(name, (*self.valves.values(),))

    def valve(self, name: str) -> ValveRef | None:
        """The valve that turns a stretch, or that has this name."""
        ref = valve_of(self.plan, name) if _fold(name) in self.stretches else None
        return ref or self.valves.get(_fold(name))

    def clogged(self, name: str) -> tuple[str, ...]:
        """Branches, runs and headers that a name means.

        Raises
        ------
        UnknownNameError
            With the nearest name.
        UsageError
            It is a valve.
        """
        folded = _fold(name)
        if folded in self.stretches:
            return (self.stretches[folded],)
        if folded in self.groups:
            return self.groups[folded]
        if folded in self.headers:
            return (self.headers[folded].name,)
        if folded in self.valves:
            raise UsageError(f'"{name}" is a valve, which does not clog here; name its stretch')
        raise self._unknown(name, ())

    def _unknown(self, name: str, valves: tuple[ValveRef, ...]) -> Exception:
        if any(_fold(drain.name) == _fold(name) for drain in self.plan.drains):
            return UsageError(
                f'"{name}" is a drain, and drains are left out here; `balance check` looks at them'
            )
        pumps = [pump for pump in self.plan.pumps if _fold(pump) == _fold(name)]
        if pumps:
            return UsageError(
                f'"{pumps[0]}" is a pump; `balance flows --speed "{pumps[0]}=0 %"` says what flows '
                "without it"
            )
        known = (
            *self.stretches.values(),
            *self.plan.groups,
            *(header.name for header in self.plan.headers),
            *(ref.name for ref in valves),
        )
        near = nearest(name, known)
        kind = "branch, group, header, run" + (" or valve" if valves else "")
        return UnknownNameError(kind, name, (near,) if near else (), tuple(dict.fromkeys(known)))
