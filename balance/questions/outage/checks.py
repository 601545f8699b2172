"""The check valves of a plan, and the plan with some of them failed."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from balance.plan.model import CheckPart, Part, Plan


def checks_of(plan: Plan) -> tuple[str, ...]:
    """Names of check valves that work, in runs, headers and branches: those of their stretches.

    Several in a row are numbered.
    """
    return tuple(name for stretch, parts in _stretches(plan) for name in _names(stretch, parts))


def with_failed(plan: Plan, failed: Collection[str]) -> Plan:
    """The plan with check valves failed: water passes through them both ways."""

    def parts(stretch: str, parts: Sequence[Part]) -> tuple[Part, ...]:
        names = iter(_names(stretch, parts))
        return tuple(
            part.model_copy(update={"failed": True}) if _works(part) and next(names) in failed
            else part
            for part in parts
        )  # fmt: skip

    return plan.model_copy(
        update={
            "runs": tuple(
                run.model_copy(update={"parts": parts(run.name, run.parts)}) for run in plan.runs
            ),
            "branches": tuple(
                branch.model_copy(update={"parts": parts(branch.name, branch.parts)})
                for branch in plan.branches
            ),
            "headers": tuple(
                header.model_copy(
                    update={
                        "taps": tuple(
                            tap.model_copy(
                                update={"parts": parts(_piece(header.name, place), tap.parts)}
                            )
                            for place, tap in enumerate(header.taps)
                        )
                    }
                )
                for header in plan.headers
            ),
        }
    )


def _stretches(plan: Plan) -> Iterator[tuple[str, Sequence[Part]]]:
    for run in plan.runs:
        if run.use == "always":
            yield run.name, run.parts
    for header in plan.headers:
        for place, tap in enumerate(header.taps):
            yield _piece(header.name, place), tap.parts
    for branch in plan.branches:
        yield branch.name, branch.parts


def _piece(header: str, place: int) -> str:
    return f"{header} before tap {place + 1}"


def _names(stretch: str, parts: Sequence[Part]) -> Iterator[str]:
    count = sum(_works(part) for part in parts)
    for number in range(1, count + 1):
        yield stretch if count == 1 else f"{stretch}, {number} of {count}"


def _works(part: Part) -> bool:
    return isinstance(part, CheckPart) and not part.failed
