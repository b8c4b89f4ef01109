"""Whether what the trip's files say by kilometre fits on its route: every disagreement as a fault."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from fieldkit.errors import Fault
from fieldkit.route.result import Route
from fieldkit.route.settings import CuttingFigures
from fieldkit.specs.trip import Stop, SurfaceStretch, Trip


def route_faults(trip: Trip, route: Route, figures: CuttingFigures) -> list[Fault]:
    """Stops, help points, escape roads and surfaces that do not fit on the route.

    Kilometres written by hand may run past the end by ``figures.end_km`` or ``figures.end_share`` of the route,
    whichever is more; what lies in that slack is drawn to the end.
    """
    reach = route.length_km + slack_km(route.length_km, figures)
    faults = [*_beyond(trip, route.length_km, reach), *_stop_order(trip)]
    if trip.legs and trip.legs[0].from_km > figures.shortest_km:
        first = trip.legs[0]
        found = f"the first leg starts at {first.from_km:g} km"
        faults.append(Fault(f"legs.csv:{first.line}", found, "a first leg from 0 km"))
    if not trip.legs:
        faults += _surface_faults(trip.surfaces, route.length_km, reach, figures)
    return faults


def slack_km(length_km: float, figures: CuttingFigures) -> float:
    """How far kilometres written by hand may miss the end of the route [km].

    Examples
    --------
    >>> from fieldkit.route.settings import route_figures
    >>> slack_km(500.0, route_figures().cutting)
    10.0
    """
    return max(figures.end_km, figures.end_share * length_km)


def _beyond(trip: Trip, length: float, reach: float) -> list[Fault]:
    head = trip.head
    marks = [(f"stop '{s.name}'", s.km) for s in head.stop]
    marks += [(f"help point '{h.name}'", h.km) for h in head.help if h.km is not None]
    marks += [(f"escape road to '{e.to}'", e.km) for e in head.escape]
    return [
        Fault(
            "trip.toml",
            f"{what} at {km:g} km lies beyond the route, which ends at {length:.1f} km",
            "a kilometre on the route",
        )
        for what, km in marks
        if km > reach
    ]


def _stop_order(trip: Trip) -> list[Fault]:
    stops: list[Stop] = sorted(trip.head.stop, key=lambda stop: (stop.km, stop.day))
    faults = [
        Fault(
            "trip.toml",
            f"stop '{b.name}' (day {b.day}, {b.km:g} km) lies ahead of '{a.name}' (day {a.day}, {a.km:g} km) but comes before it",
            "days that rise with the kilometres",
        )
        for a, b in itertools.pairwise(stops)
        if b.day < a.day
    ]
    late = [s for s in stops if s.day > trip.head.days]
    faults += [
        Fault("trip.toml", f"stop '{s.name}' is on day {s.day} of a trip of {trip.head.days} days", "a day of the trip")
        for s in late
    ]
    last = max((leg.day for leg in trip.legs), default=0)
    if last > trip.head.days:
        faults.append(
            Fault("legs.csv", f"legs up to day {last}", f"at most day {trip.head.days}, the 'days' of trip.toml")
        )
    return faults


def _surface_faults(
    surfaces: Sequence[SurfaceStretch], length: float, reach: float, figures: CuttingFigures
) -> list[Fault]:
    if not surfaces:
        return [
            Fault(
                "surfaces.csv",
                "no surfaces are given for the route",
                f"lines such as 0,{length:.0f},gravel under from_km,to_km,surface",
            )
        ]
    ordered = sorted(surfaces, key=lambda s: (s.from_km, s.to_km))
    faults, to = [], 0.0
    for stretch in ordered:
        place = f"surfaces.csv:{stretch.line}"
        if stretch.from_km > to + figures.shortest_km:
            faults.append(Fault(place, f"no surface from {to:g} to {stretch.from_km:g} km", "stretches without gaps"))
        if stretch.from_km < to - figures.shortest_km:
            faults.append(
                Fault(
                    place,
                    f"two surfaces from {stretch.from_km:g} to {min(to, stretch.to_km):g} km",
                    "stretches that do not overlap",
                )
            )
        if stretch.to_km > reach:
            faults.append(
                Fault(
                    place,
                    f"ends at {stretch.to_km:g} km, beyond the route's {length:.1f} km",
                    "kilometres on the route",
                )
            )
        to = max(to, stretch.to_km)
    if to < length - slack_km(length, figures):
        faults.append(
            Fault(
                "surfaces.csv",
                f"no surface from {to:g} to {length:.1f} km, the end of the route",
                "stretches up to the end",
            )
        )
    return faults
