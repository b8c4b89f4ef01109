"""Published laws that turn a ratio of load or temperature into a ratio of life."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

#: Boltzmann constant [eV/K], CODATA 2018 (exact by definition of the units).
BOLTZMANN_EV = 8.617333262e-5
KELVIN = 273.15
#: Life exponents of rolling bearings (ISO 281) and slopes of welded joints (EN 1993-1-9, clause 7.1).
BALL, ROLLER, WELD, WELD_LONG = 3.0, 10.0 / 3.0, 3.0, 5.0


def life_ratio(load_ratio: ArrayLike, exponent: ArrayLike) -> Floats:
    """Life against the life at load 1, by the inverse power law: load^-exponent.

    Rolling bearings: exponent 3 for balls, 10/3 for rollers (ISO 281, L10 = (C/P)^p). Welded joints: slope 3 to
    5 million cycles, 5 beyond (EN 1993-1-9). Wear per km, the stress A, is its reciprocal.

    Examples
    --------
    >>> float(life_ratio(2.0, BALL))
    0.125
    """
    return np.asarray(np.asarray(load_ratio, float) ** -np.asarray(exponent, float))


def load_for_life(life: ArrayLike, exponent: ArrayLike) -> Floats:
    """Load that gives a life ratio: life^(-1 / exponent), the inverse of ``life_ratio``.

    Examples
    --------
    >>> round(float(load_for_life(2.5, WELD)), 6)
    0.736806
    """
    return np.asarray(np.asarray(life, float) ** (-1.0 / np.asarray(exponent, float)))


def stress_of_rate(rate_ratio: ArrayLike, shape: ArrayLike) -> Floats:
    """A ratio of failure *rates* as a ratio of wear per km: rate^(1 / shape).

    The hazard of a Weibull part goes with the wear per km to the power of its shape, so a source that says "fails
    twice as often" does not double the wear unless the shape is 1.

    Examples
    --------
    >>> float(stress_of_rate(4.0, 2.0))
    2.0
    """
    return np.asarray(np.asarray(rate_ratio, float) ** (1.0 / np.asarray(shape, float)))


def arrhenius(usual_c: ArrayLike, hot_c: ArrayLike, activation_ev: float) -> Floats:
    """How much faster ageing runs at ``hot_c`` than at ``usual_c`` [degC], for an activation energy [eV].

    exp(Ea / k * (1/T_usual - 1/T_hot)), temperatures in kelvin from 273.15.

    Examples
    --------
    >>> round(float(arrhenius(60.0, 100.0, 1.2)), 3)
    88.296
    """
    usual, hot = np.asarray(usual_c, float) + KELVIN, np.asarray(hot_c, float) + KELVIN
    return np.asarray(np.exp(activation_ev / BOLTZMANN_EV * (1.0 / usual - 1.0 / hot)))
