"""Laws of life against load and temperature: standards' exponents and printed examples."""

from __future__ import annotations

import numpy as np
import pytest

from fieldkit.likelihood.duty import leg_duty
from fieldkit.likelihood.physics import BALL, ROLLER, WELD, WELD_LONG, arrhenius, life_ratio, load_for_life


@pytest.mark.parametrize(("exponent", "printed"), [(BALL, 3.0), (ROLLER, 10 / 3)])
def test_bearing_life_exponents(exponent: float, printed: float) -> None:
    """ISO 281 (two pages that restate it): L10 = (C/P)^p with p = 3 for balls and 10/3 for rollers."""
    assert exponent == printed
    assert float(life_ratio(0.1, exponent)) == pytest.approx(10**printed, rel=1e-12)


def test_weld_stress_at_five_million_cycles() -> None:
    """EN 1993-1-9:2005, clause 7.1 (restated): the limit at 5e6 cycles is 0.737 of the class at 2e6, slope 3."""
    assert float(load_for_life(5e6 / 2e6, WELD)) == pytest.approx(0.737, abs=5e-4)  # printed with three digits


def test_weld_cut_off_at_a_hundred_million_cycles() -> None:
    """The same clause: slope 5 from there on; 0.404 at 1e8, which the standard truncates (0.4047)."""
    limit = load_for_life(5e6 / 2e6, WELD) * load_for_life(1e8 / 5e6, WELD_LONG)
    assert float(limit) == pytest.approx(0.404, abs=1e-3)


def test_damage_adds_up_by_shares_of_life() -> None:
    """Palmgren-Miner, documentation of the library "reliability": lives 50,000, 6,500 and 1,000 h, 40, 15 and 5 min a cycle.

    Legs are the three loads, kilometres the hours on each, and wear per km one over the life.
    """
    hours = np.array([40.0, 15.0, 5.0]) / 60.0
    damage = leg_duty(hours, np.ones((1, 1)), 1.0 / np.array([[50_000.0, 6_500.0, 1_000.0]]))[0]
    assert damage.sum() == pytest.approx(0.00013512820512820512, rel=1e-12)
    assert 1 / damage.sum() == pytest.approx(7400.379506641367, rel=1e-12)
    assert (100 * damage / damage.sum()).tolist() == pytest.approx([9.86717, 28.463, 61.66983], abs=5e-4)


def test_ageing_in_heat() -> None:
    """Documentation of the library "reliability", acceleration_factor: 60 to 100 degC at 1.2 eV gives 88.29574588463338."""
    assert float(arrhenius(60.0, 100.0, 1.2)) == pytest.approx(
        88.29574588463338, rel=1e-6
    )  # it uses the same constants


@pytest.mark.parametrize(("stress", "exponent"), [(1.25, 3.0), (2.0, 3.0), (1.1, 10 / 3)])
def test_inverse_power_law(stress: float, exponent: float) -> None:
    """Textbooks on accelerated tests print the form: life falls by (S2/S1)^n; wear per km is its reciprocal."""
    assert float(life_ratio(stress, exponent)) * stress**exponent == pytest.approx(1.0, rel=1e-12)
