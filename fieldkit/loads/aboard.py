"""A vehicle's masses by what they are: the build, fitted parts, people, fuel, water, loads, trailer, kit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Protocol

from fieldkit.errors import Fault, nearest_name, several
from fieldkit.loads.figures import LoadFigures, TyreFigures, load_figures
from fieldkit.loads.fitted_tyres import fitted_tyre, lift_mm
from fieldkit.loads.places import Locator, locator
from fieldkit.loads.result import MassEntry
from fieldkit.specs.library import Library, Modification
from fieldkit.specs.trip import Load, Vehicle


class KitEntry(Protocol):
    """One line of a kit, as the loads need it: packs of one item in a vehicle's place."""

    @property
    def item(self) -> str: ...
    @property
    def quantity(self) -> int: ...
    @property
    def mass_kg(self) -> float: ...
    @property
    def vehicle(self) -> str: ...
    @property
    def place(self) -> str: ...


class KitLike(Protocol):
    """Anything with kit lines under ``items``."""

    @property
    def items(self) -> Iterable[KitEntry]: ...


@dataclass(frozen=True)
class Aboard:
    """A vehicle's masses in groups; ``parts`` by modification, in the order they stand in the file.

    ``built`` is the kerb state: build with an empty tank, and a full tank of fuel.
    """

    built: tuple[MassEntry, ...]
    parts: tuple[tuple[str, tuple[MassEntry, ...]], ...]
    people: tuple[MassEntry, ...]
    water: tuple[MassEntry, ...]
    loads: tuple[MassEntry, ...]
    ball: tuple[MassEntry, ...]
    cautions: tuple[str, ...] = ()

    @property
    def fitted(self) -> tuple[MassEntry, ...]:
        """The build with every part, tanks full, nobody aboard."""
        return self.built + tuple(e for _, group in self.parts for e in group)

    @property
    def departure(self) -> tuple[MassEntry, ...]:
        """Everything that leaves, without the kit."""
        return self.fitted + self.people + self.water + self.loads + self.ball


def aboard(vehicle: Vehicle, figures: LoadFigures | None = None, tyres: TyreFigures | None = None) -> Aboard:
    """A vehicle's masses with their places, heights raised by its lift and its tyres.

    Raises
    ------
    InputFaults
        If a tyre size cannot be read.
    """
    figures = figures or load_figures()
    raised = _Raised(vehicle, figures, tyres)
    parts, cautions = _parts(vehicle, figures)
    people, crowded = _people(vehicle, figures)
    return Aboard(
        built=raised.all(_built(vehicle, figures)),
        parts=tuple((key, raised.all(group)) for key, group in parts),
        people=raised.all(people),
        water=raised.all(_water(vehicle, figures)),
        loads=raised.all(_load(vehicle, load) for load in vehicle.spec.load),
        ball=_ball(vehicle, figures),
        cautions=(*cautions, *crowded),
    )


class _Raised:
    """Heights as they are on this vehicle's tyres and springs; the build's figures are for its own."""

    def __init__(self, vehicle: Vehicle, figures: LoadFigures, tyres: TyreFigures | None) -> None:
        tyre = fitted_tyre(vehicle, tyres)
        self.tyre_m = (tyre.fitted.diameter_mm - tyre.built.diameter_mm) / 2000
        self.lift_m = lift_mm(vehicle) / 1000
        self.sprung = 1 - figures.where.unsprung_share

    def all(self, entries: Iterable[MassEntry]) -> tuple[MassEntry, ...]:
        return tuple(self.one(e) for e in entries)

    def one(self, entry: MassEntry) -> MassEntry:
        share = self.sprung if entry.kind == "build" else 0.0 if entry.place == "wheels" else 1.0
        return replace(entry, z_m=entry.z_m + self.tyre_m + share * self.lift_m)


def at_place(vehicle: Vehicle, place: str | None, name: str, mass_kg: float, **more: Any) -> MassEntry:
    """A mass in one of the vehicle's places; in the middle of its kerb mass when the place is None."""
    x, z = kerb_centre(vehicle)
    entry = MassEntry(name, mass_kg, x, 0.0, z)
    if place is not None:
        spot = vehicle.places[place]
        entry = MassEntry(name, mass_kg, spot.x_m, spot.y_m, spot.z_m, place, on_roof=spot.on_roof)
    return replace(entry, **more)


def _first_place(vehicle: Vehicle, wanted: Iterable[str]) -> str | None:
    return next((p for p in wanted if p in vehicle.places), None)


def kerb_centre(vehicle: Vehicle) -> tuple[float, float]:
    """Where the kerb mass acts: x ahead of the rear axle, z above ground [m]."""
    masses = vehicle.archetype.masses
    total = masses.kerb_front_kg + masses.kerb_rear_kg
    return vehicle.archetype.wheelbase_m * masses.kerb_front_kg / total, masses.centre_height_m


# ------------------------------------------------------------------------------- build and parts
def _built(vehicle: Vehicle, figures: LoadFigures) -> list[MassEntry]:
    masses, build = vehicle.archetype.masses, vehicle.archetype
    kerb = masses.kerb_front_kg + masses.kerb_rear_kg
    x, z = kerb_centre(vehicle)
    fuel = _fuel(vehicle, build.fuel_tank_l, figures)
    dry = kerb - fuel.mass_kg
    shell = MassEntry(
        "build as it left the factory, tank empty",
        dry,
        (kerb * x - fuel.mass_kg * fuel.x_m) / dry,
        -fuel.mass_kg * fuel.y_m / dry,
        (kerb * z - fuel.mass_kg * fuel.z_m) / dry,
        kind="build",
    )
    return [shell, fuel] if fuel.mass_kg else [shell]


def _fuel(vehicle: Vehicle, litres: float, figures: LoadFigures, place: str | None = None) -> MassEntry:
    kilograms = litres * figures.density.get(vehicle.archetype.fuel, 0.0)
    where = place or _first_place(vehicle, figures.where.fuel)
    entry = at_place(vehicle, where, f"{vehicle.archetype.fuel}, {litres:.0f} L", kilograms, kind="fuel", used_up=True)
    if where:
        return entry
    return replace(entry, x_m=figures.where.fuel_ahead_of_axle_m, z_m=figures.where.fuel_height_m)


def _parts(vehicle: Vehicle, figures: LoadFigures) -> tuple[list[tuple[str, tuple[MassEntry, ...]]], tuple[str, ...]]:
    groups, lost = [], []
    for fitted, part in vehicle.modifications:
        entry = part_entry(vehicle, fitted.id, part)
        if entry.place is None and part.x_m is None and abs(entry.mass_kg) >= figures.where.unplaced_kg:
            lost.append(part.name)
        group = [entry] if entry.mass_kg else []
        if part.fuel_l:
            group.append(_fuel(vehicle, part.fuel_l, figures, part.place if part.place in vehicle.places else None))
        groups.append((fitted.id, tuple(group)))
    words = f"Where these parts sit is not known, so they are taken at the vehicle's middle: {several(lost)}."
    return groups, (words,) if lost else ()


def part_entry(vehicle: Vehicle, key: str, part: Modification) -> MassEntry:
    """A fitted part's mass, less what it replaces, where it sits; in the vehicle's middle when nobody says where."""
    x, z = kerb_centre(vehicle)
    spot = vehicle.places.get(part.place or "")
    at_x = part.x_m if part.x_m is not None else spot.x_m if spot else x
    at_z = part.z_m if part.z_m is not None else spot.z_m if spot else z
    roof = spot.on_roof if spot else bool({"roof-rack", "roof-tent"} & {key, *part.adds})
    return MassEntry(
        part.name,
        part.mass_kg - part.removes_kg,
        at_x,
        spot.y_m if spot else 0.0,
        at_z,
        part.place if spot else None,
        kind="part",
        on_roof=roof,
        item=key,
    )


# ------------------------------------------------------------------------- people, water, loads
def seats_by_row(vehicle: Vehicle) -> list[tuple[str, int]]:
    """Rows of seats from the front with their seats: two in front (all, where there is one row), the rest shared out."""
    rows, seats = [r for r in vehicle.archetype.seat_rows if r in vehicle.places], vehicle.archetype.seats
    if len(rows) < 2:
        return [(r, seats) for r in rows]
    behind, left = rows[1:], max(seats - 2, 0)
    shared = [left // len(behind) + (i < left % len(behind)) for i in range(len(behind))]
    return [(rows[0], min(2, seats)), *zip(behind, shared, strict=True)]


def _people(vehicle: Vehicle, figures: LoadFigures) -> tuple[list[MassEntry], tuple[str, ...]]:
    crew, seats = vehicle.entry.crew, sum(n for _, n in seats_by_row(vehicle))
    text = figures.text["crowded"].format(crew=crew, seats=seats)
    return seated(vehicle, crew, figures), (text,) if crew > seats else ()


def _seats(vehicle: Vehicle, people: int) -> list[str | None]:
    """A seat row for each person, front rows first; more people than seats sit in the last row."""
    seats: list[str | None] = [row for row, n in seats_by_row(vehicle) for _ in range(n)]
    last = seats[-1] if seats else None
    return [seats[i] if i < len(seats) else last for i in range(people)]


def seated(vehicle: Vehicle, people: int, figures: LoadFigures) -> list[MassEntry]:
    """So many people in the vehicle's seats, the driver first."""
    found = []
    for i, where in enumerate(_seats(vehicle, people)):
        name, kilograms = ("driver", figures.people.driver_kg) if i == 0 else ("passenger", figures.people.passenger_kg)
        found.append(at_place(vehicle, where, name, kilograms, kind="person"))
    return found


def water_aboard_l(vehicle: Vehicle) -> tuple[float, float]:
    """Drinking water at departure in fixed tanks and in cans [L].

    ``water`` of the vehicle's file is all of it; where that is 0, fitted tanks are full. Fixed tanks are filled first.
    """
    tanks = sum(part.water_l for _, part in vehicle.modifications)
    total = vehicle.spec.water_l or tanks
    if "water-tank" in vehicle.archetype.features and not tanks:
        spot = vehicle.places.get("water-tank")
        tanks = spot.limit_kg if spot and spot.limit_kg else total
    return min(total, tanks), max(total - tanks, 0.0)


def _water(vehicle: Vehicle, figures: LoadFigures) -> list[MassEntry]:
    tank, cans = water_aboard_l(vehicle)
    density, empty, entries = figures.density.get("water", 1.0), figures.where.can_kg_per_l, []
    if tank:
        name, spot = f"water in the fixed tank, {tank:.0f} L", _tank_place(vehicle, figures)
        entries.append(at_place(vehicle, spot, name, tank * density, kind="water", used_up=True))
    for where, litres in _cans_by_place(vehicle, cans, density + empty, figures):
        name = f"water in cans, {litres:.0f} L"
        entries.append(at_place(vehicle, where, name, litres * density, kind="water", used_up=True))
        entries.append(at_place(vehicle, where, "water cans, empty", litres * empty, kind="water"))
    return entries


def _cans_by_place(
    vehicle: Vehicle, litres: float, kg_per_l: float, figures: LoadFigures
) -> list[tuple[str | None, float]]:
    """Litres of cans by place: nobody says where they stand, so places share them by the kilograms they still take."""
    places = [p for p in figures.where.water_cans if p in vehicle.places and vehicle.places[p].volume_l != 0]
    room = {p: _room_for_cans(vehicle, p) for p in places}
    if not litres or not places:
        return [(None, litres)] if litres else []
    open_ended = [p for p in places if room[p] is None]
    if open_ended:
        return [(open_ended[0], litres)]
    total = sum(kg or 0.0 for kg in room.values())
    if total < litres * kg_per_l:
        return [(places[0], litres)]
    return [(p, litres * kg / total) for p, kg in room.items() if kg]


def _room_for_cans(vehicle: Vehicle, place: str) -> float | None:
    limit = vehicle.places[place].limit_kg
    loaded = sum(load.mass_kg for load in vehicle.spec.load if load.place == place)
    return None if limit is None else max(0.0, limit - loaded)


def _tank_place(vehicle: Vehicle, figures: LoadFigures) -> str | None:
    own = [p.place for _, p in vehicle.modifications if p.water_l and p.place in vehicle.places]
    return own[0] if own else _first_place(vehicle, figures.where.water_tank)


def _load(vehicle: Vehicle, load: Load) -> MassEntry:
    entry = at_place(vehicle, load.place, load.name, load.mass_kg, used_up=load.used_up)
    x = entry.x_m if load.x_m is None else load.x_m
    z = entry.z_m if load.z_m is None else load.z_m
    roof = entry.on_roof or (load.place is None and z >= _roof_height(vehicle))
    return replace(entry, x_m=x, y_m=load.y_m or entry.y_m, z_m=z, on_roof=roof)


def _roof_height(vehicle: Vehicle) -> float:
    return min((p.z_m for p in vehicle.places.values() if p.on_roof), default=float("inf")) - 0.1


def _ball(vehicle: Vehicle, figures: LoadFigures) -> tuple[MassEntry, ...]:
    trailer = vehicle.spec.trailer
    if trailer is None:
        return ()
    where = _first_place(vehicle, figures.where.ball)
    entry = at_place(vehicle, where, f"ball load of {trailer.name}", trailer.ball_load_kg, kind="ball")
    if where:
        return (entry,)
    return (replace(entry, x_m=-figures.where.ball_behind_axle_m, z_m=figures.where.ball_height_m),)


# ------------------------------------------------------------------------------------------- kit
def kit_entries(
    vehicle: Vehicle, kit: KitLike, library: Library, can_fuel_kg: Mapping[str, float] | None = None
) -> tuple[MassEntry, ...]:
    """The kit's lines that this vehicle carries, each with all its packs; ``can_fuel_kg``: item -> fuel in a full can [kg]."""
    return tuple(
        at_place(
            vehicle,
            line.place,
            library.items[line.item].name if line.item in library.items else line.item,
            line.quantity * line.mass_kg,
            kind="kit",
            packs=line.quantity,
            item=line.item,
            fuel_kg=line.quantity * (can_fuel_kg or {}).get(line.item, 0.0),
        )
        for line in kit.items
        if line.vehicle == vehicle.id and line.quantity
    )


def place_faults(vehicle: Vehicle, kit: KitLike | None = None, at: Locator | None = None) -> list[Fault]:
    """Loads and kit lines whose place the vehicle does not have, and loads without any; ``at`` finds the lines."""
    faults, places, at = [], vehicle.places, at or locator(vehicle)
    for i, load in enumerate(vehicle.spec.load):
        if load.place and load.place not in places:
            faults.append(_no_place(vehicle, at("load", i, "place"), f"load '{load.name}'", load.place))
        if not load.place and (load.x_m is None or load.z_m is None):
            faults.append(Fault(at("load", i), f"load '{load.name}' has no place", "a 'place', or 'x' and 'z'"))
    for line in kit.items if kit else ():
        if line.vehicle == vehicle.id and line.place not in places:
            faults.append(_no_place(vehicle, vehicle.entry.spec, f"kit item '{line.item}'", line.place))
    return faults


def _no_place(vehicle: Vehicle, at: str, what: str, place: str) -> Fault:
    known = vehicle.places
    return Fault(
        at, f"{what} is in unknown place '{place}'", f"one of: {several(known, 20)}", nearest_name(place, known)
    )
