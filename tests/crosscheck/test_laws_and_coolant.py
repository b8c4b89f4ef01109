"""Cross-checks of physical laws: values from memory (MEM), derived by us (DER), or from the ``crosscheck`` libraries."""

from __future__ import annotations

import numpy as np
import pytest

from fieldkit.inspection.belief import bayes
from fieldkit.likelihood.coolant import air_pressure, coolant_margin, saturation_temperature, water_share
from fieldkit.likelihood.diagnosis import noisy_or, posterior
from fieldkit.likelihood.physics import BALL, KELVIN, ROLLER, WELD_LONG, arrhenius, life_ratio, load_for_life
from fieldkit.likelihood.result import Diagnosis


def test_bearing_life_at_twice_the_load_der() -> None:
    """DER: a ball bearing lasts an eighth, a roller bearing 1/10.0794."""
    assert 1 / float(life_ratio(2.0, BALL)) == pytest.approx(8.0, abs=1e-4)
    assert 1 / float(life_ratio(2.0, ROLLER)) == pytest.approx(10.0794, abs=1e-4)


def test_bearing_rating_mem() -> None:
    """MEM: Shigley, Mechanical Engineering Design, example 11-1: 400 lbf, 5000 h at 1725 rpm, ball: C10 = 3211 lbf."""
    million = 5000 * 60 * 1725 / 1e6
    assert 400 / float(load_for_life(million, BALL)) == pytest.approx(3211, abs=0.5)


def test_shear_cut_off_mem() -> None:
    """MEM: EN 1993-1-9, shear, slope 5 to 1e8 cycles: 0.457."""
    assert float(load_for_life(1e8 / 2e6, WELD_LONG)) == pytest.approx(0.457, abs=5e-4)


def test_arrhenius_mem() -> None:
    """MEM: NIST e-Handbook 8.1.5.1, 25 to 125 degC: 133 at 0.5 eV, 17,597 at 1 eV (printed with 273.16; ours uses 273.15)."""
    assert float(arrhenius(25.0, 125.0, 0.5)) == pytest.approx(133, abs=0.5)
    assert float(arrhenius(25.0, 125.0, 1.0)) == pytest.approx(17_597, abs=12)


def test_leak_der() -> None:
    """DER from a form seen in a Bayes-net manual: leak .1, strengths .2 and .4: 0.568."""
    assert noisy_or([0.2, 0.4], leak=0.1) == pytest.approx(0.568, abs=1e-12)


def test_printer_mem() -> None:
    """MEM: Montgomery and Runger, chapter 2, printer failures: priors .1 .6 .3, P(fail given) .9 .2 .5: .250 .333 .417."""
    sheet = Diagnosis("v", ("a", "b", "c"), ("s",), np.array([0.1, 0.6, 0.3]), np.array([[0.9, 0.2, 0.5]]), np.zeros(1))
    assert posterior(sheet, ["s"]).tolist() == pytest.approx([0.25, 1 / 3, 0.4167], abs=5e-4)


def test_screening_mem() -> None:
    """MEM: the screening problem of Eddy and Gigerenzer with 9.6 % false alarms: 7.8 %."""
    assert bayes(0.01, 0.80, 0.096, True) == pytest.approx(0.078, abs=5e-4)


@pytest.mark.parametrize(("mpa", "kelvin"), [(0.1, 372.755919), (1.0, 453.035632), (10.0, 584.149488)])
def test_saturation_anchors_mem(mpa: float, kelvin: float) -> None:
    """MEM: verification values of IAPWS-IF97 for its saturation equation."""
    assert float(saturation_temperature(1000 * mpa)) + KELVIN == pytest.approx(kelvin, abs=5e-7)


def test_half_glycol_boils_der() -> None:
    """DER (ideal mixture): 50 % by volume boils at 108.0 degC open; ASTM D3306 asks for 108 degC or more (MEM)."""
    assert coolant_margin(0.0, 0.0, 0.5).boils_c == pytest.approx(108.0, abs=0.1)
    assert coolant_margin(90.0, 4000.0, 0.5).boils_c == pytest.approx(120.3, abs=0.1)


def test_saturation_line_against_coolprop() -> None:
    """CoolProp (IAPWS-95) along the range of caps and altitudes used; needs the crosscheck extra."""
    coolprop = pytest.importorskip("CoolProp.CoolProp")
    for height in (0, 1000, 3000, 5000):
        for cap in (0.0, 50.0, 90.0, 140.0):
            pressure = 1000 * (float(air_pressure(height)) + cap)
            theirs = coolprop.PropsSI("T", "P", pressure, "Q", 0, "Water") - KELVIN
            assert float(saturation_temperature(pressure / 1000)) == pytest.approx(theirs, abs=0.05)


def test_water_share_against_coolprop_volumes() -> None:
    """CoolProp's density of water at 20 degC stands behind the mole share; needs the crosscheck extra."""
    coolprop = pytest.importorskip("CoolProp.CoolProp")
    water = coolprop.PropsSI("D", "T", 293.15, "P", 101325, "Water")
    moles = 0.5 * water / 18.015
    glycol = 0.5 * 1113.2 / 62.07
    assert water_share(0.5) == pytest.approx(moles / (moles + glycol), abs=1e-4)
