"""Difficulty with its reasons, speed, need, crossings, temperature, and wear by channel."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from made_trip import LEGS, exposed, ground, trip

from fieldkit.exposure.legs import difficulty, driven_legs
from fieldkit.exposure.settings import difficulty_figures
from fieldkit.exposure.wear import wear_intensity
from fieldkit.route import trip_route
from fieldkit.specs.base import CHANNELS
from fieldkit.specs.trip import Leg, SurfaceStretch

FIGURES = difficulty_figures()


def grade(
    surface: str, slope: float = 0.0, depth: float = 0.0, given: int | None = None
) -> tuple[int, tuple[str, ...]]:
    return difficulty(Leg(1, 0, 10, surface, depth, difficulty=given), ground().surfaces[surface], slope, FIGURES)


def test_the_class_is_the_hardest_of_surface_slope_and_water() -> None:
    assert grade("corrugated") == (2, ("corrugated track",))
    assert grade("corrugated", 0.20) == (3, ("slopes of 20 %", "corrugated track"))
    assert grade("gravel", 0.05, 0.6)[0] == 4
    assert grade("rock", 0.20, 0.3)[0] == 4


def test_a_slope_alone_makes_a_sealed_road_no_harder_than_class_2() -> None:
    assert grade("sealed", 0.40)[0] == 2


def test_a_class_given_by_hand_holds_and_says_what_was_reckoned() -> None:
    found, reasons = grade("sand", given=2)
    assert found == 2
    assert reasons[0] == "class 2 given by hand; 3 by surface, slope and water"


@pytest.mark.parametrize("surface", sorted(ground().surfaces))
def test_harder_going_is_never_quicker_and_never_needs_less(surface: str) -> None:
    """Slope and water never make a leg faster, easier or less demanding."""
    plain, steep = (_one(Leg(1, 0, 10, surface, depth, difficulty=None)) for depth in (0.0, 0.5))
    assert steep.speed_kmh <= plain.speed_kmh
    assert steep.difficulty >= plain.difficulty
    needs = ("highway", "two-wheel", "four-wheel", "low-range")
    assert needs.index(steep.need) >= needs.index(plain.need)


def test_each_class_above_its_surface_slows_a_leg_by_the_same_step() -> None:
    """Class 4 on a class 1 surface takes the step three times, until the least speed."""
    speeds = [_one(Leg(1, 0, 10, "gravel", 0.0, difficulty=grade)).speed_kmh for grade in (1, 2, 3, 4)]
    step = FIGURES.speed.per_class
    assert 0 < step < 1
    gravel = ground().surfaces["gravel"]
    wanted = [gravel.speed_kmh * step ** max(0, grade - gravel.difficulty) for grade in (1, 2, 3, 4)]
    wanted = [max(FIGURES.speed.least_kmh, speed) for speed in wanted]
    assert speeds == pytest.approx(wanted)


def _one(leg: Leg):  # type: ignore[no-untyped-def]
    made = trip((leg,), days=1, stop=[], help=[])
    return driven_legs(made, trip_route(made), made.legs, FIGURES)[0]


def test_corrugations_are_driven_at_the_trips_own_speed() -> None:
    slow = exposed(trip(LEGS, driving={"corrugation_speed": "40 km/h"})).legs[2]
    fast = exposed(trip(LEGS, driving={"corrugation_speed": "80 km/h"})).legs[2]
    assert (slow.speed_kmh, fast.speed_kmh) == pytest.approx((34.0, 68.0))
    assert slow.hours == pytest.approx(100 / 34)


def test_a_ford_cut_by_a_camp_is_one_crossing_and_each_ford_is_walked() -> None:
    legs = (
        Leg(1, 0, 50, "gravel", line=2),
        Leg(1, 50, 51, "ford", 0.3, line=3),
        Leg(2, 51, 52, "ford", 0.3, line=3),
        Leg(2, 52, 53, "ford", 0.4, line=4),
        Leg(2, 53, 63, "riverbed", line=5),
    )
    made = trip(legs, days=2, stop=[], help=[])
    found = driven_legs(made, trip_route(made), legs, FIGURES)
    assert [leg.crossings for leg in found] == [0, 1, 0, 1, pytest.approx(3.0)]
    assert found[1].hours == pytest.approx(1 / found[1].speed_kmh + 0.5)


def test_height_makes_a_leg_cooler_by_the_standard_lapse(tmp_path: Path) -> None:
    """1,000 m above the route's usual height is 6.5 K cooler (ISO 2533)."""
    heights = (0, 0, 0, 0, 0, 1000, 1000)
    rows = "".join(f'<trkpt lat="{i / 10}" lon="1"><ele>{h}</ele></trkpt>' for i, h in enumerate(heights))
    path = tmp_path / "a.gpx"
    path.write_text(f"<gpx><trk><trkseg>{rows}</trkseg></trk></gpx>")
    end = 60 * 1.10574
    surfaces = (SurfaceStretch(0, end * 5 / 6, "gravel", line=2), SurfaceStretch(end * 5 / 6, end, "sand", line=3))
    made = trip((), surfaces=surfaces, route_files=(path,), days=1, stop=[], help=[])
    legs = exposed(made).legs
    assert legs[1].temperature_c == pytest.approx(25 - 6.5, abs=0.1)
    assert legs[1].altitude_m == pytest.approx(1000)


# -------------------------------------------------------------------------------------------- wear
def wear(legs: tuple[Leg, ...] = LEGS, **head: object) -> np.ndarray:
    made = trip(legs, **head)
    return wear_intensity(made, driven_legs(made, trip_route(made), legs, FIGURES), FIGURES)


def row(name: str) -> int:
    return CHANNELS.index(name)


def test_at_the_reference_the_wear_is_the_surfaces_own() -> None:
    """25 degrees, level, dry, 60 km/h on corrugations: no factor acts."""
    found = wear()
    for j, leg in enumerate(LEGS):
        surface = ground().surfaces[leg.surface]
        assert found[:, j] == pytest.approx([getattr(surface, c) for c in CHANNELS])


def test_heat_doubles_over_its_kelvins_and_touches_no_other_channel() -> None:
    hot, usual = wear(climate={"day_high": "45 degC", "night_low": "20 degC"}), wear()
    ratio = hot / usual
    assert ratio[row("heat")] == pytest.approx(np.full(5, 2.0))
    assert np.delete(ratio, row("heat"), 0) == pytest.approx(np.ones((7, 5)))


def test_speed_on_corrugations_touches_corrugated_legs_only() -> None:
    ratio = wear(driving={"corrugation_speed": "120 km/h"}) / wear()
    assert ratio[row("vibration"), 2] == pytest.approx(2**1.5)
    assert ratio[row("impact"), 2] == pytest.approx(2.0)
    assert np.delete(ratio, 2, 1) == pytest.approx(np.ones((8, 4)))


def test_a_harder_class_scales_impact_and_torque_by_step() -> None:
    harder = tuple(replace(leg, difficulty=min(4, ground().surfaces[leg.surface].difficulty + 1)) for leg in LEGS)
    ratio = wear(harder) / wear()
    assert ratio[row("impact")] == pytest.approx(np.full(5, 1.4))
    assert ratio[row("torque")] == pytest.approx(np.full(5, 1.3))


def test_climbing_wears_drive_and_cooling() -> None:
    """5 % uphill: torque and heat rise, braking does not."""
    uphill = tuple(replace(leg, climb_m=50.0 * (leg.to_km - leg.from_km)) for leg in LEGS)
    ratio = wear(uphill) / wear()
    assert ratio[row("torque")] == pytest.approx(np.full(5, 1 + 8 * 0.05))
    assert ratio[row("heat")] == pytest.approx(np.full(5, 1 + 6 * 0.05))
    assert ratio[row("braking")] == pytest.approx(np.ones(5))


def test_deeper_water_wears_more() -> None:
    shallow, deep = (
        wear((Leg(1, 0, 1, "ford", d, difficulty=3, line=2),), days=1, stop=[])[row("water"), 0] for d in (0.35, 0.7)
    )
    assert deep == pytest.approx(2 * shallow)
    assert shallow == pytest.approx(ground().surfaces["ford"].water)
