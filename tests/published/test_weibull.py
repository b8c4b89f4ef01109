"""Weibull wear-out against printed examples and the general reference library (scipy.stats)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import weibull_min

from fieldkit.likelihood.weibull import (
    cumulative_hazard,
    expected_failures,
    hazard_rate,
    life_at,
    mean_life,
    remaining_life,
)


def test_bearing_mean_life_and_survival() -> None:
    """Montgomery and Runger, Applied Statistics and Probability for Engineers, example 4-25, p. 134: shape 0.5, scale 5000 h."""
    assert float(mean_life(5000.0, 0.5)) == pytest.approx(10_000, abs=0.5)  # printed as a whole number
    survives = float(np.exp(-cumulative_hazard(6000.0, 5000.0, 0.5)))
    assert survives == pytest.approx(0.334, abs=5e-4)  # printed with three digits


def test_windings_remaining_life() -> None:
    """Nelson, Applied Life Data Analysis, pp. 69-70 (as quoted by a secondary page): shape 2, scale 13 years, 6.5 years survived."""
    assert remaining_life(6.5, 13.0, 2.0) == pytest.approx(7.1, abs=0.05)  # printed with one decimal


def test_share_failed_at_the_scale() -> None:
    """MIL-HDBK-338B, section 5.3.6: 63.2 % have failed at the scale, whatever the shape."""
    for shape in (0.5, 1.0, 2.2, 4.0):
        assert 1 - float(np.exp(-cumulative_hazard(70.0, 70.0, shape))) == pytest.approx(0.632, abs=5e-4)


@pytest.mark.parametrize(
    ("reliability", "printed"), [(0.90, 1.0), (0.95, 0.62), (0.96, 0.53), (0.97, 0.44), (0.98, 0.33), (0.99, 0.21)]
)
def test_bearing_reliability_factors(reliability: float, printed: float) -> None:
    """ISO 281:1990 factor a1 (as a bearing catalogue prints it): life at a reliability over the B10 life, Weibull slope 1.5."""
    ratio = float(life_at(1 - reliability, 1.0, 1.5) / life_at(0.1, 1.0, 1.5))
    assert ratio == pytest.approx(printed, abs=5e-3)  # the table rounds to two digits


@pytest.mark.parametrize("shape", [0.7, 1.0, 2.0, 3.5])
@pytest.mark.parametrize("age", [0.0, 300.0, 1800.0])
def test_against_the_reference_library(shape: float, age: float) -> None:
    """scipy.stats.weibull_min (seen: the installed library): conditional failure, hazard, quantile and mean."""
    life, duty = 1000.0, 150.0
    law = weibull_min(shape, scale=life)
    conditional = 1 - law.sf(age + duty) / law.sf(age)
    assert -np.expm1(-expected_failures(age, duty, life, shape)) == pytest.approx(conditional, rel=1e-9)
    if age > 0:
        assert float(hazard_rate(age, life, shape)) == pytest.approx(law.pdf(age) / law.sf(age), rel=1e-9)
    assert float(life_at(0.1, life, shape)) == pytest.approx(law.ppf(0.1), rel=1e-9)
    assert float(mean_life(life, shape)) == pytest.approx(law.mean(), rel=1e-9)
    rest = law.expect(lambda t: t - age, lb=age, ub=np.inf, conditional=True) if shape >= 1 else None
    if rest is not None:
        assert remaining_life(age, life, shape) == pytest.approx(rest, rel=1e-5)
