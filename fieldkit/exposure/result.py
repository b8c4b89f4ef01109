"""What the trip asks of vehicles and people; the arrow from ``exposure`` to everything above it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class LegExposure:
    """One leg: one surface on one day.

    Distances [km], heights [m], times [h], temperature [degC]. ``hours_to_help`` by kind of help is that of the worst
    kilometre of the leg, waiting for opening hours included; None where none is reachable. The other times are means over the leg,
    since a failure may happen anywhere on it: ``out_h`` until help stands beside a dead vehicle (alarm, opening, mobilising,
    arriving), ``back_h`` from there to the workshop named, ``part_lead_h`` that workshop's lead time for parts.
    ``workshop_on_km`` / ``workshop_off_km``: distance to the nearest workshop on the route ahead, and by any road; None: there is none.
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
class Can:
    """Fuel cans of one vehicle: how many it needs, how many are owned, litres and kilograms of all when full.

    The owned ones must be carried, so the kit says where they travel.
    """

    vehicle: str
    item: str
    count: int
    owned: int
    litres: float
    mass_kg: float


@dataclass(frozen=True)
class Supplies:
    """Fuel, water and food.

    ``used_kg[vehicle]``: kilograms of ``fuel``, ``water`` and ``food`` used up by the end of each leg, shape (legs,), less what was
    filled up on the way; ``can_fuel_kg``: item id of a full fuel can -> the fuel in it [kg]. ``water_needed_l`` is for the driest stretch with its reserve,
    ``water_carried_l`` with everything full, ``water_reserve_l`` what the must-carry rules set aside for waiting; ``water_waiting_l_per_person_day`` what people who wait in the shade drink.
    ``faults`` are faults of the plan, to be mended before leaving.
    """

    fuel: tuple[FuelLine, ...]
    water_l_per_person_day: float
    water_needed_l: float
    water_carried_l: float
    food_days: float
    used_kg: dict[str, dict[str, Floats]] = field(default_factory=dict)
    faults: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    can_fuel_kg: dict[str, float] = field(default_factory=dict)
    cans: tuple[Can, ...] = ()
    vessels: int = 0
    water_waiting_l_per_person_day: float = 0.0
    water_reserve_l: float = 0.0


@dataclass(frozen=True)
class Remoteness:
    """Sampled along the route.

    ``km`` (n,); ``hours[kind]`` (n,) [h] to the nearest help of a kind, waiting for it to open included (inf: none);
    ``dead_days`` (n,) until a dead vehicle is back on the road; ``water_margin_days`` (n,): days of water left when help can be there, for a
    party that stops and waits; ``help_h`` (n,) [h] until people can be there; ``clock_h`` (n,): when the plan is there, hours from midnight before
    day 1. ``furthest[kind]``: (km, hours) of the furthest-out point.

    ``turn_back``: rows by resource with ``resource, km, place, day, text`` and the figures behind the text.
    ``alternatives``: rows by means of calling help with ``carried, alarm_h, help_h, dead_days, water_margin_days`` (each the worst of the route).
    ``worst``: the stretch with the least margin, in words. ``refused``: the margin is below the one asked for: do not leave like this.
    """

    km: Floats
    hours: dict[str, Floats]
    dead_days: Floats
    water_margin_days: Floats
    furthest: dict[str, tuple[float, float]]
    turn_back: tuple[dict[str, object], ...]
    worst: str
    help_h: Floats | None = None
    clock_h: Floats | None = None
    alternatives: tuple[dict[str, object], ...] = ()
    refused: bool = False


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
