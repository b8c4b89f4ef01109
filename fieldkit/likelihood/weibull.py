"""Wear-out by the Weibull distribution: everything derives from the cumulative hazard H(x) = (x / life)^shape.

``life`` is the distance (or days, or crossings) by which 63.2 % of new parts have failed; ``shape`` is below 1
for early failures, 1 for failures at random, above 1 for wear-out.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import PchipInterpolator
from scipy.special import gamma, gammaincc

Floats = NDArray[np.float64]

#: The renewal function is tabled to this many lives, then goes on at its long-run slope.
TABLED = 16.0
STEP = 0.01


def cumulative_hazard(x: ArrayLike, life: ArrayLike, shape: ArrayLike) -> Floats:
    """Expected failures of an age-x part if each were mended as it stood: H(x) = (x / life)^shape.

    Parameters
    ----------
    x : array
        Accumulated duty [km, days or crossings], 0 or more.
    life, shape : array
        Above 0.

    Examples
    --------
    >>> float(cumulative_hazard(100.0, 1000.0, 2.0))
    0.01

    References
    ----------
    .. [1] MIL-HDBK-338B, Electronic Reliability Design Handbook, section 5.3.6.
    """
    return np.asarray((np.asarray(x, float) / np.asarray(life, float)) ** np.asarray(shape, float))


def hazard_rate(x: ArrayLike, life: ArrayLike, shape: ArrayLike) -> Floats:
    """Slope of the cumulative hazard at x [1 per unit of x]; 0 at x = 0 for shapes above 1.

    Examples
    --------
    >>> float(hazard_rate(100.0, 1000.0, 2.0))
    0.0002
    """
    x, life, shape = (np.asarray(v, float) for v in (x, life, shape))
    with np.errstate(divide="ignore"):
        return np.asarray(shape / life * (x / life) ** (shape - 1.0))


def expected_failures(age: ArrayLike, duty: ArrayLike, life: ArrayLike, shape: ArrayLike) -> Floats:
    """Mean for the next ``duty`` of a part that has lasted ``age``: H(age + duty) - H(age).

    The chance of one failure is 1 - exp(-mean), the conditional Weibull probability.

    Examples
    --------
    >>> round(float(np.exp(-expected_failures(300.0, 100.0, 1000.0, 2.0))), 6)
    0.932394
    """
    age, duty = np.asarray(age, float), np.asarray(duty, float)
    return np.asarray(cumulative_hazard(age + duty, life, shape) - cumulative_hazard(age, life, shape))


def mean_life(life: ArrayLike, shape: ArrayLike) -> Floats:
    """Mean time to failure of a new part: life * Gamma(1 + 1 / shape).

    Examples
    --------
    >>> round(float(mean_life(5000.0, 0.5)), 6)
    10000.0
    """
    return np.asarray(np.asarray(life, float) * gamma(1.0 + 1.0 / np.asarray(shape, float)))


def life_at(failed: ArrayLike, life: ArrayLike, shape: ArrayLike) -> Floats:
    """Duty by which a share of new parts has failed (0.1: the B10 life of bearing catalogues).

    Examples
    --------
    >>> round(float(life_at(0.1, 1000.0, 2.0)), 4)
    324.5928
    """
    failed, shape = np.asarray(failed, float), np.asarray(shape, float)
    return np.asarray(np.asarray(life, float) * (-np.log1p(-failed)) ** (1.0 / shape))


def remaining_life(age: float, life: float, shape: float) -> float:
    """Mean duty still to come for a part that has lasted ``age``.

    Integral of the survival from age on, over the survival at age; by the incomplete gamma function.
    Beyond 500 in H(age) the limit 1 / hazard rate is taken.

    Examples
    --------
    >>> round(remaining_life(6.5, 13.0, 2.0), 4)
    7.0933
    """
    reached = float(cumulative_hazard(age, life, shape))
    if reached > 500.0:
        return 1.0 / float(hazard_rate(age, life, shape))
    tail = gammaincc(1.0 / shape, reached) * gamma(1.0 + 1.0 / shape)
    return float(life * np.exp(reached) * tail)


def renewals(x: ArrayLike, shape: float) -> Floats:
    """Weibull renewal function m: expected renewals by duty x, in lives, of a part renewed at each failure.

    What is expected of a part whose history nobody knows: over the next ``d`` lives m(x + d) - m(x), x the duty the
    vehicle has done. Tabled to ``TABLED`` lives by the Riemann-Stieltjes method [1]_, then linear at 1 / mean.

    Parameters
    ----------
    x : array
        Duty in lives (duty / life), 0 or more.
    shape : float
        Above 0; one shape per call.

    Examples
    --------
    >>> round(float(renewals(3.0, 1.0)), 6)
    3.0

    References
    ----------
    .. [1] M. Xie, On the solution of renewal-type integral equations, Communications in Statistics - Simulation
       and Computation 18 (1989) 281-293 (the method; from memory).
    """
    x = np.asarray(x, float)
    if shape == 1.0:
        return x
    table, last = _renewal_table(float(shape))
    beyond = (x - TABLED) / float(mean_life(1.0, shape)) + last
    return np.asarray(np.where(x > TABLED, beyond, table(np.minimum(x, TABLED))))


def renewal_rate(x: ArrayLike, shape: float) -> Floats:
    """Slope of ``renewals`` at x [renewals per life].

    Examples
    --------
    >>> float(renewal_rate(2.0, 1.0))
    1.0
    """
    x = np.asarray(x, float)
    if shape == 1.0:
        return np.ones_like(x)
    table, _ = _renewal_table(float(shape))
    slope = table.derivative()(np.minimum(x, TABLED))
    return np.asarray(np.where(x > TABLED, 1.0 / float(mean_life(1.0, shape)), slope))


@lru_cache(maxsize=256)
def _renewal_table(shape: float) -> tuple[Any, float]:
    count = round(TABLED / STEP)
    x = np.arange(count + 1) * STEP
    failed = -np.expm1(-(x**shape))
    middle = -np.expm1(-((x[1:] - STEP / 2) ** shape))
    m, steps = np.zeros(count + 1), np.zeros(count + 1)
    for i in range(1, count + 1):
        behind = steps[1:i] @ middle[1:i][::-1]
        m[i] = (failed[i] + behind - m[i - 1] * middle[0]) / (1.0 - middle[0])
        steps[i] = m[i] - m[i - 1]
    return PchipInterpolator(x, m), float(m[-1])
