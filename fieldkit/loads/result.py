"""What weighing gives; the arrow from ``loads`` to ``exposure``, ``likelihood``, ``kit`` and the pages."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal


@dataclass(frozen=True)
class MassEntry:
    """One mass with its place: kilograms, x ahead of the rear axle, y left of centre, z above ground [m]."""

    name: str
    mass_kg: float
    x_m: float
    y_m: float
    z_m: float
    place: str | None = None


@dataclass(frozen=True)
class AxleLoads:
    """Masses of one state of a vehicle [kg]; wheels in the order front left, front right, rear left, rear right."""

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
    """What a stowage place still takes: mass [kg] or None, volume [L] or None, longest [cm] or None."""

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


@dataclass(frozen=True)
class VehicleLoads:
    """A vehicle's masses in its states, its limits and what they leave.

    ``states``: ``as-built``, ``fitted`` (after each modification), ``departure`` (people, fuel, water and loads aboard, before
    the kit), ``with-kit`` (when a kit was given), and ``leg-<n>`` by leg when used-up masses were given.
    ``ratios``: driver ratios for likelihood (mass, front_load, rear_load, roof) relative to the build with 80 % of its payload.
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
