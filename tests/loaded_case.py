"""An invented wagon and its parts, put together in memory, for tests of loads and recovery.

Gear and surfaces are the shipped tables, read alone, so that these tests do not hang on the rest of the library. The wagon's kerb
masses and wheelbase are those of the axle chain in tests/crosscheck/test_loads.py.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any

from fieldkit.loads import weigh
from fieldkit.loads.result import VehicleLoads
from fieldkit.specs.library import Archetype, Item, Library, Modification, Surface
from fieldkit.specs.read_library import shipped_folder
from fieldkit.specs.trip import Fitted, Leg, Trip, TripHead, Vehicle, VehicleEntry, VehicleSpec
from fieldkit.tables import read_table

START = date(2027, 6, 1)
WHEELBASE, TRACK = 2.85, 1.5

PLACES: dict[str, dict[str, Any]] = {
    "front-seats": {"name": "front seats", "x": "1.5 m", "z": "0.9 m", "volume": "0 L", "in_cabin": True},
    "rear-seats": {"name": "rear seats", "x": "0.6 m", "z": "0.9 m", "volume": "0 L", "in_cabin": True},
    "footwell": {"name": "footwell", "x": "0.9 m", "z": "0.6 m", "volume": "50 L", "limit": "40 kg", "in_cabin": True},
    "forward": {"name": "box ahead of the axle", "x": "0.7 m", "z": "0.8 m", "volume": "150 L", "limit": "150 kg"},
    "load-floor": {"name": "load floor", "x": "-0.2 m", "z": "0.9 m", "volume": "500 L", "limit": "400 kg"},
    "roof": {"name": "roof", "x": "1.05 m", "z": "1.95 m", "volume": "300 L", "limit": "100 kg", "on_roof": True},
    "fuel-tank": {"name": "fuel tank", "x": "0.4 m", "z": "0.6 m", "volume": "0 L"},
    "water-tank": {"name": "water tank", "x": "0.3 m", "z": "0.7 m", "volume": "0 L", "limit": "120 kg"},
    "front-bar": {"name": "front bar", "x": "3.75 m", "z": "0.7 m", "volume": "0 L", "limit": "140 kg"},
    "rear-end": {"name": "rear end", "x": "-1.2 m", "z": "0.6 m", "volume": "0 L"},
    "wheels": {"name": "wheels", "x": "1.425 m", "z": "0.39 m", "volume": "0 L"},
}


def build(**changes: Any) -> Archetype:
    """The wagon: kerb 1,150 front and 1,050 rear, diesel, five seats in two rows."""
    masses = {
        "kerb_front": "1150 kg",
        "kerb_rear": "1050 kg",
        "gross_limit": "3000 kg",
        "front_limit": "1400 kg",
        "rear_limit": "1750 kg",
        "combination_limit": "5000 kg",
        "roof_limit": "100 kg",
        "ball_load_limit": "150 kg",
        "tow_limit": "2500 kg",
        "centre_height": "0.7 m",
        **changes.pop("masses", {}),
    }
    data: dict[str, Any] = {
        "name": "wagon",
        "summary": "An invented wagon.",
        "evidence": "invented for tests",
        "wheelbase": "2.85 m",
        "track": "1.5 m",
        "seats": 5,
        "seat_rows": ["front-seats", "rear-seats"],
        "fuel": "diesel",
        "fuel_tank": "80 L",
        "usual_km_per_year": "12000 km",
        "features": ["separate-chassis", "tow-bar"],
        "masses": masses,
        "tyre": {"size": "265/70R16", "load_index": 112},
        "places": PLACES,
    }
    return Archetype.model_validate({**data, **changes})


def part(name: str, **changes: Any) -> Modification:
    data = {"name": name, "summary": name, "gives_up": "nothing known", "legality": "local law decides"}
    return Modification.model_validate({**data, **changes})


PARTS: dict[str, Modification] = {
    "rack": part("steel rack", mass_kg=30, place="roof", adds=["roof-rack"], rated="80 kg"),
    "light-rack": part("light rack", mass_kg=16, place="roof", adds=["roof-rack"], rated="70 kg"),
    "tent": part("roof tent", mass_kg=60, place="roof", adds=["roof-tent"], needs=["roof-rack"]),
    "winch-bar": part("bar with winch", mass_kg=100, removes_kg=10, place="front-bar", adds=["winch"], rated="4300 kg"),
    "rated-recovery-points": part("rated points", mass_kg=8, place="front-bar", rated="5000 kg"),
    "long-tank": part("long-range tank", mass_kg=20, place="fuel-tank", fuel="70 L"),
    "tank": part("water tank", mass_kg=10, place="water-tank", adds=["water-tank"], water="45 L"),
    "lift": part("lifted springs", mass_kg=12, lift_mm=50),
    "heavy-lift": part("high springs", mass_kg=12, lift_mm=80),
    "bar-somewhere": part("heavy thing of unknown place", mass_kg=40),
    "tow-bar": part("light tow bar", mass_kg=10, place="rear-end", adds=["tow-bar"], rated="1500 kg"),
    "tall": part("tall tyres", mass_kg=40, place="wheels", tyre_size="285/75R16", load_index=122),
}


@lru_cache(maxsize=1)
def gear() -> dict[str, Item]:
    """The shipped recovery gear and tools."""
    found = {}
    for kind in ("recovery", "tool"):
        path = shipped_folder("vehicle_specs") / "items" / f"{kind}.csv"
        for row in read_table(path, path.name, list(Item.model_fields)).rows:
            cells: dict[str, Any] = {k: v for k, v in row.cells.items() if v}
            split = {k: tuple(row.cells[k].split()) for k in ("fits", "substitutes")}
            found[row.cells["id"]] = Item.model_validate({**cells, **split})
    return found


@lru_cache(maxsize=1)
def surfaces() -> dict[str, Surface]:
    """The shipped surfaces."""
    path = shipped_folder("vehicle_specs") / "surfaces.csv"
    rows = read_table(path, path.name, list(Surface.model_fields)).rows
    return {r.cells["id"]: Surface.model_validate({k: v for k, v in r.cells.items() if v}) for r in rows}


def library(**changes: Any) -> Library:
    known = {"items": gear(), "surfaces": surfaces(), "modifications": PARTS, **changes}
    return Library(Path("library"), **known)


def vehicle(
    key: str = "wagon",
    fitted: Sequence[str | Mapping[str, Any]] = (),
    crew: int = 0,
    on: Archetype | None = None,
    kit_mass: str | None = None,
    **spec: Any,
) -> Vehicle:
    """A vehicle of the build with parts of PARTS by id (or a dict of a [[fitted]] table)."""
    entries = [Fitted.model_validate({"id": f} if isinstance(f, str) else f) for f in fitted]
    data = {"name": key.title(), "based_on": "wagon", "fitted": entries, **spec}
    entry = VehicleEntry.model_validate({"id": key, "spec": f"vehicles/{key}.toml", "crew": crew, "kit_mass": kit_mass})
    parts = tuple((e, PARTS[e.id]) for e in entries)
    return Vehicle(entry, VehicleSpec.model_validate(data), on or build(), parts)


def trip(*vehicles: Vehicle, on: Sequence[str] = (), lib: Library | None = None, **head: Any) -> Trip:
    """A trip of these vehicles over these surfaces, 10 km each."""
    data: dict[str, Any] = {
        "title": "Small trip",
        "start": START,
        "prepared": START,
        "days": 2,
        "party": {"people": 10},
        "vehicle": [v.entry for v in vehicles],
        "climate": {"day_high": "25 degC", "night_low": "10 degC"},
        "limits": {"kit_mass": "100 kg", "kit_volume": "200 L", "kit_money": 1000},
    }
    legs = tuple(Leg(1, 10.0 * i, 10.0 * (i + 1), s) for i, s in enumerate(on))
    head_spec = TripHead.model_validate({**data, **head})
    return Trip("small", Path("small"), "0", head_spec, vehicles, lib or library(), legs)


@dataclass(frozen=True)
class KitLine:
    item: str
    quantity: int
    mass_kg: float
    vehicle: str
    place: str


@dataclass(frozen=True)
class SomeKit:
    items: tuple[KitLine, ...]


def weighed(
    *,
    kit: SomeKit | None = None,
    used: Mapping[str, Sequence[float]] | None = None,
    can_fuel_kg: Mapping[str, float] | None = None,
    **changes: Any,
) -> tuple[VehicleLoads, Vehicle]:
    """One vehicle of the build, weighed; ``used``: kind -> kilograms by the end of each leg."""
    one = vehicle(**changes)
    return weigh(trip(one), kit, {one.id: used} if used else None, can_fuel_kg)[one.id], one
