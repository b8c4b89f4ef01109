"""Cross-checks of loads and tyres: values from memory (MEM) or derived by us (DER). Not published, or not seen."""

from __future__ import annotations

import pytest
from loaded_case import vehicle

from fieldkit.loads import axle_loads, load_capacity_kg, parse_tyre, tyre_report
from fieldkit.loads.figures import load_figures
from fieldkit.loads.result import MassEntry
from fieldkit.loads.tyre_load import high_speed_share, pressure_factor, tyre_rating
from fieldkit.loads.tyre_size import size_change

WHEELBASE = 2.85
#: DER: what is added, mass, metres behind the front axle, change of front and rear, then total, front, rear [kg].
CHAIN = [
    ("two front seats", 150, 1.350, 78.9, 71.1, 2350, 1228.9, 1121.1),
    ("two rear seats", 150, 2.250, 31.6, 118.4, 2500, 1260.5, 1239.5),
    ("cargo over the axle", 300, 2.850, 0.0, 300.0, 2800, 1260.5, 1539.5),
    ("roof", 60, 1.800, 22.1, 37.9, 2860, 1282.6, 1577.4),
    ("fridge behind the axle", 50, 3.350, -8.8, 58.8, 2910, 1273.9, 1636.1),
    ("ball load", 100, 4.050, -42.1, 142.1, 3010, 1231.8, 1778.2),
    ("winch and bar", 90, -0.900, 118.4, -28.4, 3100, 1350.2, 1749.8),
]


def test_axle_chain_der() -> None:
    """DER, statics: kerb 2,200 kg (1,150 front, 1,050 rear), seven masses one after the other; tolerance 0.1 kg."""
    entries = [MassEntry("kerb", 2200, WHEELBASE * 1150 / 2200, 0, 0.7)]
    for name, mass, behind, front, rear, total, front_sum, rear_sum in CHAIN:
        one = axle_loads([MassEntry(name, mass, WHEELBASE - behind, 0, 1)], WHEELBASE, 1.5)
        assert (one.front_kg, one.rear_kg) == (pytest.approx(front, abs=0.06), pytest.approx(rear, abs=0.06))
        entries.append(MassEntry(name, mass, WHEELBASE - behind, 0, 1))
        loads = axle_loads(entries, WHEELBASE, 1.5)
        assert loads.gross_kg == pytest.approx(total, abs=0.1)
        assert loads.front_kg == pytest.approx(front_sum, abs=0.11)
        assert loads.rear_kg == pytest.approx(rear_sum, abs=0.11)


def test_signs_behind_and_ahead_of_the_axles_der() -> None:
    """DER: behind the rear axle the front gets lighter; ahead of the front axle it gains more than the mass itself."""
    behind = axle_loads([MassEntry("m", 50, -0.5, 0, 1)], WHEELBASE, 1.5)
    ahead = axle_loads([MassEntry("m", 90, WHEELBASE + 0.9, 0, 1)], WHEELBASE, 1.5)
    assert behind.front_kg < 0 < behind.rear_kg - 50
    assert ahead.rear_kg < 0 < ahead.front_kg - 90


def test_roof_load_raises_the_centre_der() -> None:
    """DER: 2,200 kg at 700 mm and 60 kg at 1,950 mm act at 733.2 mm; tolerance 0.1 mm."""
    loads = axle_loads([MassEntry("a", 2200, 1, 0, 0.7), MassEntry("b", 60, 1, 0, 1.95)], WHEELBASE, 1.5)
    assert 1000 * loads.centre_height_m == pytest.approx(733.2, abs=0.1)


@pytest.mark.parametrize(
    ("size", "diameter_mm", "inches", "circumference_mm", "rev_per_km"),
    [
        ("205/55-16", 631.9, 24.88, 1985, 503.7),
        ("265/70-16", 777.4, 30.61, 2442, 409.5),
        ("285/75-16", 833.9, 32.83, 2620, 381.7),
        ("265/65-17", 776.3, 30.56, 2439, 410.0),
        ("285/70-17", 830.8, 32.71, 2610, 383.1),
    ],
)
def test_sizes_by_definition_der(
    size: str, diameter_mm: float, inches: float, circumference_mm: float, rev_per_km: float
) -> None:
    """DER from the definition of a metric size: diameter = rim x 25.4 + 2 x width x aspect / 100; tolerance 0.1 mm, 0.1 %."""
    tyre = parse_tyre(size)
    assert tyre.diameter_mm == pytest.approx(diameter_mm, abs=0.1)
    assert tyre.diameter_mm / 25.4 == pytest.approx(inches, abs=0.006)
    assert tyre.circumference_mm == pytest.approx(circumference_mm, rel=1e-3)
    assert tyre.free_rev_per_km == pytest.approx(rev_per_km, rel=1e-3)


def test_change_of_size_der() -> None:
    """DER: 265/70-16 to 285/75-16: ratio 1.0727, 107.3 km/h at 100 shown, 4.10 acts as 3.82, 28.3 mm more clearance."""
    change = size_change(parse_tyre("265/70-16"), parse_tyre("285/75-16"))
    assert change.ratio == pytest.approx(1.0727, rel=1e-3)
    assert change.true_kmh_at_100 == pytest.approx(107.3, rel=1e-3)
    assert 4.10 * change.drive_factor == pytest.approx(3.82, abs=0.005)
    assert change.clearance_mm == pytest.approx(28.3, abs=0.1)


def test_rolling_circumference_common_practice() -> None:
    """Common practice, no source: about 3 % below free; 205/55-16 then turns 519 times in a kilometre."""
    found = tyre_report(vehicle(tyres={"size": "205/55-16"}))
    assert found.free_rev_per_km == pytest.approx(503.7, rel=1e-3)
    assert found.rolling_rev_per_km == pytest.approx(519, abs=1)


@pytest.mark.parametrize(("index", "kg"), [(103, 875), (105, 925), (124, 1600), (125, 1650), (126, 1700)])
def test_load_indices_mem(index: int, kg: float) -> None:
    """MEM: indices misprinted in, or missing from, the reprint that was seen."""
    assert load_capacity_kg(index) == kg


@pytest.mark.parametrize(("exponent", "share"), [(0.5, 0.894), (0.65, 0.865), (0.8, 0.837)])
def test_load_by_pressure_mem(exponent: float, share: float) -> None:
    """MEM for the exponents, DER for the arithmetic: 200 of 250 kPa."""
    assert pressure_factor(200, 250, exponent) == pytest.approx(share, abs=5e-4)


def test_passenger_tyre_on_a_multipurpose_vehicle_mem() -> None:
    """MEM: 49 CFR 571.110 divides its load by 1.10; DER: index 112, 1,120 kg, becomes 1,018 kg."""
    assert tyre_rating(parse_tyre("P265/65R17"), 112).index_kg == pytest.approx(1018, abs=0.5)


def test_high_speed_load_between_the_points_der() -> None:
    """DER, straight between the published ends: V at 225 km/h carries 95.5 %."""
    assert high_speed_share("V", 225) == pytest.approx(0.955, abs=1e-9)


@pytest.mark.parametrize(
    ("litres", "diesel", "petrol"), [(20, (16.4, 16.9), (14.4, 15.5)), (80, (65.6, 67.6), (57.6, 62.0))]
)
def test_cans_and_tanks_der(litres: float, diesel: tuple[float, float], petrol: tuple[float, float]) -> None:
    """DER from EN 590 and EN 228 densities: our figure is the heavy end, within 0.1 kg."""
    density = load_figures().density
    assert litres * density["diesel"] == pytest.approx(diesel[1], abs=0.1)
    assert litres * density["petrol"] == pytest.approx(petrol[1], abs=0.1)


def test_ball_load_common_practice() -> None:
    """Common practice, no source: about a tenth of the trailer's mass lies on the ball."""
    share = load_figures().trailer
    assert share.ball_share_low < 0.10 < share.ball_share_high
