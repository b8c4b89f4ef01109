"""Masses and where they sit."""

from __future__ import annotations

import pytest
from loaded_case import WHEELBASE, KitLine, SomeKit, build, library, vehicle, weighed

from fieldkit.loads import axle_loads
from fieldkit.loads.aboard import aboard, kit_entries, place_faults, seats_by_row, water_aboard_l
from fieldkit.loads.figures import load_figures


def by_name(entries: object) -> dict[str, float]:
    return {e.name: e.mass_kg for e in entries}  # type: ignore[attr-defined]


def test_the_builds_kerb_axles_come_out_as_written() -> None:
    """Splitting the fuel off must not change the kerb axle masses."""
    found = axle_loads(aboard(vehicle()).built, WHEELBASE, 1.5)
    assert (found.front_kg, found.rear_kg) == (pytest.approx(1150), pytest.approx(1050))
    assert found.centre_height_m == pytest.approx(0.7)
    assert found.wheels_kg[0] == pytest.approx(found.wheels_kg[1])


def test_a_build_without_fuel_is_one_mass() -> None:
    electric = build(fuel="electric", fuel_tank="0 L")
    assert [e.kind for e in aboard(vehicle(on=electric)).built] == ["build"]


def test_a_parts_mass_is_net_of_what_it_replaces_and_brings_its_fuel() -> None:
    masses = aboard(vehicle(fitted=["winch-bar", "long-tank"]))
    bar, tank = (dict(masses.parts)[k] for k in ("winch-bar", "long-tank"))
    assert [e.mass_kg for e in bar] == [90]
    assert [e.mass_kg for e in tank] == [20, pytest.approx(70 * 0.845)]
    assert tank[1].used_up and tank[1].place == "fuel-tank"


def test_a_heavy_part_of_unknown_place_is_named() -> None:
    """Nothing is guessed silently: it counts in the vehicle's middle, and the page says so."""
    masses = aboard(vehicle(fitted=["bar-somewhere", "lift"]))
    entry = dict(masses.parts)["bar-somewhere"][0]
    assert entry.x_m == pytest.approx(WHEELBASE * 1150 / 2200)
    assert masses.cautions == (
        "Where these parts sit is not known, so they are taken at the vehicle's middle: heavy thing of unknown place.",
    )


def test_lift_and_tall_tyres_raise_masses_but_not_wheels() -> None:
    """50 mm of lift and half of 26.5 mm more tyre; the unsprung share of the build is not lifted."""
    plain = axle_loads(aboard(vehicle()).built, WHEELBASE, 1.5).centre_height_m
    raised = vehicle(
        fitted=["lift"], tyres={"size": "265/75R16"}, load=[{"name": "box", "mass": "10 kg", "place": "load-floor"}]
    )
    masses = aboard(raised)
    tyre = 0.01325
    assert masses.loads[0].z_m == pytest.approx(0.9 + 0.05 + tyre)
    shell = masses.built[0].z_m - aboard(vehicle()).built[0].z_m
    assert shell == pytest.approx(0.05 * (1 - load_figures().where.unsprung_share) + tyre)
    wheels = aboard(vehicle(fitted=["lift", "tall"]))
    assert dict(wheels.parts)["tall"][0].z_m == pytest.approx(0.39 + (833.9 - 777.4) / 2000)
    assert axle_loads(masses.built, WHEELBASE, 1.5).centre_height_m > plain


def test_people_fill_the_front_row_first() -> None:
    """Two in front, the rest behind; the driver of the published mass."""
    assert seats_by_row(vehicle()) == [("front-seats", 2), ("rear-seats", 3)]
    people = aboard(vehicle(crew=3)).people
    assert [(e.name, e.place) for e in people] == [
        ("driver", "front-seats"), ("passenger", "front-seats"), ("passenger", "rear-seats"),
    ]  # fmt: skip
    assert sum(e.mass_kg for e in people) == 225


def test_one_row_of_seats_takes_all() -> None:
    assert seats_by_row(vehicle(on=build(seats=3, seat_rows=["front-seats"]))) == [("front-seats", 3)]


def test_more_people_than_seats_is_said() -> None:
    masses = aboard(vehicle(crew=6))
    assert len(masses.people) == 6
    assert masses.cautions == ("6 people in 5 seats: nobody rides without a seat belt.",)


def test_water_fills_the_tank_first_then_cans_by_the_room_places_have() -> None:
    """45 L in the tank, 15 L in cans with their own mass; without a figure a fitted tank is full."""
    assert water_aboard_l(vehicle(water="60 L")) == (0, 60)
    assert water_aboard_l(vehicle(fitted=["tank"])) == (45, 0)
    assert water_aboard_l(vehicle(fitted=["tank"], water="60 L")) == (45, 15)
    assert water_aboard_l(vehicle(fitted=["tank"], water="20 L")) == (20, 0)
    found = aboard(vehicle(fitted=["tank"], water="60 L")).water
    assert by_name(found) == {
        "water in the fixed tank, 45 L": 45,
        "water in cans, 15 L": 15,
        "water cans, empty": pytest.approx(15 * 0.06),
    }


def test_cans_do_not_overload_a_place_while_another_has_room() -> None:
    """370 kg of boxes on the load floor leave 30 kg there."""
    boxes = [{"name": "boxes", "mass": "370 kg", "place": "load-floor"}]
    places = {"drawers": {"name": "drawers", "x": "0 m", "z": "0.8 m", "volume": "100 L", "limit": "60 kg"}}
    found = aboard(vehicle(water="60 L", load=boxes, places=places)).water
    floor = sum(e.mass_kg for e in found if e.place == "load-floor")
    drawers = sum(e.mass_kg for e in found if e.place == "drawers")
    assert floor + drawers == pytest.approx(60 * 1.06)
    assert floor <= 30 and drawers <= 60


def test_cans_that_fit_nowhere_stand_on_the_load_floor_all_the_same() -> None:
    boxes = [{"name": "boxes", "mass": "390 kg", "place": "load-floor"}]
    found = aboard(vehicle(water="60 L", load=boxes)).water
    assert {e.place for e in found} == {"load-floor"}


def test_loads_by_place_or_by_figures() -> None:
    """x, y and z win over the place's; a mass above the roof line without a place counts as roof load."""
    loads = [
        {"name": "fridge", "mass": "40 kg", "place": "load-floor"},
        {"name": "dog", "mass": "25 kg", "x": "0.5 m", "y": "0.3 m", "z": "0.9 m"},
        {"name": "canoe", "mass": "30 kg", "x": "1 m", "z": "2.1 m"},
        {"name": "can", "mass": "20 kg", "place": "roof", "y": "-0.4 m", "used_up": True},
    ]
    fridge, dog, canoe, can = aboard(vehicle(load=loads)).loads
    assert (fridge.x_m, fridge.place, fridge.on_roof) == (-0.2, "load-floor", False)
    assert (dog.x_m, dog.y_m, dog.on_roof) == (0.5, 0.3, False)
    assert canoe.on_roof and canoe.place is None
    assert (can.y_m, can.x_m, can.on_roof, can.used_up) == (-0.4, 1.05, True, True)


def test_a_trailer_hangs_its_ball_load_on_the_rear_end() -> None:
    trailer = {"name": "box trailer", "mass": "900 kg", "ball_load": "90 kg"}
    ball = aboard(vehicle(trailer=trailer)).ball
    assert [(e.mass_kg, e.x_m, e.kind) for e in ball] == [(90, -1.2, "ball")]
    bare = build(places={k: v for k, v in vehicle().archetype.model_dump(by_alias=True)["places"].items() if False})
    assert aboard(vehicle(on=bare, trailer=trailer)).ball[0].x_m == -1.1


def test_kit_lines_become_one_mass_each_with_their_packs() -> None:
    kit = SomeKit((KitLine("shovel", 2, 2.3, "wagon", "load-floor"), KitLine("shovel", 1, 2.3, "other", "roof")))
    found = kit_entries(vehicle(), kit, library())
    assert [(e.name, e.mass_kg, e.packs, e.kind) for e in found] == [("long-handled shovel", 4.6, 2, "kit")]


def test_unknown_places_are_told_all_at_once_with_the_nearest_name() -> None:
    loads = [
        {"name": "fridge", "mass": "40 kg", "place": "load-flor"},
        {"name": "dog", "mass": "25 kg", "y": "0.3 m"},
    ]
    kit = SomeKit((KitLine("shovel", 1, 2.3, "wagon", "rooff"),))
    found = [str(f) for f in place_faults(vehicle(load=loads), kit)]
    assert found[0].startswith("vehicles/wagon.toml: load 'fridge' is in unknown place 'load-flor'; expected one of: ")
    assert found[0].endswith("did you mean 'load-floor'?")
    assert found[1] == "vehicles/wagon.toml: load 'dog' has no place; expected a 'place', or 'x' and 'z'"
    assert "kit item 'shovel' is in unknown place 'rooff'" in found[2]


def test_everything_that_leaves_is_there_once() -> None:
    loads, one = weighed(
        fitted=["rack", "tent", "winch-bar", "long-tank", "tank"],
        crew=2,
        water="60 L",
        load=[{"name": "boxes", "mass": "120 kg", "place": "load-floor"}],
        trailer={"name": "trailer", "mass": "900 kg", "ball_load": "90 kg"},
    )
    parts = 30 + 60 + 90 + 20 + 10
    expected = 2200 + parts + 70 * 0.845 + 150 + 60 + 15 * 0.06 + 120 + 90
    assert loads.states["departure"].gross_kg == pytest.approx(expected)
    assert loads.states["departure"].combination_kg == pytest.approx(expected - 90 + 900)
    assert one.id == "wagon"
