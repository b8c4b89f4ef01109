"""When coolant boils: cap pressure, altitude and mixture against published saturation data."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldkit.likelihood.physics import KELVIN

Floats = NDArray[np.float64]

#: Coefficients of the saturation equation, IAPWS-IF97 (R7-97, 2012), Table 34.
_N = (
    0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
    0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
)  # fmt: skip
#: Standard atmosphere below 11 km (US 1976, ICAO): sea-level pressure [kPa], scale height term [m], exponent.
_P0, _HEIGHT, _EXPONENT = 101.325, 288.15 / 0.0065, 5.255876
#: Densities at 20 degC [kg/m3] and molar masses [g/mol] of ethylene glycol and water.
_GLYCOL_DENSITY, _WATER_DENSITY, _GLYCOL_MOLAR, _WATER_MOLAR = 1113.2, 998.2, 62.07, 18.015


@dataclass(frozen=True)
class CoolantMargin:
    """Boiling point of the coolant under its cap [degC], and how far above a stated working temperature it lies [K]."""

    boils_c: float
    above_work_k: float
    air_kpa: float
    pressure_kpa: float


def air_pressure(altitude_m: ArrayLike) -> Floats:
    """Standard atmosphere's pressure [kPa] at a geopotential altitude [m], -1,000 to 11,000.

    P0 (1 - h / 44,331)^5.255876 [1]_.

    Examples
    --------
    >>> round(float(air_pressure(1000.0)), 3)
    89.875

    References
    ----------
    .. [1] U.S. Standard Atmosphere 1976, below 32 km identical to the ICAO standard atmosphere.
    """
    return np.asarray(_P0 * (1.0 - np.asarray(altitude_m, float) / _HEIGHT) ** _EXPONENT)


def saturation_temperature(pressure_kpa: ArrayLike) -> Floats:
    """Temperature [degC] at which water boils under an absolute pressure [kPa], 0.7 to 22,064 kPa.

    Examples
    --------
    >>> round(float(saturation_temperature(100.0)), 3)
    99.606

    References
    ----------
    .. [1] IAPWS-IF97 (R7-97, 2012), equation 31.
    """
    n = _N
    beta = (np.asarray(pressure_kpa, float) / 1000.0) ** 0.25
    e = beta**2 + n[2] * beta + n[5]
    f = n[0] * beta**2 + n[3] * beta + n[6]
    g = n[1] * beta**2 + n[4] * beta + n[7]
    d = 2.0 * g / (-f - np.sqrt(f**2 - 4.0 * e * g))
    kelvin = (n[9] + d - np.sqrt((n[9] + d) ** 2 - 4.0 * (n[8] + n[9] * d))) / 2.0
    return np.asarray(kelvin - KELVIN)


def water_share(glycol_volume_share: float) -> float:
    """Mole share of water in a mixture given by volume of pure ethylene glycol (no contraction), 0 to 0.8.

    Examples
    --------
    >>> round(water_share(0.5), 3)
    0.755
    """
    glycol = glycol_volume_share * _GLYCOL_DENSITY / _GLYCOL_MOLAR
    water = (1.0 - glycol_volume_share) * _WATER_DENSITY / _WATER_MOLAR
    return water / (water + glycol)


def coolant_margin(cap_kpa: float, altitude_m: float, mixture: float = 0.5, work_c: float = 95.0) -> CoolantMargin:
    """Where the coolant boils, and what is left above its working temperature.

    Ideal mixture with no vapour from the glycol (Raoult): the water's saturation pressure times its mole share equals
    the absolute pressure under the cap.

    Parameters
    ----------
    cap_kpa : float
        Gauge pressure at which the radiator cap opens [kPa], 0 to 200.
    altitude_m : float
        Geopotential altitude [m], -400 to 6,000.
    mixture : float
        Volume share of pure ethylene glycol, 0 to 0.7.
    work_c : float
        Temperature at which the engine works [degC].

    Notes
    -----
    Published freezing points of equal mixtures differ by several kelvin; boiling points from this form lie within
    1 K of the two published anchors (50 % by volume: 108 degC open, 129.4 degC under 103.4 kPa).

    Examples
    --------
    >>> round(coolant_margin(103.4, 0.0, 0.0).boils_c, 2)
    120.95
    >>> round(coolant_margin(90.0, 4000.0, 0.5).boils_c, 1)
    120.3
    """
    air = float(air_pressure(altitude_m))
    pressure = air + cap_kpa
    boils = float(saturation_temperature(pressure / water_share(mixture)))
    return CoolantMargin(boils, boils - work_c, air, pressure)


def air_side_ratio(cap_kpa: float, altitude_m: ArrayLike, mixture: float, reference: tuple[float, float]) -> Floats:
    """How much more air the same heat needs when the coolant boils sooner.

    Heat leaves in proportion to coolant temperature less ambient, so the ratio is (boiling at the reference cap and
    sea level - ambient) / (boiling here - ambient).

    Parameters
    ----------
    cap_kpa : float
        This vehicle's cap [kPa gauge].
    altitude_m : array
        By leg [m].
    mixture : float
        Volume share of glycol.
    reference : (float, float)
        Reference cap [kPa gauge] and ambient temperature [degC].

    Examples
    --------
    >>> round(float(air_side_ratio(90.0, 3000.0, 0.5, (90.0, 25.0))), 3)
    1.06
    """
    ref_cap, ambient = reference
    share = water_share(mixture)
    best = float(saturation_temperature((_P0 + ref_cap) / share))
    here = saturation_temperature((air_pressure(altitude_m) + cap_kpa) / share)
    return np.asarray((best - ambient) / (here - ambient))
