"""Items as the program counts them: which vehicles a pack suits, what stands in for it, what is owned, what must be there."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from fieldkit.kit.must_carry import MustCarry
from fieldkit.kit.settings import KitSettings
from fieldkit.loads.fitted_tyres import features_of
from fieldkit.specs.library import Item, Library
from fieldkit.specs.trip import Trip, Vehicle


@dataclass(frozen=True)
class Stockable:
    """An item for the vehicles that one pack of it suits.

    ``suits``: their ids. ``owned``: packs owned; ``needed``: packs that must be carried. The same item for another build is another one.
    """

    item: str
    scope: str
    suits: tuple[str, ...]
    owned: int
    needed: int

    @property
    def name(self) -> str:
        return f"{self.item} ({self.scope})" if self.scope else self.item


@dataclass(frozen=True)
class Catalogue:
    """All stockables of a trip in name order.

    ``index``: (item, vehicle) -> position; ``stand_ins``: position -> positions that may stand in; ``refused``: item -> why it is not
    taken; ``must``: what must be carried.
    """

    entries: tuple[Stockable, ...]
    index: Mapping[tuple[str, str], int]
    stand_ins: Mapping[int, tuple[int, ...]]
    refused: Mapping[str, str]
    must: tuple[MustCarry, ...]
    library: Library

    def item(self, position: int) -> Item:
        return self.library.items[self.entries[position].item]


def catalogue(
    trip: Trip, used: Iterable[str], must: Sequence[MustCarry], refused: Mapping[str, str], settings: KitSettings
) -> Catalogue:
    """Stockables for the items that repairs use and that must be carried.

    Parameters
    ----------
    used : item ids that some repair of this trip takes.
    refused : item -> why it is not taken (rated too low, for instance).
    """
    library = trip.library
    wanted = {*used, *(m.item for m in must)}
    wanted |= {s for i in sorted(wanted) for s in library.items[i].substitutes}
    scopes: dict[tuple[str, str], list[str]] = {}
    for item in sorted(wanted):
        for vehicle in trip.vehicles:
            scopes.setdefault((item, scope_of(library.items[item], vehicle, settings)), []).append(vehicle.id)
    needed, owned = _needed(must, scopes), _owned(trip, scopes)
    entries = tuple(
        Stockable(item, scope if len(suits) < len(trip.vehicles) else "", tuple(suits), owned[key], needed[key])
        for key, suits in sorted(scopes.items())
        for item, scope in [key]
    )
    index = {(e.item, v): i for i, e in enumerate(entries) for v in e.suits}
    return Catalogue(entries, index, _stand_ins(trip, entries, index, refused), dict(refused), tuple(must), library)


def scope_of(item: Item, vehicle: Vehicle, settings: KitSettings) -> str:
    """Which vehicles a pack for this one also suits: those of the same scope; empty: all.

    A spare suits one build unless it is named as suiting all, or goes by tyre size; some gear each vehicle has for itself.
    """
    rule = settings.interchange
    if item.id in rule.same_vehicle:
        return vehicle.id
    if item.id in rule.by_tyre:
        return vehicle.spec.tyres.size if vehicle.spec.tyres else vehicle.archetype.tyre.size
    if item.kind in rule.kinds_by_build and item.id not in rule.alike:
        return vehicle.spec.based_on
    return ""


def _needed(must: Sequence[MustCarry], scopes: Mapping[tuple[str, str], list[str]]) -> dict[tuple[str, str], int]:
    """Packs that must be carried of each scope of an item: shared out over the vehicles meant, then put where most are."""
    needed = dict.fromkeys(scopes, 0)
    for asked in must:
        mine = [key for key in scopes if key[0] == asked.item]
        spread = asked.vehicles or tuple(v for key in mine for v in scopes[key])
        told = [v for v, n in asked.shares for _ in range(n)]
        for n in range(asked.packs):
            vehicle = told[n] if n < len(told) else spread[n % len(spread)]
            needed[next(key for key in mine if vehicle in scopes[key])] += 1
    return needed


def _owned(trip: Trip, scopes: Mapping[tuple[str, str], list[str]]) -> dict[tuple[str, str], int]:
    """Whole packs owned and good until the trip's end, given to the scope of the vehicle they lie in, else where they are named first."""
    end = trip.head.start.toordinal() + trip.head.days - 1
    owned = dict.fromkeys(scopes, 0)
    for stock in trip.inventory:
        if stock.good_until is not None and stock.good_until.toordinal() < end:
            continue
        mine = [key for key in scopes if key[0] == stock.item]
        here = [key for key in mine if stock.vehicle in scopes[key]]
        packs = math.floor(stock.quantity + 1e-9)
        if here:
            owned[here[0]] += packs
        else:
            for n in range(packs if mine else 0):
                owned[mine[n % len(mine)]] += 1
    return owned


def _stand_ins(
    trip: Trip, entries: Sequence[Stockable], index: Mapping[tuple[str, str], int], refused: Mapping[str, str]
) -> dict[int, tuple[int, ...]]:
    """An item stands in for another only where it suits every vehicle the other suits."""
    features = {v.id: features_of(v) for v in trip.vehicles}
    found = {}
    for position, entry in enumerate(entries):
        others = []
        for name in trip.library.items[entry.item].substitutes:
            places = {index[(name, v)] for v in entry.suits}
            fits = all(set(trip.library.items[name].fits) <= features[v] for v in entry.suits)
            if len(places) == 1 and fits and name not in refused:
                others.append(places.pop())
        if others:
            found[position] = tuple(others)
    return found
