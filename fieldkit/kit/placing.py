"""Sharing packs out over vehicles and their places: payload, axles, roof, room, reach, place in the convoy.

A quick way puts the hardest packs first where they cost least; where that leaves one over, the exact search decides
whether all of them can be placed at all. "Cost" is discomfort (out of reach, on the roof, in the wrong vehicle).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import highspy
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array

from fieldkit.kit.budget import kit_share
from fieldkit.kit.catalogue import Catalogue
from fieldkit.kit.settings import KitSettings
from fieldkit.loads.result import Loads, Room, VehicleLoads
from fieldkit.specs.library import Item
from fieldkit.specs.trip import Trip

Floats = NDArray[np.float64]
#: Grams and millilitres are whole; sums of moments need a little room.
SLACK = 1e-6


@dataclass(frozen=True)
class Bin:
    """One place of one vehicle: what it still takes, and what a kilogram there puts on each axle (share on the front)."""

    vehicle: str
    room: Room
    front_share: float
    last: bool
    end: bool

    @property
    def mass_kg(self) -> float:
        return float("inf") if self.room.mass_kg is None else self.room.mass_kg

    @property
    def volume_l(self) -> float:
        return float("inf") if self.room.volume_l is None else self.room.volume_l


@dataclass(frozen=True)
class Limits:
    """What one vehicle still takes [kg]: in all, of the optimised kit, on the front and rear axle, on the roof."""

    gross: float
    kit: float
    front: float
    rear: float
    roof: float


@dataclass(frozen=True)
class Lot:
    """Packs of one entry of the catalogue to place: ``must`` carried or chosen; ``home``: vehicles they belong in, first choice."""

    entry: int
    packs: int
    must: bool
    home: tuple[str, ...]


@dataclass(frozen=True)
class Placed:
    """Packs of one lot in one bin."""

    lot: int
    bin: int
    packs: int


class Stowage:
    """The bins and limits of a trip's vehicles, and what each item costs where.

    Parameters
    ----------
    loads : Loads
        Before the kit: room left in each place, masses at departure.
    """

    def __init__(self, trip: Trip, loads: Loads, catalogue: Catalogue, settings: KitSettings) -> None:
        self.trip, self.catalogue, self.settings = trip, catalogue, settings
        self.bins = _bins(trip, loads)
        self.limits = {v.id: _limits(trip, loads, v.id) for v in trip.vehicles}

    # --------------------------------------------------------------------- what goes where
    def allowed(self, lot: Lot) -> list[int]:
        """Bins that may take a lot's packs: in its own vehicle where it must be, short and light enough, no fuel in a cabin."""
        item, entry = self.catalogue.item(lot.entry), self.catalogue.entries[lot.entry]
        own = entry.suits if item.id in self.settings.interchange.same_vehicle else None
        return [
            b
            for b, place in enumerate(self.bins)
            if (own is None or place.vehicle in own)
            and (place.room.longest_cm is None or item.longest_cm <= place.room.longest_cm)
            and item.mass_kg <= place.mass_kg + SLACK
            and item.volume_l <= place.volume_l + SLACK
            and not (place.room.in_cabin and item.id in self.settings.place.not_in_cabin)
        ]

    def cost(self, lot: Lot, at: int) -> float:
        """Discomfort of one pack of a lot in a bin."""
        item, place, rule = self.catalogue.item(lot.entry), self.bins[at], self.settings.place
        cost = 0.0
        if item.id in rule.from_seat:
            cost += rule.cost.not_from_seat * _far_from_seat(place.room)
        if item.id in rule.when_bogged and not place.room.reachable_bogged:
            cost += rule.cost.not_reachable
        if place.room.on_roof:
            cost += rule.cost.on_roof * (1.0 + max(0.0, item.mass_kg - rule.light_on_roof_kg) / 10.0)
        if place.room.in_cabin and item.id not in rule.from_seat:
            cost += rule.cost.not_from_seat * item.volume_l / 20.0
        return cost + rule.cost.wrong_vehicle * self._away(lot, item, place)

    def _away(self, lot: Lot, item: Item, place: Bin) -> float:
        rule = self.settings.place
        away = float(bool(lot.home) and place.vehicle not in lot.home)
        if item.kind in rule.with_last_vehicle and not place.last:
            away += 1.0
        if item.id in rule.at_both_ends and not place.end:
            away += 1.0
        return away

    @cached_property
    def critical_cost(self) -> float:
        return self.settings.place.cost.same_basket


def _far_from_seat(room: Room) -> float:
    """0 beside the front seats, more the further back, 1 outside the cabin."""
    return 1.0 if not room.in_cabin else (0.0 if room.place.startswith("front") else 0.4)


def _bins(trip: Trip, loads: Loads) -> list[Bin]:
    order = sorted(trip.vehicles, key=lambda v: (v.entry.position or 99, v.id))
    bins = []
    for n, vehicle in enumerate(order):
        base = vehicle.archetype.wheelbase_m
        for room in sorted(loads[vehicle.id].room, key=lambda r: r.place):
            full = (room.volume_l is not None and room.volume_l <= 0) or (
                room.mass_kg is not None and room.mass_kg <= 0
            )
            if not full:
                ends = n in (0, len(order) - 1)
                bins.append(Bin(vehicle.id, room, room.x_m / base, n == len(order) - 1, ends))
    return bins


def _limits(trip: Trip, loads: Loads, vehicle: str) -> Limits:
    found, masses = loads[vehicle], trip.vehicle(vehicle).archetype.masses
    left = max(0.0, found.payload_left_kg)
    kit = kit_share(trip, vehicle, found.payload_left_kg)
    state = found.states.get("departure")
    if state is None:
        return Limits(left, kit, float("inf"), float("inf"), float("inf"))
    front = min(masses.front_limit_kg - state.front_kg, _on_tyres(found, "tyre-front"))
    rear = min(masses.rear_limit_kg - state.rear_kg, _on_tyres(found, "tyre-rear"))
    return Limits(left, kit, max(0.0, front), max(0.0, rear), max(0.0, masses.roof_limit_kg - state.roof_kg))


def _on_tyres(loads: VehicleLoads, axle: str) -> float:
    """What an axle's tyres still take [kg]: twice the room of its fuller one, since places lie near the middle."""
    return 2.0 * min((m.left_kg for m in loads.margins if m.limit.startswith(axle)), default=float("inf"))


# ------------------------------------------------------------------------------------ the quick way
@dataclass
class _Filling:
    """What has been put where so far."""

    stowage: Stowage
    mass: Floats
    volume: Floats
    gross: dict[str, float]
    kit: dict[str, float]
    front: dict[str, float]
    rear: dict[str, float]
    roof: dict[str, float]
    has: dict[tuple[str, str], int]

    @classmethod
    def empty(cls, stowage: Stowage) -> _Filling:
        vehicles = [v.id for v in stowage.trip.vehicles]
        gross, kit, front, rear, roof = (dict.fromkeys(vehicles, 0.0) for _ in range(5))
        bins = len(stowage.bins)
        return cls(stowage, np.zeros(bins), np.zeros(bins), gross, kit, front, rear, roof, {})

    def fits(self, item: Item, must: bool, at: int) -> bool:
        place = self.stowage.bins[at]
        limits, v, kg = self.stowage.limits[place.vehicle], place.vehicle, item.mass_kg
        return (
            self.mass[at] + kg <= place.mass_kg + SLACK
            and self.volume[at] + item.volume_l <= place.volume_l + SLACK
            and self.gross[v] + kg <= limits.gross + SLACK
            and (must or self.kit[v] + kg <= limits.kit + SLACK)
            and self.front[v] + kg * place.front_share <= limits.front + SLACK
            and self.rear[v] + kg * (1.0 - place.front_share) <= limits.rear + SLACK
            and (not place.room.on_roof or self.roof[v] + kg <= limits.roof + SLACK)
        )

    def put(self, item: Item, must: bool, at: int) -> None:
        place, kg = self.stowage.bins[at], item.mass_kg
        v = place.vehicle
        self.mass[at] += kg
        self.volume[at] += item.volume_l
        self.gross[v] += kg
        self.kit[v] += 0.0 if must else kg
        self.front[v] += kg * place.front_share
        self.rear[v] += kg * (1.0 - place.front_share)
        self.roof[v] += kg if place.room.on_roof else 0.0
        self.has[(v, item.id)] = self.has.get((v, item.id), 0) + 1


def place(
    stowage: Stowage, lots: Sequence[Lot], apart: Mapping[str, frozenset[str]] | None = None
) -> list[Placed] | None:
    """Where every pack goes, or None when they cannot all be placed.

    1. the quick way: packs with the fewest bins and the most volume first, each where it costs least;
    2. where one is left over: the exact search over all packs at once.

    Parameters
    ----------
    apart : item -> items of which it is better not to have both in one vehicle (itself: no two packs), or None.
    """
    quick = _quickly(stowage, lots, apart or {})
    return quick if quick is not None else _exactly(stowage, lots)


def _quickly(stowage: Stowage, lots: Sequence[Lot], apart: Mapping[str, frozenset[str]]) -> list[Placed] | None:
    filling = _Filling.empty(stowage)
    bins = [stowage.allowed(lot) for lot in lots]
    order = sorted(range(len(lots)), key=lambda i: _hardness(stowage, lots[i], len(bins[i])))
    found: dict[tuple[int, int], int] = {}
    for i in order:
        lot, item = lots[i], stowage.catalogue.item(lots[i].entry)
        costs = {b: stowage.cost(lot, b) for b in bins[i]}
        for n in range(lot.packs):
            open_bins = [b for b in bins[i] if filling.fits(item, lot.must, b)]
            if not open_bins:
                return None
            at = min(open_bins, key=lambda b: (costs[b] + _crowding(filling, lot, item, b, n, apart), b))
            filling.put(item, lot.must, at)
            found[(i, at)] = found.get((i, at), 0) + 1
    return [Placed(i, b, n) for (i, b), n in sorted(found.items())]


def _hardness(stowage: Stowage, lot: Lot, bins: int) -> tuple[object, ...]:
    item = stowage.catalogue.item(lot.entry)
    return (not lot.must or bins > 3, -max(item.volume_l, item.mass_kg), -item.longest_cm, item.id, not lot.must)


def _crowding(
    filling: _Filling, lot: Lot, item: Item, at: int, pack: int, apart: Mapping[str, frozenset[str]]
) -> float:
    """Packs of one lot spread over the vehicles they belong in; things that back each other up lie apart; full vehicles later."""
    place = filling.stowage.bins[at]
    v, limits = place.vehicle, filling.stowage.limits[place.vehicle]
    cost = 0.5 * (filling.gross[v] / limits.gross if limits.gross else 1.0)
    if len(lot.home) > 1:
        cost += 2.0 * filling.has.get((v, item.id), 0)
    spread = set(filling.stowage.settings.place.not_behind_one_lock) | apart.keys()
    if item.id in spread:
        same = sum(filling.has.get((v, other), 0) for other in apart.get(item.id, frozenset({item.id})))
        cost += filling.stowage.critical_cost * min(same, 2)
    return cost


# ------------------------------------------------------------------------------------ the exact way
def _exactly(stowage: Stowage, lots: Sequence[Lot]) -> list[Placed] | None:
    """A whole-number assignment of packs to bins under every limit, cheap but not proven cheapest; None when there is none."""
    pairs = [(i, b) for i, lot in enumerate(lots) for b in stowage.allowed(lot)]
    if {i for i, _ in pairs} != {i for i, lot in enumerate(lots) if lot.packs}:
        return None
    rows, high, low = _assignment_rows(stowage, lots, pairs)
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("mip_rel_gap", 0.2)
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = len(pairs), len(high)
    model.col_cost_ = np.array([1.0 + stowage.cost(lots[i], b) for i, b in pairs])
    model.col_lower_ = np.zeros(len(pairs))
    model.col_upper_ = np.array([float(lots[i].packs) for i, _ in pairs])
    model.row_lower_, model.row_upper_ = low, high
    table = rows.tocsr()
    model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    model.a_matrix_.start_, model.a_matrix_.index_ = table.indptr, table.indices
    model.a_matrix_.value_ = table.data
    model.integrality_ = [highspy.HighsVarType.kInteger] * len(pairs)
    solver.passModel(model)
    solver.run()
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    packs = np.rint(np.array(solver.getSolution().col_value)).astype(int)
    found = [Placed(i, b, int(n)) for (i, b), n in zip(pairs, packs, strict=True) if n > 0]
    return found if holds(stowage, lots, found) else None


def _assignment_rows(
    stowage: Stowage, lots: Sequence[Lot], pairs: Sequence[tuple[int, int]]
) -> tuple[coo_array, Floats, Floats]:
    entries: list[tuple[int, int, float]] = []
    names: dict[object, int] = {}
    high: list[float] = []
    low: list[float] = []

    def row(name: object, most: float, least: float = -np.inf) -> int | None:
        if name not in names and np.isfinite(most):
            names[name] = len(names)
            high.append(most)
            low.append(least)
        return names.get(name)

    def add(name: object, column: int, value: float, most: float, least: float = -np.inf) -> None:
        at = row(name, most, least)
        if at is not None and value:
            entries.append((at, column, value))

    for column, (i, b) in enumerate(pairs):
        lot, place, item = lots[i], stowage.bins[b], stowage.catalogue.item(lots[i].entry)
        v, limits, kg = place.vehicle, stowage.limits[place.vehicle], item.mass_kg
        add(("lot", i), column, 1.0, lot.packs, lot.packs)
        add(("mass", b), column, kg, place.mass_kg)
        add(("volume", b), column, item.volume_l, place.volume_l)
        add(("gross", v), column, kg, limits.gross)
        add(("kit", v), column, 0.0 if lot.must else kg, limits.kit)
        add(("front", v), column, kg * place.front_share, limits.front)
        add(("rear", v), column, kg * (1.0 - place.front_share), limits.rear)
        add(("roof", v), column, kg if place.room.on_roof else 0.0, limits.roof)
    table = np.array(entries)
    index = table[:, 0].astype(np.int32), table[:, 1].astype(np.int32)
    return coo_array((table[:, 2], index), shape=(len(high), len(pairs))), np.array(high), np.array(low)


def holds(stowage: Stowage, lots: Sequence[Lot], placed: Sequence[Placed]) -> bool:
    """Whether a packing keeps every limit and places every pack, pack by pack."""
    filling = _Filling.empty(stowage)
    count = dict.fromkeys(range(len(lots)), 0)
    for put in placed:
        lot = lots[put.lot]
        item = stowage.catalogue.item(lot.entry)
        for _ in range(put.packs):
            filling.put(item, lot.must, put.bin)
        count[put.lot] += put.packs
    bins = range(len(stowage.bins))
    return count == {i: lot.packs for i, lot in enumerate(lots)} and all(_within(filling, b) for b in bins)


def _within(filling: _Filling, at: int) -> bool:
    place = filling.stowage.bins[at]
    v, limits = place.vehicle, filling.stowage.limits[place.vehicle]
    return bool(
        filling.mass[at] <= place.mass_kg + SLACK
        and filling.volume[at] <= place.volume_l + SLACK
        and filling.gross[v] <= limits.gross + SLACK
        and filling.kit[v] <= limits.kit + SLACK
        and filling.front[v] <= limits.front + SLACK
        and filling.rear[v] <= limits.rear + SLACK
        and filling.roof[v] <= limits.roof + SLACK
    )


def unplaceable(stowage: Stowage, lots: Sequence[Lot]) -> list[int]:
    """Lots of chosen packs that cannot all be placed together beside what must be carried, none of them to spare.

    Lots are taken out one by one, largest first; those whose leaving would make room stay named.
    """
    named = [i for i, lot in enumerate(lots) if not lot.must]
    for i in sorted(named, key=lambda i: (_hardness(stowage, lots[i], 9), i), reverse=True):
        trial = [lot for j, lot in enumerate(lots) if lot.must or (j in named and j != i)]
        if place(stowage, trial) is None:
            named.remove(i)
    return named
