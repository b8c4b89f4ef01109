"""Pulls against printed tables. Rows seen only in a restatement say so; where sources differ, both ends are held."""

from __future__ import annotations

from math import atan, degrees, radians, sin

import pytest

from fieldkit.recovery import recovery_pull
from fieldkit.recovery.figures import recovery_figures
from fieldkit.recovery.result import newtons
from fieldkit.specs.library import Library, Surface


def shares(library: Library, surface: str, **more: object) -> dict[str, tuple[float, float]]:
    """Pull's parts as shares of the weight."""
    found = recovery_pull(1000, library.surfaces[surface], **more)  # type: ignore[arg-type]
    return {name: (low / 1000, high / 1000) for name, low, high in found.parts}


@pytest.mark.parametrize(("grade_percent", "printed_percent"), [(20, 20), (40, 37), (60, 51), (80, 62), (100, 71)])
def test_grade_is_the_printed_share_of_the_weight(
    library: Library, grade_percent: float, printed_percent: float
) -> None:
    """A winch maker's manual (title withheld), printed table; tolerance 1 point."""
    slope = degrees(atan(grade_percent / 100))
    low, high = shares(library, "sealed", slope_deg=slope)["slope"]
    assert low == high
    assert 100 * low == pytest.approx(printed_percent, abs=1.0)


def test_grade_example_of_the_same_manual(library: Library) -> None:
    """6,000 lb on a 60 % grade, printed about 3,060 lb (exact 3,087): tolerance 1 point of the weight."""
    pull = recovery_pull(6000, library.surfaces["sealed"], degrees(atan(0.60)))
    slope = {name: low for name, low, _ in pull.parts}["slope"]
    assert slope == pytest.approx(3_087, abs=1)
    assert slope == pytest.approx(3_060, abs=60)


def test_the_sixtieth_rule_is_not_used(library: Library) -> None:
    """Degrees / 60, a recovery-crew convention, is too low below 30 degrees (by up to 4.5 %) and too high above."""
    for slope, side in ((5, -1), (10, -1), (20, -1), (45, 1)):
        true, rule = shares(library, "sealed", slope_deg=slope)["slope"][0], slope / 60
        assert true == pytest.approx(sin(radians(slope)), abs=1e-12)
        assert (rule - true) * side > 0


@pytest.mark.parametrize(
    ("surface", "printed"),
    [
        ("sealed", 0.01),  # new asphalt
        ("sealed", 0.02),  # worn asphalt
        ("gravel", 0.04),  # loose gravel
        ("clay-dry", 0.08),  # medium-hard soil
        ("sand", 0.1),
        ("sand", 0.2),
    ],
)
def test_rolling_coefficients_of_ordinary_driving(library: Library, surface: str, printed: float) -> None:
    """Carvill, Mechanical Engineer's Data Handbook, via a mining-software manual (restated); within low and high, tolerance 0.01."""
    low, high = shares(library, surface)["rolling"]
    assert low - 0.01 <= printed <= high + 0.01


@pytest.mark.parametrize(
    ("surface", "printed"), [("sealed", 0.015), ("clay-dry", 0.08), ("sand", 0.30), ("sand", 0.25)]
)
def test_rolling_coefficients_of_lecture_slides(library: Library, surface: str, printed: float) -> None:
    """Vehicle-dynamics lecture slides (restated): cars 0.015 / 0.08 / 0.30, trucks' sand 0.25; exact, within low and high."""
    low, high = shares(library, surface)["rolling"]
    assert low <= printed <= high


@pytest.mark.parametrize(
    ("surface", "printed"),
    [("sealed", 1 / 10), ("rock", 1 / 10), ("sand", 1 / 3), ("gravel", 1 / 3), ("clay-wet", 1 / 3)],
)
def test_high_figure_starts_a_standing_vehicle(library: Library, surface: str, printed: float) -> None:
    """A winch maker's general page (restated): hard level 1/10, soft 1/3 of the weight. It differs from the 1/25 of recovery crews:
    the higher is the high figure. Tolerance 0.001 (thirds are written with four digits)."""
    low, high = shares(library, surface)["rolling"]
    assert high >= printed - 0.001
    assert low < high


def test_all_wheels_locked(library: Library) -> None:
    """The same page: wheels locked 2/3 of the weight, between our low and high."""
    low, high = shares(library, "rock", damage="all-locked")["damage"]
    assert low <= 2 / 3 <= high


def test_snow(library: Library) -> None:
    """A tow-equipment engineer's case study (seen): 0.1 to 0.3 of the weight; 28,600 lb at 0.3 is 8,580 lb, exact."""
    low, high = shares(library, "snow")["rolling"]
    assert low <= 0.1 + 1e-9
    assert high >= 0.3
    printed = Surface.model_construct(id="printed", rolling_low=0.1, rolling_high=0.3)
    assert recovery_pull(28_600, printed).high_kgf == pytest.approx(8_580)


def test_load_resistance_is_a_mire_factor_on_the_whole_mass(library: Library) -> None:
    """US Army lesson 63H34F01 supplement 1b (seen): LR = (vehicle + cargo) x mire factor. The factor's table was not seen."""
    factor = recovery_figures().mire["axle"]
    for mass in (2_000, 3_500):
        mire = {n: (a, b) for n, a, b in recovery_pull(mass, library.surfaces["sand"], depth="axle").parts}["mire"]
        assert mire == pytest.approx((factor.low * mass, factor.high * mass))


def test_newtons_by_standard_gravity() -> None:
    """1 kgf = 9.80665 N exactly (3rd General Conference on Weights and Measures, 1901)."""
    assert newtons(1.0) == 9.80665
