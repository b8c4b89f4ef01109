"""What people write about a trip: the folder's files as frozen values. Nothing here is computed."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date as Day
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, field_validator

from fieldkit.specs.base import (
    Days,
    Distance,
    Grade,
    Hours,
    Id,
    Length,
    Mass,
    Pressure,
    Share,
    Skill,
    Spec,
    Speed,
    Temperature,
    Text,
    Volume,
)
from fieldkit.specs.library import Archetype, FailureMode, Library, Modification, Place
from fieldkit.specs.marked import StockMove, Tick, VehicleOut

HelpKind = Literal["fuel", "water", "workshop", "medical", "phone", "airstrip"]


class Stop(Spec):
    name: Text
    km: Distance
    day: int = Field(ge=1)
    hours: Hours = 0.0
    camp: bool = False


class Party(Spec):
    people: int = Field(ge=1, le=2_000)
    skills: tuple[Skill, ...] = ("anyone",)
    first_aid_trained: int = 0


class VehicleEntry(Spec):
    """One ``[[vehicle]]``: which file, who sits in it, where it drives. Position 1 leads."""

    id: Id
    spec: Text
    crew: int = Field(ge=0, le=20)
    position: int | None = Field(None, ge=1)
    kit_mass_kg: Mass | None = Field(None, alias="kit_mass")


class Help(Spec):
    """A help point beside the route (``km``, ``off``) or at the end of escape roads (only ``at``)."""

    name: Text
    kind: Annotated[tuple[HelpKind, ...], Field(min_length=1)]
    km: Distance | None = None
    off_km: Distance = Field(0.0, alias="off")
    surface: Id | None = None
    at: tuple[float, float] | None = None
    open: Text = "always"
    fuels: tuple[Literal["diesel", "petrol", "electric"], ...] = ()
    lead_days: Days = 0.0

    @field_validator("at")
    @classmethod
    def _on_earth(cls, value: tuple[float, float] | None) -> tuple[float, float] | None:
        if value and not (-90 <= value[0] <= 90 and -180 <= value[1] < 180):
            raise ValueError(
                f"latitude {value[0]:g}, longitude {value[1]:g} is not on earth; latitude -90 to 90, longitude -180 to below 180"
            )
        return value


class Escape(Spec):
    """A road out: from ``km`` on the route to a help point by name."""

    km: Distance
    to: Text
    distance_km: Distance = Field(alias="distance")
    surface: Id


class Climate(Spec):
    day_high_c: Temperature = Field(alias="day_high")
    night_low_c: Temperature = Field(alias="night_low")
    wet_share: Share = 0.1
    note: str = ""
    source: Text = "judgement"


class Limits(Spec):
    """Limits of the optimised kit (must-carry apart) and of the workshop before leaving."""

    kit_mass_kg: Mass = Field(alias="kit_mass")
    kit_volume_l: Volume = Field(alias="kit_volume")
    kit_money: float = Field(ge=0)
    workshop_hours: Hours = 0.0
    workshop_money: float = Field(0.0, ge=0)
    workshop_rate: float = Field(0.0, ge=0)
    water_margin_days: Days = Field(1.0, alias="water_margin")


class Comms(Spec):
    """How an alarm is raised. ``carried`` are item ids; ``alarm`` hours until somebody knows."""

    carried: tuple[Id, ...] = ()
    alarm_h: Hours = Field(24.0, alias="alarm")
    mobilise_h: Hours = Field(12.0, alias="mobilise")
    channel: str = ""
    shore_contact: str = ""
    overdue_h: Hours = Field(24.0, alias="overdue")


class Driving(Spec):
    """Ways of driving that the plan assumes; each changes wear at nought kilograms."""

    corrugation_speed_kmh: Speed = Field(60.0, alias="corrugation_speed")
    pressures_let_down: bool = True
    locked_share: Share = 0.1
    care: Literal["careful", "usual", "hard"] = "usual"


class TripHead(Spec):
    """``trip.toml``."""

    title: Text
    start: Day
    days: int = Field(ge=1, le=400)
    prepared: Day
    time_zone: Text = "UTC"
    currency: Text = "units"
    units: Literal["metric", "imperial"] = "metric"
    party: Party
    vehicle: Annotated[tuple[VehicleEntry, ...], Field(min_length=1)]
    stop: tuple[Stop, ...] = ()
    help: tuple[Help, ...] = ()
    escape: tuple[Escape, ...] = ()
    climate: Climate
    limits: Limits
    comms: Comms = Comms()
    driving: Driving = Driving()
    route: str | tuple[str, ...] | None = None
    route_line: str | None = None
    private: bool = False


class Fitted(Spec):
    id: Id
    since_km: Distance | None = None
    date: Day | None = None
    grade: Grade = "good"


class Renewed(Spec):
    """A weak point made new: by odometer or date; ``positions`` empty means all."""

    failure_mode: Id
    at_km: Distance | None = Field(None, alias="km")
    date: Day | None = None
    grade: Grade = "good"
    positions: tuple[str, ...] = ()


class Identity(Spec):
    owner: str = ""
    plate: str = ""
    built: int | None = Field(None, ge=1900, le=2100)


class Age(Spec):
    """What is known of the past. ``usual`` shares of surfaces of the past kilometres, adding to 1."""

    odometer_km: Distance | None = Field(None, alias="odometer")
    years: float | None = Field(None, ge=0, le=120)
    usual: dict[str, Share] = {}
    odometer_tyre: str | None = None
    history_known: bool = False


class FittedTyres(Spec):
    """``index_pressure`` is printed beside the greatest load on the sidewall; ``date_code`` is week and year, such as 2324."""

    size: Text
    load_index: int | None = Field(None, ge=60, le=140)
    fitted_at_km: Distance | None = Field(None, alias="fitted_at")
    date_code: str | None = None
    spare_size: str | None = None
    spares: int = Field(1, ge=0, le=4)
    front_kpa: Pressure | None = Field(None, alias="front")
    rear_kpa: Pressure | None = Field(None, alias="rear")
    index_kpa: Pressure | None = Field(None, alias="index_pressure")


class Ticket(Spec):
    """A weighbridge ticket: axle by axle, or wheel by wheel."""

    date: Day
    front_kg: Mass | None = Field(None, alias="front")
    rear_kg: Mass | None = Field(None, alias="rear")
    front_left_kg: Mass | None = Field(None, alias="front_left")
    front_right_kg: Mass | None = Field(None, alias="front_right")
    rear_left_kg: Mass | None = Field(None, alias="rear_left")
    rear_right_kg: Mass | None = Field(None, alias="rear_right")
    loaded: Literal["kerb", "as-packed"] = "kerb"
    fuel_l: Volume | None = Field(None, alias="fuel")
    people: int = 0
    note: str = ""


class Load(Spec):
    """Something carried that is not in the kit: a fridge, bags, a dog. By place, or by x, y, z."""

    name: Text
    mass_kg: Mass = Field(alias="mass")
    place: Id | None = None
    x_m: Length | None = Field(None, alias="x")
    y_m: Length = Field(0.0, alias="y")
    z_m: Length | None = Field(None, alias="z")
    used_up: bool = False


class Trailer(Spec):
    name: Text
    mass_kg: Mass = Field(alias="mass")
    ball_load_kg: Mass = Field(alias="ball_load")
    based_on: Id | None = None


class VehicleSpec(Spec):
    """``vehicles/<file>.toml``."""

    name: Text
    based_on: Id
    identity: Identity = Identity()
    age: Age = Age()
    tyres: FittedTyres | None = None
    fitted: tuple[Fitted, ...] = ()
    renewed: tuple[Renewed, ...] = ()
    weighed: tuple[Ticket, ...] = ()
    load: tuple[Load, ...] = ()
    places: dict[str, Place] = {}
    trailer: Trailer | None = None
    water_l: Volume = Field(0.0, alias="water")
    shakedown_km: Distance = Field(0.0, alias="shakedown")
    figures: dict[str, str] = {}
    features: tuple[Id, ...] = ()
    without: tuple[Id, ...] = ()


#: Features that follow from a vehicle's figures (``loads.derived_features``), never from what its file states.
DERIVED_FEATURES = frozenset(
    {"tyres-5-percent-taller", "tyres-10-percent-taller", "lifted-over-40-mm", "lifted-over-75-mm", "odd-spare"}
)


@dataclass(frozen=True)
class Vehicle:
    """A vehicle of the trip with the build it is based on and the parts fitted to it.

    ``features`` is what the build has, less what fitted parts take away, with what they add.
    """

    entry: VehicleEntry
    spec: VehicleSpec
    archetype: Archetype
    modifications: tuple[tuple[Fitted, Modification], ...] = ()

    @property
    def id(self) -> str:
        return self.entry.id

    @property
    def name(self) -> str:
        return self.spec.name

    @property
    def features(self) -> frozenset[str]:
        found = set(self.archetype.features) | set(self.spec.features)
        for _, part in self.modifications:
            found -= set(part.removes)
            found |= set(part.adds)
        found |= {fitted.id for fitted, _ in self.modifications}
        return frozenset(found - set(self.spec.without))

    @property
    def places(self) -> dict[str, Place]:
        fitted = {key: place for _, part in self.modifications for key, place in part.places.items()}
        return {**self.archetype.places, **fitted, **self.spec.places}

    def may_have(self, mode: FailureMode) -> bool:
        """Whether the stated features allow the part that this weak point is about; what follows from figures is left open."""
        have = self.features
        return (
            set(mode.needs) - DERIVED_FEATURES <= have
            and not set(mode.without) - DERIVED_FEATURES & have
            and (not mode.needs_any or bool(set(mode.needs_any) & (have | DERIVED_FEATURES)))
        )


@dataclass(frozen=True)
class Leg:
    """A line of ``legs.csv``, or of the legs cut from a track: one surface, one day."""

    day: int
    from_km: float
    to_km: float
    surface: str
    water_depth_m: float = 0.0
    climb_m: float | None = None
    difficulty: int | None = None
    note: str = ""
    line: int = 0


@dataclass(frozen=True)
class SurfaceStretch:
    """A line of ``surfaces.csv`` of the trip: a stretch of the route with one surface."""

    from_km: float
    to_km: float
    surface: str
    water_depth_m: float = 0.0
    difficulty: int | None = None
    line: int = 0


FindingKind = Literal["sound", "worn", "defective", "renewed", "not-seen"]


class Finding(Spec):
    """A line of ``findings.csv``; ``position`` empty means all positions."""

    date: Day
    vehicle: Id
    failure_mode: Id
    position: str = ""
    finding: FindingKind
    measured: str = ""
    inspector: str = ""
    note: str = ""
    line: int = 0


class Stock(Spec):
    """A line of ``inventory.csv``: what people own already."""

    item: Id
    quantity: float = Field(gt=0)
    owner: str = ""
    vehicle: str = ""
    good_until: Day | None = None
    line: int = 0


class LogEntry(Spec):
    date: Day
    trip: str = ""
    vehicle: str
    km: Distance | None = None
    kind: Literal["driven", "failure", "repair", "renewed"]
    failure_mode: str = ""
    position: str = ""
    procedure: str = ""
    held: str = ""
    hours_lost: float = 0.0
    note: str = ""
    line: int = 0


@dataclass(frozen=True)
class Trip:
    """A trip folder as read: every name resolved, every quantity in its inside unit.

    ``id`` is the folder's name; ``digest`` a short digest of all input bytes (the handbook revision).
    """

    id: str
    folder: Path
    digest: str
    head: TripHead
    vehicles: tuple[Vehicle, ...]
    library: Library
    legs: tuple[Leg, ...] = ()
    surfaces: tuple[SurfaceStretch, ...] = ()
    route_files: tuple[Path, ...] = ()
    findings: tuple[Finding, ...] = ()
    inventory: tuple[Stock, ...] = ()
    logbook: tuple[LogEntry, ...] = ()
    ticks: tuple[Tick, ...] = ()
    stock_moves: tuple[StockMove, ...] = ()
    vehicles_out: tuple[VehicleOut, ...] = ()
    learned: dict[str, tuple[float, float]] = field(default_factory=dict)
    private: dict[str, object] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()

    def vehicle(self, vehicle_id: str) -> Vehicle:
        """The vehicle with this id; KeyError when there is none."""
        return next(v for v in self.vehicles if v.id == vehicle_id)
