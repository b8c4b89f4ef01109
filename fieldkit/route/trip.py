"""The trip's route: the chosen lines of its files, one after the other, or the length of its leg table."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np

from fieldkit.errors import Fault, InputFaults
from fieldkit.route.choose import gap_between, line_title
from fieldkit.route.climb import HeightProfile, height_profile
from fieldkit.route.geodesic import step_lengths
from fieldkit.route.read import read_route
from fieldkit.route.result import Line, Route, RouteFile
from fieldkit.route.settings import RouteFigures, route_figures
from fieldkit.specs.library import Library
from fieldkit.specs.trip import Trip


def trip_route(trip: Trip) -> Route:
    """The route of a trip: its files in order, or its leg table where it has no file.

    Parameters
    ----------
    trip : Trip
        ``route_files`` in driving order; ``head.route_line`` names the line (or its number, or "all") where a file
        holds several.

    Returns
    -------
    Route
        Kilometres run over all files; gaps and joins count as straight lines and are named in ``joins``.

    Raises
    ------
    InputFaults
        With the faults of every file, and where a file holds several lines and none was named.

    Examples
    --------
    >>> from fieldkit.specs.read_library import shipped_folder
    >>> from fieldkit.specs.read_trip import load_trip
    >>> trip_route(load_trip(shipped_folder("vehicle_specs") / "example_trips" / "blank")).length_km
    520.0
    """
    if not trip.route_files:
        return _from_legs(trip)
    figures = route_figures(trip.library)
    files = _read_all(trip, figures)
    lines = [file.lines[i] for file in files for i in file.joined]
    lat, lon, height = (np.concatenate([getattr(line, a) for line in lines]) for a in ("lat", "lon", "height"))
    km = np.concatenate([[0.0], np.cumsum(step_lengths(lat, lon))]) / 1000.0
    firsts = np.cumsum([0, *(len(line.lat) for line in lines)])[:-1]
    starts = tuple(int(first) + s for first, line in zip(firsts, lines, strict=True) for s in line.starts)
    profile = height_profile(km, height, starts, figures.climb)
    return Route(
        length_km=float(km[-1]),
        lat=lat,
        lon=lon,
        height=height,
        km=km,
        climb_m=None if profile is None else float(profile.climb[-1]),
        descent_m=None if profile is None else float(profile.descent[-1]),
        waypoints=tuple(point for file in files for point in file.waypoints),
        joins=tuple(_joins(files, lines, firsts.tolist(), km.tolist())),
        warnings=(*_warnings(files, figures), *_table_apart(trip, float(km[-1]), figures)),
        files=tuple(files),
        starts=starts,
    )


def route_profile(route: Route, library: Library | None = None) -> HeightProfile | None:
    """A route's heights without their noise; None where too few are known or there is no line.

    Examples
    --------
    >>> nothing = np.zeros(0)
    >>> route_profile(Route(10.0, nothing, nothing, nothing, nothing, None, None)) is None
    True
    """
    if not len(route.km):
        return None
    return height_profile(route.km, route.height, route.starts, route_figures(library).climb)


def _from_legs(trip: Trip) -> Route:
    climbs = [leg.climb_m for leg in trip.legs]
    known = [climb for climb in climbs if climb is not None]
    nothing = np.zeros(0)
    climb = sum(known) if known and len(known) == len(climbs) else None
    length = max((leg.to_km for leg in trip.legs), default=0.0)
    return Route(length, nothing, nothing, nothing, nothing, climb, None, starts=())


def _read_all(trip: Trip, figures: RouteFigures) -> list[RouteFile]:
    """Every file of the trip, all their faults together."""
    files: list[RouteFile] = []
    faults: list[Fault] = []
    for path in trip.route_files:
        try:
            files.append(_read_one(path, trip.head.route_line, len(trip.route_files) > 1, figures))
        except InputFaults as odd:
            faults += odd.faults
    for file in files:
        if not file.joined:
            listed = "; ".join(f"{i} '{line.name}'" for i, line in enumerate(file.lines, 1) if line.length_m > 0)
            faults.append(
                Fault(
                    file.name,
                    "several lines that do not follow each other",
                    f"route_line in trip.toml: 'all' or one of {listed}",
                )
            )
    if faults:
        raise InputFaults(faults)
    return files


def _read_one(path: Path, wanted: str | None, one_of_many: bool, figures: RouteFigures) -> RouteFile:
    """One file; with several files a name that only another file has is no fault where there is nothing to choose."""
    try:
        return read_route(path, wanted, figures)
    except InputFaults:
        if not (wanted and one_of_many):
            raise
        file = read_route(path, None, figures)
        if not file.joined:
            raise
        return file


def _joins(files: list[RouteFile], lines: list[Line], firsts: list[int], km: list[float]) -> list[str]:
    """Each place where one line is joined to the next, with its kilometre and the straight line between."""
    owner = [file.name for file in files for _ in file.joined]
    said = []
    for i, (one, other) in enumerate(itertools.pairwise(lines)):
        at, gap = km[firsts[i + 1] - 1], gap_between(one, other)
        names = (line_title(one), line_title(other)) if owner[i] == owner[i + 1] else (owner[i], owner[i + 1])
        said.append(f"{names[0]} to {names[1]} at km {at:.1f}: {gap:.2f} km apart, counted as a straight line")
    return said


def _warnings(files: list[RouteFile], figures: RouteFigures) -> list[str]:
    several = len(files) > 1
    said = [f"{file.name}: {words}" if several else words for file in files for words in file.warnings]
    for one, other in itertools.pairwise(files):
        last, first, end = one.lines[one.joined[-1]], other.lines[other.joined[0]], other.lines[other.joined[-1]]
        gap = gap_between(last, first)
        turned = gap_between(last, _turned(end))
        if gap > figures.joins.far_km and turned < gap / 2:
            said.append(f"{other.name} ends nearer to the end of {one.name} than it begins: is it the wrong way round?")
        elif gap > figures.joins.far_km:
            said.append(
                f"{gap:.1f} km lie between the end of {one.name} and the start of {other.name}: is a file missing?"
            )
    return said


def _turned(line: Line) -> Line:
    return Line(
        line.name, line.kind, line.lat[::-1], line.lon[::-1], line.height[::-1], (0,), line.length_m, line.length_m
    )


def _table_apart(trip: Trip, length_km: float, figures: RouteFigures) -> list[str]:
    """A leg table beside a track that is longer or shorter than it."""
    table = max((leg.to_km for leg in trip.legs), default=length_km)
    if abs(table - length_km) <= figures.cutting.table_share * length_km:
        return []
    return [f"legs.csv ends at {table:g} km, the track at {length_km:.1f} km: one of them is not the route"]
