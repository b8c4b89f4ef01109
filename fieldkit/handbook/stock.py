"""Stock as it changes: the page, and the data that its script reckons with."""

from __future__ import annotations

from typing import Any

from fieldkit.exposure.water import water_carried_l
from fieldkit.handbook.coverage import by_kind, lacking, stock_left
from fieldkit.handbook.facts import Facts, Page
from fieldkit.handbook.vehicles import vehicle_ref
from fieldkit.specs.library import Procedure
from fieldkit.specs.trip import Vehicle

WAYS = (("used", "used up"), ("lost", "lost"), ("lent", "lent"), ("left", "left with a vehicle"))


def stock_page(facts: Facts) -> Page:
    """Everything carried, by vehicle and place; where scripts run, with buttons to mark what has changed."""
    vehicles = []
    for v in facts.vehicles:
        lines = [line for line in stock_lines(facts) if line["vehicle"] == v.id]
        vehicles.append({**vehicle_ref(facts, v), "lines": lines})
    context = {"vehicles": vehicles, "note": facts.words["front"]["marks_note"], "only_one": _only_ones(facts)}
    return Page("stock", facts.words["titles"]["stock"], "stock.html", "stock", context)


def stock_lines(facts: Facts) -> list[dict[str, Any]]:
    """One line per item and place, in page order."""
    return [
        {
            "item": s.item,
            "name": facts.item_name(s.item),
            "vehicle": s.vehicle,
            "place": s.place,
            "place_name": s.place_name,
            "quantity": s.quantity,
            "suits": " ".join(s.suits),
            "meant_for": facts.meant_for(s.suits) if s.suits != (s.vehicle,) else "",
        }
        for spots in facts.spots.values()
        for s in spots
    ]


def _only_ones(facts: Facts) -> list[str]:
    """What must not be lost: single packs without which a vehicle has no repair left for a weak point that stops it, likeliest first.

    Waiting and being towed are always left; they are no repairs here.
    """
    packed = by_kind(facts.lines, stock_left(facts.lines, (), {}, facts.features))
    single = {kind for kind, packs in packed.items() if packs == 1}
    at_stake: dict[tuple[str, str], float] = {}
    for vehicle in facts.vehicles:
        mine = {item: (item, suits) for item, suits in single if not suits or vehicle.id in suits.split()}
        for risk in facts.risks_of(vehicle.id):
            if facts.mode(risk.mode).severity not in ("disabled", "unsafe"):
                continue
            repairs = _real_repairs(facts, vehicle, risk.mode)
            for item in {i for p in repairs for i in p.items()} & set(mine):
                if all(_needs(facts, vehicle, p, item) for p in repairs):
                    at_stake[mine[item]] = at_stake.get(mine[item], 0.0) + risk.expected.value
    found = sorted(at_stake, key=lambda kind: (-at_stake[kind], kind))
    return [
        facts.item_name(item) + (f" for {facts.meant_for(suits.split())}" if suits else "")
        for item, suits in found[: facts.words["front"]["only_ones"]]
    ]


def _real_repairs(facts: Facts, vehicle: Vehicle, mode: str) -> list[Procedure]:
    """Covered field repairs of a weak point on a vehicle that mend it or get it out."""
    return [
        p
        for p in facts.repairs_of.get(mode, ())
        if p.head.kind != "way-out" and vehicle in facts.suits(p.id) and not facts.lacks(p.id, vehicle.id)
    ]


def _needs(facts: Facts, vehicle: Vehicle, procedure: Procedure, item: str) -> bool:
    """Whether a covered repair is no longer covered with one pack of an item less."""
    stock = facts.stock_for[vehicle.id]
    left = {**stock, item: stock.get(item, 0.0) - 1.0}
    return bool(lacking(procedure.items(), left, facts.gear, facts.features[vehicle.id]))


def stock_data(facts: Facts) -> dict[str, Any]:
    """What the page's script needs to say at once what is no longer covered.

    ``items`` with stand-ins and the vehicles they suit, ``lines`` as packed, ``repairs`` with needs and vehicles,
    ``vehicles`` with seats, water and fuel. Where an item suits, or a repair is for, ``all`` vehicles, none are listed.
    """
    items = sorted({i for p in facts.numbered for i in p.items()} | set(facts.spots))
    return {
        "items": {i: _item(facts, i) for i in items},
        "lines": [
            {
                "item": x["item"],
                "vehicle": x["vehicle"],
                "place": x["place"],
                "placeName": x["place_name"],
                "quantity": x["quantity"],
                "suits": x["suits"],
            }
            for x in stock_lines(facts)
        ],
        "repairs": {p.id: _repair(facts, p) for p in facts.numbered if facts.suits(p.id)},
        "vehicles": {v.id: _vehicle(facts, v) for v in facts.vehicles},
        "all": [v.id for v in facts.vehicles],
        "kinds": {p.head.kind: facts.words.label("kinds", p.head.kind) for p in facts.numbered},
        "people": facts.trip.head.party.people,
        "waterPerDay": facts.plan.exposure.supplies.water_l_per_person_day,
    }


def _item(facts: Facts, item: str) -> dict[str, Any]:
    gear = facts.gear.get(item)
    suits = [v.id for v in facts.vehicles if gear and gear.fits <= facts.features[v.id]]
    said: dict[str, Any] = {"name": facts.item_name(item)}
    if gear and gear.stand_ins:
        said["standIns"] = list(gear.stand_ins)
    return said if len(suits) == len(facts.vehicles) else {**said, "suits": suits}


def _repair(facts: Facts, procedure: Any) -> dict[str, Any]:
    vehicles = [v.id for v in facts.suits(procedure.id)]
    said = {
        "title": procedure.head.title,
        "number": facts.numbers[procedure.id],
        "kind": procedure.head.kind,
        "needs": {i: float(n) for i, n in sorted(procedure.items().items())},
    }
    return said if len(vehicles) == len(facts.vehicles) else {**said, "vehicles": vehicles}


def _vehicle(facts: Facts, vehicle: Any) -> dict[str, Any]:
    return {
        "name": vehicle.name,
        "seats": vehicle.archetype.seats,
        "water": water_carried_l(vehicle),
        "fuel": vehicle.archetype.fuel_tank_l + sum(part.fuel_l for _, part in vehicle.modifications),
        "fuelKind": vehicle.archetype.fuel,
        "payloadLeft": facts.plan.loads[vehicle.id].payload_left_kg,
    }
