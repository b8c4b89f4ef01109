"""Sharing packs out over vehicles and their places: payload, axles, roof, room, reach, place in the convoy.

A quick way puts the hardest packs first where they cost least; where that leaves one over, the exact search decides
whether all of them can be placed at all. "Cost" is discomfort (out of reach, on the roof, in the wrong vehicle).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import highspy
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, vstack

from fieldkit.hushed import hushed
from fieldkit.kit.budget import kit_share
from fieldkit.kit.catalogue import Catalogue
from fieldkit.kit.settings import KitSettings
from fieldkit.loads.fitted_tyres import fitted_tyre
from fieldkit.loads.limits import limits_of
from fieldkit.loads.result import Loads, MassEntry, Room
from fieldkit.specs.library import Item
from fieldkit.specs.trip import Trip, Vehicle

Floats = NDArray[np.float64]
#: Grams and millilitres are whole; sums of moments need a little room.
SLACK = 1e-6
#: Orders that the quick way tries from each of its two beginnings.
QUEUES = 6
#: Nodes of the exact search: a count, not a clock, so that the same packs find the same places on any machine.
MOST_NODES = 400


@dataclass(frozen=True)
class Bin:
    """One place of one vehicle, what it still takes, and where its vehicle drives: last, or at either end."""

    vehicle: str
    room: Room
    last: bool
    end: bool

    @property
    def mass_kg(self) -> float:
        return float("inf") if self.room.mass_kg is None else self.room.mass_kg

    @property
    def volume_l(self) -> float:
        return float("inf") if self.room.volume_l is None else self.room.volume_l


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

    Every limit is a row: so many kilograms of it for each kilogram in each bin. ``left`` (rows,): what it still takes [kg];
    ``share`` (rows, bins). A vehicle's places, gross mass, axles, tyres, roof, and combination are rows alike.

    Parameters
    ----------
    loads : Loads
        Before the kit: room left in each place, masses at departure.
    pumped : bool
        Whether tyres carry what they do at their marked pressure, not at the pressure they have now.

    Attributes
    ----------
    undecided : int
        Exact searches that ended at their limit of nodes, neither placed nor proven unplaceable.
    """

    undecided: int = 0

    def __init__(
        self, trip: Trip, loads: Loads, catalogue: Catalogue, settings: KitSettings, pumped: bool = False
    ) -> None:
        self.trip, self.catalogue, self.settings, self.pumped = trip, catalogue, settings, pumped
        self.bins = _bins(trip, loads)
        rows = [row for v in trip.vehicles for row in _limit_rows(trip, loads, v, self.bins, pumped)]
        rows += [(b.mass_kg, np.eye(len(self.bins))[n]) for n, b in enumerate(self.bins) if np.isfinite(b.mass_kg)]
        self.left = np.array([left for left, _ in rows])
        self.share = np.array([share for _, share in rows]).reshape(len(rows), len(self.bins))
        self.volume = np.array([b.volume_l for b in self.bins])
        self.kit = {v.id: kit_share(trip, v.id, loads[v.id].payload_left_kg) for v in trip.vehicles}
        self.gross = {v.id: max(1.0, loads[v.id].payload_left_kg) for v in trip.vehicles}

    # --------------------------------------------------------------------- what goes where
    def allowed(self, lot: Lot) -> list[int]:
        """Bins that may take a lot's packs: in its own vehicle where it must be, short and light enough, fuel in the open."""
        item, entry = self.catalogue.item(lot.entry), self.catalogue.entries[lot.entry]
        own = entry.suits if item.id in self.settings.interchange.same_vehicle else None
        return [
            b
            for b, place in enumerate(self.bins)
            if (own is None or place.vehicle in own)
            and (place.room.longest_cm is None or item.longest_cm <= place.room.longest_cm)
            and item.mass_kg <= place.mass_kg + SLACK
            and item.volume_l <= place.volume_l + SLACK
            and (place.room.ventilated or item.id not in self.settings.place.only_ventilated)
            and (not place.room.holds or item.id in place.room.holds)
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


def _far_from_seat(room: Room) -> float:
    """0 beside the front seats, more the further back, 1 outside the cabin."""
    return 1.0 if not room.in_cabin else (0.0 if room.place.startswith("front") else 0.4)


def _bins(trip: Trip, loads: Loads) -> list[Bin]:
    order = sorted(trip.vehicles, key=lambda v: (v.entry.position or 99, v.id))
    bins = []
    for n, vehicle in enumerate(order):
        for room in sorted(loads[vehicle.id].room, key=lambda r: r.place):
            full = (room.volume_l is not None and room.volume_l <= 0) or (
                room.mass_kg is not None and room.mass_kg <= 0
            )
            if not full:
                bins.append(Bin(vehicle.id, room, n == len(order) - 1, n in (0, len(order) - 1)))
    return bins


def _limit_rows(
    trip: Trip, loads: Loads, vehicle: Vehicle, bins: Sequence[Bin], pumped: bool
) -> list[tuple[float, Floats]]:
    """What each limit of a vehicle still takes, and its kilograms per kilogram in each bin; a broken limit takes nothing more."""
    here = np.array([b.vehicle == vehicle.id for b in bins], float)
    rows = [(max(0.0, loads[vehicle.id].payload_left_kg), here)]
    entries = loads[vehicle.id].entries
    if not entries:
        return rows
    for limit in limits_of(vehicle, fitted_tyre(vehicle)):
        if limit.id.startswith("place-"):
            continue
        held = limit.at_best() if pumped else limit
        share = np.array([held.share(_unit(b.room)) for b in bins]) * here
        if share.any():
            rows.append((max(0.0, held.limit_kg - held.actual_kg(entries)), share))
    return rows


def _unit(room: Room) -> MassEntry:
    """A kilogram of kit in a place."""
    return MassEntry("kit", 1.0, room.x_m, room.y_m, room.z_m, room.place, "kit", room.on_roof)


# ------------------------------------------------------------------------------------ the quick way
class _Filling:
    """What has been put where so far."""

    def __init__(self, stowage: Stowage) -> None:
        self.stowage = stowage
        self.used = np.zeros(len(stowage.left))
        self.volume = np.zeros(len(stowage.bins))
        self.kit = dict.fromkeys(stowage.kit, 0.0)
        self.gross = dict.fromkeys(stowage.kit, 0.0)
        self.has: dict[tuple[str, str], int] = {}

    def open(self, item: Item, must: bool, bins: Sequence[int]) -> list[int]:
        """Bins that still take a pack."""
        room, kg = self.stowage, item.mass_kg
        at = np.array(bins, np.int64)
        holds = (self.used[:, None] + kg * room.share[:, at] <= room.left[:, None] + SLACK).all(axis=0)
        holds &= self.volume[at] + item.volume_l <= room.volume[at] + SLACK
        vehicles = [room.bins[b].vehicle for b in bins]
        return [
            b
            for b, v, ok in zip(bins, vehicles, holds.tolist(), strict=True)
            if ok and (must or self.kit[v] + kg <= room.kit[v] + SLACK)
        ]

    def put(self, item: Item, must: bool, at: int) -> None:
        v = self.stowage.bins[at].vehicle
        self.used = self.used + item.mass_kg * self.stowage.share[:, at]
        self.volume[at] += item.volume_l
        self.gross[v] += item.mass_kg
        self.kit[v] += 0.0 if must else item.mass_kg
        self.has[(v, item.id)] = self.has.get((v, item.id), 0) + 1

    def sound(self) -> bool:
        """Whether every limit is kept."""
        room = self.stowage
        return bool(
            (self.used <= room.left + SLACK).all()
            and (self.volume <= room.volume + SLACK).all()
            and all(kg <= room.kit[v] + SLACK for v, kg in self.kit.items())
        )


def place(
    stowage: Stowage, lots: Sequence[Lot], apart: Mapping[str, frozenset[str]] | None = None
) -> list[Placed] | None:
    """Where every pack goes, or None when they cannot all be placed.

    1. the quick way: packs that have a place made for them, then those with the fewest bins and the most volume first, then those with the fewest vehicles first, each where it
       costs least; one that finds no room goes to the head of the queue, and all again;
    2. where one is still left over: the exact search over all packs at once. Where it ends at ``MOST_NODES`` with neither a
       packing nor a proof, the answer is None too and ``stowage.undecided`` counts it.

    Parameters
    ----------
    apart : item -> items of which it is better not to have both in one vehicle (itself: no two packs), or None.
    """
    quick = _quickly(stowage, lots, apart or {})
    return quick if quick is not None else _exactly(stowage, lots)


def _quickly(stowage: Stowage, lots: Sequence[Lot], apart: Mapping[str, frozenset[str]]) -> list[Placed] | None:
    bins = [stowage.allowed(lot) for lot in lots]
    made = [any(stowage.bins[b].room.holds for b in each) for each in bins]
    hardest = sorted(range(len(lots)), key=lambda i: (not made[i], *_hardness(stowage, lots[i], len(bins[i]))))
    choice = [len({stowage.bins[b].vehicle for b in each}) for each in bins]
    for queue in (list(hardest), sorted(hardest, key=lambda i: choice[i])):
        for _ in range(QUEUES):
            found, stuck = _in_turn(stowage, lots, bins, queue, apart)
            if stuck is None:
                return found
            queue.remove(stuck)
            queue.insert(0, stuck)
    return None


def _in_turn(
    stowage: Stowage,
    lots: Sequence[Lot],
    bins: Sequence[Sequence[int]],
    queue: Sequence[int],
    apart: Mapping[str, frozenset[str]],
) -> tuple[list[Placed], int | None]:
    """Each lot of the queue where it costs least; and the first that found no room, if any."""
    filling = _Filling(stowage)
    found: dict[tuple[int, int], int] = {}
    for i in queue:
        lot, item = lots[i], stowage.catalogue.item(lots[i].entry)
        costs = {b: stowage.cost(lot, b) for b in bins[i]}
        for _ in range(lot.packs):
            ready = filling.open(item, lot.must, bins[i])
            if not ready:
                return [], i
            at = min(ready, key=lambda b: (costs[b] + _crowding(filling, lot, item, b, apart), b))
            filling.put(item, lot.must, at)
            found[(i, at)] = found.get((i, at), 0) + 1
    return [Placed(i, b, n) for (i, b), n in sorted(found.items())], None


def _hardness(stowage: Stowage, lot: Lot, bins: int) -> tuple[object, ...]:
    item = stowage.catalogue.item(lot.entry)
    return (not lot.must or bins > 3, -max(item.volume_l, item.mass_kg), -item.longest_cm, item.id, not lot.must)


def _crowding(filling: _Filling, lot: Lot, item: Item, at: int, apart: Mapping[str, frozenset[str]]) -> float:
    """Packs of one lot spread over the vehicles they belong in; things that back each other up lie apart; full vehicles later."""
    stowage = filling.stowage
    v = stowage.bins[at].vehicle
    cost = 0.5 * filling.gross[v] / stowage.gross[v]
    if len(lot.home) > 1:
        cost += 2.0 * filling.has.get((v, item.id), 0)
    if item.id in apart or item.id in stowage.settings.place.not_behind_one_lock:
        same = sum(filling.has.get((v, other), 0) for other in apart.get(item.id, frozenset({item.id})))
        cost += stowage.settings.place.cost.same_basket * min(same, 2)
    return cost


# ------------------------------------------------------------------------------------ the exact way
def _exactly(stowage: Stowage, lots: Sequence[Lot]) -> list[Placed] | None:
    """A whole-number assignment of packs to bins under every limit, cheap but not proven cheapest; None when none is found."""
    pairs = [(i, b) for i, lot in enumerate(lots) for b in stowage.allowed(lot)]
    if {i for i, _ in pairs} != {i for i, lot in enumerate(lots) if lot.packs}:
        return None
    rows, high, low = _assignment_rows(stowage, lots, pairs)
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("mip_rel_gap", 0.2)
    solver.setOptionValue("mip_max_nodes", MOST_NODES)
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
    with hushed():
        solver.run()
    if solver.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
        return None
    packs = np.rint(np.array(solver.getSolution().col_value)).astype(int)
    found = [Placed(i, b, int(n)) for (i, b), n in zip(pairs, packs, strict=False) if n > 0]
    if holds(stowage, lots, found):
        return found
    stowage.undecided += 1
    return None


def _assignment_rows(
    stowage: Stowage, lots: Sequence[Lot], pairs: Sequence[tuple[int, int]]
) -> tuple[coo_array, Floats, Floats]:
    """Every lot is placed; every limit, place and vehicle's own limit for the kit is kept."""
    items = [stowage.catalogue.item(lots[i].entry) for i, _ in pairs]
    kg, litres = np.array([i.mass_kg for i in items]), np.array([i.volume_l for i in items])
    lot, at = np.array(pairs, np.int64).T
    columns = np.arange(len(pairs))
    optional = np.array([0.0 if lots[i].must else 1.0 for i, _ in pairs])
    vehicles = {v: n for n, v in enumerate(stowage.kit)}
    of = np.array([vehicles[stowage.bins[b].vehicle] for _, b in pairs], np.int64)
    blocks = [
        (coo_array((np.ones(len(pairs)), (lot, columns)), shape=(len(lots), len(pairs))), None),
        (coo_array(stowage.share[:, at] * kg), stowage.left),
        (coo_array((litres, (at, columns)), shape=(len(stowage.bins), len(pairs))), stowage.volume),
        (
            coo_array((kg * optional, (of, columns)), shape=(len(vehicles), len(pairs))),
            np.array(list(stowage.kit.values())),
        ),
    ]
    packs = np.array([float(x.packs) for x in lots])
    high = np.concatenate([packs if top is None else top + SLACK for _, top in blocks])
    low = np.concatenate([packs, np.full(len(high) - len(packs), -np.inf)])
    return coo_array(vstack([rows for rows, _ in blocks])), high, low


def holds(stowage: Stowage, lots: Sequence[Lot], placed: Sequence[Placed]) -> bool:
    """Whether a packing keeps every limit and places every pack."""
    filling = _Filling(stowage)
    count = dict.fromkeys(range(len(lots)), 0)
    for put in placed:
        for _ in range(put.packs):
            filling.put(stowage.catalogue.item(lots[put.lot].entry), lots[put.lot].must, put.bin)
        count[put.lot] += put.packs
    return count == {i: lot.packs for i, lot in enumerate(lots)} and filling.sound()


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
