"""Fuel: litres by leg, ranges between stations with their reserve, and cans where the tank does not reach."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fieldkit.exposure.result import Can, Floats, FuelLine, LegExposure
from fieldkit.exposure.roads import Roads
from fieldkit.exposure.settings import FuelFigures
from fieldkit.loads.fitted_tyres import features_of
from fieldkit.loads.result import Loads
from fieldkit.specs.library import Library
from fieldkit.specs.trip import Help, Trip, Vehicle

GRAVITY = 9.80665


@dataclass(frozen=True)
class Station:
    """A place on the route where a vehicle can fill up; ``point`` is its index in the road graph, None at the bare ends."""

    name: str
    km: float
    off_l: float
    point: int | None


@dataclass(frozen=True)
class FuelUse:
    """A vehicle's fuel along the route.

    ``leg_l`` (legs,): litres of each leg; ``per_100_fuel_km``: litres for 100 km of sealed road at today's mass;
    ``tank_l``: what the tanks hold.
    """

    vehicle: Vehicle
    legs: tuple[LegExposure, ...]
    leg_l: Floats
    per_100_fuel_km: float
    tank_l: float

    def by(self, km: float) -> float:
        """Litres used from the start of the route to a kilometre, nothing filled up."""
        ends = np.array([self.legs[0].from_km, *(leg.to_km for leg in self.legs)])
        return float(np.interp(km, ends, np.concatenate([[0.0], np.cumsum(self.leg_l)])))


def fuel_use(
    vehicle: Vehicle, legs: Sequence[LegExposure], library: Library, loads: Loads | None, figures: FuelFigures
) -> FuelUse:
    """Litres by leg from consumption, surface, mass, gear on the roof, trailer and climb.

    Parameters
    ----------
    loads : Loads or None
        For the mass; the build's reference mass when None.

    Returns
    -------
    FuelUse
        Litres are consumption x km x the surface's fuel factor x mass factor, and m g h of the climb (less what the
        descent gives back) over the engine's efficiency and the fuel's heating value.
    """
    build = vehicle.archetype
    per_100 = build.consumption_l_per_100km * _mass_factor(vehicle, loads, figures) * _gear_factor(vehicle, figures)
    factors = np.array([library.surfaces[leg.surface].fuel_factor for leg in legs])
    km = np.array([leg.km for leg in legs])
    lifted = np.array([_lifted_m(leg, figures) for leg in legs])
    litres = per_100 * km * factors / 100.0 + climb_litres(_gross_kg(vehicle, loads), lifted, build.fuel, figures)
    tank = build.fuel_tank_l + sum(part.fuel_l for _, part in vehicle.modifications)
    return FuelUse(vehicle, tuple(legs), np.asarray(litres), per_100, tank)


def climb_litres(mass_kg: float, lifted_m: Floats, fuel: str, figures: FuelFigures) -> Floats:
    """Fuel that lifts a mass: m g h / (efficiency x heating value) [L].

    Parameters
    ----------
    mass_kg : float
        Gross mass [kg].
    lifted_m : array
        Height gained net of what the descent gives back [m].
    fuel : str
        A key of the settings' heating values; another lifts for nothing.

    Examples
    --------
    >>> from fieldkit.exposure.settings import supply_figures
    >>> climb_litres(3000.0, np.array([1000.0]), "diesel", supply_figures().fuel).round(2)
    array([2.73])
    """
    energy = figures.energy_mj_per_l.get(fuel)
    if not energy or not figures.efficiency:
        return np.zeros_like(lifted_m)
    return np.asarray(mass_kg * GRAVITY * lifted_m / (figures.efficiency * energy * 1e6))


def _lifted_m(leg: LegExposure, figures: FuelFigures) -> float:
    return max(0.0, (leg.climb_m or 0.0) - figures.given_back * (leg.descent_m or 0.0))


def _gross_kg(vehicle: Vehicle, loads: Loads | None) -> float:
    if loads is None or vehicle.id not in loads.vehicles:
        return vehicle.archetype.masses.gross_limit_kg
    state = loads[vehicle.id].states.get("departure")
    if state is None:
        return vehicle.archetype.masses.gross_limit_kg
    return state.combination_kg or state.gross_kg


def _mass_factor(vehicle: Vehicle, loads: Loads | None, figures: FuelFigures) -> float:
    if loads is None or vehicle.id not in loads.vehicles:
        return 1.0
    return max(0.5, 1.0 + figures.per_mass * (loads[vehicle.id].ratios.get("mass", 1.0) - 1.0))


def _gear_factor(vehicle: Vehicle, figures: FuelFigures) -> float:
    factor = figures.trailer if vehicle.spec.trailer else 1.0
    for feature in sorted(features_of(vehicle)):
        factor *= figures.features.get(feature, 1.0)
    return factor


# --------------------------------------------------------------------------------------- stations
def stations(
    use: FuelUse, roads: Roads, library: Library, figures: FuelFigures, names: tuple[str, str]
) -> list[Station]:
    """Where a vehicle can fill up on its way, in order, with the start (tank full) and the end of the route."""
    first, last = use.legs[0].from_km, use.legs[-1].to_km
    found = [
        Station(point.name, min(point.km, last), _beside_l(use, point, library), j)
        for j, point in enumerate(roads.points)
        if point.km is not None and suits(point, use.vehicle) and point.off_km <= figures.station_off_km
    ]
    found.sort(key=lambda s: (s.km, s.name))
    if not found or found[0].km > first + 0.5:
        found.insert(0, Station(names[0], first, 0.0, None))
    if found[-1].km < last - 0.5 or len(found) == 1:
        found.append(Station(names[1], last, 0.0, None))
    return found


def suits(point: Help, vehicle: Vehicle) -> bool:
    """Whether a help point sells the vehicle's fuel; one that does not say which is taken to have it."""
    return "fuel" in point.kind and (not point.fuels or vehicle.archetype.fuel in point.fuels)


def _beside_l(use: FuelUse, point: Help, library: Library) -> float:
    """Litres for the way beside the route, one way."""
    at = next((leg for leg in use.legs if leg.to_km >= (point.km or 0.0)), use.legs[-1])
    factor = library.surfaces[point.surface or at.surface].fuel_factor
    return point.off_km * factor * use.per_100_fuel_km / 100.0


def fuel_lines(
    use: FuelUse, stops: Sequence[Station], roads: Roads, carried_l: float, figures: FuelFigures
) -> list[FuelLine]:
    """One line from each station to the next: needed, reserve and carried [L].

    The reserve is the longer of a share of the way and a fixed detour, and, where the next station may be shut,
    what it takes from there to any other station by road. A station at the very end is taken as home.
    """
    lines = []
    for here, there in itertools.pairwise(stops):
        needed = use.by(there.km) - use.by(here.km) + here.off_l + there.off_l
        detour = max(figures.detour_share * needed, figures.detour_km * use.per_100_fuel_km / 100.0)
        reserve = detour + _if_shut_l(use, there, roads, figures)
        km = there.km - here.km
        lines.append(FuelLine(use.vehicle.id, here.name, there.name, km, needed, reserve, carried_l))
    return lines


def _if_shut_l(use: FuelUse, station: Station, roads: Roads, figures: FuelFigures) -> float:
    """Litres from a shut station to the nearest other one that suits; 0 at home, where none is left ahead or around."""
    if station.point is None or station.km >= use.legs[-1].to_km - figures.home_km:
        return 0.0
    others = [j for j, point in enumerate(roads.points) if j != station.point and suits(point, use.vehicle)]
    reach = roads.between_fuel_km[station.point, others] if others else np.array([np.inf])
    least = float(np.min(reach))
    return least * use.per_100_fuel_km / 100.0 if np.isfinite(least) else 0.0


# ------------------------------------------------------------------------------------------- cans
def cans_needed(lines: Sequence[FuelLine], figures: FuelFigures) -> int:
    """Cans that a vehicle needs beyond its tank on its longest stretch.

    Examples
    --------
    >>> from fieldkit.exposure.settings import supply_figures
    >>> cans_needed([FuelLine("v", "a", "b", 600.0, 80.0, 35.0, 90.0)], supply_figures().fuel)
    2
    """
    short = max((-line.margin_l for line in lines), default=0.0)
    return math.ceil(short / figures.can_l - 1e-9) if short > 0 else 0


def share_owned(needed: dict[str, tuple[str, int]], trip: Trip) -> dict[str, int]:
    """Owned cans by vehicle: first its own in the inventory, then nobody's in particular, then what others leave over.

    Parameters
    ----------
    needed : dict
        Vehicle id -> (item id, cans), in the order in which vehicles choose.
    """
    left: dict[tuple[str, str], int] = {}
    for stock in trip.inventory:
        key = (stock.item, stock.vehicle)
        left[key] = left.get(key, 0) + int(stock.quantity)
    given = dict.fromkeys(needed, 0)
    for whose in ("mine", "free", "others"):
        for vehicle, (item, count) in needed.items():
            for key in sorted(left):
                of = "mine" if key[1] == vehicle else "others" if key[1] else "free"
                if key[0] == item and of == whose:
                    taken = min(count - given[vehicle], left[key])
                    given[vehicle] += taken
                    left[key] -= taken
    return given


def cans_of(vehicle: str, item: str, count: int, owned: int, trip: Trip, figures: FuelFigures) -> Can:
    """So many cans of one vehicle with their litres and mass when full."""
    each = trip.library.items[item].mass_kg if item in trip.library.items else figures.can_l
    return Can(vehicle, item, count, owned, count * figures.can_l, each * count)
