"""What the trip asks of vehicles and people: legs, wear, help, supplies."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fieldkit.errors import InputFaults
from fieldkit.exposure.help_times import KINDS, HelpTimes, help_times
from fieldkit.exposure.legs import driven_legs
from fieldkit.exposure.opening import opening_faults
from fieldkit.exposure.remoteness import WaterState, help_points, reckon_remoteness, with_help
from fieldkit.exposure.result import Exposure, LegExposure
from fieldkit.exposure.roads import Roads, road_graph
from fieldkit.exposure.schedule import day_cautions, sun_rows, trip_schedule
from fieldkit.exposure.settings import (
    DifficultyFigures,
    RemotenessFigures,
    SupplyFigures,
    difficulty_figures,
    remoteness_figures,
    said,
    supply_figures,
)
from fieldkit.exposure.supplies import reckon_supplies
from fieldkit.exposure.turn_back import turn_back_rows
from fieldkit.exposure.water import reserve_l
from fieldkit.exposure.wear import wear_intensity
from fieldkit.loads.result import Loads
from fieldkit.route.cut import cut_legs
from fieldkit.route.result import Route
from fieldkit.specs.trip import Trip


def expose(trip: Trip, route: Route, loads: Loads | None = None) -> Exposure:
    """What a trip asks for, leg by leg and kilometre by kilometre.

    1. legs: day, surface, difficulty, speed, hours;
    2. the clock: when the trip is where, and by what light;
    3. the road graph: route, help points, escape roads;
    4. help: hours to it, days until a dead vehicle is back;
    5. supplies: fuel, water, food, and the survival margin;
    6. wear per kilometre, turn-back points, cautions.

    Parameters
    ----------
    trip : Trip
    route : Route
        From ``trip_route``.
    loads : Loads or None
        Masses at departure, for the fuel; the builds' reference masses when None.

    Returns
    -------
    Exposure

    Raises
    ------
    InputFaults
        If stops, surfaces, help points, opening hours or the time zone do not fit.

    Examples
    --------
    >>> from fieldkit.route import trip_route
    >>> from fieldkit.specs.read_library import shipped_folder
    >>> from fieldkit.specs.read_trip import load_trip
    >>> trip = load_trip(shipped_folder("vehicle_specs") / "example_trips" / "blank")
    >>> found = expose(trip, trip_route(trip), None)
    >>> found.legs[0].workshop, found.days
    ('Start town', 4)
    """
    hard, far, goods = difficulty_figures(trip.library), remoteness_figures(trip.library), supply_figures(trip.library)
    faults = opening_faults(trip.head.help)
    if faults:
        raise InputFaults(faults)
    legs = driven_legs(trip, route, cut_legs(trip, route), hard)
    schedule = trip_schedule(trip, route, legs, far)
    points, cautions = help_points(trip, far, legs[-1].to_km)
    roads = road_graph(trip, route, legs, points, far.sampling)

    times = help_times(trip, roads, schedule, far)
    names = (far.text["start"], far.text["end"])
    reserve = _reserve_l(trip, times, far, goods)
    provisions = reckon_supplies(trip, legs, roads, schedule, loads, goods, names, reserve)
    water = WaterState(provisions.supplies.water_carried_l, reserve, provisions.gaps, goods.water)
    remoteness = reckon_remoteness(trip, roads, schedule, times, water, far)
    remoteness = replace(remoteness, turn_back=turn_back_rows(trip, legs, schedule, provisions, remoteness, goods))
    return Exposure(
        legs=with_help(legs, roads, times, far),
        intensity=wear_intensity(trip, legs, hard),
        remoteness=remoteness,
        supplies=provisions.supplies,
        cautions=(
            *([remoteness.worst] if remoteness.refused else ()),
            *schedule.cautions,
            *cautions,
            *day_cautions(schedule, far),
            *_help_cautions(roads, far),
            *_ground_cautions(legs, hard),
        ),
        sun=sun_rows(schedule, far),
    )


def _reserve_l(trip: Trip, times: HelpTimes, far: RemotenessFigures, goods: SupplyFigures) -> float:
    """Must-carry water [L], by the longest wait for help and the furthest-out point from people."""
    out = times.out.min(axis=0)
    alone = float(out[np.isfinite(out)].max()) / 24.0 if np.isfinite(out).any() else 0.0
    off = float(np.min([times.own[kind] for kind in far.help.alarm_kinds], axis=0).max())
    return reserve_l(trip, alone, off, goods.water)


def _help_cautions(roads: Roads, figures: RemotenessFigures) -> list[str]:
    """Kinds of help that nobody named, and points that no road reaches."""
    named = {kind for point in roads.points for kind in point.kind}
    missing = [
        said(figures.text, "no_kind", kind=kind)
        for kind in KINDS
        if kind in ("fuel", "water", "medical") and kind not in named
    ]
    lost = [point.name for j, point in enumerate(roads.points) if not (roads.hours[j] < float("inf")).any()]
    return missing + [said(figures.text, "cut_off", name=name) for name in lost]


def _ground_cautions(legs: tuple[LegExposure, ...], figures: DifficultyFigures) -> list[str]:
    """Once for each kind of ground that has a caution, in the order in which the trip meets it."""
    met = dict.fromkeys(leg.surface for leg in legs)
    return [figures.cautions[surface] for surface in met if surface in figures.cautions]
