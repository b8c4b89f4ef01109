"""Cross-checks, not outside checks: values from memory (MEM) or derived by us (DER), recomputed with general libraries."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.special import comb

from fieldkit.likelihood.counts import count_tail, factor_nodes
from fieldkit.likelihood.ranges import factor_quantile
from fieldkit.likelihood.weibull import cumulative_hazard, expected_failures, hazard_rate, life_at, remaining_life

SURE = (np.inf, np.inf)


def test_conditional_weibull_der() -> None:
    """DER: shape 2, scale 13 years at 6.5 years; SciPy and another library agree."""
    assert float(np.exp(-expected_failures(6.5, 6.5, 13.0, 2.0))) == pytest.approx(0.472367, abs=1e-6)
    assert -float(np.expm1(-expected_failures(6.5, 2.0, 13.0, 2.0))) == pytest.approx(0.162651, abs=1e-6)
    assert remaining_life(6.5, 13.0, 2.0) == pytest.approx(7.09334, abs=1e-5)


def test_density_and_distribution_mem() -> None:
    """MEM: NIST/SEMATECH e-Handbook 8.1.6.2, shape 1.5, scale 5000, t = 1000: pdf 0.000123, cdf 0.08556."""
    reached = float(cumulative_hazard(1000.0, 5000.0, 1.5))
    assert float(hazard_rate(1000.0, 5000.0, 1.5)) * np.exp(-reached) == pytest.approx(0.000123, abs=5e-7)
    assert -np.expm1(-reached) == pytest.approx(0.08556, abs=5e-6)


def test_transmitting_tube_mem() -> None:
    """MEM: MIL-HDBK-338B section 5.3, shape 2, scale 1000 h: R(100) = 0.99, hazard 0.0002/h. DER: age 300 h, 0.932394."""
    assert float(np.exp(-cumulative_hazard(100.0, 1000.0, 2.0))) == pytest.approx(0.99, abs=5e-4)
    assert float(hazard_rate(100.0, 1000.0, 2.0)) == pytest.approx(0.0002, abs=1e-9)
    assert float(np.exp(-expected_failures(300.0, 100.0, 1000.0, 2.0))) == pytest.approx(0.932394, abs=1e-6)
    assert float(life_at(0.1, 1000.0, 2.0)) == pytest.approx(324.5928, abs=1e-4)


def test_cumulative_poisson_mem() -> None:
    """MEM: any printed table, mean 1: .3679 .7358 .9197 .9810 .9963."""
    below = [1 - float(count_tail(n + 1, 1.0, 0, *SURE)) for n in range(5)]
    assert below == pytest.approx([0.3679, 0.7358, 0.9197, 0.9810, 0.9963], abs=5e-5)


def test_spares_for_95_percent_der() -> None:
    """DER: least stock s with P(N <= s) of at least 0.95."""
    means = [0.1, 0.2, 0.5, 1, 1.5, 2, 3, 4, 5, 10]
    stock = [next(s for s in range(30) if float(count_tail(s + 1, m, 0, *SURE)) <= 0.05) for m in means]
    assert stock == [1, 1, 2, 3, 4, 5, 6, 8, 9, 15]


@pytest.mark.parametrize(
    ("mean", "short"),
    [
        (1.0, [1, 0.3679, 0.1036, 0.0233, 0.0043, 0.0007]),
        (0.5, [0.5, 0.1065, 0.0163, 0.0019, 0.0002]),
        (2.0, [2, 1.1353, 0.5413, 0.2180, 0.0751, 0.0225, 0.0059]),
        (3.0, [3, 2.0498, 1.2489, 0.6721, 0.3194, 0.1346, 0.0507, 0.0172]),
    ],
)
def test_expected_back_orders_der(mean: float, short: list[float]) -> None:
    """DER by Sherbrooke's definition: expected demand beyond a stock of s = 0, 1, ..."""
    found = [sum(float(count_tail(k, mean, 0, *SURE)) for k in range(s + 1, 60)) for s in range(len(short))]
    assert found == pytest.approx(short, abs=5e-5)


def test_failure_rate_after_a_test_mem() -> None:
    """MEM: NIST e-Handbook 8.4.6, a' = 4, b' = 3309: MTBF exceeded with 90, 80, 50 and 10 %: 495, 600, 901, 1897 h."""
    found = [1 / factor_quantile(q, 4.0, 3309.0) for q in (0.9, 0.8, 0.5, 0.1)]
    assert found == pytest.approx([495, 600, 901, 1897], abs=0.6)


def test_predictive_counts_der() -> None:
    """DER: the same posterior over 500 h: negative binomial, P(0..3)."""
    tails = [float(count_tail(n, 500.0, 0, 4.0, 3309.0)) for n in range(6)]
    exactly = [a - b for a, b in pairwise(tails)][:4]
    assert exactly == pytest.approx([0.5695648, 0.2990627, 0.0981434, 0.0257662], abs=1e-7)


@pytest.mark.parametrize("positions", [2, 4, 6])
@pytest.mark.parametrize("mean", [0.01, 0.5, 5.0])
def test_renewed_positions_against_the_closed_sum_der(positions: int, mean: float) -> None:
    """DER: P(N = r) = C(n,r) sum_i (-1)^i C(r,i) (1 + (n - r + i) mu / (n k))^-k."""
    k = 2.0

    def exactly(r: int) -> float:
        terms = (
            (-1) ** i * comb(r, i) * (1 + (positions - r + i) * mean / (positions * k)) ** -k for i in range(r + 1)
        )
        return float(comb(positions, r) * sum(terms))

    for count in range(1, positions + 1):
        closed = sum(exactly(r) for r in range(count, positions + 1))
        assert float(count_tail(count, mean, positions, k, k)) == pytest.approx(closed, abs=1e-9)


@pytest.mark.parametrize("k", [0.5, 1.0, 3.0, 40.0, 1e5])
def test_nodes_integrate_moments_and_exponentials_der(k: float) -> None:
    """DER: E theta = 1, E theta^2 = 1 + 1/k, E exp(-m theta) = (1 + m/k)^-k."""
    theta, weight = factor_nodes(k, k)
    assert weight @ theta == pytest.approx(1.0, rel=1e-9)
    assert weight @ theta**2 == pytest.approx(1 + 1 / k, rel=1e-9)
    for mean in (1e-3, 0.1, 1.0, 10.0):
        assert weight @ np.exp(-mean * theta) == pytest.approx((1 + mean / k) ** -k, abs=1e-10)
