"""A trip folder to a Trip, every mistake of every file at once."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any, TypeVar

from fieldkit.errors import Fault, InputFaults, several
from fieldkit.specs.base import Spec
from fieldkit.specs.library import Library, Modification
from fieldkit.specs.read_library import load_library
from fieldkit.specs.read_marked import read_stock_moves, read_ticks, read_vehicles_out, with_figures
from fieldkit.specs.reading import Loc, line_at, lines_of, parse_toml, read_spec
from fieldkit.specs.stock_now import inventory_now
from fieldkit.specs.trip import (
    Fitted,
    Trip,
    TripHead,
    Vehicle,
    VehicleEntry,
    VehicleSpec,
)
from fieldkit.specs.trip_reading import Reading, check_mode
from fieldkit.specs.trip_tables import (
    read_findings,
    read_inventory,
    read_learned,
    read_legs,
    read_logbook,
    read_surfaces,
)

S = TypeVar("S", bound=Spec)

ROUTE_NAMES = ("route.gpx", "route.gpx.gz", "route.geojson")


def load_trip(folder: Path | str, library: Library | None = None) -> Trip:
    """A trip folder as a Trip.

    Parameters
    ----------
    folder : Path
        Holds ``trip.toml`` and the files beside it (docs/formats.md).
    library : Library or None
        The knowledge to resolve names in; the shipped library when None. A folder ``library/`` inside the trip is an
        overlay on it.

    Raises
    ------
    InputFaults
        With every fault of every file of the folder.

    Examples
    --------
    >>> from fieldkit.specs.read_library import shipped_folder
    >>> load_trip("no such folder")
    Traceback (most recent call last):
        ...
    fieldkit.errors.InputFaults: no such folder: no trip folder; expected a folder that holds trip.toml
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise InputFaults([Fault(str(folder), "no trip folder", "a folder that holds trip.toml")])
    if library is None:
        overlay = folder / "library"
        library = load_library(overlay) if overlay.is_dir() else load_library()
    reading = Reading(folder, library)
    head, vehicles = _head(reading)
    legs, surfaces = read_legs(reading), read_surfaces(reading)
    routes = _route_files(reading, head, bool(legs))
    findings, inventory, logbook = (
        read_findings(reading, vehicles),
        read_inventory(reading, vehicles),
        read_logbook(reading),
    )
    private, learned = _private(reading), read_learned(reading)
    ticks, moves, out = read_ticks(reading), read_stock_moves(reading), read_vehicles_out(reading)
    vehicles = with_figures(reading, vehicles)
    inventory, gone = inventory_now(inventory, moves)
    reading.warnings += gone
    if head:
        _cross_checks(reading, head)
    if reading.faults or head is None:
        raise InputFaults(_sorted(reading.faults))
    return Trip(
        id=_trip_id(folder),
        folder=folder,
        digest=reading.digest.hexdigest()[:10],
        head=head,
        vehicles=tuple(vehicles),
        library=library,
        legs=legs,
        surfaces=surfaces,
        route_files=routes,
        findings=findings,
        inventory=inventory,
        logbook=logbook,
        ticks=ticks,
        stock_moves=moves,
        vehicles_out=out,
        learned=learned,
        private=private,
        warnings=tuple(reading.warnings),
    )


def _trip_id(folder: Path) -> str:
    plain = re.sub(r"[^a-z0-9]+", "-", folder.resolve().name.lower()).strip("-")
    return plain or "trip"


def _sorted(faults: Sequence[Fault]) -> list[Fault]:
    def key(fault: Fault) -> tuple[str, int, str]:
        name, _, rest = fault.place.partition(":")
        number = re.match(r"\d+", rest)
        return name, int(number[0]) if number else 0, fault.found

    return sorted(faults, key=key)


# ------------------------------------------------------------------------------------- trip.toml
def _spec_file(reading: Reading, path: Path, model: type[S]) -> tuple[S | None, dict[Loc, int]]:
    text = reading.text(path)
    if not text:
        return None, {}
    data, faults = parse_toml(text, reading.name(path))
    where = lines_of(text)
    if faults:
        reading.faults += faults
        return None, where
    spec, faults = read_spec(model, data, reading.name(path), where)
    reading.faults += faults
    return spec, where


def _head(reading: Reading) -> tuple[TripHead | None, list[Vehicle]]:
    head, where = _spec_file(reading, reading.folder / "trip.toml", TripHead)
    if head is None:
        return None, _other_vehicles(reading)
    vehicles, seen = [], set()
    for i, entry in enumerate(head.vehicle):
        place = f"trip.toml:{line_at(where, ('vehicle', i))}"
        if entry.id in seen:
            reading.faults.append(Fault(place, f"vehicle id '{entry.id}' stands twice", "each vehicle its own id"))
        seen.add(entry.id)
        path = reading.folder / entry.spec
        if not path.is_file():
            known = [p.relative_to(reading.folder).as_posix() for p in sorted(reading.folder.glob("vehicles/*.toml"))]
            reading.unknown(f"trip.toml:{line_at(where, ('vehicle', i, 'spec'))}", "vehicle file", entry.spec, known)
            continue
        if vehicle := _vehicle(reading, path, entry):
            vehicles.append(vehicle)
    _head_names(reading, head, where)
    return head, vehicles


def _other_vehicles(reading: Reading) -> list[Vehicle]:
    """With an unreadable trip.toml, the vehicles' files are still read for their own faults."""
    for path in sorted(reading.folder.glob("vehicles/*.toml")):
        stem = re.sub(r"[^a-z0-9]+", "-", path.stem.lower()).strip("-") or "vehicle"
        _vehicle(reading, path, VehicleEntry.model_validate({"id": stem, "spec": path.name, "crew": 1}))
    return []


def _head_names(reading: Reading, head: TripHead, where: dict[Loc, int]) -> None:
    library = reading.library
    names = [h.name for h in head.help]
    for i, point in enumerate(head.help):
        if point.surface and point.surface not in library.surfaces:
            reading.unknown(
                f"trip.toml:{line_at(where, ('help', i, 'surface'))}", "surface", point.surface, library.surfaces
            )
        if point.km is None and not any(e.to == point.name for e in head.escape):
            reading.faults.append(
                Fault(
                    f"trip.toml:{line_at(where, ('help', i))}",
                    f"help point '{point.name}' is neither on the route nor at the end of an escape road",
                    "a 'km' on the route, or an [[escape]] that leads 'to' it",
                )
            )
    for i, road in enumerate(head.escape):
        if road.to not in names:
            reading.unknown(f"trip.toml:{line_at(where, ('escape', i, 'to'))}", "help point", road.to, names)
        if road.surface not in library.surfaces:
            reading.unknown(
                f"trip.toml:{line_at(where, ('escape', i, 'surface'))}", "surface", road.surface, library.surfaces
            )
    for item in head.comms.carried:
        if item not in library.items:
            reading.unknown(f"trip.toml:{line_at(where, ('comms', 'carried'))}", "item", item, library.items)


def _cross_checks(reading: Reading, head: TripHead) -> None:
    if head.prepared > head.start:
        reading.faults.append(
            Fault(
                "trip.toml:1", f"prepared {head.prepared} lies after start {head.start}", "prepared on or before start"
            )
        )
    aboard = sum(v.crew for v in head.vehicle)
    if aboard > head.party.people:
        reading.faults.append(
            Fault(
                "trip.toml:1",
                f"{aboard} people sit in the vehicles, but [party] people is {head.party.people}",
                "crews that add to the party",
            )
        )


# -------------------------------------------------------------------------------------- vehicles
def _vehicle(reading: Reading, path: Path, entry: VehicleEntry) -> Vehicle | None:
    spec, where = _spec_file(reading, path, VehicleSpec)
    if spec is None:
        return None
    name, library = reading.name(path), reading.library

    def place(*loc: Any) -> str:
        return f"{name}:{line_at(where, loc)}"

    if spec.based_on not in library.archetypes:
        reading.unknown(place("based_on"), "build", spec.based_on, library.archetypes)
    fitted: list[tuple[Fitted, Modification]] = []
    for i, part in enumerate(spec.fitted):
        if part.id in library.modifications:
            fitted.append((part, library.modifications[part.id]))
        else:
            reading.unknown(place("fitted", i, "id"), "modification", part.id, library.modifications)
    for i, renewed in enumerate(spec.renewed):
        check_mode(reading, renewed.failure_mode, renewed.positions, place("renewed", i))
    for feature in (*spec.features, *spec.without):
        if feature not in library.features and feature not in library.modifications:
            reading.unknown(place("features"), "feature", feature, library.features)
    for surface in spec.age.usual:
        if surface not in library.surfaces:
            reading.unknown(place("age", "usual"), "surface", surface, library.surfaces)
    _vehicle_sums(reading, spec, place)
    if spec.based_on not in library.archetypes:
        return None
    vehicle = Vehicle(entry, spec, library.archetypes[spec.based_on], tuple(fitted))
    for i, load in enumerate(spec.load):
        if load.place and load.place not in vehicle.places:
            reading.unknown(place("load", i, "place"), "place", load.place, vehicle.places)
        if not load.place and (load.x_m is None or load.z_m is None):
            reading.faults.append(
                Fault(place("load", i), f"load '{load.name}' has no place", "a 'place', or 'x' and 'z'")
            )
    _needs_met(reading, vehicle, place)
    return vehicle


def _vehicle_sums(reading: Reading, spec: VehicleSpec, place: Any) -> None:
    total = sum(spec.age.usual.values())
    if spec.age.usual and abs(total - 1) > 1e-6:
        reading.faults.append(Fault(place("age", "usual"), f"usual shares add to {total:g}", "shares that add to 1"))
    for i, ticket in enumerate(spec.weighed):
        axles = (ticket.front_kg, ticket.rear_kg)
        wheels = (ticket.front_left_kg, ticket.front_right_kg, ticket.rear_left_kg, ticket.rear_right_kg)
        if None in axles and None in wheels:
            reading.faults.append(
                Fault(place("weighed", i), "a ticket without both axles", "front and rear, or all four wheels")
            )


def _needs_met(reading: Reading, vehicle: Vehicle, place: Any) -> None:
    """A part that cannot be fitted to this build is a fault; sets that must match are for the fitness page."""
    have = vehicle.features
    for i, (fitted, part) in enumerate(vehicle.modifications):
        lacking = [n for n in part.needs if n not in have and n not in vehicle.archetype.features]
        clash = [n for n in part.without if n in have and n != fitted.id]
        words = reading.library.features
        if lacking:
            reading.faults.append(
                Fault(
                    place("fitted", i, "id"),
                    f"'{fitted.id}' on a vehicle without {several(words.get(n, n) for n in lacking)}",
                    "a part for this build, or the missing part in [[fitted]] or 'features'",
                )
            )
        if clash:
            reading.faults.append(
                Fault(
                    place("fitted", i, "id"),
                    f"'{fitted.id}' on a vehicle with {several(words.get(n, n) for n in clash)}",
                    "a part for this build",
                )
            )


def _route_files(reading: Reading, head: TripHead | None, has_legs: bool) -> tuple[Path, ...]:
    folder = reading.folder
    if head and head.route:
        names: tuple[str, ...] = (head.route,) if isinstance(head.route, str) else head.route
    else:
        names = tuple(n for n in ROUTE_NAMES if (folder / n).is_file())[:1]
    found = []
    for name in names:
        path = folder / name
        if path.is_file():
            reading.digest.update(name.encode() + path.read_bytes())
            found.append(path)
        else:
            known = [p.name for p in folder.iterdir() if p.suffix in {".gpx", ".geojson", ".gz", ".csv"}]
            reading.unknown("trip.toml:1 route", "route file", name, known)
    if not found and not has_legs and head and not head.route:
        reading.faults.append(
            Fault(
                str(folder), "no route", "route.gpx, route.geojson or legs.csv in the folder, or 'route' in trip.toml"
            )
        )
    return tuple(found)


def _private(reading: Reading) -> dict[str, object]:
    path = reading.folder / "private.toml"
    if not path.is_file():
        return {}
    data, faults = parse_toml(reading.text(path), "private.toml")
    reading.faults += faults
    return data
