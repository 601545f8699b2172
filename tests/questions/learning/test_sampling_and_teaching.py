"""Weighed samples against bands that are known, and the next reading against taking it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from balance.network.arrays import Network, network_of
from balance.plan.model import Plan
from balance.plan.read import read, read_text
from balance.plan.reading import Reading
from balance.plan.readings import read_readings
from balance.questions.learning import experiment, sampling, teaching
from balance.questions.learning.handles import Setting, setting_to_mark
from balance.questions.learning.learn import Learnt, learn
from balance.questions.learning.sampling import sampled
from balance.questions.learning.teaching import FILL, FILLS, lessons
from tests.questions.learning.two_pumps import TWO_PUMPS

Floats = NDArray[np.float64]

DEMO = Path(__file__).parents[3] / "pump_curves_demo"
LOG = (
    "branch,volume,seconds,open\n"
    "return,5 L,39.0 39.3 38.9,all=full\nreactor,2 L,18.5 18.2 18.4,\nstir,20 L,16.5 16.3 16.6,\n"
    "return,5 L,44.0 44.2,return=60 deg\nreactor,2 L,20.1 20.4,reactor=50 deg\n"
)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return read_text(TWO_PUMPS)


@pytest.fixture(scope="module")
def network(plan: Plan) -> Network:
    return network_of(plan)


@pytest.fixture(scope="module")
def rows(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> tuple[Reading, ...]:
    file = tmp_path_factory.mktemp("log") / "log.csv"
    file.write_text(LOG, encoding="utf-8")
    return read_readings(file, plan).rows


@pytest.fixture(scope="module")
def learnt(network: Network, rows: tuple[Reading, ...]) -> Learnt:
    return learn(network, rows)


def make_linear(monkeypatch: pytest.MonkeyPatch, learnt: Learnt) -> None:
    """The same fit of a model that is its own tangent."""
    values, slopes = learnt.experiment(learnt.z)

    def tangent(*arguments: Any) -> Floats:
        z = arguments[3]
        return np.asarray(values[:, None] + slopes @ (z - learnt.z[:, None]))

    monkeypatch.setattr(sampling, "values", tangent)
    monkeypatch.setattr(sampling, "_states", lambda *_: None)


def test_where_the_model_is_straight_all_samples_count_alike(
    monkeypatch: pytest.MonkeyPatch, learnt: Learnt
) -> None:
    assert (learnt.regression.weights == 1.0).all()
    make_linear(monkeypatch, learnt)
    assert sampled(learnt, draws=500).effective > 499.0


def test_weighed_samples_from_too_wide_a_cloud_find_the_exact_band(
    monkeypatch: pytest.MonkeyPatch, learnt: Learnt
) -> None:
    make_linear(monkeypatch, learnt)
    draws = 200_000
    found = sampled(replace(learnt, root=1.15 * learnt.root), draws=draws)
    assert 0.2 * draws < found.effective < 0.99 * draws
    for row in range(learnt.unknowns.first_setting):
        sd = float(np.sqrt(learnt.covariance[row, row]))
        low, high = found.band(found.z[row], 0.05, 0.95)
        # A quantile of a normal law from n samples: sqrt(p (1 - p) / n) / its density there.
        error = sd * (0.05 * 0.95 / found.effective) ** 0.5 / 0.103
        assert low == pytest.approx(learnt.z[row] - 1.6449 * sd, abs=5.0 * error)
        assert high == pytest.approx(learnt.z[row] + 1.6449 * sd, abs=5.0 * error)


def test_where_it_is_bent_samples_are_worth_less(plan: Plan, rows: tuple[Reading, ...]) -> None:
    """A handle that may hide thirty degrees, read at one mark."""
    vague = plan.spread.model_copy(update={"mark": 30.0 / 90.0, "ball": 1.5})
    bent = learn(network_of(plan.model_copy(update={"spread": vague})), rows)
    plain = learn(network_of(plan), rows)
    assert sampled(plain).effective > 100.0
    assert sampled(bent).effective < 0.3 * sampled(plain).effective


def test_settings_to_come_are_known_as_well_as_a_log_that_has_them_leaves_them(
    network: Network, rows: tuple[Reading, ...], learnt: Learnt, tmp_path: Path
) -> None:
    """A reading of next to no worth, after the handle was set, tells nothing but that."""
    file = tmp_path / "log.csv"
    file.write_text(LOG + "stir,1 L,0.0001,reactor=47 deg\n", encoding="utf-8")
    last = read_readings(file, network.plan).rows[-1]
    then = learn(network, (*rows, replace(last, seconds=(1e-9,), volume=1e-13)))
    place = next(at for at, valve in enumerate(network.valves) if valve.name == "reactor")
    more = setting_to_mark(network, place, told=False)
    foreseen = learnt.with_settings([more])
    assert foreseen.unknowns.all == then.unknowns.all
    sd = np.sqrt(np.diag(then.covariance))
    assert np.abs((foreseen.z - then.z) / sd).max() < 1e-3
    assert np.abs((foreseen.covariance - then.covariance) / np.outer(sd, sd)).max() < 1e-3
    # What was learnt of the handle at its first mark is known of the next one too.
    first = learnt.unknowns.first_setting + learnt.log.last.errors[place][0]
    correlation = foreseen.covariance[first, -1] / (sd[first] * sd[-1])
    assert correlation > 0.3


class Watched:
    """Slopes that the next reading is chosen by, kept while they are worked out."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.slopes: list[Floats] = []
        self.kinds: list[tuple[int, int]] = []
        self.settings: tuple[Setting, ...] = ()
        plain = experiment.slopes

        def watched(unknowns: Any, stands: Any, observations: Sequence[Any], *rest: Any) -> Floats:
            found = plain(unknowns, stands, observations, *rest)
            self.slopes.append(found)
            self.kinds = [(each.stand, each.run) for each in observations]
            return found

        monkeypatch.setattr(teaching, "slopes", watched)
        extended = Learnt.with_settings

        def with_settings(learnt: Learnt, more: Sequence[Setting]) -> Learnt:
            self.settings = tuple(more)
            return extended(learnt, more)

        monkeypatch.setattr(Learnt, "with_settings", with_settings)


@pytest.mark.parametrize("name", ["two pumps", "lagoon"])
def test_the_next_reading_is_that_which_leaves_least_in_doubt(
    monkeypatch: pytest.MonkeyPatch, learnt: Learnt, name: str
) -> None:
    """Each added to the precision, which is inverted anew."""
    if name == "lagoon":
        demo = read(DEMO / "lagoon.toml")
        log = read_readings(DEMO / "lagoon-readings.csv", demo).rows
        learnt = learn(network_of(demo), log)
    watched = Watched(monkeypatch)
    found = lessons(learnt)
    (slopes,) = watched.slopes
    network = learnt.unknowns.network
    covariance = learnt.with_settings(watched.settings).covariance
    assert len(watched.settings) >= 1
    precision = np.linalg.inv(covariance)
    sd = float(np.hypot(network.plan.spread.stopwatch / (FILL * FILLS**0.5), 0.01))
    at_marks = [row for row, (stand, _) in enumerate(watched.kinds) if stand == 0]
    flows = slopes[at_marks].copy()
    flows[:, learnt.unknowns.rows["bucket", ""]] = 0.0  # the bucket is no part of a true flow

    def doubt(there: Floats) -> float:
        return float(np.sqrt(np.trace(flows @ there @ flows.T) / len(at_marks)))

    brute = sorted(
        doubt(np.asarray(np.linalg.inv(precision + np.outer(slope, slope) / sd**2)))
        for slope in slopes
    )
    assert [each.after for each in found] == pytest.approx(brute, rel=1e-6)
    assert [each.before for each in found] == pytest.approx([doubt(covariance)] * len(found))
    assert found[0].after < 0.95 * found[0].before


def test_taking_a_reading_leaves_what_was_foretold(
    monkeypatch: pytest.MonkeyPatch, network: Network, rows: tuple[Reading, ...], learnt: Learnt
) -> None:
    """As everything stands, three fills that show just what was expected."""
    watched = Watched(monkeypatch)
    lesson = next(each for each in lessons(learnt) if each.how == "as it stands")
    (slopes,) = watched.slopes
    at_marks = [row for row, (stand, _) in enumerate(watched.kinds) if stand == 0]
    flows = slopes[at_marks].copy()
    bucket = learnt.unknowns.rows["bucket", ""]
    flows[:, bucket] = 0.0
    shown = lesson.flow * float(np.exp(-learnt.z[bucket]))
    taken = replace(
        rows[-1],
        branch=lesson.branch,
        volume=shown * FILL,
        seconds=(FILL,) * FILLS,
        flow=None,
        turned=(),
    )
    then = learn(network, (*rows, taken))
    sd = np.sqrt(np.diag(then.covariance))
    assert np.abs((then.z - learnt.z) / sd).max() < 1e-3
    covariance = then.with_settings(watched.settings).covariance
    after = float(np.sqrt(np.trace(flows @ covariance @ flows.T) / len(at_marks)))
    assert lesson.after == pytest.approx(after, rel=1e-3)
    assert lesson.after < lesson.before
