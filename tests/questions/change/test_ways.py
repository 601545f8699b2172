"""Ways out of a change that does not go as asked: each of them goes when it is asked for."""

from __future__ import annotations

import pytest

from balance.questions.change import change
from balance.questions.change.steps import Order
from tests.questions.change.plans import plan


@pytest.mark.parametrize(
    ("edit", "order", "volume", "found"),
    [
        # Over the rim, unless as much has left before.
        ((), "fill first", 0.12, [("drain first", True, 0.12), ("fill first", True, 0.075)]),
        # The inlet stands 5 cm under the water: no more than that leaves before some has come.
        (
            (("1.1 m", "1.45 m"),),
            "drain first",
            0.0249999,
            [("fill first", True, 0.0249999), ("drain first", True, 0.025)],
        ),
    ],
)
def test_ways_out_go(
    edit: tuple[tuple[str, str], ...],
    order: Order,
    volume: float,
    found: list[tuple[str, bool, float]],
) -> None:
    asked = plan(*edit)
    answer = change(asked, order=order, volume=volume)
    assert [(way.order, way.running) for way in answer.ways] == [each[:2] for each in found]
    for way, (*_, most) in zip(answer.ways, found, strict=True):
        assert way.volume == pytest.approx(most, rel=0.05)
        assert way.volume <= most
        assert change(asked, order=way.order, running=way.running, volume=way.volume).done


def test_no_order_helps_a_line_that_is_shut() -> None:
    assert change(plan(), openings={"way out": 0.0}).ways == ()


def test_a_change_that_goes_needs_no_way_out() -> None:
    assert change(plan()).ways == ()
