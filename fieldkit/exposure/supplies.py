"""Fuel, water and food of the whole trip: what is needed, carried and used up, and where the plan fails."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fieldkit.exposure.fuel import (
    FuelUse,
    Station,
    cans_needed,
    cans_of,
    fuel_lines,
    fuel_use,
    share_owned,
    stations,
    suits,
)
from fieldkit.exposure.opening import parse_opening
from fieldkit.exposure.result import Can, Floats, FuelLine, LegExposure, Supplies
from fieldkit.exposure.roads import Roads
from fieldkit.exposure.schedule import Schedule
from fieldkit.exposure.settings import SupplyFigures, said
from fieldkit.exposure.water import WaterGap, daily_water_l, vessels, water_carried_l, water_gaps
from fieldkit.exposure.words import clock, days, span
from fieldkit.loads.figures import load_figures
from fieldkit.loads.result import Loads
from fieldkit.specs.trip import Trip, Vehicle


@dataclass(frozen=True)
class Provisions:
    """Supplies with what turn-back points and the water margin need of them.

    ``uses``, ``stops``, ``lines`` by vehicle id, for vehicles that burn fuel; ``gaps`` between places with water.
    """

    supplies: Supplies
    uses: dict[str, FuelUse]
    stops: dict[str, list[Station]]
    lines: dict[str, list[FuelLine]]
    gaps: tuple[WaterGap, ...]


@dataclass
class _Case:
    """One trip's reckoning; ``faults`` and ``notes`` grow as it goes."""

    trip: Trip
    legs: tuple[LegExposure, ...]
    roads: Roads
    schedule: Schedule
    loads: Loads | None
    figures: SupplyFigures
    names: tuple[str, str]
    faults: list[str]
    notes: list[str]


def reckon_supplies(
    trip: Trip,
    legs: Sequence[LegExposure],
    roads: Roads,
    schedule: Schedule,
    loads: Loads | None,
    figures: SupplyFigures,
    names: tuple[str, str],
    reserve_l: float,
) -> Provisions:
    """Everything the party uses up: by leg, between places where it can be had, and against what is carried.

    Parameters
    ----------
    names : (str, str)
        How the bare start and end of the route are called.
    reserve_l : float
        Must-carry water, which is for waiting [L].

    Returns
    -------
    Provisions
        With faults said plainly where the next fuel or water cannot be reached with the reserve.
    """
    case = _Case(trip, tuple(legs), roads, schedule, loads, figures, names, [], [])
    uses, stops, lines, cans = _fuel(case)
    gaps = water_gaps(trip, schedule, figures.water, names)
    per_day = daily_water_l(trip.head.climate, figures.water)
    needed, carried = _water(case, gaps, per_day, reserve_l)
    food = _food(case)
    owned_l = {can.vehicle: can.owned * figures.fuel.can_l for can in cans}
    parts = {
        v.id: _used(case, v, uses.get(v.id), stops.get(v.id, []), owned_l.get(v.id, 0.0), gaps, per_day)
        for v in trip.vehicles
    }
    supplies = Supplies(
        fuel=tuple(line for found in lines.values() for line in found),
        water_l_per_person_day=per_day,
        water_needed_l=needed,
        water_carried_l=carried,
        food_days=food,
        used_kg=parts,
        faults=tuple(case.faults),
        notes=tuple(dict.fromkeys(case.notes)),
        cans=cans,
        can_fuel_kg=_can_fuel_kg(case),
        vessels=vessels(trip.vehicles, figures.water),
        water_waiting_l_per_person_day=daily_water_l(trip.head.climate, figures.water, waiting=True),
        water_reserve_l=reserve_l,
    )
    return Provisions(supplies, uses, stops, lines, gaps)


# ------------------------------------------------------------------------------------------- fuel
def _fuel(
    case: _Case,
) -> tuple[dict[str, FuelUse], dict[str, list[Station]], dict[str, list[FuelLine]], tuple[Can, ...]]:
    rule, trip = case.figures.fuel, case.trip
    uses = {v.id: fuel_use(v, case.legs, trip.library, case.loads, rule) for v in trip.vehicles if _burns(case, v)}
    stops = {v: stations(use, case.roads, trip.library, rule, case.names) for v, use in uses.items()}
    lines = {v: fuel_lines(use, stops[v], case.roads, use.tank_l, rule) for v, use in uses.items()}
    cans = _cans(case, uses, lines)
    for vehicle, can in cans.items():
        carried = uses[vehicle].tank_l + can.owned * rule.can_l
        lines[vehicle] = fuel_lines(uses[vehicle], stops[vehicle], case.roads, carried, rule)
    for vehicle, use in uses.items():
        _fuel_words(case, use, stops[vehicle], lines[vehicle], cans.get(vehicle))
    _station_words(case)
    return uses, stops, lines, tuple(cans.values())


def _cans(case: _Case, uses: dict[str, FuelUse], lines: dict[str, list[FuelLine]]) -> dict[str, Can]:
    """Cans by vehicle, for those whose tank does not reach; owned ones shared out in convoy order."""
    rule = case.figures.fuel
    needed: dict[str, tuple[str, int]] = {}
    for vehicle, found in lines.items():
        item, count = rule.cans.get(uses[vehicle].vehicle.archetype.fuel), cans_needed(found, rule)
        if item and count:
            needed[vehicle] = (item, count)
    owned = share_owned(needed, case.trip)
    return {v: cans_of(v, item, count, owned[v], case.trip, rule) for v, (item, count) in needed.items()}


def _can_fuel_kg(case: _Case) -> dict[str, float]:
    """Item id of a full can -> the fuel in it [kg]."""
    density, rule = load_figures(case.trip.library).density, case.figures.fuel
    return {item: rule.can_l * density.get(fuel, 0.0) for fuel, item in rule.cans.items()}


def _burns(case: _Case, vehicle: Vehicle) -> bool:
    """Whether a vehicle's range can be reckoned; an electric one is told apart."""
    build = vehicle.archetype
    if build.fuel == "electric":
        case.notes.append(said(case.figures.text, "electric", vehicle=vehicle.name))
    return build.fuel in ("diesel", "petrol") and build.consumption_l_per_100km > 0


def _fuel_words(
    case: _Case, use: FuelUse, halts: Sequence[Station], lines: Sequence[FuelLine], can: Can | None
) -> None:
    text, name = case.figures.text, use.vehicle.name
    if not any(halt.point is not None for halt in halts):
        case.notes.append(said(text, "no_fuel", vehicle=name, fuel=use.vehicle.archetype.fuel))
    for line in lines:
        if line.margin_l < 0:
            case.faults.append(_short_words(case, use, line))
    if can and can.owned:
        worst = min(lines, key=lambda line: line.margin_l)
        case.notes.append(
            said(
                text,
                "owned_can" if can.owned == 1 else "owned_cans",
                vehicle=name,
                cans=can.owned,
                fuel=use.vehicle.archetype.fuel,
                from_=worst.from_name,
                to=worst.to_name,
                mass=f"{can.mass_kg * can.owned / can.count:.0f}",
            )
        )


def _short_words(case: _Case, use: FuelUse, line: FuelLine) -> str:
    figures = case.figures.fuel
    cans = int(np.ceil(-line.margin_l / figures.can_l - 1e-9))
    values: dict[str, object] = {
        "vehicle": use.vehicle.name,
        "from_": line.from_name,
        "to": line.to_name,
        "needed": f"{line.needed_l:.0f}",
        "reserve": f"{line.reserve_l:.0f}",
        "carried": f"{line.carried_l:.0f}",
        "short": f"{np.ceil(-line.margin_l):.0f}",
        "cans": cans,
        "can": f"{figures.can_l:g}",
    }
    if line.needed_l > line.carried_l:
        values["km"] = f"{line.km * (line.needed_l - line.carried_l) / line.needed_l:.0f}"
        return said(case.figures.text, "dry", **values)
    return said(case.figures.text, "short" if cans == 1 else "short_cans", **values)


def _station_words(case: _Case) -> None:
    """Fuel points whose fuels are unknown, or that are likely shut when the trip comes by."""
    for j, point in enumerate(case.roads.points):
        if "fuel" not in point.kind:
            continue
        if not point.fuels and any(suits(point, v) for v in case.trip.vehicles):
            case.notes.append(said(case.figures.text, "fuels_unknown", name=point.name))
        if point.km is not None and case.roads.km[0] + 1 < point.km:
            _shut_words(case, j)
    case.notes.append(case.figures.text["fuel_points"])
    if len({v.archetype.fuel for v in case.trip.vehicles} & {"diesel", "petrol"}) > 1:
        case.notes.append(case.figures.text["mixed"])
    if case.loads is None:
        case.notes.append(case.figures.text["no_loads"])


def _shut_words(case: _Case, j: int) -> None:
    point = case.roads.points[j]
    here = case.roads.km[[case.roads.nearest(point.km or 0.0)]]
    at = case.schedule.at(here)
    wait = float(parse_opening(point.open).wait(case.schedule.week(at))[0])
    if wait > 0:
        values = {"name": point.name, "clock": clock(float(at[0]) % 24.0), "open": point.open, "hours": span(wait)}
        case.notes.append(said(case.figures.text, "shut", **values))


# ------------------------------------------------------------------------------------------ water
def _water(case: _Case, gaps: Sequence[WaterGap], per_day: float, reserve: float) -> tuple[float, float]:
    """Litres needed for the driest stretch with its reserve, and carried; faults where the one is above the other."""
    rule, text = case.figures.water, case.figures.text
    people = case.trip.head.party.people
    carried = sum(water_carried_l(v) for v in case.trip.vehicles)
    hand = max(0.0, rule.in_hand_days * per_day * people - reserve)
    needed = [gap.days * per_day * people + hand for gap in gaps]
    for gap, litres in zip(gaps, needed, strict=True):
        if litres > carried:
            values: dict[str, object] = {
                "from_": gap.from_name,
                "to": gap.to_name,
                "needed": f"{litres:.0f}",
                "people": people,
                "days": f"{gap.days:.1f}",
                "hand": days(rule.in_hand_days),
                "carried": f"{carried:.0f}",
                "short": f"{litres - carried:.0f}",
            }
            case.faults.append(said(text, "water_short", **values))
    _vessel_words(case, reserve)
    return max(needed, default=0.0), carried


def _vessel_words(case: _Case, reserve: float) -> None:
    text, vehicles = case.figures.text, case.trip.vehicles
    case.notes.append(said(text, "shared", reserve=f"{reserve:.0f}"))
    if vessels(vehicles, case.figures.water) == 1:
        case.faults.append(text["one_vessel"])
    for vehicle in vehicles:
        if vehicle.entry.crew and not water_carried_l(vehicle):
            case.faults.append(said(text, "dry_vehicle", vehicle=vehicle.name))


# ------------------------------------------------------------------------------------------- food
def _food(case: _Case) -> float:
    """Days of food: the trip's and those in hand, more where rain can close the road."""
    rule, trip_days = case.figures.food, case.trip.head.days
    rain = any(leg.surface in rule.closes_in_rain for leg in case.legs)
    hand = max(rule.in_hand_days, rule.rain_closed_days if rain else 0.0)
    why = case.figures.text["food_rain"] if rain else ""
    total = trip_days + hand
    case.notes.append(
        said(case.figures.text, "food", days=f"{total:g}", trip=days(trip_days), hand=days(hand), why=why)
    )
    return total


# ------------------------------------------------------------------------------------- used by leg
def _used(
    case: _Case,
    vehicle: Vehicle,
    use: FuelUse | None,
    halts: Sequence[Station],
    cans_l: float,
    gaps: Sequence[WaterGap],
    per_day: float,
) -> dict[str, Floats]:
    """Kilograms used up by the end of each leg, by fuel, water and food; full again where it can be had."""
    ends = np.array([leg.to_km for leg in case.legs])
    density = load_figures(case.trip.library).density
    fuel = np.zeros(len(ends))
    if use is not None:
        litres = np.array([_since_station(use, halts, km) for km in ends])
        fuel = np.minimum(litres, use.tank_l + cans_l) * density.get(vehicle.archetype.fuel, 0.0)
    return {"fuel": fuel, "water": _water_used(case, vehicle, gaps, per_day), "food": _food_used(case, vehicle)}


def _since_station(use: FuelUse, halts: Sequence[Station], km: float) -> float:
    """Litres used since the tank was last filled; a tank is filled on reaching a station."""
    passed = [halt for halt in halts if halt.km <= km + 1e-6 and (halt.point is not None or halt is halts[0])]
    last = passed[-1] if passed else halts[0]
    return use.by(km) - use.by(last.km) + (last.off_l if last.km < km else 0.0)


def _water_used(case: _Case, vehicle: Vehicle, gaps: Sequence[WaterGap], per_day: float) -> Floats:
    """A vehicle's share of the party's water [kg], by what it carries of it."""
    carried = water_carried_l(vehicle)
    total = sum(water_carried_l(v) for v in case.trip.vehicles)
    if not total:
        return np.zeros(len(case.legs))
    party = per_day * case.trip.head.party.people
    litres = np.array([_since_water(case, gaps, leg) for leg in case.legs]) * party / 24.0
    return np.asarray(np.minimum(litres * carried / total, carried))


def _since_water(case: _Case, gaps: Sequence[WaterGap], leg: LegExposure) -> float:
    """Hours since the vessels were last full, at the end of a leg."""
    at = float(case.schedule.end_h[leg.index])
    filled = [gap.from_h for gap in gaps if gap.from_km <= leg.to_km + 1e-6]
    if gaps and leg.to_km >= gaps[-1].to_km - 1e-6 and gaps[-1].to_name != case.names[1]:
        return 0.0
    return max(at - filled[-1], 0.0) if filled else at - float(case.schedule.start_h[0])


def _food_used(case: _Case, vehicle: Vehicle) -> Floats:
    """Loads that are marked as used up, evenly over the trip's days [kg]."""
    mass = sum(load.mass_kg for load in vehicle.spec.load if load.used_up)
    return np.array([mass * min(leg.day / case.trip.head.days, 1.0) for leg in case.legs])
