"""A trip folder to a Trip, every mistake of every file at once."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

from fieldkit.errors import Fault, InputFaults, nearest_name, several
from fieldkit.quantities import QuantityError, parse
from fieldkit.specs.base import Spec
from fieldkit.specs.library import Library, Modification
from fieldkit.specs.read_library import load_library
from fieldkit.specs.reading import Loc, line_at, lines_of, parse_toml, read_spec
from fieldkit.specs.trip import (
    Finding,
    Fitted,
    Leg,
    LogEntry,
    Stock,
    SurfaceStretch,
    Trip,
    TripHead,
    Vehicle,
    VehicleEntry,
    VehicleSpec,
)
from fieldkit.tables import Row, read_table, read_text

S = TypeVar("S", bound=Spec)

ROUTE_NAMES = ("route.gpx", "route.gpx.gz", "route.geojson")
_ISO = re.compile(r"^\d{4}-\d{2}-\d{2}$")
_TWO_READINGS = re.compile(r"^(\d{1,2})[/.-](\d{1,2})[/.-](\d{2,4})$")
_MONTHS = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
]


@dataclass
class _Reading:
    """What one run of the reader has found: faults, notes, and the bytes that make the digest."""

    folder: Path
    library: Library
    faults: list[Fault] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    digest: Any = field(default_factory=hashlib.sha256)

    def text(self, path: Path) -> str:
        """A file's text; faults are kept, bytes go into the digest."""
        name = self.name(path)
        text, faults = read_text(path, name)
        self.faults += faults
        self.digest.update(name.encode() + b"\0" + text.encode())
        return text

    def name(self, path: Path) -> str:
        return path.relative_to(self.folder).as_posix() if path.is_relative_to(self.folder) else path.as_posix()

    def unknown(self, place: str, what: str, name: str, known: Iterable[str]) -> None:
        """Note a name that the library or the trip does not have."""
        known = list(known)
        self.faults.append(
            Fault(place, f"unknown {what} '{name}'", f"one of: {several(known, 12)}", nearest_name(name, known))
        )


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
    reading = _Reading(folder, library)
    head, vehicles = _head(reading)
    legs, surfaces = _legs(reading), _surfaces(reading)
    routes = _route_files(reading, head, bool(legs))
    findings, inventory, logbook = _findings(reading, vehicles), _inventory(reading, vehicles), _logbook(reading)
    private, learned = _private(reading), _learned(reading)
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
def _spec_file(reading: _Reading, path: Path, model: type[S]) -> tuple[S | None, dict[Loc, int]]:
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


def _head(reading: _Reading) -> tuple[TripHead | None, list[Vehicle]]:
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


def _other_vehicles(reading: _Reading) -> list[Vehicle]:
    """With an unreadable trip.toml, the vehicles' files are still read for their own faults."""
    for path in sorted(reading.folder.glob("vehicles/*.toml")):
        stem = re.sub(r"[^a-z0-9]+", "-", path.stem.lower()).strip("-") or "vehicle"
        _vehicle(reading, path, VehicleEntry.model_validate({"id": stem, "spec": path.name, "crew": 1}))
    return []


def _head_names(reading: _Reading, head: TripHead, where: dict[Loc, int]) -> None:
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


def _cross_checks(reading: _Reading, head: TripHead) -> None:
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
def _vehicle(reading: _Reading, path: Path, entry: VehicleEntry) -> Vehicle | None:
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
        _check_mode(reading, renewed.failure_mode, renewed.positions, place("renewed", i))
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


def _vehicle_sums(reading: _Reading, spec: VehicleSpec, place: Any) -> None:
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


def _needs_met(reading: _Reading, vehicle: Vehicle, place: Any) -> None:
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


def _check_mode(reading: _Reading, mode: str, positions: Iterable[str], place: str) -> None:
    modes = reading.library.failure_modes
    if mode not in modes:
        reading.unknown(place, "weak point", mode, modes)
        return
    names = modes[mode].position_names
    for position in positions:
        if position and position not in names:
            reading.unknown(place, f"position of {mode}", position, names or ("(no positions: leave it empty)",))


# ---------------------------------------------------------------------------------------- tables
def _rows(reading: _Reading, file: str, required: Sequence[str], optional: Sequence[str] = ()) -> tuple[Row, ...]:
    path = reading.folder / file
    if not path.is_file():
        return ()
    reading.digest.update(file.encode() + path.read_bytes())
    table = read_table(path, file, required, optional)
    reading.faults += table.faults
    return table.rows


def _number(reading: _Reading, row: Row, file: str, column: str, low: float, high: float) -> float | None:
    text = row.cells.get(column, "")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        reading.faults.append(
            Fault(f"{file}:{row.line} {column}", f"'{text}' is not a number", "digits with a decimal point, no unit")
        )
        return None
    if not low <= value <= high:
        reading.faults.append(Fault(f"{file}:{row.line} {column}", f"{text} is not possible", f"{low:g} to {high:g}"))
        return None
    return value


def _surface(reading: _Reading, row: Row, file: str) -> str:
    name = row.cells.get("surface", "")
    if name not in reading.library.surfaces:
        reading.unknown(f"{file}:{row.line} surface", "surface", name, reading.library.surfaces)
    return name


def _span(reading: _Reading, row: Row, file: str) -> tuple[float, float] | None:
    start, end = (_number(reading, row, file, c, 0, 50_000) for c in ("from_km", "to_km"))
    for column, value in (("from_km", start), ("to_km", end)):
        if value is None and not row.cells.get(column):
            reading.faults.append(Fault(f"{file}:{row.line} {column}", "an empty cell", "kilometres from the start"))
    if start is None or end is None:
        return None
    if end <= start:
        reading.faults.append(Fault(f"{file}:{row.line}", f"from {start:g} to {end:g} km", "to_km beyond from_km"))
        return None
    return start, end


def _legs(reading: _Reading) -> tuple[Leg, ...]:
    legs: list[Leg] = []
    file, reach = "legs.csv", 0.0
    for row in _rows(
        reading, file, ["day", "from_km", "to_km", "surface"], ["note", "water_depth_m", "climb_m", "difficulty"]
    ):
        day, span = _number(reading, row, file, "day", 1, 400), _span(reading, row, file)
        depth = _number(reading, row, file, "water_depth_m", 0, 3)
        climb = _number(reading, row, file, "climb_m", 0, 9_000)
        grade = _number(reading, row, file, "difficulty", 1, 4)
        surface = _surface(reading, row, file)
        if day is None or span is None:
            continue
        if abs(span[0] - reach) > 0.05 and legs:
            reading.faults.append(
                Fault(
                    f"{file}:{row.line} from_km",
                    f"starts at {span[0]:g} km, the leg before ends at {reach:g} km",
                    "legs without gap or overlap",
                )
            )
        reach = span[1]
        legs.append(
            Leg(
                int(day),
                *span,
                surface,
                depth or 0.0,
                climb,
                int(grade) if grade else None,
                row.cells.get("note", ""),
                row.line,
            )
        )
    return tuple(legs)


def _surfaces(reading: _Reading) -> tuple[SurfaceStretch, ...]:
    file, stretches = "surfaces.csv", []
    for row in _rows(reading, file, ["from_km", "to_km", "surface"], ["water_depth_m", "difficulty"]):
        span, surface = _span(reading, row, file), _surface(reading, row, file)
        depth = _number(reading, row, file, "water_depth_m", 0, 3)
        grade = _number(reading, row, file, "difficulty", 1, 4)
        if span:
            stretches.append(SurfaceStretch(*span, surface, depth or 0.0, int(grade) if grade else None, row.line))
    return tuple(stretches)


def _route_files(reading: _Reading, head: TripHead | None, has_legs: bool) -> tuple[Path, ...]:
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


def iso_date(text: str) -> tuple[date | None, str]:
    """An ISO date, or what is the matter with it.

    Examples
    --------
    >>> iso_date("02/01/2027")
    (None, "'02/01/2027' can be read as 2 January or as 1 February")
    """
    if _ISO.match(text):
        try:
            return date.fromisoformat(text), ""
        except ValueError:
            return None, f"'{text}' is not a day of the calendar"
    if match := _TWO_READINGS.match(text):
        one, two, year = int(match[1]), int(match[2]), match[3]
        if len(year) != 4:
            return None, f"'{text}' has a year of two digits"
        if one <= 12 and two <= 12 and one != two:
            return None, f"'{text}' can be read as {one} {_MONTHS[two - 1]} or as {two} {_MONTHS[one - 1]}"
    return None, f"'{text}' is not an ISO date"


def _dated(reading: _Reading, row: Row, file: str, column: str, needed: bool) -> bool:
    """Check one date cell; False when it cannot be used."""
    text = row.cells.get(column, "")
    if not text and not needed:
        return True
    value, matter = iso_date(text) if text else (None, "an empty cell")
    if value is None:
        reading.faults.append(Fault(f"{file}:{row.line} {column}", matter, "an ISO date, such as 2027-01-02"))
    return value is not None


def _row_spec(reading: _Reading, row: Row, file: str, model: type[S], cells: dict[str, Any]) -> S | None:
    data = {k: v for k, v in cells.items() if v not in ("", None)} | {"line": row.line}
    spec, faults = read_spec(model, data, file, {(): row.line, **{(c,): row.line for c in cells}})
    reading.faults += faults
    return spec


def _findings(reading: _Reading, vehicles: Sequence[Vehicle]) -> tuple[Finding, ...]:
    file, found = "findings.csv", []
    known = [v.id for v in vehicles]
    columns = ["date", "vehicle", "failure_mode", "finding"]
    for row in _rows(reading, file, columns, ["position", "measured", "inspector", "note"]):
        dated = _dated(reading, row, file, "date", True)
        place = f"{file}:{row.line}"
        if vehicles and row.cells["vehicle"] not in known:
            reading.unknown(f"{place} vehicle", "vehicle", row.cells["vehicle"], known)
        mode, position = row.cells["failure_mode"], row.cells.get("position", "")
        _check_mode(reading, mode, [position] if position else [], f"{place} failure_mode")
        _part_there(reading, vehicles, row.cells["vehicle"], mode, place)
        if dated and (spec := _row_spec(reading, row, file, Finding, row.cells)):
            found.append(spec)
    return tuple(found)


def _part_there(reading: _Reading, vehicles: Sequence[Vehicle], vehicle: str, mode: str, place: str) -> None:
    modes = reading.library.failure_modes
    for candidate in vehicles:
        if candidate.id == vehicle and mode in modes and not candidate.has(modes[mode]):
            reading.faults.append(
                Fault(
                    f"{place} failure_mode",
                    f"'{mode}' on {vehicle}, which has no such part",
                    "a weak point this build has",
                )
            )


def _inventory(reading: _Reading, vehicles: Sequence[Vehicle]) -> tuple[Stock, ...]:
    file, found = "inventory.csv", []
    known = [v.id for v in vehicles]
    for row in _rows(reading, file, ["item", "quantity"], ["owner", "vehicle", "good_until"]):
        place = f"{file}:{row.line}"
        if row.cells["item"] not in reading.library.items:
            reading.unknown(f"{place} item", "item", row.cells["item"], reading.library.items)
        if row.cells.get("vehicle") and vehicles and row.cells["vehicle"] not in known:
            reading.unknown(f"{place} vehicle", "vehicle", row.cells["vehicle"], known)
        amount = _number(reading, row, file, "quantity", 1e-9, 100_000)
        if not row.cells["quantity"]:
            reading.faults.append(Fault(f"{place} quantity", "an empty cell", "a number of packs"))
        dated = _dated(reading, row, file, "good_until", False) and amount is not None
        if dated and (spec := _row_spec(reading, row, file, Stock, {**row.cells, "quantity": amount})):
            found.append(spec)
    return tuple(found)


def _logbook(reading: _Reading) -> tuple[LogEntry, ...]:
    file, found = "logbook.csv", []
    columns = ["date", "vehicle", "kind"]
    optional = ["trip", "km", "failure_mode", "position", "procedure", "held", "hours_lost", "note"]
    for row in _rows(reading, file, columns, optional):
        dated = _dated(reading, row, file, "date", True)
        cells: dict[str, Any] = dict(row.cells)
        km = _number(reading, row, file, "km", 0, 1_000_000)
        cells["km"] = f"{km} km" if km is not None else ""
        if cells.get("failure_mode"):
            _check_mode(reading, cells["failure_mode"], [], f"{file}:{row.line} failure_mode")
        if cells.get("procedure") and cells["procedure"] not in reading.library.procedures:
            reading.unknown(
                f"{file}:{row.line} procedure", "field repair", cells["procedure"], reading.library.procedures
            )
        if dated and (spec := _row_spec(reading, row, file, LogEntry, cells)):
            found.append(spec)
    return tuple(found)


def _private(reading: _Reading) -> dict[str, object]:
    path = reading.folder / "private.toml"
    if not path.is_file():
        return {}
    data, faults = parse_toml(reading.text(path), "private.toml")
    reading.faults += faults
    return data


def _learned(reading: _Reading) -> dict[str, tuple[float, float]]:
    """``learned.csv``: failure_mode, failures' worth a and exposure b learned from a logbook (written by ``learn``)."""
    file, learned = "learned.csv", {}
    for row in _rows(reading, file, ["failure_mode", "a", "b"], ["evidence"]):
        _check_mode(reading, row.cells["failure_mode"], [], f"{file}:{row.line} failure_mode")
        a, b = (_number(reading, row, file, c, 1e-6, 1e9) for c in ("a", "b"))
        if a is not None and b is not None:
            learned[row.cells["failure_mode"]] = (a, b)
    return learned


def quantity_cell(text: str, kind: str, place: str) -> tuple[float | None, list[Fault]]:
    """A table cell that carries its own unit, as a value or a fault.

    Examples
    --------
    >>> quantity_cell("2.4 bar", "pressure", "p.csv:4")[0]
    240.0
    """
    try:
        return parse(text, kind), []
    except QuantityError as odd:
        return None, [Fault(place, str(odd))]
