"""How far a figure may be off: central 80 %, matched Gammas, and every factor that acts."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

import numpy as np
from scipy.special import gammaincinv

from fieldkit.likelihood.result import Range
from fieldkit.likelihood.settings import Evidence

LOW, HIGH = 0.1, 0.9


def combined_worth(worths: Iterable[float]) -> float:
    """Failures' worth of a product of factors: 1 + 1/k_eff = prod(1 + 1/k); infinite factors change nothing.

    Examples
    --------
    >>> combined_worth([2.0, 3.0])
    1.0
    >>> combined_worth([4.0, float("inf")])
    4.0
    """
    excess = float(np.prod([1.0 + 1.0 / k for k in worths])) - 1.0
    return 1.0 / excess if excess > 0 else float("inf")


def shared_worths(evidence: Evidence, groups: Iterable[str]) -> list[float]:
    """Worths of the factors a weak point shares with others: its vehicle's, the trip's, one per common cause."""
    return [evidence.vehicle, evidence.trip, *(evidence.of_group(g) for g in groups)]


def factor_quantile(share: float, a: float, b: float) -> float:
    """Quantile of theta ~ Gamma(a, rate b); 1 where the figure is sure.

    Examples
    --------
    >>> round(float(factor_quantile(0.5, 2.863, 1522.46)) * 600, 1)
    1.0
    """
    return 1.0 if np.isinf(a) else float(gammaincinv(a, share) / b)


@lru_cache(maxsize=4096)
def factor_range(worth: float) -> tuple[float, float]:
    """The central 80 % of a factor worth k failures: theta at 1 in 10 and 9 in 10.

    Examples
    --------
    >>> [round(x, 3) for x in factor_range(2.0)]
    [0.266, 1.945]
    """
    return factor_quantile(LOW, worth, worth), factor_quantile(HIGH, worth, worth)


def at_least_once(mean: float, variance: float) -> Range:
    """Chance of at least one failure of a sum of uncertain means, by a Gamma of the same mean and variance.

    Parameters
    ----------
    mean, variance : float
        Of the summed mean (not of the count).

    Examples
    --------
    >>> found = at_least_once(0.5, 0.125)           # k = 2
    >>> round(found.value, 6), found.low < found.value < found.high
    (0.36, True)
    """
    if mean <= 0:
        return Range(0.0, 0.0, 0.0)
    worth = mean**2 / variance if variance > 0 else float("inf")
    low, high = factor_range(worth)
    spared = np.exp(-mean) if np.isinf(worth) else (1.0 + mean / worth) ** -worth
    return Range(float(1.0 - spared), float(-np.expm1(-low * mean)), float(-np.expm1(-high * mean)))
