"""The ways back under a limit are computed: each, once done, really brings the vehicle back."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
import scipy.optimize
from hypothesis import given, settings
from hypothesis import strategies as st
from loaded_case import KitLine, SomeKit, build, trip, vehicle, weighed

from fieldkit.loads import ways_back, weigh
from fieldkit.loads.fitted_tyres import fitted_tyre
from fieldkit.loads.limits import limits_of
from fieldkit.loads.result import MassEntry, VehicleLoads
from fieldkit.loads.ways_back import over_by
from fieldkit.specs.trip import Vehicle


def load(name: str, kg: float, place: str = "load-floor") -> dict[str, Any]:
    return {"name": name, "mass": f"{kg} kg", "place": place}


def after(loads: VehicleLoads, one: Vehicle, sentence: str) -> list[MassEntry]:
    """The masses once a sentence about moving and leaving loads has been obeyed."""
    places = {p.name: k for k, p in one.places.items()}
    entries = list(loads.entries)
    moves = re.search(r"Move (.*?)\. ", sentence)
    for name, to in re.findall(r"([\w ]+?) \(\d+ kg\) to ([\w ]+?)(?:,| and|$)", moves[1] if moves else ""):
        i = next(i for i, e in enumerate(entries) if e.name == name.strip())
        spot = one.places[places[to]]
        entries[i] = replace(entries[i], x_m=spot.x_m, y_m=spot.y_m, place=places[to], on_roof=spot.on_roof)
    leaves = re.search(r"Leave (.*?) behind", sentence)
    for name in re.findall(r"([\w ]+?) \(\d+ kg\)", leaves[1] if leaves else ""):
        entries = [e for e in entries if e.name != name.strip().removeprefix("and ")]
    return entries


def test_nothing_over_nothing_to_do() -> None:
    loads, _ = weighed(load=[load("boxes", 100)])
    assert loads.ways_back == ()


def test_moving_comes_before_leaving_when_it_is_enough() -> None:
    """The rear axle is 37 kg over; box a alone takes 41 kg off it when it goes ahead of the axle."""
    things = [
        load("a", 130),
        load("b", 140),
        load("c", 120),
        {"name": "tail", "mass": "225 kg", "x": "-1.2 m", "z": "0.8 m"},
    ]
    loads, one = weighed(load=things)
    assert loads.binding == "rear axle"
    first, second = loads.ways_back[:2]
    assert first.startswith("Move ") and first.endswith("Then every limit is kept.")
    assert second.startswith("Or: Leave ")
    for way in (first, second):
        assert not over_by(limits_of(one, fitted_tyre(one)), after(loads, one, way)), way


def test_the_fewest_kilograms_are_moved() -> None:
    """Either of two boxes would do; the lighter one moves."""
    things = [
        load("heavy box", 150),
        load("light box", 60),
        {"name": "tail", "mass": "360 kg", "x": "-1 m", "z": "0.8 m"},
    ]
    loads, _ = weighed(load=things, on=build(masses={"rear_limit": "1760 kg"}))
    assert loads.verdict == "overloaded"
    way = loads.ways_back[0]
    assert "light box (60 kg) to box ahead of the axle" in way
    assert "heavy box" not in way


def test_nothing_goes_onto_the_roof_or_heavy_into_the_cabin() -> None:
    """A place ahead of the axle is full, so the way back is to leave, though roof and footwell have room."""
    full = {"forward": {"name": "box ahead of the axle", "x": "0.7 m", "z": "0.8 m", "volume": "10 L", "limit": "0 kg"}}
    loads, _ = weighed(
        load=[load("a", 300), {"name": "tail", "mass": "300 kg", "x": "-1.2 m", "z": "0.8 m"}], places=full
    )
    assert loads.verdict == "overloaded"
    assert not any(" to roof" in w or " to footwell" in w for w in loads.ways_back)


def test_over_the_gross_limit_something_stays_behind() -> None:
    """No move lowers the gross mass; the cheapest set of things that is enough stays."""
    things = [
        load("a", 100, "forward"),
        load("b", 70),
        load("c", 300),
        {"name": "m", "mass": "390 kg", "x": "0.8 m", "z": "0.8 m"},
    ]
    loads, one = weighed(load=things)
    assert loads.payload_left_kg == pytest.approx(-60)
    way = loads.ways_back[0]
    assert "Leave b (70 kg) behind" in way
    assert not over_by(limits_of(one, fitted_tyre(one)), after(loads, one, way))


def test_another_vehicle_with_room_is_named() -> None:
    full = vehicle(
        "full", load=[load("a", 370), load("b", 25), {"name": "m", "mass": "420 kg", "x": "1 m", "z": "0.8 m"}]
    )
    empty = vehicle("empty")
    loads = weigh(trip(full, empty))
    assert any("Leave b (25 kg) behind, or hand it over: Empty can take 800 kg" in w for w in loads["full"].ways_back)
    assert loads["empty"].ways_back == ()


def test_a_kits_packs_are_left_one_by_one() -> None:
    kit = SomeKit((KitLine("shovel", 10, 20.0, "wagon", "load-floor"),))
    loads, _ = weighed(kit=kit, load=[{"name": "m", "mass": "625 kg", "x": "0.8 m", "z": "0.8 m"}])
    assert loads.payload_left_kg == pytest.approx(-25)
    assert any("Leave 2 of 10 long-handled shovel (40 kg) behind" in w for w in loads.ways_back)


def test_a_soft_tyre_is_pumped_up_before_anything_is_moved() -> None:
    """At 120 kPa the rear tyres carry 622 kg each; pressure costs no kilogram."""
    loads, _ = weighed(
        crew=2, load=[load("boxes", 300)], tyres={"size": "265/70R16", "front": "200 kPa", "rear": "120 kPa"}
    )
    assert loads.verdict == "overloaded"
    assert loads.ways_back == ("Set the rear tyres to 150 kPa for the road (planned 120 kPa).",)


def test_tyres_too_weak_at_any_pressure_are_to_be_changed() -> None:
    weak = build(tyre={"size": "265/70R16", "load_index": 91})
    loads, _ = weighed(on=weak, crew=2, load=[load("boxes", 300)])
    assert any(w.startswith("Fit tyres of load index 97 or more (now 91)") for w in loads.ways_back)


@pytest.mark.parametrize(("roof_limit", "alone"), [("90 kg", "enough alone"), ("75 kg", "not enough alone")])
def test_a_lighter_part_is_offered_where_it_helps(roof_limit: str, alone: str) -> None:
    """65 kg of bolted boxes on a 30 kg rack; the light rack weighs 16 kg and is rated 70 kg."""
    fixed = {"name": "fixed", "mass": "65 kg", "x": "1 m", "z": "2 m"}
    loads, _ = weighed(fitted=["rack"], load=[fixed], on=build(masses={"roof_limit": roof_limit}))
    assert f"Fit light rack for steel rack: 14 kg less, {alone}." in loads.ways_back
    assert not any("Take off steel rack" in w for w in loads.ways_back)  # things lie on it
    assert not any(w.startswith("Move") for w in loads.ways_back)  # what stands by figures is bolted there


def test_a_lighter_rack_that_is_rated_too_low_is_not_offered() -> None:
    """72 kg on it: 2 kg over the maker's limit with the steel rack, 2 kg over the light one's rating."""
    fixed = {"name": "fixed", "mass": "72 kg", "x": "1 m", "z": "2 m"}
    loads, _ = weighed(fitted=["rack"], load=[fixed])
    assert loads.verdict == "overloaded"
    assert not any("Fit light rack" in w for w in loads.ways_back)


def test_a_part_that_another_needs_is_not_taken_off() -> None:
    loads, _ = weighed(fitted=["rack", "tent"], on=build(masses={"roof_limit": "40 kg"}))
    assert "Take off roof tent (60 kg): enough alone." in loads.ways_back
    assert not any("Take off steel rack" in w for w in loads.ways_back)


def test_what_stays_over_is_said_when_no_loose_thing_is_left() -> None:
    heavy = build(masses={"gross_limit": "2210 kg"})
    loads, _ = weighed(on=heavy, crew=4)
    assert loads.ways_back[0].startswith(
        "Moving or leaving loose things is not enough: still over are gross vehicle mass by "
    )


def test_fuel_and_water_go_last_and_with_their_condition() -> None:
    """Nothing loose is aboard, so only fuel is left to take out; water is dearer and stays."""
    loads, _ = weighed(on=build(masses={"gross_limit": "2290 kg"}), crew=1, water="40 L")
    over = 2200 + 75 + 40 + 40 * 0.06 - 2290
    assert loads.ways_back[0] == (
        f"Carry {over / 0.845:.0f} L less diesel, only if the fuel sums of this trip allow it. Then every limit is kept."
    )


def test_less_fuel_is_an_alternative_to_leaving_a_large_thing() -> None:
    loads, _ = weighed(load=[load("a", 395), {"name": "m", "mass": "420 kg", "x": "1 m", "z": "0.8 m"}])
    assert loads.ways_back[0].startswith("Leave a (395 kg) behind")
    assert loads.ways_back[1].startswith("Or: Carry 18 L less diesel")


def test_a_heavy_ball_is_lightened_inside_the_trailer() -> None:
    trailer = {"name": "the box trailer", "mass": "1200 kg", "ball_load": "165 kg"}
    loads, _ = weighed(trailer=trailer)
    said = "Shift load back inside the box trailer: 15 kg less on the ball; a usual load would be 120 kg."
    assert loads.ways_back == (said, "Leave the box trailer before the hard stretch: enough alone.")


def test_leaving_the_trailer_is_a_way_back() -> None:
    trailer = {"name": "the box trailer", "mass": "2450 kg", "ball_load": "145 kg"}
    loads, _ = weighed(crew=5, trailer=trailer)
    assert "Leave the box trailer before the hard stretch: enough alone." in loads.ways_back


def test_a_search_that_ends_at_its_limit_still_keeps_every_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    """Forty-five things of even mass, an odd sum over: many sets are nearly as good. One node gives a set that is enough."""
    wide = {"load-floor": {"name": "load floor", "x": "0.5 m", "z": "0.9 m", "volume": "5000 L", "limit": "2000 kg"}}
    things = [load(f"thing {i:02d}", 12 + 2 * ((i * 7) % 9)) for i in range(45)]
    monkeypatch.setattr(ways_back, "MOST_NODES", 1)
    loads, one = weighed(load=things, on=build(masses={"gross_limit": "2641 kg", "rear_limit": "3000 kg"}), places=wide)
    way = loads.ways_back[0]
    assert way.endswith("Then every limit is kept.")
    assert not over_by(limits_of(one, fitted_tyre(one)), after(loads, one, way))


def test_a_search_without_an_answer_claims_no_proof(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(scipy.optimize, "milp", lambda *_, **__: scipy.optimize.OptimizeResult(x=None, status=1))
    loads, _ = weighed(load=[load("a", 400), load("b", 500, "forward")])
    assert loads.ways_back[0].startswith("A long search found no set of loose things to move or leave that is enough")
    assert not any(w.startswith(("Move", "Leave", "Or:")) for w in loads.ways_back)


@settings(max_examples=40)
@given(
    st.lists(
        st.tuples(st.integers(5, 160), st.sampled_from(["load-floor", "forward", "footwell"])), min_size=3, max_size=9
    )
)
def test_every_way_by_moving_and_leaving_is_enough(things: list[tuple[int, str]]) -> None:
    """Property: obeying a sentence that ends 'Then every limit is kept' keeps every limit."""
    loads, one = weighed(load=[load(f"thing {chr(97 + i)}", kg, place) for i, (kg, place) in enumerate(things)])
    limits = limits_of(one, fitted_tyre(one))
    for way in loads.ways_back:
        if way.endswith("Then every limit is kept.") and "Carry" not in way:
            assert not over_by(limits, after(loads, one, way)), (way, things)
