"""Bands and chances are those of the flows, counted by hand."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from balance.errors import NoSolutionError, UnknownNameError, UsageError
from balance.network.arrays import Network, network_of
from balance.plan.read import read, read_text
from balance.questions.learning.believed import ABOUT
from balance.questions.learning.doubts import Doubt, Doubts, Drawn
from balance.questions.settings import settings
from balance.questions.spread import outcome, spread
from balance.questions.spread.advice import ADVICE
from balance.questions.spread.monte_carlo import blocks
from balance.questions.spread.outcome import outcome_of
from tests.questions.spread.plans import SMALL

Floats = NDArray[np.float64]
DEMO = Path(__file__).parents[3] / "pump_curves_demo"
SYSTEMS = 3000


def flows_of(network: Network) -> dict[str, Floats]:
    (block,) = blocks(
        network,
        Doubts(network),
        systems=SYSTEMS,
        seed=1,
        factor=np.ones((network.topology.runs, 1)),
    )
    return {name: block.flow[row] for name, row in network.row_of.items()}


def test_everything_is_counted_from_the_flows() -> None:
    plan = read(DEMO / "lagoon.toml")
    flow = flows_of(network_of(plan))
    found = spread(plan, systems=SYSTEMS).before
    gph = 3.785411784e-3 / 3600
    # Aims and tolerances as they stand in the file.
    wanted = {
        "lagoon left": (240 * 0.85, 240 * 1.15),
        "lagoon right": (240 * 0.85, 240 * 1.15),
        "seagrass return": (140 * 0.85, 140 * 1.15),
        "carbon reactor": (90, 110),
        "phosphate reactor": (45 * 0.85, 45 * 1.15),
        "refugium": (60, 90),
        "ultraviolet": (180, np.inf),
        "sump stir": (70 * 0.75, 70 * 1.25),
        "returns": (432, 528),
    }
    limits = {"carbon reactor": (60, 160), "phosphate reactor": (25, 70), "ultraviolet": (0, 300)}
    flow["returns"] = flow["lagoon left"] + flow["lagoon right"]
    all_met = np.ones(SYSTEMS, dtype=np.bool_)
    none_broken = all_met.copy()
    bands = {band.name: band for band in (*found.branches, *found.totals)}
    for name, (low, high) in wanted.items():
        q = flow[name] / gph
        met = (q >= low) & (q <= high)
        band = bands[name]
        assert band.within == met.mean()
        assert band.too_little == (q < low).mean()
        assert band.too_much == (q > high).mean()
        assert [band.low, band.middle, band.high] == pytest.approx(
            np.percentile(flow[name], [5, 50, 95]), rel=1e-12
        )
        all_met &= met
    for name, (low, high) in limits.items():
        q = flow[name] / gph
        broken = (q < low) | (q > high)
        assert bands[name].beyond_limits == broken.mean()
        none_broken &= ~broken
    assert found.asked == len(wanted)
    assert found.within_all == all_met.mean()
    assert found.within_limits == none_broken.mean()
    assert found.missed == ("lagoon left", "lagoon right", "returns")
    assert bands["spare 2"].within is None
    assert not bands["spare 2"].has_water
    (pump,) = found.pumps
    assert pump.middle == pytest.approx(np.median(flow["main"]), rel=1e-12)


def test_the_error_of_the_chance_is_that_between_seeds() -> None:
    plan = read_text(SMALL)
    found = [spread(plan, systems=400, seed=seed).before for seed in range(60)]
    chances = [each.within_all for each in found if each.within_all is not None]
    errors = [each.within_all_error for each in found if each.within_all_error is not None]
    assert len(chances) == len(errors) == 60
    # The deviation of 60 values is itself known to 1/sqrt(118), 9 %.
    assert np.std(chances) == pytest.approx(np.mean(errors), rel=0.3)
    whole = spread(plan, systems=20_000).before.within_all
    assert np.mean(chances) == pytest.approx(
        whole, abs=4 * float(np.mean(errors)) / sqrt(60) + 0.01
    )


def test_a_branch_that_is_shut_on_purpose_breaks_no_lower_limit() -> None:
    shut = read_text(SMALL.replace('open = "55 deg"', 'open = "shut"'))
    band = next(b for b in spread(shut, systems=200).before.branches if b.name == "reactor")
    assert band.beyond_limits == 0.0
    assert (band.dry, band.within, band.too_little) == (1.0, 0.0, 1.0)
    assert not band.has_water
    assert band.shares == ()


def test_water_that_may_run_back_or_stand_is_told() -> None:
    # The pump barely lifts to the tank, and no check valve keeps the water there.
    low = SMALL.replace('to = "foot"\n', 'to = "foot"\nspeed = "56 %"\n', 1)
    found = spread(read_text(low), systems=2000)
    band = next(b for b in found.before.branches if b.name == "return")
    assert 0.02 < band.backwards < 0.98
    assert not band.logarithmic
    assert any("water runs backwards through return in" in note for note in found.notes)


def test_settings_are_where_it_may_begin() -> None:
    plan = read_text(SMALL.replace("60 deg", "50 deg"))
    there, stands = (spread(plan, systems=500, from_settings=wanted) for wanted in (True, False))
    marks = {branch.branch: branch.flow for branch in settings(plan).branches}
    assert (there.begins, stands.begins) == ("at the settings", "as it stands")
    for band in there.before.branches:
        assert band.flow == pytest.approx(marks[band.name], rel=1e-9)
    assert there.before.missed == ()
    assert stands.before.missed != ()
    assert (there.before.within_all or 0.0) > (stands.before.within_all or 0.0)


def test_any_sampler_will_do() -> None:
    @dataclass(frozen=True)
    class Surer:
        """What readings may leave: half the doubt."""

        inner: Doubts

        @property
        def all(self) -> tuple[Doubt, ...]:
            return self.inner.all

        def drawn(self, normal: Floats) -> Drawn:
            return self.inner.drawn(0.5 * normal)

    network = network_of(read_text(SMALL))
    before, after = (
        outcome_of(network, sampler, systems=4000, seed=1)
        for sampler in (Doubts(network), Surer(Doubts(network)))
    )
    for then, now in zip(before.branches, after.branches, strict=True):
        assert now.flow == pytest.approx(then.flow, rel=1e-9)
        assert now.high - now.low == pytest.approx(0.5 * (then.high - then.low), rel=0.1)
    assert (after.within_all or 0.0) > (before.within_all or 0.0)


DRAWN_FROM = """
units = "metric"

[vessels.tank]
level = "1 m"

[joints.tap]
draw = "50 lph"

[[runs]]
name = "line"
from = "tank"
to = "tap"
parts = [{ valve = "ball", size = "1/2 in", open = "12 deg" }]
"""


def test_systems_in_which_a_draw_is_cut_off_are_left_out_and_told() -> None:
    found = spread(read_text(DRAWN_FROM), systems=2000)
    assert 100 < found.before.unsettled < 1000
    assert found.before.systems == 2000
    assert found.before.within_all is None
    assert found.notes[0].startswith(
        f"{found.before.unsettled} of 2000 systems could not be solved"
    )


def test_where_most_systems_cannot_be_solved_nothing_is_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(outcome, "ENOUGH", 0.999)
    with pytest.raises(NoSolutionError, match="of 2000 systems drawn"):
        spread(read_text(DRAWN_FROM), systems=2000)


def test_a_draw_that_is_cut_off_without_any_doubt_is_refused() -> None:
    with pytest.raises(NoSolutionError, match='joint "tap" draws water'):
        spread(read_text(DRAWN_FROM.replace("12 deg", "shut")), systems=200)


@pytest.mark.parametrize("systems", [99, 0, -5, 1_000_001])
def test_too_few_or_too_many_systems_are_refused(systems: int) -> None:
    with pytest.raises(UsageError, match=r"systems are too (few|many); draw 100 to 1000000"):
        spread(read_text(SMALL), systems=systems)


def test_words_that_make_no_sense_are_refused() -> None:
    with pytest.raises(UsageError, match="below nought"):
        spread(read_text(SMALL), seed=-1)
    with pytest.raises(UnknownNameError):
        spread(read_text(SMALL), clogged={"reacter": 0.3})


def test_progress_is_told() -> None:
    told: list[tuple[int, int]] = []
    spread(read_text(SMALL), systems=5000, progress=lambda done, of: told.append((done, of)))
    assert told == [(4096, 5000), (5000, 5000)]


def test_every_kind_of_doubt_has_advice() -> None:
    kinds = {doubt.about for doubt in Doubts(network_of(read(DEMO / "lagoon.toml"))).all}
    assert len(kinds) == 15
    assert kinds | set(ABOUT.values()) == ADVICE.keys()


def test_a_frame_has_a_row_a_branch() -> None:
    table = spread(read_text(SMALL), systems=200).to_frame()
    assert list(table["name"]) == ["return", "reactor"]
    assert "within_percent" in table.columns
