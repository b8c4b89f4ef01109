"""Fuel, water, food and turn-back points."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_trip import HEAD, LEGS, PETROL, exposed, resurfaced, stock, trip, vehicle

from fieldkit.exposure.fuel import share_owned
from fieldkit.exposure.result import Exposure, FuelLine
from fieldkit.exposure.settings import supply_figures
from fieldkit.exposure.water import daily_water_l, hourly_water_l
from fieldkit.loads.figures import load_figures
from fieldkit.specs.trip import Climate, Leg

FIGURES = supply_figures()
WEST, EAST = HEAD["help"]


def line(found: Exposure, number: int = 0) -> FuelLine:
    return found.supplies.fuel[number]


def long_way(km: float, **head: Any) -> Exposure:
    """One sealed leg of so many km between two stations."""
    points = [WEST, {**EAST, "km": f"{km} km"}]
    return exposed(trip((Leg(1, 0, km, "sealed", line=2),), days=1, stop=[], **{"help": points, **head}))


# -------------------------------------------------------------------------------------------- fuel
def test_fuel_is_consumption_times_the_surfaces_factor() -> None:
    """100 km of sealed road take the build's 12.5 L; the same of sand 1.7 times that."""
    sealed = long_way(100)
    assert line(sealed).needed_l == pytest.approx(12.5)
    sand = exposed(trip(resurfaced(LEGS, "sand")))
    assert line(sand).needed_l == pytest.approx(3 * 12.5 * 1.7)


def test_climb_costs_fuel_and_descent_gives_some_of_it_back() -> None:
    level = line(long_way(100)).needed_l
    points = [WEST, {**EAST, "km": "100 km"}]
    uphill = exposed(trip((Leg(1, 0, 100, "sealed", climb_m=1000, line=2),), days=1, stop=[], help=points))
    assert line(uphill).needed_l - level == pytest.approx(2960 * 9.80665 * 1000 / (0.3 * 35.9e6), rel=1e-6)


def test_the_reserve_is_a_detour_and_the_next_station_shut() -> None:
    """Stations at 0, 150 and 300 km: at 150 shut, either neighbour is 150 km on; at home nothing is added."""
    points = [WEST, {"name": "Middle", "kind": ["fuel"], "km": "150 km", "fuels": ["diesel"]}, EAST]
    found = exposed(trip(resurfaced(LEGS, "sealed"), help=points))
    first, second = line(found), line(found, 1)
    detour = 0.3 * 12.5  # 30 km, more than a tenth of 150 km
    assert first.reserve_l == pytest.approx(detour + 1.5 * 12.5)
    assert second.reserve_l == pytest.approx(detour)
    assert (first.from_name, first.to_name, second.to_name) == ("West", "Middle", "East")


def test_a_station_off_the_route_costs_the_way_there_and_back() -> None:
    points = [
        WEST,
        {"name": "Off", "kind": ["fuel"], "km": "150 km", "off": "20 km", "surface": "sealed", "fuels": ["diesel"]},
        EAST,
    ]
    found = exposed(trip(resurfaced(LEGS, "sealed"), help=points))
    assert line(found).needed_l == pytest.approx(1.7 * 12.5)
    assert line(found, 1).needed_l == pytest.approx(1.7 * 12.5)


def test_a_range_that_keeps_the_reserve_is_no_fault_and_one_that_does_not_says_how_many_cans() -> None:
    """90 L and a detour reserve of a tenth reach 654 km and no further."""
    assert not [f for f in long_way(650).supplies.faults if "Fuel" in f]
    short = [f for f in long_way(700).supplies.faults if "Fuel" in f]
    assert short == [
        "Fuel for One from West to East: 7 L short with the reserve (88 L to get there, 9 L in reserve, 90 L carried). "
        "1 more can of 20 L would do."
    ]


def test_a_tank_that_runs_dry_on_the_way_is_said_plainly() -> None:
    dry = [f for f in long_way(900).supplies.faults if "Fuel" in f]
    assert "the tank is dry 180 km before East" in dry[0]
    assert "cannot be driven like this" in dry[0]


def test_owned_cans_are_counted_and_weighed_and_must_be_carried() -> None:
    made = trip(
        (Leg(1, 0, 700, "sealed", line=2),),
        days=1,
        stop=[],
        help=[WEST, {**EAST, "km": "700 km"}],
        inventory=(stock("diesel-20l", 3),),
    )
    found = exposed(made).supplies
    (can,) = found.cans
    assert (can.count, can.owned, can.litres, can.mass_kg) == (1, 1, 20.0, 21.0)
    assert found.can_fuel_kg["diesel-20l"] == pytest.approx(20 * load_figures().density["diesel"])
    assert found.fuel[0].carried_l == 110.0
    assert not [f for f in found.faults if "Fuel" in f]


def test_owned_cans_go_to_their_vehicle_first_then_to_who_needs_them() -> None:
    made = trip(
        LEGS, inventory=(stock("diesel-20l", 2, "one"), stock("diesel-20l", 1), stock("diesel-20l", 4, "spare"))
    )
    assert share_owned({"one": ("diesel-20l", 1), "two": ("diesel-20l", 3)}, made) == {"one": 1, "two": 3}
    assert share_owned({"one": ("diesel-20l", 9)}, made) == {"one": 7}


@given(
    st.dictionaries(st.sampled_from("abc"), st.integers(1, 9), min_size=1),
    st.lists(st.tuples(st.sampled_from(["", "a", "z"]), st.integers(1, 5)), max_size=4),
)
def test_no_can_is_given_twice(needs: dict[str, int], owned: list[tuple[str, int]]) -> None:
    made = trip(LEGS, inventory=tuple(stock("diesel-20l", n, where) for where, n in owned))
    given_out = share_owned({v: ("diesel-20l", n) for v, n in needs.items()}, made)
    assert all(0 <= given_out[v] <= n for v, n in needs.items())
    assert sum(given_out.values()) == min(sum(needs.values()), sum(n for _, n in owned))


def test_a_station_without_the_vehicles_fuel_is_passed_by() -> None:
    """In a mixed convoy each vehicle has its own gaps."""
    points = [
        {**WEST, "fuels": ["diesel", "petrol"]},
        {"name": "Diesel only", "kind": ["fuel"], "km": "150 km", "fuels": ["diesel"]},
        {**EAST, "fuels": ["diesel", "petrol"]},
    ]
    made = trip(LEGS, vehicles=(vehicle("one"), vehicle("two", PETROL)), party={"people": 4}, help=points)
    gaps = {(x.vehicle, x.to_name) for x in exposed(made).supplies.fuel}
    assert ("one", "Diesel only") in gaps
    assert ("two", "Diesel only") not in gaps


def test_a_station_that_does_not_say_its_fuels_is_told() -> None:
    points = [{**WEST, "fuels": []}, EAST]
    notes = exposed(trip(LEGS, help=points)).supplies.notes
    assert any(n.startswith("West does not say which fuels it has") for n in notes)


def test_a_pump_that_is_shut_when_the_trip_comes_by_is_told() -> None:
    points = [WEST, {**EAST, "open": "06:00-07:00"}]
    notes = exposed(trip(LEGS, help=points)).supplies.notes
    assert any(n.startswith("East is likely to be shut when you come by") for n in notes)


def test_no_fuel_anywhere_ends_at_the_end_of_the_route() -> None:
    found = exposed(trip(LEGS, help=[{"name": "Well", "kind": ["water"], "km": "0 km"}])).supplies
    assert [(x.from_name, x.to_name) for x in found.fuel] == [("the start of the route", "the end of the route")]
    assert any("finds no diesel on the route" in n for n in found.notes)


# ------------------------------------------------------------------------------------------- water
def climate(high: float, wet: float = 0.1) -> Climate:
    return Climate.model_validate({"day_high": f"{high} degC", "night_low": "5 degC", "wet_share": wet})


@given(st.floats(-20, 55), st.floats(-20, 55), st.floats(0, 1))
def test_more_heat_never_needs_less_water(one: float, other: float, wet: float) -> None:
    low, high = sorted((one, other))
    for waiting in (True, False):
        assert (
            daily_water_l(climate(low, wet), FIGURES.water, waiting)
            <= daily_water_l(climate(high, wet), FIGURES.water, waiting) + 1e-9
        )


@given(st.floats(60, 110), st.sampled_from(["easy", "moderate", "hard"]))
def test_an_hour_never_asks_for_more_than_the_cards_limit(wbgt: float, work: Any) -> None:
    assert hourly_water_l(wbgt, work, FIGURES.water) <= FIGURES.water.most_per_hour


def test_humid_country_needs_more_water_than_dry_at_the_same_heat() -> None:
    assert daily_water_l(climate(40, 0.6), FIGURES.water) > daily_water_l(climate(40, 0.0), FIGURES.water)


def test_too_little_water_for_the_driest_stretch_is_a_fault_with_its_figures() -> None:
    """Two nights out of West: about two days and a day in hand at 15 L a day for two."""
    found = exposed(trip(LEGS, vehicles=(vehicle(water="20 L"),))).supplies
    assert found.water_needed_l > found.water_carried_l == 20
    assert any(
        f.startswith("Water from West to East: ") and f.endswith(f"{found.water_needed_l - 20:.0f} L short.")
        for f in found.faults
    )
    assert not any("Water from" in f for f in exposed(trip(LEGS)).supplies.faults)


def test_a_well_on_the_way_halves_the_need() -> None:
    points = [WEST, {"name": "Well", "kind": ["water"], "km": "150 km"}, EAST]
    assert exposed(trip(LEGS, help=points)).supplies.water_needed_l < exposed(trip(LEGS)).supplies.water_needed_l - 5


def test_all_water_in_one_vessel_and_a_dry_vehicle_are_faults() -> None:
    one = exposed(trip(LEGS, vehicles=(vehicle(water="20 L"),))).supplies
    assert one.vessels == 1
    assert any("in one vessel" in f for f in one.faults)
    two = exposed(
        trip(LEGS, vehicles=(vehicle(water="60 L"), vehicle("two", water="0 L")), party={"people": 4})
    ).supplies
    assert two.vessels == 3
    assert "Two carries no water of its own: each vehicle needs enough for its crew to wait." in two.faults


# -------------------------------------------------------------------------------------------- food
def test_clay_that_rain_closes_asks_for_three_days_of_food_in_hand() -> None:
    assert exposed(trip(LEGS)).supplies.food_days == 4
    clay = (*LEGS[:4], replace(LEGS[4], surface="clay-dry"))
    assert exposed(trip(clay)).supplies.food_days == 6


# ----------------------------------------------------------------------------------------- used up
def test_what_is_used_up_feeds_the_loads_by_leg() -> None:
    """Fuel by density, water at a kilogram a litre, marked loads by days; everything full again at the end."""
    load = [{"name": "food", "mass": "30 kg", "place": "load-floor", "used_up": True}]
    found = exposed(trip(LEGS, vehicles=(vehicle(load=load),))).supplies
    parts = found.used_kg["one"]
    density = load_figures().density["diesel"]
    assert parts["fuel"][1] == pytest.approx((60 + 40 * 1.1) * 0.125 * density)
    assert parts["food"].tolist() == pytest.approx([10, 10, 20, 30, 30])
    assert parts["fuel"][4] == 0.0
    assert parts["water"][4] == 0.0


def test_nothing_is_used_up_that_was_not_carried() -> None:
    found = exposed(trip(LEGS, vehicles=(vehicle(water="5 L"),))).supplies
    assert found.used_kg["one"]["water"].max() <= 5.0
    assert (found.used_kg["one"]["fuel"] <= 90 * 0.845 + 1e-9).all()
    assert all(np.all(each >= 0) for each in found.used_kg["one"].values())


# --------------------------------------------------------------------------------------- turn back
def rows(found: Exposure, resource: str) -> list[dict[str, object]]:
    return [r for r in found.remoteness.turn_back if r["resource"] == resource]


def test_at_each_camp_between_stations_the_fuel_both_ways_is_told() -> None:
    found = rows(exposed(trip(LEGS)), "fuel")
    first = next(r for r in found if r["place"] == "First camp")
    assert first["back"] == {"one": pytest.approx(13.0, abs=0.05)}
    assert first["ahead"] == {"one": pytest.approx((120 + 68 + 66) * 0.125, abs=0.06)}


def test_past_the_point_of_no_return_the_fuel_does_not_reach_back() -> None:
    """90 L less a detour of 30 km, halved: 345 km of sealed road."""
    (row,) = [r for r in rows(long_way(600), "fuel") if r["no_return"]]
    assert row["km"] == pytest.approx((90 - 0.3 * 12.5) / 2 / 0.125, abs=0.1)
    assert not [r for r in rows(long_way(300), "fuel") if r["no_return"]]


def test_water_clay_fords_and_the_party_have_their_rows() -> None:
    clay = (*LEGS[:3], replace(LEGS[3], surface="ford", water_depth_m=0.4), replace(LEGS[4], surface="clay-dry"))
    found = exposed(trip(clay))
    assert {str(r["resource"]) for r in found.remoteness.turn_back} == {
        "fuel",
        "water",
        "rain",
        "river",
        "days",
        "vehicles and people",
    }
    assert "deeper than 0.4 m" in str(rows(found, "river")[0]["text"])
    assert rows(found, "rain")[0]["place"] == "Second camp"
    kms = [float(str(r["km"])) for r in found.remoteness.turn_back]
    assert kms == sorted(kms)
