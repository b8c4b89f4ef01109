"""The chosen kit keeps every limit, is as good as it says, and comes with its reasons."""

from __future__ import annotations

import itertools
import shutil
from pathlib import Path

import pytest

from fieldkit.kit.must_carry import must_carry
from fieldkit.loads import weigh
from fieldkit.plan import Plan, PlanOptions, make_plan
from fieldkit.specs.library import Library
from fieldkit.specs.read_library import shipped_folder
from fieldkit.specs.read_trip import load_trip

EXAMPLES = shipped_folder("vehicle_specs") / "example_trips"


@pytest.fixture(scope="module", params=["blank", "convoy", "solo"])
def plan(request: pytest.FixtureRequest, library: Library, tmp_path_factory: pytest.TempPathFactory) -> Plan:
    folder = shutil.copytree(EXAMPLES / request.param, tmp_path_factory.mktemp("kit") / request.param)
    return make_plan(load_trip(Path(folder), library), PlanOptions(quick=True))


def test_every_limit_is_kept(plan: Plan) -> None:
    for name, (used, limit) in plan.kit.limits.items():
        assert used <= limit + 1e-6, name


def test_no_vehicle_is_overloaded_by_its_kit(plan: Plan) -> None:
    """Weighed with the kit, every vehicle keeps the limits that it kept without."""
    before = weigh(plan.trip)
    for vehicle in plan.trip.vehicles:
        over = {m.limit for m in before[vehicle.id].margins if m.left_kg < 0}
        worse = [m.words for m in plan.loads[vehicle.id].margins if m.left_kg < -0.5 and m.limit not in over]
        assert worse == [], vehicle.id


def test_places_take_what_is_put_into_them(plan: Plan) -> None:
    """Volume and length of what lies in a place stay within the place."""
    library = plan.trip.library
    for vehicle in plan.trip.vehicles:
        rooms = {r.place: r for r in weigh(plan.trip)[vehicle.id].room}
        litres: dict[str, float] = {}
        for entry in (i for i in plan.kit.items if i.vehicle == vehicle.id):
            item, room = library.items[entry.item], rooms[entry.place]
            litres[entry.place] = litres.get(entry.place, 0.0) + entry.quantity * item.volume_l
            assert room.longest_cm is None or item.longest_cm <= room.longest_cm, (entry.item, entry.place)
        for place, volume in litres.items():
            limit = rooms[place].volume_l
            assert limit is None or volume <= limit + 1e-6, (vehicle.id, place)


def test_what_must_be_carried_is_carried(plan: Plan) -> None:
    stock: dict[str, int] = {}
    for entry in plan.kit.items:
        if entry.must_carry:
            stock[entry.item] = stock.get(entry.item, 0) + entry.quantity
    for asked in must_carry(plan.trip, plan.exposure):
        assert stock.get(asked.item, 0) >= asked.packs, asked.item
        assert asked.why


def test_fuel_rides_only_where_no_one_breathes_its_air(plan: Plan) -> None:
    """Fuel outside the passenger compartment and its load space: usual caution for cans, common practice, no source."""
    for entry in plan.kit.items:
        if entry.item in ("petrol-20l", "diesel-20l"):
            place = plan.trip.vehicle(entry.vehicle).places[entry.place]
            assert place.ventilated, entry
            assert not place.in_cabin, entry


def test_cans_that_the_fuel_plan_counts_on_are_carried_weighed_and_used_up(plan: Plan) -> None:
    supplies = plan.exposure.supplies
    for item in {can.item for can in supplies.cans if can.owned}:
        owned = sum(can.owned for can in supplies.cans if can.item == item)
        assert sum(i.quantity for i in plan.kit.items if i.item == item and i.must_carry) == owned
        fuel = sum(e.fuel_kg for v in plan.loads.vehicles.values() for e in v.entries if e.item == item)
        assert fuel == pytest.approx(plan.kit.stock()[item] * supplies.can_fuel_kg[item])


def test_places_made_for_one_thing_hold_nothing_else(plan: Plan) -> None:
    for entry in plan.kit.items:
        holds = plan.trip.vehicle(entry.vehicle).places[entry.place].holds
        assert not holds or entry.item in holds


def test_the_curve_falls_and_its_bounds_lie_below(plan: Plan) -> None:
    points = plan.kit.curve
    assert points[0].mass_kg == 0
    for one, two in itertools.pairwise(points):
        assert two.hours_lost <= one.hours_lost + 1e-9
    assert all(p.bound <= p.hours_lost + 1e-9 for p in points)
    assert points[-1].hours_lost <= plan.kit.hours_with + 1e-6  # the curve pools the vehicles; the kit is also placed


def test_the_proof_says_how_near(plan: Plan) -> None:
    proof = plan.kit.proof
    assert proof.objective <= proof.bound + 1e-9
    assert proof.gap == pytest.approx((proof.bound - proof.objective) / proof.bound)
    assert proof.optimal == (proof.gap <= 1e-6)
    assert proof.optimal


def test_a_repair_in_the_plan_can_be_done_with_the_kit(plan: Plan) -> None:
    """Tools, supplies and spares of every planned repair are carried, or something that stands in for them."""
    library, stock = plan.trip.library, plan.kit.stock()
    for planned in plan.kit.plan:
        for name in planned.chain:
            for item in library.procedures[name].items():
                there = item in stock or any(s in stock for s in library.items[item].substitutes)
                assert there, (name, item)


def test_every_item_says_what_it_serves_or_must_be_carried(plan: Plan) -> None:
    for entry in plan.kit.items:
        assert entry.must_carry or entry.serves, entry.item


def test_work_keeps_to_hours_and_money_and_required_work_is_done(plan: Plan) -> None:
    chosen = [w for w in plan.kit.work if w.chosen]
    assert sum(w.hours for w in chosen) <= plan.trip.head.limits.workshop_hours + 1e-9
    assert not [w for w in chosen if w.too_late]
    assert len({(w.vehicle, w.mode) for w in chosen}) == len(chosen)
