"""What the trip asks of vehicles and people; the arrow from ``exposure`` to everything above it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class LegExposure:
    """One leg: one surface on one day.

    Distances [km], heights [m], times [h], temperature [degC]. ``out_h`` is the time until help stands beside a
    dead vehicle (alarm, mobilising, arriving), ``back_h`` from there to the workshop named; ``hours_to_help`` by kind of help, None
    where none is reachable. ``workshop_on_km`` / ``workshop_off_km``: distance to the nearest workshop on the route ahead, and off it.
    """

    index: int
    day: int
    from_km: float
    to_km: float
    surface: str
    need: str
    difficulty: int
    reasons: tuple[str, ...]
    speed_kmh: float
    hours: float
    climb_m: float | None
    descent_m: float | None
    water_depth_m: float
    crossings: float
    temperature_c: float
    altitude_m: float | None
    hours_to_help: dict[str, float | None]
    out_h: float
    back_h: float
    workshop: str
    workshop_on_km: float | None
    workshop_off_km: float | None
    part_lead_h: float = 0.0

    @property
    def km(self) -> float:
        return self.to_km - self.from_km


@dataclass(frozen=True)
class FuelLine:
    """One vehicle between two fuel points: needed and carried [L]; short when negative margin."""

    vehicle: str
    from_name: str
    to_name: str
    km: float
    needed_l: float
    reserve_l: float
    carried_l: float

    @property
    def margin_l(self) -> float:
        return self.carried_l - self.needed_l - self.reserve_l


@dataclass(frozen=True)
class Supplies:
    """Fuel, water and food. ``used_kg[vehicle]`` has shape (legs,): kilograms used up by the end of each leg."""

    fuel: tuple[FuelLine, ...]
    water_l_per_person_day: float
    water_needed_l: float
    water_carried_l: float
    food_days: float
    used_kg: dict[str, Floats] = field(default_factory=dict)
    faults: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Remoteness:
    """Sampled along the route: ``km`` (n,), ``hours[kind]`` (n,) to the nearest help of a kind (inf: none), ``dead_days`` (n,)
    until a dead vehicle is back on the road, ``water_margin_days`` (n,)."""

    km: Floats
    hours: dict[str, Floats]
    dead_days: Floats
    water_margin_days: Floats
    furthest: dict[str, tuple[float, float]]
    turn_back: tuple[dict[str, object], ...]
    worst: str


@dataclass(frozen=True)
class Exposure:
    """``intensity`` has shape (channels, legs) in the order of ``specs.base.CHANNELS``: wear per km relative to the
    reference kilometre, with gradient, temperature, speed and difficulty in it."""

    legs: tuple[LegExposure, ...]
    intensity: Floats
    remoteness: Remoteness
    supplies: Supplies
    cautions: tuple[str, ...] = ()
    sun: tuple[dict[str, object], ...] = ()

    @property
    def days(self) -> int:
        return max(leg.day for leg in self.legs)
