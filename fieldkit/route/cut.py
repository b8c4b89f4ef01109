"""Legs: the route cut where the day, a stop or the surface changes, with the climb of each."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fieldkit.errors import InputFaults
from fieldkit.route.agree import route_faults, slack_km
from fieldkit.route.climb import HeightProfile
from fieldkit.route.result import Route
from fieldkit.route.settings import CuttingFigures, route_figures
from fieldkit.route.trip import route_profile
from fieldkit.specs.trip import Leg, Stop, SurfaceStretch, Trip


def cut_legs(trip: Trip, route: Route) -> tuple[Leg, ...]:
    """A trip's legs in order: one surface on one day, ending at the latest at a stop.

    Parameters
    ----------
    trip : Trip
        With a leg table its own legs are taken as they stand; else ``surfaces`` give the surface and ``head.stop``
        the days by kilometre.
    route : Route
        From ``trip_route``.

    Returns
    -------
    tuple of Leg
        Without gap or overlap from km 0 to the end; ``climb_m`` filled in from the heights where they are known
        and the table says nothing. A leg that ends at a stop says so in ``note``.

    Raises
    ------
    InputFaults
        If stops, surfaces, help points or escape roads do not fit on the route; all of them at once.

    Notes
    -----
    A stop ends the stretch before it, so a leg's day is that of the next stop ahead. Without stops the days are cut
    at equal hours at the wheel and the notes say so. Cuts closer than the shortest leg of settings/route.toml fall together.

    Examples
    --------
    >>> from fieldkit.route.trip import trip_route
    >>> from fieldkit.specs.read_library import shipped_folder
    >>> from fieldkit.specs.read_trip import load_trip
    >>> trip = load_trip(shipped_folder("vehicle_specs") / "example_trips" / "blank")
    >>> [(leg.day, leg.to_km) for leg in cut_legs(trip, trip_route(trip))][:3]
    [(1, 80.0), (1, 140.0), (2, 215.0)]
    """
    figures = route_figures(trip.library).cutting
    faults = route_faults(trip, route, figures)
    if faults:
        raise InputFaults(faults)
    profile = route_profile(route, trip.library)
    legs = trip.legs or _cut(trip, route, figures)
    return tuple(_with_climb(leg, profile) for leg in legs)


def _with_climb(leg: Leg, profile: HeightProfile | None) -> Leg:
    if leg.climb_m is not None or profile is None:
        return leg
    return replace(leg, climb_m=round(profile.between(leg.from_km, leg.to_km)[0], 1))


def _cut(trip: Trip, route: Route, figures: CuttingFigures) -> tuple[Leg, ...]:
    end = route.length_km
    stretches = _to_the_end(trip.surfaces, end)
    stops = _stops(trip, end, slack_km(end, figures))
    days = _days(stops, trip.head.days) if stops else _even_days(trip, stretches)
    at = [s.km for s in stops] + [s.to_km for s in stretches] + [km for km, _ in days]
    ends = _cuts(at, end, figures.shortest_km)
    return tuple(_leg(a, b, days, stretches, stops, figures) for a, b in itertools.pairwise(ends))


def _stops(trip: Trip, end: float, slack: float) -> list[Stop]:
    """Stops in order; the last one, written a little short of the end of the route or beyond it, is at the end."""
    stops = sorted(trip.head.stop, key=lambda stop: (stop.km, stop.day))
    if stops and stops[-1].km > end - slack:
        stops[-1] = stops[-1].model_copy(update={"km": end})
    return stops


def _to_the_end(surfaces: Sequence[SurfaceStretch], end: float) -> list[SurfaceStretch]:
    """Stretches in order, the first drawn to km 0 and the last to the end of the route."""
    ordered = [s for s in sorted(surfaces, key=lambda s: s.from_km) if s.from_km < end]
    ordered[0] = replace(ordered[0], from_km=0.0)
    ordered[-1] = replace(ordered[-1], to_km=end)
    return ordered


def _cuts(at: list[float], end: float, shortest_km: float) -> list[float]:
    """Sorted cuts from 0 to the end, those closer than the shortest leg taken together."""
    cuts = [0.0]
    for km in sorted(at):
        if km - cuts[-1] >= shortest_km and end - km >= shortest_km:
            cuts.append(float(km))
    return [*cuts, float(end)]


def _days(stops: Sequence[Stop], days: int) -> list[tuple[float, int]]:
    """(kilometre, day) rows: the stretch up to that kilometre is driven on that day."""
    rows = [(stop.km, stop.day) for stop in stops]
    last = stops[-1]
    return [*rows, (np.inf, min(last.day + int(last.camp), days))]


def _even_days(trip: Trip, stretches: Sequence[SurfaceStretch]) -> list[tuple[float, int]]:
    """Days cut at equal hours at the wheel, for a trip that names no stops."""
    ends = np.array([0.0, *(s.to_km for s in stretches)])
    speeds = np.array([trip.library.surfaces[s.surface].speed_kmh for s in stretches])
    hours = np.concatenate([[0.0], np.cumsum(np.diff(ends) / speeds)])
    cuts = np.interp(np.linspace(0.0, hours[-1], trip.head.days + 1)[1:], hours, ends)
    return [(round(float(km), 1), day) for day, km in enumerate(cuts[:-1], 1)] + [(np.inf, trip.head.days)]


def _leg(
    start: float,
    end: float,
    days: Sequence[tuple[float, int]],
    stretches: Sequence[SurfaceStretch],
    stops: Sequence[Stop],
    figures: CuttingFigures,
) -> Leg:
    middle = (start + end) / 2
    stretch = next(s for s in stretches if middle < s.to_km)
    day = next(day for km, day in days if middle < km)
    here = [stop.name for stop in stops if abs(stop.km - end) < figures.shortest_km]
    note = f"to {here[-1]}" if here else "" if stops else "days cut evenly: no stops are given"
    return Leg(
        day=day,
        from_km=start,
        to_km=end,
        surface=stretch.surface,
        water_depth_m=stretch.water_depth_m,
        difficulty=stretch.difficulty,
        note=note,
        line=stretch.line,
    )
