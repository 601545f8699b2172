"""Errors say where, what and the way out, and can be caught by kind."""

from __future__ import annotations

import pickle

import pytest

from balance.errors import (
    BalanceError,
    Fault,
    NoSolutionError,
    PlanError,
    QuantityError,
    SolveError,
    UnknownNameError,
    UsageError,
)

EVERY = [
    QuantityError("4", '"4" has no unit', 'write it with one, such as "4 ft"'),
    UnknownNameError("fitting", "elbw 90", ("elbow 90",), ("elbow 90", "union")),
    PlanError((Fault("plan.toml", 12, "title", "is missing"),)),
    UsageError("no such branch"),
    NoSolutionError("the draw at an isolated joint"),
    SolveError("riser", 0.25, 60),
]


@pytest.mark.parametrize("error", EVERY, ids=lambda error: type(error).__name__)
def test_every_error_is_a_balance_error_with_a_text(error: BalanceError) -> None:
    assert isinstance(error, BalanceError)
    assert str(error)


@pytest.mark.parametrize("error", EVERY, ids=lambda error: type(error).__name__)
def test_errors_survive_the_way_between_processes(error: BalanceError) -> None:
    again = pickle.loads(pickle.dumps(error))  # noqa: S301 - our own bytes
    assert type(again) is type(error)
    assert str(again) == str(error)
    assert vars(again) == vars(error)


def test_a_quantity_error_is_a_value_error() -> None:
    error = QuantityError("4", '"4" has no unit', 'write "4 ft"')
    assert isinstance(error, ValueError)
    assert (error.text, error.problem, error.remedy) == ("4", '"4" has no unit', 'write "4 ft"')
    assert str(error) == '"4" has no unit; write "4 ft"'
    assert str(QuantityError("4", '"4" has no unit')) == '"4" has no unit'


def test_an_unknown_name_offers_the_nearest() -> None:
    error = UnknownNameError("fitting", "elbw 90", ("elbow 90",), ("elbow 90", "union"))
    assert isinstance(error, LookupError)
    assert (error.kind, error.name) == ("fitting", "elbw 90")
    assert (error.nearest, error.known) == (("elbow 90",), ("elbow 90", "union"))
    assert str(error) == 'no fitting is called "elbw 90"; try "elbow 90"'


def test_an_unknown_name_offers_all_where_none_is_near() -> None:
    error = UnknownNameError("valve", "tap", (), ("ball", "gate"))
    assert str(error) == 'no valve is called "tap"; try "ball", "gate"'
    assert str(UnknownNameError("valve", "tap")) == 'no valve is called "tap"'


def test_a_fault_says_place_problem_and_remedy() -> None:
    fault = Fault("plan.toml", 12, 'branches "refugium", target', "has no unit", 'write "120 gph"')
    assert str(fault) == (
        'plan.toml:12: branches "refugium", target: has no unit\n    write "120 gph"'
    )
    assert str(Fault("plan.toml", None, "", "is no text")) == "plan.toml: is no text"


def test_a_plan_error_lists_all_faults() -> None:
    faults = (Fault("plan.toml", 3, "units", "is not known"), Fault("plan.toml", 9, "", "stops"))
    error = PlanError(faults)
    assert error.faults == faults
    assert str(error) == "plan.toml:3: units: is not known\nplan.toml:9: stops"


def test_a_solve_error_names_the_worst_run() -> None:
    error = SolveError("riser", 0.25, 60)
    assert (error.worst_run, error.residual, error.iterations) == ("riser", 0.25, 60)
    assert '0.25 m of head do not close along "riser"' in str(error)
    assert "60 steps" in str(error)
