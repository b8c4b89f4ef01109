"""What is carried whatever the program says: first aid, fire, water, communication, shelter, by people and remoteness."""

from __future__ import annotations

import math
from typing import NamedTuple

from fieldkit.exposure.result import Exposure
from fieldkit.kit.settings import KitSettings, kit_settings
from fieldkit.loads.figures import tyre_figures
from fieldkit.loads.fitted_tyres import features_of
from fieldkit.specs.library import MustCarryRule
from fieldkit.specs.trip import Trip, Vehicle


class MustCarry(NamedTuple):
    """``packs`` of an item; ``vehicles``: where they belong, one or more packs each, best spread (empty: anywhere); ``why``.

    ``shares``: vehicle -> packs that belong in it, where that is told one by one.
    """

    item: str
    packs: int
    vehicles: tuple[str, ...]
    why: str
    shares: tuple[tuple[str, int], ...] = ()


def must_carry(trip: Trip, exposure: Exposure) -> list[MustCarry]:
    """Items that every rule of ``must_carry.toml`` asks for on this trip, and the means of communication and cans of fuel that the plan counts on.

    Quantity = fixed + per person + per vehicle + per person-day until help stands there; rules on one item add up and are
    rounded up to whole packs. Water that the vehicles carry beyond the trip's own need counts.

    Returns
    -------
    list of MustCarry
        In item order.
    """
    settings = kit_settings(trip.library)
    far, days = hours_to_help(exposure, settings), days_alone(exposure, settings)
    soft = _lets_tyres_down(trip, exposure)
    wanted: dict[str, list[tuple[float, MustCarryRule, list[Vehicle]]]] = {}
    for _, rule in sorted(trip.library.must_carry.items()):
        meant = [v for v in trip.vehicles if set(rule.needs) <= features_of(v)]
        if far >= rule.when_hours_to_help and meant and (soft or not rule.when_pressures_let_down):
            wanted.setdefault(rule.item, []).append((_quantity(rule, trip, len(meant), days), rule, meant))
    found = [_joined(item, parts, exposure) for item, parts in wanted.items()]
    found += [
        MustCarry(item, 1, (), "The alarm is planned with it.")
        for item in trip.head.comms.carried
        if item in trip.library.items and item not in wanted
    ]
    found += _cans(exposure)
    return sorted(m for m in found if m.packs > 0)


def _cans(exposure: Exposure) -> list[MustCarry]:
    """Owned cans without whose fuel a vehicle does not reach the next pump with its reserve; each belongs in that vehicle."""
    shares: dict[str, list[tuple[str, int]]] = {}
    for can in exposure.supplies.cans:
        if can.owned:
            shares.setdefault(can.item, []).append((can.vehicle, can.owned))
    why = "The fuel plan counts on it: the tank alone does not reach the next fuel with the reserve."
    return [
        MustCarry(item, sum(n for _, n in rows), tuple(v for v, _ in rows), why, tuple(rows))
        for item, rows in shares.items()
    ]


def hours_to_help(exposure: Exposure, settings: KitSettings) -> float:
    """The most hours, over all legs, to the nearest help with people in it; the longest span told apart where there is none."""
    worst = 0.0
    for leg in exposure.legs:
        hours = [leg.hours_to_help.get(kind) for kind in settings.hours.help_kinds]
        reachable = [h for h in hours if h is not None]
        worst = max(worst, min(reachable, default=settings.hours.longest_h))
    return worst


def days_alone(exposure: Exposure, settings: KitSettings) -> float:
    """The most days until help stands beside a dead vehicle."""
    return min(max((leg.out_h for leg in exposure.legs), default=0.0), settings.hours.longest_h) / 24.0


def _lets_tyres_down(trip: Trip, exposure: Exposure) -> bool:
    """Whether the trip states that tyres are let down and has a surface on which that is usual."""
    usual = tyre_figures(trip.library).surface
    return trip.head.driving.pressures_let_down and any(
        leg.surface in usual and usual[leg.surface].share < 1.0 for leg in exposure.legs
    )


def _quantity(rule: MustCarryRule, trip: Trip, vehicles: int, days: float) -> float:
    people = trip.head.party.people
    return rule.fixed + rule.per_person * people + rule.per_vehicle * vehicles + rule.per_person_day * people * days


def _joined(item: str, parts: list[tuple[float, MustCarryRule, list[Vehicle]]], exposure: Exposure) -> MustCarry:
    total = sum(quantity for quantity, _, _ in parts)
    if item == "drinking-water":
        spare = max(0.0, exposure.supplies.water_carried_l - exposure.supplies.water_needed_l)
        total -= spare / 10.0
    spread = [v.id for _, rule, meant in parts if rule.per_vehicle or rule.per_person for v in meant]
    why = " ".join(dict.fromkeys(rule.why for _, rule, _ in parts))
    return MustCarry(item, max(0, math.ceil(total - 1e-9)), tuple(dict.fromkeys(spread)), why)
