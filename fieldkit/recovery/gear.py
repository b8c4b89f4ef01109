"""Recovery gear against the vehicles it must serve: what is rated too low, and straps between which vehicles."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

from fieldkit.loads.result import Loads
from fieldkit.recovery.figures import GearRule, RecoveryFigures, recovery_figures
from fieldkit.recovery.rigging import strap_accepts, strap_range_kg, winch_pull_by_layer
from fieldkit.specs.library import Item
from fieldkit.specs.trip import Trip, Vehicle


def gear_refused(trip: Trip, loads: Loads) -> dict[str, str]:
    """Library items that may not be carried for this trip, and why: rated below a vehicle they must serve.

    Straps go by the gross vehicle mass of the lighter of two vehicles: one that suits no pair of the trip is refused (alone: the
    vehicle and a helper at least as heavy). All other gear must suit every vehicle, since anybody may pick it up.

    Parameters
    ----------
    trip : Trip
    loads : Loads
        As weighed, by vehicle.

    Returns
    -------
    dict of str to str
        Item id -> reason, in id order. Items without a rating or without a rule are not in it.
    """
    figures = recovery_figures(trip.library)
    found = {}
    for key, rule, item in rated_gear(trip, figures):
        if rule.role == "strap":
            reason = _strap_reason(item, trip, figures)
        else:
            reasons = (weak_reason(rule, item, v, trip, loads, figures) for v in _driven(trip))
            reason = next((r for r in reasons if r), "")
        if reason:
            found[key] = reason
    return found


def rated_gear(trip: Trip, figures: RecoveryFigures) -> list[tuple[str, GearRule, Item]]:
    """Items of the library that have both a rule and a rating, in id order."""
    items = trip.library.items
    return [
        (key, figures.gear[key], items[key])
        for key in sorted(figures.gear)
        if key in items and items[key].rating_kg is not None
    ]


def working_kgf(rule: GearRule, item: Item, figures: RecoveryFigures) -> float | None:
    """Working load of a piece of gear [kgf]: its rating, or a share of its breaking strength."""
    if item.rating_kg is None:
        return None
    return item.rating_kg * (figures.rigging.breaking_share if rule.breaking else 1.0)


def _driven(trip: Trip) -> list[Vehicle]:
    return [v for v in trip.vehicles if "trailer" not in v.archetype.features]


# ---------------------------------------------------------------------------------------- straps
def strap_pairs(trip: Trip) -> list[tuple[Vehicle | None, Vehicle, float]]:
    """Pairs of vehicles that a strap may join, with the gross vehicle mass of the lighter [kg].

    A vehicle alone is paired with nobody known: any helper is taken to be at least as heavy.
    """
    driven = _driven(trip)
    if len(driven) == 1:
        return [(None, driven[0], driven[0].archetype.masses.gross_limit_kg)]
    return [
        (a, b, min(a.archetype.masses.gross_limit_kg, b.archetype.masses.gross_limit_kg))
        for a, b in combinations(driven, 2)
    ]


def _strap_reason(item: Item, trip: Trip, figures: RecoveryFigures) -> str:
    """Why a strap suits no pair; empty when it suits one."""
    pairs = strap_pairs(trip)
    if not pairs or any(strap_accepts(item.rating_kg or 0.0, lighter, figures) for _, _, lighter in pairs):
        return ""
    nearest = min(pairs, key=lambda p: abs((item.rating_kg or 0.0) - 2.5 * p[2]))
    return unsuited_strap(item, nearest[2], figures)


def unsuited_strap(item: Item, lighter_kg: float, figures: RecoveryFigures) -> str:
    """Why a strap does not suit a pair whose lighter vehicle has this gross mass [kg]; empty when it does."""
    rated = item.rating_kg or 0.0
    low, _ = strap_range_kg(lighter_kg, figures)
    if strap_accepts(rated, lighter_kg, figures):
        return ""
    key, share = ("strap_weak", figures.straps.low) if rated < low else ("strap_stiff", figures.straps.high)
    return figures.text[key].format(rated=rated, low=share, high=share, lighter=lighter_kg)


# ------------------------------------------------------------------------------------ other gear
def weak_reason(
    rule: GearRule, item: Item, vehicle: Vehicle, trip: Trip, loads: Loads, figures: RecoveryFigures
) -> str:
    """Why a piece of gear does not serve a vehicle; empty when it does."""
    needed = rule.at_least * _base_kg(rule, vehicle, trip, loads, figures)
    rated = item.rating_kg or 0.0
    if rated >= needed:
        return ""
    return figures.text["too_weak"].format(rated=rated, needed=needed, name=vehicle.name)


def _base_kg(rule: GearRule, vehicle: Vehicle, trip: Trip, loads: Loads, figures: RecoveryFigures) -> float:
    if rule.of == "winch":
        return max((planned_pull(w, figures) for w in winches(trip)), default=0.0)
    found = loads[vehicle.id]
    state = found.states.get("with-kit") or found.states["departure"]
    return state.gross_kg if rule.of == "gross" else max(state.front_kg, state.rear_kg)


@dataclass(frozen=True)
class Winch:
    """A winch fitted to a vehicle of the trip: whose, and its rated pull on the first layer [kgf]."""

    vehicle: Vehicle
    rated_kgf: float


def winches(trip: Trip) -> list[Winch]:
    """Fitted winches whose rating is known, strongest first."""
    found = [
        Winch(vehicle, part.rated_kg)
        for vehicle in trip.vehicles
        for _, part in vehicle.modifications
        if "winch" in part.adds and part.rated_kg
    ]
    return sorted(found, key=lambda w: (-w.rated_kgf, w.vehicle.id))


def planned_pull(winch: Winch, figures: RecoveryFigures) -> float:
    """What a winch pulls on the layer that rigs are planned on [kgf]."""
    return winch_pull_by_layer(winch.rated_kgf, figures.winch.plan_layer, figures)


def refused_for(vehicle: Vehicle, trip: Trip, loads: Loads) -> tuple[tuple[str, str], ...]:
    """Gear that may not serve one vehicle, and why, in id order.

    A strap is in it when it suits the vehicle with no other of the trip; ``strap_partners`` says with whom one does.
    """
    figures = recovery_figures(trip.library)
    found = []
    for key, rule, item in rated_gear(trip, figures):
        reason = (
            _unsuited_with_all(item, vehicle, trip, figures)
            if rule.role == "strap"
            else weak_reason(rule, item, vehicle, trip, loads, figures)
        )
        if reason:
            found.append((key, reason))
    return tuple(found)


def _unsuited_with_all(item: Item, vehicle: Vehicle, trip: Trip, figures: RecoveryFigures) -> str:
    lighter = [kg for a, b, kg in strap_pairs(trip) if vehicle.id in (b.id, a.id if a else "")]
    reasons = [unsuited_strap(item, kg, figures) for kg in lighter]
    return reasons[0] if reasons and all(reasons) else ""


def strap_partners(item: Item, vehicle: Vehicle, trip: Trip, figures: RecoveryFigures) -> tuple[list[str], list[str]]:
    """Names of the vehicles that a strap may, and may not, join to this one."""
    good: list[str] = []
    bad: list[str] = []
    for one, other, lighter in strap_pairs(trip):
        if one is None or vehicle.id not in (one.id, other.id):
            continue
        partner = other if one.id == vehicle.id else one
        (bad if unsuited_strap(item, lighter, figures) else good).append(partner.name)
    return good, bad
