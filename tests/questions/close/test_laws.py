"""What must hold of any branch that is shut."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balance.plan.model import Plan
from balance.plan.read import read_text
from balance.questions.close import close
from balance.questions.close.answer import Case
from tests.questions.close.plans import TOP, branch, plan, three

TINY = 1e-10  # [m³/s]

lengths = st.integers(4, 200).map(lambda inches: f"{inches} in")
marks = st.integers(12, 90).map(lambda degrees: f"{degrees} deg")
rows = st.lists(
    st.tuples(lengths, marks, st.sampled_from(["sump", "tank"])), min_size=2, max_size=6
)


def drawn(branches: list[tuple[str, str, str]]) -> Plan:
    """Branches from one joint, where no tee couples them."""
    return plan(
        *(
            branch(f"b{place}", length=length, open_=mark, to=to)
            for place, (length, mark, to) in enumerate(branches)
        )
    )


def flows(case: Case) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.array([change.flow for change in case.branches])


@given(rows)
@settings(max_examples=30, deadline=None)
def test_without_tees_nobody_loses_and_the_pump_lifts_higher(
    branches: list[tuple[str, str, str]],
) -> None:
    answer = close(drawn(branches), pairs=True)
    before = np.array([change.before for change in answer.cases[0].branches])
    ordered = bool((before >= 0.0).all())  # else a tank feeds the joint, and to shut it takes away
    single = {case.label: flows(case) for case in answer.cases}
    for case in (*answer.cases, *answer.pairs):
        others = np.array([change.part == "" for change in case.branches])
        (pump,) = case.pumps
        assert pump.flow == pytest.approx(flows(case).sum(), abs=TINY)
        if ordered:
            assert (flows(case) >= before - TINY)[others].all()
            assert case.pumped <= case.pumped_before + TINY
            assert pump.head >= pump.head_before - 1e-9
    for pair in answer.pairs if ordered else ():
        shut = [done.name for done in pair.done]
        others = np.array([change.part == "" for change in pair.branches])
        for name in shut:
            assert (flows(pair) >= single[name] - TINY)[others].all()


@given(rows, st.integers(1, 300))
@settings(max_examples=30, deadline=None)
def test_without_tees_a_clog_takes_from_its_own_branch_alone(
    branches: list[tuple[str, str, str]], percent: int
) -> None:
    (case,) = close(drawn(branches), clogged={"b0": percent / 100}).cases
    clogged, *others = case.branches
    assert clogged.part == "clogged"
    sign = np.sign(clogged.before)
    assert sign * clogged.change <= TINY
    assert all(sign * other.change >= -TINY for other in others)


def test_a_clog_is_loss_at_equal_flow() -> None:
    one = """
[[branches]]
name = "a"
from = "cross"
to = "sump"
parts = [{{ k = {} }}, {{ pipe = "12 mm bore", length = "{} in" }}, {{ outlet = "ideal" }}]
"""
    (clogged,) = close(plan(one.format(12, 40), branch("b")), clogged={"a": 0.5}).cases
    (written,) = close(plan(one.format(18, 60), branch("b")), ["b"], to="60 deg").cases
    for one_way, other in zip(clogged.branches, written.branches, strict=True):
        assert one_way.flow == pytest.approx(other.flow, rel=1e-7)


def test_shutting_what_is_dry_changes_nothing() -> None:
    asked = plan(branch("a"), branch("b"), branch("dry", open_="shut"))
    (case,) = close(asked, ["dry"]).cases
    assert all(change.change == pytest.approx(0.0, abs=TINY) for change in case.branches)
    assert case.most is None
    assert case.harms == ()


def test_turning_a_valve_to_where_it_stands_changes_nothing() -> None:
    (case,) = close(three(), ["reactor"], to="60 deg").cases
    assert all(change.change == pytest.approx(0.0, abs=TINY) for change in case.branches)


SIDES = """
[joints.cross]
side = "riser"
[[headers]]
name = "left"
from = "cross"
pipe = "1 in sch 40"
taps = [{ branch = "a", after = "3 in" }, { branch = "b", after = "3 in", end = "elbow" }]
[[headers]]
name = "right"
from = "cross"
pipe = "1 in sch 40"
taps = [{ branch = "c", after = "3 in" }, { branch = "d", after = "3 in", end = "elbow" }]
"""


def test_a_symmetrical_manifold_answers_symmetrically() -> None:
    one = """
[[branches]]
name = "{}"
to = "sump"
parts = [
  {{ valve = "ball", size = "1/2 in", open = "50 deg" }},
  {{ pipe = "1/2 in sch 40", length = "30 in" }},
]
"""
    answer = close(read_text(TOP + SIDES + "".join(one.format(name) for name in "abcd")))
    change = np.array([[each.change for each in case.branches] for case in answer.cases])
    mirrored = [2, 3, 0, 1]
    assert change == pytest.approx(change[mirrored][:, mirrored], abs=1e-9)
    assert np.ptp(change) > 1e-6
