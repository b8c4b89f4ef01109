"""Gear against the vehicles it must serve."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from loaded_case import build, gear, library, trip, vehicle

from fieldkit.loads import weigh
from fieldkit.recovery import gear_refused, strap_accepts
from fieldkit.recovery.figures import recovery_figures
from fieldkit.recovery.gear import rated_gear, refused_for, strap_partners, winches, working_kgf
from fieldkit.specs.trip import Trip, Vehicle


def heavy(gross: float, **changes: Any) -> Vehicle:
    limits = {"gross_limit": f"{gross} kg", "front_limit": f"{gross / 2} kg", "rear_limit": f"{gross * 0.7} kg"}
    return vehicle(on=build(masses=limits), **changes)


def refused(whole: Trip) -> dict[str, str]:
    return gear_refused(whole, weigh(whole))


def test_straps_alone_go_by_the_vehicles_own_gross_mass() -> None:
    """3,000 kg alone: 6,000 to 9,000 kg of breaking strength."""
    found = refused(trip(vehicle()))
    straps = {k: i.rating_kg for k, i in gear().items() if "strap" in k or "rope" in k}
    for key in ("recovery-strap", "kinetic-rope", "kinetic-rope-medium"):
        assert strap_accepts(straps[key] or 0, 3000) and key not in found
    assert found["recovery-strap-light"] == "breaks at 5000 kg, below 2 times the 3000 kg of the lighter vehicle"
    assert found["recovery-strap-heavy"] == (
        "breaks at 12000 kg, above 3 times the 3000 kg of the lighter vehicle: it would not stretch"
    )


def test_between_two_vehicles_the_lighter_one_counts() -> None:
    """1,850 kg and 3,000 kg: a strap of 8,000 kg is too stiff for the lighter."""
    found = refused(trip(heavy(1850, key="light"), vehicle("wagon")))
    assert "recovery-strap" in found
    assert "recovery-strap-light" not in found


def test_a_strap_that_suits_one_pair_is_offered_and_its_partners_named() -> None:
    light, one, two = heavy(1850, key="light"), vehicle("one"), vehicle("two")
    whole = trip(light, one, two)
    assert "recovery-strap" not in refused(whole)
    strap, figures = library().items["recovery-strap"], recovery_figures()
    assert strap_partners(strap, one, whole, figures) == (["Two"], ["Light"])
    loads = weigh(whole)
    assert "recovery-strap" in dict(refused_for(light, whole, loads))
    assert "recovery-strap" not in dict(refused_for(one, whole, loads))


def test_a_shackle_rated_below_the_laden_mass_is_refused_and_the_heavier_is_not() -> None:
    """5,200 kg laden: 4.75 t shackles and 5 t soft shackles are too weak, 8.5 t ones are not."""
    truck = heavy(5500, key="truck", load=[{"name": "m", "mass": "3000 kg", "x": "0.8 m", "z": "1 m"}])
    found = refused(trip(truck))
    assert found["bow-shackle"] == "4750 kg is below the 5200 kg that Truck needs"
    assert "soft-shackle" in found and "bow-shackle-heavy" not in found


def test_one_heavy_vehicle_is_enough_to_refuse_what_anybody_may_pick_up() -> None:
    truck = heavy(5500, key="truck", load=[{"name": "m", "mass": "3000 kg", "x": "0.8 m", "z": "1 m"}])
    assert "bow-shackle" in refused(trip(vehicle("wagon"), truck))
    assert "bow-shackle" not in refused(trip(vehicle("wagon")))


def test_a_block_must_bear_twice_the_strongest_winch() -> None:
    """4,300 kg rated, 3,784 on the planned layer: 7,568 kg on the block."""
    assert "snatch-block" not in refused(trip(vehicle(fitted=["winch-bar"])))
    weak = {**gear(), "snatch-block": gear()["snatch-block"].model_copy(update={"rating_kg": 7000.0})}
    whole = trip(vehicle(fitted=["winch-bar"]), lib=library(items=weak))
    assert refused(whole)["snatch-block"] == "7000 kg is below the 7568 kg that Wagon needs"
    no_winch = trip(vehicle(), lib=library(items=weak))
    assert "snatch-block" not in refused(no_winch)


def test_jacks_go_by_the_heavier_axle() -> None:
    """A farm jack of 2,000 kg lifts three quarters of an axle: up to 2,667 kg of it."""
    loaded = heavy(5500, key="truck", load=[{"name": "m", "mass": "2500 kg", "x": "0.4 m", "z": "1 m"}])
    found = refused(trip(loaded))
    assert "farm-jack" in found and "bottle-jack" not in found


def test_gear_without_a_rating_or_a_rule_is_never_refused() -> None:
    keys = {k for k, _, _ in rated_gear(trip(vehicle()), recovery_figures())}
    assert {"shovel", "recovery-boards", "line-damper"} & keys == set()


def test_every_rule_is_for_an_item_of_the_shipped_gear() -> None:
    """A rule for an item that is gone would go unnoticed."""
    rules = recovery_figures().gear
    assert set(rules) <= set(gear())
    rated = {k for k, i in gear().items() if i.rating_kg is not None and i.kind == "recovery"}
    assert rated <= set(rules)


def test_breaking_strengths_count_by_their_working_share() -> None:
    figures, items = recovery_figures(), library().items
    strap, shackle = items["tree-protector"], items["bow-shackle"]
    assert working_kgf(figures.gear["tree-protector"], strap, figures) == 4000
    assert working_kgf(figures.gear["bow-shackle"], shackle, figures) == 4750


def test_trailers_need_no_recovery_gear_of_their_own() -> None:
    trailer = vehicle(
        "trailer", on=build(features=["trailer"], seats=0, seat_rows=[], masses={"gross_limit": "1500 kg"})
    )
    with_trailer, alone = trip(vehicle("wagon"), trailer), trip(vehicle("wagon"))
    assert refused(with_trailer) == refused(alone)


def test_the_strongest_winch_comes_first() -> None:
    whole = trip(vehicle("b", fitted=["winch-bar"]), vehicle("a", fitted=["winch-bar"]), vehicle("c"))
    assert [w.vehicle.id for w in winches(whole)] == ["a", "b"]


@given(st.floats(1000, 8000), st.floats(1000, 8000), st.floats(1000, 30_000))
def test_a_strap_offered_suits_some_pair(one: float, other: float, mbs: float) -> None:
    """Property: refused exactly when the lighter vehicle's mass does not suit it."""
    strap = gear()["recovery-strap"].model_copy(update={"rating_kg": mbs})
    whole = trip(heavy(one, key="one"), heavy(other, key="two"), lib=library(items={**gear(), "recovery-strap": strap}))
    found = "recovery-strap" in gear_refused(whole, weigh(whole))
    assert found is not strap_accepts(mbs, min(one, other))


@pytest.mark.parametrize("share", [0.9, 1.0])
def test_the_mass_with_the_kit_counts_where_there_is_one(share: float) -> None:
    """A shackle of 4,750 kg; the state with the kit decides."""
    whole = trip(heavy(5500, key="truck"))
    loads = weigh(whole)
    truck = loads["truck"]
    state = replace(truck.states["departure"], gross_kg=4750 / share)
    loads = replace(loads, vehicles={"truck": replace(truck, states={**truck.states, "with-kit": state})})
    assert ("bow-shackle" in gear_refused(whole, loads)) is (share < 1)
