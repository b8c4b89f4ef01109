"""Air pressure by height and boiling under a cap against printed tables."""

from __future__ import annotations

import pytest

from fieldkit.likelihood.coolant import air_pressure, coolant_margin, saturation_temperature

FOOT, PSI = 0.3048, 6.894757293168361


@pytest.mark.parametrize(("feet", "psia"), [(1000, 14.175), (5000, 12.230), (10_000, 10.108), (15_000, 8.296)])
def test_standard_atmosphere_in_feet(feet: float, psia: float) -> None:
    """A printed table of the U.S. Standard Atmosphere 1976; its own formula gives up to 0.02 % less, so 0.03 % is allowed."""
    assert float(air_pressure(feet * FOOT)) / PSI == pytest.approx(psia, rel=3e-4)


@pytest.mark.parametrize(
    ("height", "hpa"),
    [(500, 954.61), (1000, 898.75), (1500, 845.56), (2000, 794.95), (2500, 746.83), (3000, 701.09), (4000, 616.40)],
)
def test_standard_atmosphere_by_geopotential_height(height: float, hpa: float) -> None:
    """U.S. Standard Atmosphere 1976 (equal to ICAO and ISO 2533 here), geopotential metres; recomputed from its formula."""
    assert 10 * float(air_pressure(height)) == pytest.approx(hpa, abs=0.01)


@pytest.mark.parametrize(
    ("mpa", "celsius"), [(0.10, 99.61), (0.15, 111.35), (0.20, 120.21), (0.25, 127.41), (0.30, 133.52)]
)
def test_ordinary_steam_table(mpa: float, celsius: float) -> None:
    """Ordinary steam tables, two decimals; recomputed by two libraries that agree (IAPWS-95 and IF97)."""
    assert float(saturation_temperature(1000 * mpa)) == pytest.approx(celsius, abs=0.01)


@pytest.mark.parametrize(
    ("height", "cap", "celsius"),
    [
        (0, 0, 99.97),
        (0, 90, 118.81),
        (0, 110, 121.96),
        (2000, 0, 93.32),
        (2000, 90, 115.06),
        (3000, 103.4, 115.78),
        (4000, 90, 111.68),
        (4000, 140, 120.47),
    ],
)
def test_water_under_a_cap(height: float, cap: float, celsius: float) -> None:
    """Standard atmosphere and saturation line together, as CoolProp (IAPWS-95) and iapws (IF97) give them to 0.01 degC."""
    assert coolant_margin(cap, height, 0.0).boils_c == pytest.approx(celsius, abs=0.1)


def test_half_glycol_under_a_fifteen_pound_cap() -> None:
    """General pages print about 265 degF (129.4 degC) for an equal mixture by volume under 15 psi; an ideal mixture comes within 1 K."""
    assert coolant_margin(15 * PSI, 0.0, 0.5).boils_c == pytest.approx(129.4, abs=1.0)
