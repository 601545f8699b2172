"""What can go wrong.

As a tree:

BalanceError
├── QuantityError       a text that is no quantity, or one of the wrong dimension
├── UnknownNameError    a name that no table or plan knows, with the nearest that it does
├── PlanError           all faults of one plan, each with its place and the way out
├── UsageError          words of a command line or arguments of a question that make no sense
├── NoSolutionError     a question that has no answer, refused by name
└── SolveError          the solver did not converge

The text of each is written for the person who asked: what is wrong, where, what to do instead.
"""

from __future__ import annotations

from dataclasses import dataclass


class BalanceError(Exception):
    """Root of everything this package raises on purpose."""

    def __reduce__(self) -> tuple[object, ...]:
        """Travel between processes by state: arguments of a subclass are not those of the root."""
        return type(self).__new__, (type(self), *self.args), vars(self)


class QuantityError(BalanceError, ValueError):
    """A text that is no quantity, or one of the wrong dimension."""

    def __init__(self, text: str, problem: str, remedy: str = "") -> None:
        """Says of `text` what is wrong and what may be written instead."""
        self.text, self.problem, self.remedy = text, problem, remedy
        super().__init__(f"{problem}; {remedy}" if remedy else problem)


class UnknownNameError(BalanceError, LookupError):
    """A name that no table or plan knows."""

    def __init__(
        self, kind: str, name: str, nearest: tuple[str, ...] = (), known: tuple[str, ...] = ()
    ) -> None:
        """Names the kind of thing that was looked up, the nearest known names, and all of them."""
        self.kind, self.name, self.nearest, self.known = kind, name, nearest, known
        super().__init__(f'no {kind} is called "{name}"{self.hint}')

    @property
    def hint(self) -> str:
        """The nearest names, or all of them where none is near."""
        offered = self.nearest or self.known[:12]
        return "; try " + ", ".join(f'"{name}"' for name in offered) if offered else ""


@dataclass(frozen=True)
class Fault:
    """One thing wrong in a file: where it stands, what it is, what to write instead."""

    file: str
    line: int | None
    path: str
    problem: str
    remedy: str = ""

    def __str__(self) -> str:
        """Place, problem and remedy on one or two lines."""
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        where = f"{self.path}: " if self.path else ""
        text = f"{place}: {where}{self.problem}"
        return f"{text}\n    {self.remedy}" if self.remedy else text


class PlanError(BalanceError):
    """All faults of one plan, in the order of the file."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        """Carries the faults; the text lists them all."""
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))


class UsageError(BalanceError):
    """Words of a command line or arguments of a question that make no sense."""


class NoSolutionError(BalanceError):
    """A question that has no answer, refused by the name of what stands in the way."""


class SolveError(BalanceError):
    """The solver did not converge."""

    def __init__(self, worst_run: str, residual: float, iterations: int) -> None:
        """Names the worst run, the head [m] that does not close along it, the steps spent."""
        self.worst_run, self.residual, self.iterations = worst_run, residual, iterations
        super().__init__(
            f"the flows did not settle in {iterations} steps: {residual:.2g} m of head do not close"
            f' along "{worst_run}". Please report the plan; a valve a little less shut often helps.'
        )
