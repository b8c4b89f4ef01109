"""Sound and degraded parts average to the part nobody looked at; fresh work has its early failures."""

from __future__ import annotations

import numpy as np
import pytest

from fieldkit.likelihood.delay import means, split_means, under_stress
from fieldkit.likelihood.result import Wear


def wear(**changes: object) -> Wear:
    data: dict[str, object] = {
        "life": 100.0,
        "shape": 2.0,
        "warning": 20.0,
        "warned": 0.5,
        "kind": "known",
        "age": 60.0,
        "spread": 0.0,
        "duty": np.array([2.0, 6.0]),
        "km": np.array([1.0, 3.0]),
    }
    return Wear(**{**data, **changes})  # type: ignore[arg-type]


def test_own_mean_is_the_conditional_weibull() -> None:
    found = means([wear()])
    assert found.own[0] == pytest.approx([0.62**2 - 0.6**2, 0.66**2 - 0.6**2])
    assert found.prior[0] == pytest.approx(0.5 * 20 * 2 * 0.6 / 100)  # (1 - s) tau H'(a) = 0.12


def test_sound_and_degraded_average_to_unseen() -> None:
    """At the middle estimate the mixture of the two at p0 is the prior exactly."""
    found = means([wear(), wear(age=30.0), wear(warned=1.0, warning=5.0)])
    chance = [-np.expm1(-m) for m in (found.own, found.sound, found.degraded)]
    p0 = found.prior[:, None]
    assert p0 * chance[2] + (1 - p0) * chance[1] == pytest.approx(chance[0], abs=1e-12)
    assert (found.degraded >= found.own).all()
    assert (found.sound <= found.own).all()


def test_worn_is_never_better_than_unseen() -> None:
    """A part so old that its kind fails within the warning time: finding it worn must not lower its figure."""
    found = means([wear(age=400.0, warning=100.0)])
    assert found.prior[0] == 0.9
    assert (found.degraded[0] >= found.own[0] - 1e-12).all()


def test_no_warning_means_no_mixture() -> None:
    found = means([wear(warning=None), wear(warned=0.0)])
    assert found.prior.tolist() == [0.0, 0.0]
    assert (found.sound == found.own).all()
    assert (found.degraded == found.own).all()


def test_early_failures_wear_off_along_the_legs() -> None:
    """delta * (exp(-x/L) - exp(-(x + km)/L)), added to all three means."""
    fresh = means([wear(age=0.0, early=0.1, early_km=2.0), wear(age=0.0)])
    extra = fresh.own[0] - fresh.own[1]
    assert extra == pytest.approx(0.1 * (1 - np.exp(-np.array([1.0, 3.0]) / 2.0)))
    assert fresh.sound[0] - fresh.sound[1] == pytest.approx(extra)
    used_up = means([wear(age=0.0, early=0.1, early_km=2.0, fresh_km=40.0)])
    assert used_up.own[0] == pytest.approx(fresh.own[1], abs=1e-8)


def test_unknown_history_is_neither_new_nor_as_old_as_the_vehicle() -> None:
    new, odometer, unknown = (
        means([wear(kind=k, age=a)]).own[0, -1] for k, a in (("known", 0.0), ("known", 300.0), ("unknown", 300.0))
    )
    assert new < unknown < odometer
    assert odometer / unknown > 2  # taking the odometer as the part's age overstates wear-out


def test_nothing_known_is_the_long_run_rate() -> None:
    from math import gamma

    found = means([wear(kind="steady", age=0.0), wear(kind="unknown", age=5000.0)])
    assert found.own[0] == pytest.approx(np.array([2.0, 6.0]) / (100 * gamma(1.5)))
    assert found.own[1] == pytest.approx(found.own[0], rel=1e-6)


def test_a_spread_age_is_averaged_over_its_quantiles() -> None:
    """A convex hazard: not knowing the age exactly raises the mean."""
    shape = 3.0
    spread, sharp = means([wear(shape=shape, spread=0.3), wear(shape=shape)]).own[:, -1]
    assert sharp < spread < 1.4 * sharp


def test_more_stress_is_more_duty() -> None:
    assert under_stress(wear(), 1.5).duty.tolist() == [3.0, 9.0]
    assert under_stress(wear(), 1.0) is not None


def test_all_degraded_at_once_is_capped() -> None:
    sound, degraded = split_means(np.array([[0.5]]), np.array([[1e9]]), np.array([0.9]), np.array([1.0]))
    chance = 1 - np.exp(-0.5)
    assert float(degraded[0, 0]) == pytest.approx(-np.log(1 - chance / 0.9))
    assert float(sound[0, 0]) == pytest.approx(0.0, abs=1e-12)


def test_a_part_that_owners_replace_is_at_an_unknown_point_of_their_round() -> None:
    found = means([wear(kind="replaced", age=30.0)])
    ages = (np.arange(3000) + 0.5) / 100
    each = means([wear(age=a) for a in ages])
    assert found.own[0] == pytest.approx(each.own.mean(axis=0), rel=1e-5)
    assert found.prior[0] == pytest.approx(each.prior.mean(), rel=1e-5)
