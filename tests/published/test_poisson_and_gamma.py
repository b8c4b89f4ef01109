"""Counts with sure and with uncertain rates against printed examples and reference libraries."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom, gamma, nbinom, poisson

from fieldkit.likelihood.counts import count_tail
from fieldkit.likelihood.ranges import factor_quantile

SURE = (np.inf, np.inf)


def beyond(stock: int, mean: float, most: int = 200) -> float:
    """Expected failures beyond a stock: the sum of P(N >= k) for k above it."""
    return float(sum(count_tail(k, mean, 0, *SURE) for k in range(stock + 1, most)))


def test_poisson_loss() -> None:
    """stockpyl documentation, poisson_loss (Snyder and Shen, equations C.41 and C.42): mean 15, x = 18."""
    short = beyond(18, 15.0)
    assert short == pytest.approx(0.5176095282584724, abs=1e-10)
    assert 18 - 15.0 + short == pytest.approx(3.5176095282584723, abs=1e-10)  # its complement, printed beside it


def test_poisson_newsvendor() -> None:
    """stockpyl documentation, newsvendor_poisson: holding 0.18, penalty 0.70, mean 50 gives S = 56 at cost 1.797235211809178."""

    def cost(stock: int) -> float:
        short = beyond(stock, 50.0, 300)
        return 0.70 * short + 0.18 * (stock - 50.0 + short)

    best = min(range(40, 70), key=cost)
    assert best == 56
    assert cost(best) == pytest.approx(1.797235211809178, abs=1e-10)


def test_prior_from_two_quantiles() -> None:
    """NIST/SEMATECH e-Handbook 8.2.5, R listing: Gamma(2.863055, b = 1522.506) has median MTBF 600 h and 95 % low of 250 h."""
    a, b = 2.863055, 1522.506
    assert 1 / factor_quantile(0.5, a, b) == pytest.approx(600.0, abs=0.01)  # the printed parameters carry six digits
    assert 1 / factor_quantile(0.95, a, b) == pytest.approx(250.0, abs=0.01)


@pytest.mark.parametrize(("rate", "printed"), [(0.001667, 0.5001232), (0.004, 0.9499963)])
def test_gamma_distribution_of_a_rate(rate: float, printed: float) -> None:
    """The same listing: Gamma(2.863, rate 1522.46) at two rates; b is a rate, not a scale."""
    assert factor_quantile(printed, 2.863, 1522.46) == pytest.approx(rate, rel=1e-6)  # seven printed digits


@pytest.mark.parametrize("a", [0.8, 2.0, 7.5])
@pytest.mark.parametrize("mean", [0.05, 0.7, 6.0])
def test_uncertain_counts_against_the_reference_library(a: float, mean: float) -> None:
    """scipy.stats: Poisson with a Gamma mean is negative binomial; with a sure mean it is Poisson."""
    b = 1.7 * a
    for count in (1, 2, 5):
        assert float(count_tail(count, mean, 0, a, b)) == pytest.approx(
            nbinom.sf(count - 1, a, b / (b + mean)), rel=1e-9
        )
        assert float(count_tail(count, mean, 0, *SURE)) == pytest.approx(poisson.sf(count - 1, mean), rel=1e-9)


@pytest.mark.parametrize("positions", [1, 2, 4, 8])
def test_renewed_positions_against_the_reference_library(positions: int) -> None:
    """scipy.stats: binomial counts at fixed theta, integrated over a Gamma by adaptive quadrature."""
    a, mean = 2.5, 1.3
    for count in range(1, positions + 1):

        def at_least(theta: float, count: int = count) -> float:
            return float(binom.sf(count - 1, positions, -np.expm1(-theta * mean / positions)))

        assert float(count_tail(count, mean, positions, *SURE)) == pytest.approx(at_least(1.0), rel=1e-9)
        spread = gamma(a, scale=1 / a).expect(at_least)
        assert float(count_tail(count, mean, positions, a, a)) == pytest.approx(spread, rel=1e-6)
