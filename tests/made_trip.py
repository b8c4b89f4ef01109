"""Trips made by hand for tests of legs, help and supplies: invented places on a line in open ocean."""

from __future__ import annotations

import csv
import tomllib
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from fieldkit.exposure import expose
from fieldkit.exposure.result import Exposure
from fieldkit.route import trip_route
from fieldkit.specs.library import Archetype, Item, Library, Surface
from fieldkit.specs.read_library import shipped_folder
from fieldkit.specs.trip import Leg, Stock, SurfaceStretch, Trip, TripHead, Vehicle, VehicleSpec

WAGON = "live-axle-wagon-mechanical-diesel"
PETROL = "short-wheelbase-petrol-two-door"

GEAR: dict[str, dict[str, Any]] = {
    key: {
        "id": key,
        "name": name,
        "kind": kind,
        "mass_kg": mass,
        "volume_l": 10,
        "longest_cm": 40,
        "pack_size": pack,
        "price_low": 1,
        "price_high": 2,
    }
    for key, name, kind, mass, pack in (
        ("diesel-20l", "diesel can", "supply", 21.0, 20),
        ("petrol-20l", "petrol can", "supply", 19.2, 20),
        ("drinking-water", "drinking water 10 L", "safety", 10.4, 10),
        ("satellite-messenger", "satellite messenger", "safety", 0.2, 1),
        ("distress-beacon", "distress beacon", "safety", 0.25, 1),
    )
}
HEAD: dict[str, Any] = {
    "title": "Invented",
    "start": "2027-06-14",  # a Monday
    "days": 3,
    "prepared": "2027-06-01",
    "time_zone": "UTC-1",
    "party": {"people": 2},
    "vehicle": [{"id": "one", "spec": "one.toml", "crew": 2}],
    "climate": {"day_high": "25 degC", "night_low": "5 degC"},
    "limits": {"kit_mass": "50 kg", "kit_volume": "100 L", "kit_money": 100},
    "comms": {"alarm": "1 h", "mobilise": "3 h"},
    "stop": [
        {"name": "First camp", "km": "100 km", "day": 1, "camp": True},
        {"name": "Second camp", "km": "200 km", "day": 2, "camp": True},
        {"name": "Home", "km": "300 km", "day": 3},
    ],
    "help": [
        {
            "name": "West",
            "kind": ["fuel", "water", "workshop", "medical", "phone"],
            "km": "0 km",
            "fuels": ["diesel"],
            "lead_days": "2 days",
        },
        {
            "name": "East",
            "kind": ["fuel", "water", "workshop", "medical", "phone"],
            "km": "300 km",
            "fuels": ["diesel"],
            "lead_days": "4 days",
        },
    ],
}
LEGS = (
    Leg(1, 0, 60, "sealed", line=2),
    Leg(1, 60, 100, "gravel", line=3),
    Leg(2, 100, 200, "corrugated", line=4),
    Leg(3, 200, 240, "sand", line=5),
    Leg(3, 240, 300, "gravel", line=6),
)


@lru_cache(maxsize=1)
def ground() -> Library:
    """The shipped surfaces, the two builds used here and the gear a trip's supplies name; nothing else is read."""
    folder = shipped_folder("vehicle_specs")
    rows = csv.DictReader((folder / "surfaces.csv").read_text(encoding="utf-8").splitlines())
    surfaces = {row["id"]: Surface.model_validate(row) for row in rows}
    builds = {key: _toml(folder / "archetypes" / f"{key}.toml") for key in (WAGON, PETROL)}
    items = {key: Item.model_validate(row) for key, row in GEAR.items()}
    return Library(
        folder,
        archetypes={key: Archetype.model_validate(data) for key, data in builds.items()},
        surfaces=surfaces,
        items=items,
    )


def _toml(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def vehicle(key: str = "one", build: str = WAGON, crew: int = 2, **spec: Any) -> Vehicle:
    """A vehicle as read, with nothing fitted."""
    data = {"name": key.title(), "based_on": build, "water": "60 L", **spec}
    head = TripHead.model_validate({**HEAD, "vehicle": [{"id": key, "spec": "x", "crew": crew}]})
    return Vehicle(head.vehicle[0], VehicleSpec.model_validate(data), ground().archetypes[build])


def trip(
    legs: tuple[Leg, ...] = LEGS,
    vehicles: tuple[Vehicle, ...] = (),
    library: Library | None = None,
    surfaces: tuple[SurfaceStretch, ...] = (),
    inventory: tuple[Stock, ...] = (),
    route_files: tuple[Path, ...] = (),
    **head: Any,
) -> Trip:
    """A trip of three days and 300 km with help at both ends; keywords replace keys of trip.toml."""
    return Trip(
        id="invented",
        folder=Path("invented"),
        digest="0000000000",
        head=TripHead.model_validate({**HEAD, **head}),
        vehicles=vehicles or (vehicle(),),
        library=library or ground(),
        surfaces=surfaces,
        inventory=inventory,
        route_files=route_files,
        legs=legs,
    )


def stock(item: str, quantity: float, where: str = "") -> Stock:
    return Stock(item=item, quantity=quantity, vehicle=where)


def resurfaced(legs: tuple[Leg, ...], surface: str) -> tuple[Leg, ...]:
    return tuple(replace(leg, surface=surface) for leg in legs)


def exposed(made: Trip) -> Exposure:
    return expose(made, trip_route(made), None)
