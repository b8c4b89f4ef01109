"""What weighing gives; the arrow from ``loads`` to ``exposure``, ``likelihood``, ``kit`` and the pages."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal


@dataclass(frozen=True)
class MassEntry:
    """One mass with its place: kilograms, x ahead of the rear axle, y left of centre, z above ground [m].

    ``kind`` says what it is: ``build``, ``part``, ``fuel``, ``water``, ``person``, ``load``, ``kit``, ``ball`` (the trailer's
    weight on the tow bar) or ``unexplained`` (what a weighbridge found beyond the sum; may be negative).
    ``used_up``: it gets lighter on the way. ``packs`` is how many equal things make up the mass;
    ``fuel_kg``: what of it is fuel in cans, which is used up while the cans stay.
    """

    name: str
    mass_kg: float
    x_m: float
    y_m: float
    z_m: float
    place: str | None = None
    kind: str = "load"
    on_roof: bool = False
    used_up: bool = False
    packs: int = 1
    item: str | None = None
    fuel_kg: float = 0.0


@dataclass(frozen=True)
class AxleLoads:
    """Masses of one state of a vehicle [kg]; wheels in the order front left, front right, rear left, rear right.

    ``gross_kg`` includes the ball load of a trailer; ``combination_kg`` is None without one. ``centre_height_m``: centre of
    gravity above ground [m]; ``static_roll_deg``: angle at which a rigid body would tip [degrees], an indication only.
    """

    gross_kg: float
    front_kg: float
    rear_kg: float
    wheels_kg: tuple[float, float, float, float]
    roof_kg: float
    ball_kg: float
    combination_kg: float | None
    centre_height_m: float
    static_roll_deg: float


@dataclass(frozen=True)
class Margin:
    """One limit: how much is used and left [kg]; negative left means overloaded."""

    limit: str
    words: str
    limit_kg: float
    actual_kg: float

    @property
    def left_kg(self) -> float:
        return self.limit_kg - self.actual_kg


@dataclass(frozen=True)
class Room:
    """What a stowage place still takes: mass [kg] or None, volume [L] or None, longest [cm] or None.

    ``ventilated``: fuel and gas may travel there; ``holds``: the only items that it is made for, empty: anything.
    """

    place: str
    name: str
    mass_kg: float | None
    volume_l: float | None
    longest_cm: float | None
    x_m: float
    y_m: float
    z_m: float
    on_roof: bool
    in_cabin: bool
    reachable_bogged: bool
    ventilated: bool = False
    holds: tuple[str, ...] = ()


@dataclass(frozen=True)
class VehicleLoads:
    """A vehicle's masses in its states, its limits and what they leave.

    ``states``, in this order: ``as-built`` (kerb: full tank, nobody aboard), ``running-order`` (tank 90 % full and a driver),
    ``after-<modification>`` for each, ``fitted``, ``actual`` (running order with everything fitted), ``departure`` (people, fuel, water
    and loads aboard, before the kit), ``with-budget`` (the whole kit budget aboard), ``with-kit`` (when a kit was given), and ``leg-<n>``
    by leg, from 1, at its end, when used-up masses were given. ``entries`` are those of ``with-kit``, else of ``departure``;
    ``margins``, ``binding``, ``verdict`` and ``room`` too.
    ``binding``: words of the limit most used; ``payload_left_kg``: what the gross and combination limits still take.
    ``ratios``: driver ratios for likelihood (mass, front_load, rear_load, roof) of ``with-budget`` relative to the build with 80 % of
    its payload. ``tyre_ratio``: fitted diameter over the build's.
    ``unexplained_kg``: weighbridge minus sum, None when never weighed; ``weighed``: when and how, empty when never.
    """

    vehicle: str
    entries: tuple[MassEntry, ...]
    states: dict[str, AxleLoads]
    margins: tuple[Margin, ...]
    payload_left_kg: float
    binding: str
    verdict: Literal["within", "at the limit", "overloaded"]
    room: tuple[Room, ...]
    ratios: dict[str, float]
    tyre_ratio: float
    unexplained_kg: float | None
    weighed: str
    ways_back: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Loads:
    """Index: vehicle id."""

    vehicles: dict[str, VehicleLoads] = field(default_factory=dict)

    def __getitem__(self, vehicle: str) -> VehicleLoads:
        return self.vehicles[vehicle]


@dataclass(frozen=True)
class WheelLoad:
    """One tyre: what stands on it, what it carries at the planned pressure and at its load index [kg], pressures [kPa]."""

    wheel: str
    load_kg: float
    planned_kpa: float | None
    carries_kg: float
    index_kg: float
    needed_kpa: float


@dataclass(frozen=True)
class SurfaceTyres:
    """Common-practice pressures on one surface [kPa] and the speed they allow [km/h]; ``stuck_kpa`` for when bogged."""

    surface: str
    name: str
    front_kpa: float
    rear_kpa: float
    stuck_kpa: float | None
    speed_kmh: float


@dataclass(frozen=True)
class TyreReport:
    """A vehicle's tyres: sizes, what the size changes, age, loads, pressures by surface.

    Diameters [mm]; ``ratio`` fitted over built; ``true_kmh_at_100`` true speed when the speedometer shows 100 [km/h];
    ``drive_factor`` multiplies the final drive's ratio; ``clearance_mm`` gained under the axles; turns in
    a kilometre free, and rolling under load (common practice, no source); ``spare_ratio`` spare over
    fitted, None without a spare; ``age_years`` at the trip's start, None without a date code.
    """

    vehicle: str
    size: str
    diameter_mm: float
    built_size: str
    built_diameter_mm: float
    ratio: float
    true_kmh_at_100: float
    drive_factor: float
    clearance_mm: float
    free_rev_per_km: float
    rolling_rev_per_km: float
    spare_size: str | None
    spare_ratio: float | None
    age_years: float | None
    load_index: int
    wheels: tuple[WheelLoad, ...]
    surfaces: tuple[SurfaceTyres, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
