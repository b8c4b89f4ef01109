"""What the kit may take: mass, volume and money, after what must be carried; and the plain words when that is too little."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fieldkit.errors import CannotBeSolved
from fieldkit.kit.catalogue import Catalogue
from fieldkit.kit.program import Ints
from fieldkit.loads.result import Loads
from fieldkit.specs.trip import Trip

RESOURCES = ("mass", "volume", "money")
#: Whole units per kilogram, litre and unit of money.
SCALE = (1000, 1000, 100)


@dataclass(frozen=True)
class Budget:
    """Limits of the optimised kit.

    ``weights`` (3, items): grams, millilitres and hundredths of money of a pack; ``limits`` (3,): of the optimised kit alone;
    ``needed``, ``owned`` (items,): packs that must be carried, and that are owned; ``binding``: words for what sets each limit.
    """

    weights: Ints
    limits: Ints
    needed: Ints
    owned: Ints
    binding: tuple[str, ...]

    @property
    def must_grams(self) -> int:
        return int(self.weights[0] @ self.needed)

    def with_must(self) -> Ints:
        """Limits that let in what must be carried for nothing: it weighs, but not against the kit (3,)."""
        extra = self.weights @ self.needed
        extra[2] = 0
        return self.limits + extra

    @property
    def free(self) -> Ints:
        """Packs that cost no money: owned ones, and those that must be carried anyway (items,)."""
        return np.maximum(self.owned, self.needed)


def budget(trip: Trip, loads: Loads, catalogue: Catalogue) -> Budget:
    """The kit's limits: the trip's own, and what the vehicles can still take once everything that must be carried is aboard.

    Raises
    ------
    CannotBeSolved
        If the vehicles cannot take what must be carried; names the vehicles' room, the shortfall and the heaviest items.
    """
    items = [catalogue.item(i) for i in range(len(catalogue.entries))]
    weights = np.array(
        [
            [round(i.mass_kg * SCALE[0]) for i in items],
            [round(i.volume_l * SCALE[1]) for i in items],
            [round((i.price_low + i.price_high) / 2 * SCALE[2]) for i in items],
        ],
        np.int64,
    ).reshape(3, len(items))
    needed = np.array([e.needed for e in catalogue.entries], np.int64)
    owned = np.array([e.owned for e in catalogue.entries], np.int64)
    room = {v.id: loads[v.id].payload_left_kg for v in trip.vehicles}
    left = np.floor(sum(max(0.0, kg) for kg in room.values()) * SCALE[0]) - weights[0] @ needed
    if left < 0:
        raise CannotBeSolved(_too_heavy(trip, loads, catalogue, weights[0] * needed, room, -float(left) / SCALE[0]))
    limits = trip.head.limits
    own = sum(kit_share(trip, v, kg) for v, kg in room.items())
    mass = [
        (round(limits.kit_mass_kg * SCALE[0]), "the trip's limit for the kit"),
        (int(left), "what the vehicles can still take"),
        (round(own * SCALE[0]), "the vehicles' own limits for the kit"),
    ]
    volume = [(round(limits.kit_volume_l * SCALE[1]), "the trip's limit for the kit")]
    places = _place_volume(loads)
    if places is not None:
        space = round(places * SCALE[1]) - int(weights[1] @ needed)
        volume.append((max(0, space), "the stowage places"))
    (grams, why_mass), (millilitres, why_volume) = min(mass), min(volume)
    money = round(limits.kit_money * SCALE[2])
    found = np.array([grams, millilitres, money], np.int64)
    return Budget(weights, found, needed, owned, (why_mass, why_volume, "the trip's limit for the kit"))


def kit_share(trip: Trip, vehicle: str, left_kg: float) -> float:
    """Most kilograms of the optimised kit in one vehicle: its own limit where it has one, and its room."""
    own = trip.vehicle(vehicle).entry.kit_mass_kg
    return max(0.0, min(left_kg, own if own is not None else float("inf")))


def _place_volume(loads: Loads) -> float | None:
    """Litres of all places together; None when one says nothing."""
    volumes = [room.volume_l for vehicle in loads.vehicles.values() for room in vehicle.room]
    known = [v for v in volumes if v is not None]
    return sum(known) if volumes and len(known) == len(volumes) else None


def _too_heavy(
    trip: Trip, loads: Loads, catalogue: Catalogue, grams: Ints, room: dict[str, float], short_kg: float
) -> str:
    rooms = ", ".join(f"{v} {max(0.0, kg):.0f} kg" for v, kg in room.items())
    heavy = [int(i) for i in np.argsort(-grams, kind="stable")[:3] if grams[i] > 0]
    causes = ", ".join(f"{catalogue.item(i).name} {grams[i] / SCALE[0]:.0f} kg" for i in heavy)
    over = [_over_already(trip, loads, v, -kg) for v, kg in room.items() if kg < 0]
    least = short_kg + sum(max(0.0, -kg) for kg in room.values())
    return " ".join(
        [
            f"What must be carried weighs {grams.sum() / SCALE[0]:.0f} kg, {short_kg:.0f} kg more than the vehicles can still "
            f"take ({rooms}).",
            *over,
            f"Heaviest of what must be carried: {causes}.",
            f"Leave at least {least:.0f} kg of other loads at home, or take another vehicle.",
        ]
    )


def _over_already(trip: Trip, loads: Loads, vehicle: str, kg: float) -> str:
    """A vehicle beyond a limit before anything of the kit: which limit, by how much, its heaviest loads."""
    found = trip.vehicle(vehicle)
    heaviest = sorted(found.spec.load, key=lambda load: (-load.mass_kg, load.name))[:3]
    causes = ", ".join(f"{load.name} {load.mass_kg:.0f} kg" for load in heaviest)
    said = f"{found.name} is {kg:.0f} kg over before any kit ({loads[vehicle].binding})"
    return f"{said}; its heaviest loads: {causes}." if causes else f"{said}."
