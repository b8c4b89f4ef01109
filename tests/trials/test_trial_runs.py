"""Trial runs agree with the program where they must, and go beyond it where they may."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from fieldkit.kit.sample import _some_trips
from fieldkit.plan import Plan, PlanOptions, make_plan
from fieldkit.specs.library import Library
from fieldkit.specs.read_library import shipped_folder
from fieldkit.specs.read_trip import load_trip
from fieldkit.trials import trial_runs

EXAMPLES = shipped_folder("vehicle_specs") / "example_trips"


@pytest.fixture(scope="module", params=["blank", "convoy"])
def plan(request: pytest.FixtureRequest, library: Library, tmp_path_factory: pytest.TempPathFactory) -> Plan:
    folder = shutil.copytree(EXAMPLES / request.param, tmp_path_factory.mktemp("trials") / request.param)
    return make_plan(load_trip(Path(folder), library), PlanOptions(quick=True))


def test_the_plan_alone_costs_what_the_program_says(plan: Plan) -> None:
    """Identity test: the plan's repairs only, stock set aside, equals the program within 4 standard errors."""
    runs = trial_runs(plan.trip, plan.exposure, plan.risks, plan.kit, 30_000, seed=3, policy="plan-only")
    assert abs(runs.hours_lost - plan.kit.hours_with) <= 4 * runs.standard_error["hours_lost"]


def test_failures_come_as_often_as_expected(plan: Plan) -> None:
    """Failures of all weak points together equal the sum of their means, work before leaving in, within 4 standard errors and 2 %."""
    runs = trial_runs(plan.trip, plan.exposure, plan.risks, plan.kit, 30_000, seed=4, split=False)
    kept = {k: plan.kit.after.get(k, r) for k, r in plan.risks.by_key.items() if k not in plan.kit.gone}
    expected = sum(r.expected.value for r in kept.values())
    drawn = sum(t.failures for t in runs.trouble)
    assert drawn == pytest.approx(expected, rel=0.02 + 4 / np.sqrt(30_000 * expected))


def test_sharing_and_second_tries_never_cost_much(plan: Plan) -> None:
    """More freedom is not worse than the plan alone beyond the noise: the plan comes first in both."""
    full = trial_runs(plan.trip, plan.exposure, plan.risks, plan.kit, 20_000, seed=5)
    assert full.gap["sharing_and_fallback"] >= -4 * full.standard_error["hours_lost"]


def test_the_same_seed_gives_the_same_runs(plan: Plan) -> None:
    one, two = (trial_runs(plan.trip, plan.exposure, plan.risks, plan.kit, 2_000, seed=9) for _ in range(2))
    assert one == two
    other = trial_runs(plan.trip, plan.exposure, plan.risks, plan.kit, 2_000, seed=10)
    assert other.hours_lost != one.hours_lost


def test_shares_are_shares_and_quantiles_rise(plan: Plan) -> None:
    runs = plan.trials
    assert 0 <= runs.stranded <= 1 - runs.unassisted <= 1
    assert runs.quantiles["10"] <= runs.quantiles["50"] <= runs.quantiles["90"]
    assert all(0 <= share <= 1 for share in runs.unused.values())


@pytest.mark.parametrize("chance", [0.0, 1e-6, 0.003, 0.05, 0.19, 0.4, 1.0])
def test_rare_failures_drawn_by_gaps_come_as_often_as_one_by_one(chance: float) -> None:
    """Trips hit are spread evenly and independent of each other; the number that hit is uniform below the chance."""
    runs = 400_000
    trip, uniform = _some_trips(runs, chance, np.random.default_rng(5))
    assert len(trip) == pytest.approx(chance * runs, abs=5 * np.sqrt(chance * (1 - chance) * runs) + 1e-9)
    assert (np.diff(trip) > 0).all() and (trip >= 0).all() and (trip < runs).all()
    assert (uniform < chance).all() if chance < 1 else len(trip) == runs
    if len(trip) > 500:
        assert uniform.mean() / chance == pytest.approx(0.5, abs=5 / np.sqrt(12 * len(trip)))
        assert trip.mean() / runs == pytest.approx(0.5, abs=5 / np.sqrt(12 * len(trip)))
        gaps = np.diff(trip)
        assert (gaps == 1).mean() == pytest.approx(chance, abs=5 * np.sqrt(chance * (1 - chance) / len(gaps)) + 1e-9)
