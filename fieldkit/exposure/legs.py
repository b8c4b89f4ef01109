"""Legs as they are driven: difficulty with its reasons, need, speed, hours, height and temperature."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fieldkit.exposure.result import LegExposure
from fieldkit.exposure.settings import DifficultyFigures, said
from fieldkit.route.climb import HeightProfile, steepness
from fieldkit.route.result import Route
from fieldkit.route.settings import route_figures
from fieldkit.route.trip import route_profile
from fieldkit.specs.base import NEEDS
from fieldkit.specs.library import Library, Surface
from fieldkit.specs.trip import Leg, Trip


def driven_legs(trip: Trip, route: Route, legs: Sequence[Leg], figures: DifficultyFigures) -> tuple[LegExposure, ...]:
    """Each leg with everything that does not depend on help: class, need, speed [km/h], hours, climb [m], temperature [degC].

    ``hours_to_help`` is empty and the times to help are 0 until remoteness fills them in.
    """
    profile = route_profile(route, trip.library)
    usual = float(np.median(profile.height)) if profile else 0.0
    made: list[LegExposure] = []
    for index, leg in enumerate(legs):
        before = legs[index - 1] if index else None
        made.append(_driven(trip, leg, index, before, profile, usual, figures))
    return tuple(made)


def _driven(
    trip: Trip,
    leg: Leg,
    index: int,
    before: Leg | None,
    profile: HeightProfile | None,
    usual_m: float,
    figures: DifficultyFigures,
) -> LegExposure:
    surface = trip.library.surfaces[leg.surface]
    climb, descent = _climb(leg, profile)
    grade, reasons = difficulty(leg, surface, _steepness(leg, profile, trip.library), figures)
    named = _named_crossings(leg, before, figures)
    crossings = max(named, figures.crossings.per_km.get(leg.surface, 0.0) * (leg.to_km - leg.from_km))
    speed = _speed(trip, surface, grade, _mean_slope(leg, climb, descent), figures)
    km = leg.to_km - leg.from_km
    altitude = _altitude(leg, profile)
    return LegExposure(
        index=index,
        day=leg.day,
        from_km=leg.from_km,
        to_km=leg.to_km,
        surface=leg.surface,
        need=_need(surface, grade, figures),
        difficulty=grade,
        reasons=reasons,
        speed_kmh=speed,
        hours=km / speed + named * figures.crossings.time_h,
        climb_m=climb,
        descent_m=descent,
        water_depth_m=leg.water_depth_m,
        crossings=crossings,
        temperature_c=_temperature(trip, altitude, usual_m, figures),
        altitude_m=altitude,
        hours_to_help={},
        out_h=0.0,
        back_h=0.0,
        workshop="",
        workshop_on_km=None,
        workshop_off_km=None,
    )


def difficulty(
    leg: Leg, surface: Surface, steep: float | None, figures: DifficultyFigures
) -> tuple[int, tuple[str, ...]]:
    """Class 1 to 4 of a leg and the reasons for it, the deciding ones first.

    The class is the highest of the surface's, the slope's and the water's; a slope alone makes a sealed road no
    harder than ``figures.gradient.sealed_most``. A class given by hand holds instead.

    Parameters
    ----------
    steep : float or None
        Slope that the steepest tenth of the leg exceeds [-]; None where heights are unknown.

    Examples
    --------
    >>> from fieldkit.exposure.settings import difficulty_figures
    >>> gravel = Surface(id="g", name="gravel", speed_kmh=65, difficulty=1, need="highway", fuel_factor=1.1,
    ...     rolling_low=0, rolling_high=0, vibration=1, torque=1, impact=1, heat=1, water=1, abrasion=1, dust=1, braking=1)
    >>> difficulty(Leg(1, 0, 5, "g", water_depth_m=0.3), gravel, 0.12, difficulty_figures())
    (3, ('water 0.3 m deep', 'slopes of 12 %', 'gravel'))
    """
    by_slope = _class(steep or 0.0, (figures.gradient.class_2, figures.gradient.class_3, figures.gradient.class_4))
    if surface.difficulty == 1:
        by_slope = min(by_slope, figures.gradient.sealed_most)
    by_water = _class(leg.water_depth_m, (figures.depth.class_2_m, figures.depth.class_3_m, figures.depth.class_4_m))
    found = [(surface.difficulty, said(figures.text, "surface", surface=surface.name))]
    if by_slope > 1:
        found.append((by_slope, said(figures.text, "gradient", percent=f"{100 * (steep or 0):.0f}")))
    if leg.water_depth_m > 0:
        found.append((by_water, said(figures.text, "depth", depth=f"{leg.water_depth_m:g}")))
    grade = max(value for value, _ in found)
    reasons = tuple(words for _, words in sorted(found, key=lambda row: -row[0]))
    if leg.difficulty is None or leg.difficulty == grade:
        return grade, reasons
    given = said(figures.text, "given", class_=leg.difficulty, class_was=grade)
    return leg.difficulty, (given, *reasons)


def _class(value: float, bounds: tuple[float, float, float]) -> int:
    return 1 + sum(value >= bound for bound in bounds)


def _climb(leg: Leg, profile: HeightProfile | None) -> tuple[float | None, float | None]:
    if profile is None:
        return leg.climb_m, None
    climb, descent = profile.between(leg.from_km, leg.to_km)
    return (climb if leg.climb_m is None else leg.climb_m), descent


def _steepness(leg: Leg, profile: HeightProfile | None, library: Library) -> float | None:
    if profile is None:
        return None
    return steepness(profile, leg.from_km, leg.to_km, route_figures(library).climb)


def _mean_slope(leg: Leg, climb: float | None, descent: float | None) -> float:
    """Climb and descent over the distance [-]; a descent that is unknown is taken as the climb."""
    up = climb or 0.0
    return (up + (up if descent is None else descent)) / ((leg.to_km - leg.from_km) * 1000.0)


def _speed(trip: Trip, surface: Surface, grade: int, slope: float, figures: DifficultyFigures) -> float:
    rule = figures.speed
    base = surface.speed_kmh
    if surface.id in rule.corrugated:
        base = trip.head.driving.corrugation_speed_kmh * rule.progress
    harder = max(0, grade - surface.difficulty)
    return max(rule.least_kmh, base * rule.per_class**harder / (1.0 + rule.per_gradient * slope))


def _need(surface: Surface, grade: int, figures: DifficultyFigures) -> str:
    return max(surface.need, figures.need[grade], key=NEEDS.index)


def _named_crossings(leg: Leg, before: Leg | None, figures: DifficultyFigures) -> float:
    """1 where a ford, or a stretch with a water depth, begins; a stretch cut by a stop or a day is one crossing."""
    if leg.surface not in figures.crossings.surfaces and leg.water_depth_m <= 0:
        return 0.0
    goes_on = before is not None and before.line == leg.line and before.surface == leg.surface and leg.line > 0
    return 0.0 if goes_on else 1.0


def _altitude(leg: Leg, profile: HeightProfile | None) -> float | None:
    if profile is None:
        return None
    at = np.linspace(leg.from_km, leg.to_km, 21)
    return float(np.interp(at, profile.km, profile.height).mean())


def _temperature(trip: Trip, altitude_m: float | None, usual_m: float, figures: DifficultyFigures) -> float:
    """The climate's day high, less where the leg lies above the route's usual height."""
    high = trip.head.climate.day_high_c
    if altitude_m is None:
        return high
    return high - figures.air.lapse_per_km * (altitude_m - usual_m) / 1000.0
