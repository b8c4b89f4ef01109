"""States, limits, verdicts, rooms and ratios of a weighed vehicle."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from loaded_case import KitLine, SomeKit, build, library, trip, vehicle, weighed

from fieldkit.errors import InputFaults
from fieldkit.loads import load_faults, weigh
from fieldkit.loads.result import Margin, VehicleLoads


def margin(loads: VehicleLoads, key: str) -> Margin:
    return next(m for m in loads.margins if m.limit == key)


def boxes(kg: float, place: str = "load-floor") -> dict[str, Any]:
    return {"name": "boxes", "mass": f"{kg} kg", "place": place}


# ---------------------------------------------------------------------------------------- states
def test_states_stand_in_their_order() -> None:
    kit = SomeKit((KitLine("shovel", 1, 2.3, "wagon", "load-floor"),))
    loads, _ = weighed(fitted=["rack", "winch-bar"], crew=2, kit=kit, used={"fuel": [5.0, 20.0]})
    assert list(loads.states) == [
        "as-built", "running-order", "after-rack", "after-winch-bar", "fitted", "actual", "departure", "with-budget", "with-kit",
        "leg-1", "leg-2",
    ]  # fmt: skip


def test_the_winch_bar_loads_the_front_more_than_its_own_mass() -> None:
    """90 kg at 0.9 m ahead of the axle: 118.4 kg on the front, 28.4 kg off the rear (the axle chain's last row)."""
    loads, _ = weighed(fitted=["winch-bar"])
    before, after = loads.states["as-built"], loads.states["after-winch-bar"]
    assert after.front_kg - before.front_kg == pytest.approx(118.4, abs=0.05)
    assert after.rear_kg - before.rear_kg == pytest.approx(-28.4, abs=0.05)


def test_fuel_and_water_used_leave_the_vehicle_leg_by_leg() -> None:
    """Each kind as it is used; never more than there is."""
    used = {"fuel": np.array([10.0, 30.0, 1e6]), "water": np.array([0.0, 12.0, 1e6])}
    loads, _ = weighed(crew=1, water="40 L", used=used)
    start = loads.states["departure"].gross_kg
    assert start - loads.states["leg-1"].gross_kg == pytest.approx(10)
    assert start - loads.states["leg-2"].gross_kg == pytest.approx(42)
    assert start - loads.states["leg-3"].gross_kg == pytest.approx(80 * 0.845 + 40)


def test_cans_are_poured_before_the_tank_and_their_steel_stays() -> None:
    """A 21 kg can with 16.9 kg of diesel behind the axle: its fuel goes first, so the rear axle is relieved first."""
    kit = SomeKit((KitLine("diesel-20l", 2, 21.0, "wagon", "load-floor"),))
    fuel = {"diesel-20l": 16.9}
    loads, _ = weighed(crew=1, kit=kit, used={"fuel": [33.8, 43.8, 1e6]}, can_fuel_kg=fuel)
    start, poured, deeper = (loads.states[s] for s in ("with-kit", "leg-1", "leg-2"))
    assert start.gross_kg - poured.gross_kg == pytest.approx(33.8)
    assert poured.gross_kg - deeper.gross_kg == pytest.approx(10)
    empty, _ = weighed(crew=1, kit=SomeKit((KitLine("diesel-20l", 2, 4.1, "wagon", "load-floor"),)))
    assert poured.rear_kg == pytest.approx(empty.states["with-kit"].rear_kg)
    assert loads.states["leg-3"].gross_kg == pytest.approx(empty.states["with-kit"].gross_kg - 80 * 0.845)


def test_a_limit_passed_on_the_way_is_named() -> None:
    """Fuel well behind the axle holds the front down: as it goes, the front axle takes more."""
    rear_tank = {"fuel-tank": {"name": "tank", "x": "-1.2 m", "z": "0.6 m", "volume": "0 L"}}
    tight = build(places={**_places(), **rear_tank}, masses={"front_limit": "1155 kg"})
    loads, _ = weighed(on=tight, used={"fuel": [20.0, 60.0]})
    assert margin(loads, "front-axle").left_kg > 0
    assert (
        "On the way the front axle goes up to 20 kg over, from the end of leg 1, as fuel and water are used."
        in loads.cautions
    )


def _places() -> dict[str, Any]:
    from loaded_case import PLACES

    return PLACES


def test_the_kit_is_weighed_where_it_was_put() -> None:
    kit = SomeKit((KitLine("shovel", 4, 25.0, "wagon", "load-floor"), KitLine("shovel", 1, 50.0, "other", "roof")))
    loads, _ = weighed(kit=kit)
    before, after = loads.states["departure"], loads.states["with-kit"]
    assert after.gross_kg - before.gross_kg == pytest.approx(100)
    assert after.front_kg - before.front_kg == pytest.approx(-100 * 0.2 / 2.85)
    assert loads.entries[-1].packs == 4


# ---------------------------------------------------------------------------------------- limits
def test_within_at_the_limit_and_overloaded() -> None:
    """A load over the middle, so that the gross limit of 3,000 kg binds."""

    def at(kg: float) -> VehicleLoads:
        return weighed(load=[{"name": "m", "mass": f"{kg} kg", "x": "0.8 m", "z": "0.8 m"}])[0]

    assert [at(kg).verdict for kg in (600, 790, 801)] == ["within", "at the limit", "overloaded"]
    assert at(801).binding == "gross vehicle mass"
    assert at(801).payload_left_kg == pytest.approx(-1)
    assert at(800).verdict == "at the limit"  # exactly at the limit is not over it


def test_the_rear_axle_can_bind_while_the_gross_mass_is_within() -> None:
    loads, _ = weighed(load=[boxes(390), {"name": "far back", "mass": "250 kg", "x": "-1 m", "z": "0.8 m"}])
    assert margin(loads, "gross").left_kg > 0
    assert loads.verdict == "overloaded"
    assert loads.binding == "rear axle"


def test_roof_limit_is_the_tighter_of_the_makers_and_the_racks() -> None:
    """Maker 100 kg with the 30 kg rack counted; rack rated 80 kg for what lies on it: the maker's binds, 70 kg remain."""
    loads, _ = weighed(fitted=["rack"], load=[boxes(20, "roof")])
    roof = margin(loads, "roof")
    assert (roof.limit_kg, roof.actual_kg) == (100, 50)
    assert roof.words == "roof, the maker's limit with the rack counted"
    wide = build(masses={"roof_limit": "200 kg"})
    loads, _ = weighed(fitted=["rack"], load=[boxes(20, "roof")], on=wide)
    roof = margin(loads, "roof")
    assert (roof.limit_kg, roof.actual_kg, roof.left_kg) == (80, 20, 60)
    assert roof.words == "roof, the rack's rating for what lies on it"


def test_a_roof_that_takes_nothing_is_overloaded_by_anything() -> None:
    none = build(masses={"roof_limit": "0 kg"})
    loads, _ = weighed(on=none, load=[boxes(1, "roof")])
    assert loads.verdict == "overloaded"
    assert loads.binding.startswith("roof")
    plain, _ = weighed(on=none)
    assert not any(m.limit == "roof" for m in plain.margins)


def test_each_tyre_is_held_against_its_index_at_the_planned_pressure() -> None:
    """1,120 kg at 250 kPa; at 200 kPa 0.837 of it."""
    loads, _ = weighed(tyres={"size": "265/70R16", "front": "200 kPa", "rear": "300 kPa"})
    assert margin(loads, "tyre-front-left").limit_kg == pytest.approx(1120 * 0.8365, abs=0.5)
    assert margin(loads, "tyre-rear-right").limit_kg == 1120
    assert margin(loads, "tyre-front-left").words == "front left tyre at 200 kPa"


def test_a_mass_on_one_side_loads_that_sides_tyres() -> None:
    loads, _ = weighed(load=[{"name": "m", "mass": "100 kg", "x": "0 m", "y": "0.75 m", "z": "0.8 m"}])
    left, right = margin(loads, "tyre-rear-left").actual_kg, margin(loads, "tyre-rear-right").actual_kg
    assert left - right == pytest.approx(100)


def test_trailer_ball_and_combination_have_their_limits() -> None:
    heavy = {"name": "trailer", "mass": "2600 kg", "ball_load": "160 kg"}
    loads, _ = weighed(crew=2, trailer=heavy)
    assert margin(loads, "ball").left_kg == pytest.approx(-10)
    assert margin(loads, "trailer").left_kg == pytest.approx(-100)
    assert margin(loads, "combination").actual_kg == pytest.approx(2200 + 150 + 2600)
    bar, _ = weighed(fitted=["tow-bar"], trailer={**heavy, "mass": "1600 kg"})
    assert margin(bar, "trailer").limit_kg == 1500  # the bar's rating, below the maker's 2,500 kg


@pytest.mark.parametrize(("ball", "words"), [("30 kg", "Below 5 %"), ("150 kg", "Above 15 %")])
def test_a_ball_load_out_of_the_usual_share_is_named(ball: str, words: str) -> None:
    loads, _ = weighed(trailer={"name": "trailer", "mass": "900 kg", "ball_load": ball})
    assert any(words in c for c in loads.cautions)


def test_a_place_filled_to_its_limit_is_full_not_a_limit_that_binds() -> None:
    loads, _ = weighed(load=[boxes(400)])
    assert margin(loads, "place-load-floor").left_kg == 0
    assert loads.binding != "load floor"
    over, _ = weighed(load=[boxes(401)])
    assert over.verdict == "overloaded"
    assert over.binding == "load floor"


def test_place_limits_of_fitted_places_count_the_parts() -> None:
    loads, _ = weighed(fitted=["winch-bar", "rated-recovery-points"])
    assert margin(loads, "place-front-bar").actual_kg == pytest.approx(98)
    drawers, _ = weighed(fitted=["tank"], water="45 L")
    assert margin(drawers, "place-water-tank").actual_kg == pytest.approx(55)


def test_a_trailer_as_a_vehicle_has_a_coupling_and_one_axle() -> None:
    features = ["trailer"]
    loads, _ = weighed(on=build(features=features, seats=0, seat_rows=[], fuel="none"))
    assert margin(loads, "front-axle").words == "ball load at the coupling"
    assert not any(m.limit.startswith("tyre-front") for m in loads.margins)
    assert loads.states["running-order"].gross_kg == loads.states["as-built"].gross_kg


# ----------------------------------------------------------------------------------------- rooms
def test_rooms_leave_out_seats_and_places_of_no_volume() -> None:
    loads, _ = weighed()
    assert [r.place for r in loads.room] == ["footwell", "forward", "load-floor", "roof"]


def test_room_left_is_the_places_limit_less_what_is_there() -> None:
    loads, _ = weighed(fitted=["rack"], load=[boxes(150), boxes(20, "roof")])
    room = {r.place: r for r in loads.room}
    assert room["load-floor"].mass_kg == pytest.approx(250)
    assert room["roof"].mass_kg == pytest.approx(50)  # the maker's 100 kg less rack and boxes, not the place's 80 kg
    assert room["roof"].on_roof and room["footwell"].in_cabin


def test_room_left_is_never_negative() -> None:
    loads, _ = weighed(load=[boxes(450)])
    assert next(r for r in loads.room if r.place == "load-floor").mass_kg == 0


def test_kit_takes_its_litres_of_the_room() -> None:
    kit = SomeKit((KitLine("shovel", 2, 2.3, "wagon", "load-floor"),))
    loads, _ = weighed(kit=kit)
    litres = library().items["shovel"].volume_l
    assert next(r for r in loads.room if r.place == "load-floor").volume_l == pytest.approx(500 - 2 * litres)


# ---------------------------------------------------------------------------------------- ratios
def test_ratios_are_one_at_the_reference() -> None:
    """80 % of the payload shared out as the axles have room, 80 % of the roof limit on the roof; no budget on top."""
    payload = 0.8 * (3000 - 2200)
    front = payload * (1400 - 1150) / ((1400 - 1150) + (1750 - 1050))
    loads = [
        {"name": "f", "mass": f"{front} kg", "x": "2.85 m", "z": "0.8 m"},
        {"name": "r", "mass": f"{payload - front} kg", "x": "0 m", "z": "0.8 m"},
    ]
    found, _ = weighed(load=loads, kit_mass="0 kg")
    assert found.ratios["mass"] == pytest.approx(1)
    assert found.ratios["front_load"] == pytest.approx(1)
    assert found.ratios["rear_load"] == pytest.approx(1)
    roof, _ = weighed(load=[boxes(80, "roof")])
    assert roof.ratios["roof"] == pytest.approx(1)
    assert found.ratios["roof"] == 0.25  # a bare roof still rattles


def test_ratios_count_the_whole_kit_budget() -> None:
    """Conservative, and the page says so: the vehicle's own limit, else the trip's, as far as it has payload."""
    own, _ = weighed(kit_mass="60 kg")
    whole, _ = weighed()
    assert own.states["with-budget"].gross_kg - own.states["departure"].gross_kg == pytest.approx(60)
    assert whole.states["with-budget"].gross_kg - whole.states["departure"].gross_kg == pytest.approx(100)
    full, _ = weighed(load=[{"name": "m", "mass": "750 kg", "x": "1.2 m", "z": "0.8 m"}])
    assert full.states["with-budget"].gross_kg == pytest.approx(3000)


def test_tyre_ratio_is_fitted_over_built() -> None:
    loads, _ = weighed(tyres={"size": "285/75R16"})
    assert loads.tyre_ratio == pytest.approx(1.0727, abs=1e-4)


# ---------------------------------------------------------------------------------------- faults
def test_every_fault_of_every_vehicle_is_told_at_once() -> None:
    one = vehicle("one", tyres={"size": "tall", "date_code": "9999"}, load=[boxes(10, "atic")])
    two = vehicle("two", tyres={"size": "265/70R16", "date_code": "4029"})
    with pytest.raises(InputFaults) as odd:
        weigh(trip(one, two))
    lines = str(odd.value).splitlines()
    assert len(lines) == 4
    assert [line.split(":")[0] for line in lines] == ["vehicles/one.toml"] * 3 + ["vehicles/two.toml"]
    assert any("date_code '9999' is no week and year" in line for line in lines)
    assert load_faults(trip(vehicle())) == []


def test_every_vehicle_of_a_convoy_is_weighed() -> None:
    loads = weigh(trip(vehicle("one", crew=1), vehicle("two", crew=3)))
    assert list(loads.vehicles) == ["one", "two"]
    assert loads["two"].states["departure"].gross_kg - loads["one"].states["departure"].gross_kg == pytest.approx(150)


def test_a_light_front_is_named() -> None:
    loads, _ = weighed(load=[{"name": "m", "mass": "500 kg", "x": "-1 m", "z": "0.8 m"}])
    assert any(c.startswith("The front axle carries only") for c in loads.cautions)


def test_the_tipping_angle_is_never_shown_without_its_caution() -> None:
    for changes in ({}, {"fitted": ["rack", "tent"]}, {"load": [boxes(450)]}):
        loads, _ = weighed(**changes)
        assert any(
            "tipping angle" in c and "about 8 degrees" in c and "no angle to drive to" in c for c in loads.cautions
        )


def test_a_higher_load_tips_earlier() -> None:
    low, _ = weighed(load=[boxes(80)])
    high, _ = weighed(load=[boxes(80, "roof")])
    assert high.states["departure"].static_roll_deg < low.states["departure"].static_roll_deg
    assert high.states["departure"].centre_height_m > low.states["departure"].centre_height_m


def test_the_same_trip_weighs_the_same() -> None:
    """No clock, no chance: two runs give equal results."""
    one = trip(vehicle(fitted=["rack"], crew=2, load=[boxes(450)]))
    assert weigh(one) == weigh(one)
