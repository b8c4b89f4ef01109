"""Rigging against printed formulas, charts and examples. Makers' titles are withheld: they carry brands."""

from __future__ import annotations

from math import asin, cos, degrees, radians

import pytest

from fieldkit.recovery import Angles, Gear, block_load, bridle_leg, rig, shackle_share
from fieldkit.recovery.figures import recovery_figures
from fieldkit.recovery.rig import Block
from fieldkit.recovery.rigging import (
    bend_loss,
    fall_line,
    least_lines,
    plain_shackle_kgf,
    sheaves_of,
    sling_factor,
    sling_rating,
)


# -------------------------------------------------------------------------------- parts of line
def test_tackle_resistance_is_a_tenth_for_each_sheave() -> None:
    """US Army lesson 63H34F01 supplement 1b, rigging formula block (seen): TR = 10 % of LR per sheave; total = LR + TR;
    fall line = total / MA. NAVEDTRA builder training manual says the same in words. Exact."""
    total, fall = fall_line(10_000, 3)
    assert total == pytest.approx(10_000 + 2 * 0.10 * 10_000)
    assert fall == pytest.approx(total / 3)


def test_advantage_is_load_over_winch_rounded_up() -> None:
    """The same lesson: MA = LR / WC rounded up; sheaves = MA - 1 in its word problems. Exact."""
    assert [least_lines(lr, 25_000) for lr in (1, 25_000, 25_001, 50_000, 50_001)] == [1, 1, 2, 2, 3]
    assert [sheaves_of(ma) for ma in (1, 2, 3, 4)] == [0, 1, 2, 3]


def test_dead_line_takes_the_fall_line_for_each_winch_line_it_holds() -> None:
    """The same lesson: dead-line force = fall-line force times the most winch lines held by one dead line. Exact."""
    found = rig(60_000, 25_000)
    shackle = next(p for p in found.parts if p.name == "shackle at the anchor")
    assert shackle.load_kgf == pytest.approx(found.lines * found.fall_line_kgf)


def test_advantage_is_raised_until_the_fall_line_fits() -> None:
    """TB 9-2350-292-10 (June 2000), steps 4 and 5 (seen): the fall-line force must be below the capacity, otherwise raise MA."""
    first = least_lines(60_000, 21_000)
    assert fall_line(60_000, first)[1] > 21_000  # the first try fails
    assert rig(60_000, 21_000).lines == first + 1
    assert rig(25_000, 25_000).lines == 2  # equal is not below


@pytest.mark.parametrize(("load_lb", "lines", "printed_lb"), [(600, 3, 200), (200, 2, 100)])
def test_tackle_without_friction(load_lb: float, lines: int, printed_lb: float) -> None:
    """NAVEDTRA builder manual (seen): single luff tackle, 600 lb, 3 parts at the moving block, effort 200 lb; gun tackle, 200 lb,
    2 parts, effort 100 lb. Exact."""
    assert fall_line(load_lb, lines, sheave_loss=0.0)[1] == pytest.approx(printed_lb)


def test_tow_engineers_snow_example() -> None:
    """A tow-equipment engineer's case study (seen): 8,580 lb by a 2-part tackle veering up to 30 degrees, 10 % block loss:
    0.52 x 8,580 / 0.90 = 4,957 lb; tolerance 1 lb, its factor being rounded to two digits."""
    factor = bridle_leg(1.0, 30)
    assert round(factor, 2) == 0.52
    assert round(factor, 2) * 8_580 / 0.90 == pytest.approx(4_957, abs=1.0)


def test_veering_lines_pull_less() -> None:
    """The same case: two lines 30 degrees apart need 1 / cos(15 degrees) of the force of parallel ones."""
    straight, wide = rig(40_000, 25_000), rig(40_000, 25_000, angles=Angles(line_deg=30))
    assert wide.fall_line_kgf / straight.fall_line_kgf == pytest.approx(1 / cos(radians(15)), abs=1e-9)


# ----------------------------------------------------------------------------------- snatch block
BLOCK_CHART = {
    0: 2.00, 10: 1.99, 20: 1.97, 30: 1.93, 40: 1.87, 45: 1.84, 50: 1.81, 60: 1.73, 70: 1.64, 80: 1.53, 90: 1.41, 100: 1.29,
    110: 1.15, 120: 1.00, 130: 0.84, 135: 0.76, 140: 0.68, 150: 0.52, 160: 0.35, 170: 0.17, 180: 0.00,
}  # fmt: skip


@pytest.mark.parametrize(("included", "printed"), BLOCK_CHART.items())
def test_block_factor_chart(included: float, printed: float) -> None:
    """Two block makers' charts (seen, recomputed); tolerance 0.015: they mix truncating and rounding (40 degrees: 1.87 for 1.879)."""
    assert block_load(1.0, included) == pytest.approx(printed, abs=0.015)


@pytest.mark.parametrize(
    ("line", "included", "printed", "tolerance"),
    [
        (1000, 50, 1810, 5),  # lb, with the chart's own 1.81
        (1000, 135, 760, 6),  # lb
        (150, 100, 194, 2),  # kg, 150 x 1.29
        (200, 90, 282.84, 0.01),  # lb, a rigging-mathematics primer
        (500, 0, 1000, 5),
        (500, 30, 965, 5),
        (500, 90, 705, 5),
    ],
)
def test_block_load_examples(line: float, included: float, printed: float, tolerance: float) -> None:
    """Printed examples of makers' pages and a primer (seen, recomputed)."""
    assert block_load(line, included) == pytest.approx(printed, abs=tolerance)


def test_block_chart_misprint_is_not_reproduced() -> None:
    """One chart prints 130 lb for 500 lb at 160 degrees, where its own factor 0.35 gives 175 lb."""
    found = block_load(500, 160)
    assert found == pytest.approx(0.35 * 500, abs=2.0)
    assert found != pytest.approx(130, abs=20)


# ------------------------------------------------------------------------------ slings and bridles
SLING_CHART = {
    90: 1.000, 85: 1.004, 80: 1.015, 75: 1.035, 70: 1.064, 65: 1.104, 60: 1.155, 55: 1.221, 50: 1.305, 45: 1.414, 40: 1.555,
    35: 1.742, 30: 2.000,
}  # fmt: skip
REDUCTION_CHART = {
    90: 1.000, 85: 0.996, 80: 0.985, 75: 0.966, 70: 0.940, 65: 0.906, 60: 0.866, 55: 0.819, 50: 0.766, 45: 0.707, 40: 0.643,
    35: 0.574, 30: 0.500,
}  # fmt: skip


@pytest.mark.parametrize(("horizontal", "printed"), SLING_CHART.items())
def test_sling_leg_tension_chart(horizontal: float, printed: float) -> None:
    """A sling maker's angle chart (seen, recomputed), tension for each vertical share; tolerance 0.002."""
    assert sling_factor(horizontal) == pytest.approx(printed, abs=0.002)


@pytest.mark.parametrize(("horizontal", "printed"), REDUCTION_CHART.items())
def test_sling_reduction_chart(horizontal: float, printed: float) -> None:
    """The same chart's reduction factors, the reciprocals; tolerance 0.002."""
    assert 1 / sling_factor(horizontal) == pytest.approx(printed, abs=0.002)


@pytest.mark.parametrize(
    ("length", "height", "printed"),
    [(10.0, 5.0, 2.0), (120.0, 96.0, 1.25)],  # 10 ft sling at 5 ft; 120 in at 96 in
)
def test_sling_by_length_over_height(length: float, height: float, printed: float) -> None:
    """Length / height form of the same factor (seen, recomputed); a 1,200 lb share at 1.25 needs 1,500 lb."""
    factor = sling_factor(degrees(asin(height / length)))
    assert factor == pytest.approx(printed, abs=1e-9)
    if printed == 1.25:
        assert 1200 * factor == pytest.approx(1500, abs=0.01)


def test_sling_is_not_used_flatter_than_thirty_degrees() -> None:
    """ASME B30.9 / B30.26 lower limit, seen in a rigging school's restatement."""
    assert sling_factor(30) == pytest.approx(2.0)
    with pytest.raises(ValueError, match=r"sling at 29 degrees from the horizontal is not 30 to 90"):
        sling_factor(29)


def test_the_cosine_mistake_is_not_made() -> None:
    """A calculator page takes 1 / cos of the angle from the horizontal and gets 2.0 at 60 degrees; the chart prints 1.155."""
    wrong = 1 / cos(radians(60))
    assert wrong == pytest.approx(2.0)
    assert sling_factor(60) == pytest.approx(1.155, abs=0.002)


@pytest.mark.parametrize(
    ("included", "printed_leg", "printed_factor"),
    [(0, 50.0, 1.00), (60, 57.7, 1.16), (90, 70.7, 1.41), (120, 100.0, 2.00)],
)
def test_two_leg_bridle(included: float, printed_leg: float, printed_factor: float) -> None:
    """Two equal legs, total 100 (seen, recomputed); tolerance 0.5, factors 0.006 as printed to two digits."""
    assert bridle_leg(100, included) == pytest.approx(printed_leg, abs=0.5)
    assert bridle_leg(2, included) == pytest.approx(printed_factor, abs=0.006)


def test_a_bridle_on_one_shackle_is_no_wider_than_120_degrees() -> None:
    """Full shackle rating is allowed up to 120 degrees included (seen)."""
    assert recovery_figures().rigging.bridle_most_deg == 120
    with pytest.raises(ValueError, match="lengthen it"):
        bridle_leg(100, 121)


@pytest.mark.parametrize(
    ("hitch", "printed"),
    [("single", 1.0), ("choke", 0.8), ("basket", 2.0), ("two-to-90", 1.4), ("two-to-120", 1.0), ("three-or-four", 2.1)],
)
def test_multi_leg_ratings(hitch: str, printed: float) -> None:
    """Factors of a UK lifting association, seen in a restatement; exact."""
    assert sling_rating(1.0, hitch) == printed


# ------------------------------------------------------------------------------- ropes and shackles
@pytest.mark.parametrize(("ratio", "printed"), [(6, 0.21), (8, 0.17), (10, 0.14), (15, 0.11), (20, 0.09)])
def test_wire_rope_strength_lost_round_a_sheave(ratio: float, printed: float) -> None:
    """A winch maker's indicative table (seen); tolerance 1 point."""
    assert bend_loss(ratio) == pytest.approx(printed, abs=0.01)


@pytest.mark.parametrize(("angle", "printed"), [(0, 1.0), (45, 0.7), (90, 0.5)])
def test_shackle_off_its_line(angle: float, printed: float) -> None:
    """Four pages that probably share an origin (seen): 100, 70, 50 % at 0, 45 and 90 degrees; exact at these points."""
    assert shackle_share(angle) == printed


def test_shackle_share_is_never_interpolated() -> None:
    """Between the published points the worse of the two holds (bands of WAC 296-155-33905: to 5, 45 and 90 degrees, over 90)."""
    assert shackle_share(5) == 1.0
    assert shackle_share(6) == shackle_share(30) == 0.7
    assert shackle_share(46) == shackle_share(60) == 0.5
    with pytest.raises(ValueError, match="91 degrees off its line"):
        shackle_share(91)


def test_plain_steel_shackle_rule_in_both_units() -> None:
    """US Navy steelworker manual (seen, recomputed): 0.417 D^2 t, D 1.59 cm gives 1.05 t; 3 D^2 short tons, D 5/8 in gives
    1.1719 t, 2,343.8 lb. Tolerance 0.01 t; the two forms differ by 1 % in themselves."""
    assert plain_shackle_kgf(15.9) / 1000 == pytest.approx(1.05, abs=0.01)
    in_pounds = 3 * (5 / 8) ** 2 * 2000
    assert in_pounds == pytest.approx(2343.8, abs=0.1)
    assert plain_shackle_kgf(5 / 8 * 25.4) == pytest.approx(in_pounds * 0.45359237, rel=0.015)


def test_a_rig_never_derives_a_rating_from_a_size() -> None:
    """Copies disagree on shackle design factors (4:1, 5:1): an unmarked part has no rating, and the rig says so."""
    found = rig(2_000, 4_000, Gear(blocks=(Block("block", None, 0.1),), shackle=("shackle", None)))
    assert all(p.rated_kgf is None for p in found.parts if p.name != "winch")
    assert "Read the marks" in found.note
