"""The map and the profiles of a route as plain numbers, drawn from the track itself; pages turn them into pictures."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from pyproj import Proj

from fieldkit.exposure.result import Exposure, Floats, LegExposure
from fieldkit.route.geodesic import along, written_position
from fieldkit.route.result import Route
from fieldkit.route.trip import route_profile
from fieldkit.specs.trip import Help, Stop, Trip

Drawing = dict[str, Any]
_DETAIL = 800  # a line is thinned to about this share of the map's width: finer than any page shows
_NICE = (1000, 500, 200, 100, 50, 20, 10, 5, 2, 1, 0.5, 0.2, 0.1)


def map_drawing(route: Route, exposure: Exposure, trip: Trip) -> Drawing:
    """The route on the ground: legs, stops, help points and roads out, north up.

    Parameters
    ----------
    route, exposure, trip
        Of one plan.

    Returns
    -------
    dict
        ``on_ground``: True where the track is known; else the route is a straight strip, a kilometre a unit.
        ``width_km, height_km``: size of what is drawn, from (0, 0) at its south-west corner; x runs east, y north [km].
        ``legs``: ``index, day, surface, difficulty, points`` ((x, y) rows). ``stops``: ``name, km, day, camp, x, y, at, position``.
        ``help``: ``name, kinds, x, y, at`` (degrees or None), ``position`` (decimal degrees, degrees and minutes).
        ``escapes``: ``from_km, to, surface, distance_km, points`` (the straight line to a help point whose position is known, else a
        single point). ``north_deg``: bearing of the top of the map. ``scale_km``: a round length for the scale.

    Notes
    -----
    Azimuthal equidistant projection about the middle of what is drawn: distances from the middle are true, and a
    route across 180 degrees stays in one piece.

    Examples
    --------
    >>> from fieldkit.exposure import expose
    >>> from fieldkit.route import trip_route
    >>> from fieldkit.specs.read_library import shipped_folder
    >>> from fieldkit.specs.read_trip import load_trip
    >>> trip = load_trip(shipped_folder("vehicle_specs") / "example_trips" / "convoy")
    >>> route = trip_route(trip)
    >>> drawn = map_drawing(route, expose(trip, route, None), trip)
    >>> drawn["on_ground"], drawn["scale_km"], len(drawn["legs"])
    (True, 50, 24)
    """
    frame = _Frame(route, trip)
    legs = [_leg(frame, leg) for leg in exposure.legs]
    stops = [_stop(frame, stop) for stop in trip.head.stop]
    points = [_help(frame, point) for point in trip.head.help]
    escapes = [_escape(frame, road.km, road.to, trip) | _road(road) for road in trip.head.escape]
    return _fitted(legs, stops, points, escapes, frame.on_ground)


class _Frame:
    """Kilometres and degrees to map coordinates [km]."""

    def __init__(self, route: Route, trip: Trip) -> None:
        self.route = route
        self.on_ground = len(route.km) > 1
        if self.on_ground:
            middle = _middle(route, trip)
            self.project = Proj(proj="aeqd", lat_0=middle[0], lon_0=middle[1], ellps="WGS84")

    def degrees(self, lat: Floats, lon: Floats) -> Floats:
        x, y = self.project(lon, lat)
        return np.column_stack([x, y]) / 1000.0

    def kilometres(self, km: Floats) -> Floats:
        """Points at kilometres of the route, shape (n, 2)."""
        if not self.on_ground:
            return np.column_stack([km, np.zeros(len(km))])
        return self.degrees(*along(self.route.km, self.route.lat, self.route.lon, km))

    def on_earth(self, km: float) -> tuple[float, float] | None:
        """Latitude and longitude of a kilometre of the track."""
        if not self.on_ground:
            return None
        lat, lon = along(self.route.km, self.route.lat, self.route.lon, np.array([km]))
        return float(lat[0]), float(lon[0])

    def spot(self, km: float) -> dict[str, float]:
        x, y = self.kilometres(np.array([km]))[0]
        return {"x": float(x), "y": float(y)}

    def stretch(self, from_km: float, to_km: float) -> Floats:
        """Every point of the track between two kilometres, and the two ends."""
        ends = np.array([from_km, to_km])
        inside = self.route.km[(self.route.km > from_km) & (self.route.km < to_km)] if self.on_ground else np.zeros(0)
        return self.kilometres(np.concatenate([ends[:1], inside, ends[1:]]))


def _middle(route: Route, trip: Trip) -> tuple[float, float]:
    """The middle of the track and of help points with positions, on the sphere."""
    known = [point.at for point in trip.head.help if point.at]
    lat = np.radians(np.concatenate([route.lat, [at[0] for at in known]]))
    lon = np.radians(np.concatenate([route.lon, [at[1] for at in known]]))
    ends = np.column_stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])
    x, y, z = (ends.max(axis=0) + ends.min(axis=0)) / 2
    return float(np.degrees(np.arctan2(z, np.hypot(x, y)))), float(np.degrees(np.arctan2(y, x)))


def _leg(frame: _Frame, leg: LegExposure) -> Drawing:
    return {
        "index": leg.index,
        "day": leg.day,
        "surface": leg.surface,
        "difficulty": leg.difficulty,
        "points": frame.stretch(leg.from_km, leg.to_km),
    }


def _stop(frame: _Frame, stop: Stop) -> Drawing:
    at = frame.on_earth(stop.km)
    written = written_position(*at) if at else ("", "")
    row = {"name": stop.name, "km": stop.km, "day": stop.day, "camp": stop.camp, "at": at, "position": list(written)}
    return {**row, **frame.spot(stop.km)}


def _help(frame: _Frame, point: Help) -> Drawing:
    """A help point where it is; beside the route, the place where its road leaves the route."""
    at = point.at or (frame.on_earth(point.km) if point.km is not None else None)
    spot: dict[str, float | None] = {"x": None, "y": None}
    if at is not None and frame.on_ground:
        x, y = frame.degrees(np.array([at[0]]), np.array([at[1]]))[0]
        spot = {"x": float(x), "y": float(y)}
    elif point.km is not None:
        spot = {**frame.spot(point.km)}
    written = written_position(*at) if at else ("", "")
    return {"name": point.name, "kinds": list(point.kind), "km": point.km, "at": at, "position": list(written), **spot}


def _escape(frame: _Frame, km: float, to: str, trip: Trip) -> Drawing:
    start = frame.kilometres(np.array([km]))
    target = next((p.at for p in trip.head.help if p.name == to and p.at), None)
    if target is None or not frame.on_ground:
        return {"points": start}
    return {"points": np.vstack([start, frame.degrees(np.array([target[0]]), np.array([target[1]]))])}


def _road(road: Any) -> Drawing:
    return {"from_km": road.km, "to": road.to, "surface": road.surface, "distance_km": road.distance_km}


def _fitted(
    legs: list[Drawing], stops: list[Drawing], points: list[Drawing], escapes: list[Drawing], on_ground: bool
) -> Drawing:
    """Everything moved so that the south-west corner is (0, 0), thinned and rounded to 10 m or finer."""
    every = np.vstack([leg["points"] for leg in legs] + [road["points"] for road in escapes])
    every = np.vstack([every, *[[[p["x"], p["y"]]] for p in points if p["x"] is not None]])
    low, size = every.min(axis=0), np.ptp(every, axis=0)
    fine = float(max(size.max() / _DETAIL, 1e-6))
    for row in (*legs, *escapes):
        row["points"] = [(_r(x), _r(y)) for x, y in (thinned(row["points"], fine) - low).tolist()]
    for row in (*stops, *points):
        if row["x"] is not None:
            row["x"], row["y"] = _r(row["x"] - low[0]), _r(row["y"] - low[1])
    return {
        "on_ground": on_ground,
        "width_km": _r(size[0]),
        "height_km": _r(size[1]),
        "legs": legs,
        "stops": stops,
        "help": points,
        "escapes": escapes,
        "north_deg": 0.0,
        "scale_km": next((k for k in _NICE if k <= max(size) / 4), _NICE[-1]),
    }


def _r(value: float) -> float:
    return round(float(value), 3) + 0.0


def thinned(points: Floats, tolerance: float) -> Floats:
    """A line with fewer points, none of which lay further than ``tolerance`` from it (Douglas and Peucker).

    Parameters
    ----------
    points : array, shape (n, 2)
    tolerance : float
        Same unit as the points.

    Examples
    --------
    >>> thinned(np.array([[0.0, 0.0], [1.0, 0.01], [2.0, 0.0], [2.0, 1.0]]), 0.1).tolist()
    [[0.0, 0.0], [2.0, 0.0], [2.0, 1.0]]
    """
    keep = np.zeros(len(points), dtype=bool)
    keep[[0, -1]] = True
    waiting = [(0, len(points) - 1)]
    while waiting:
        first, last = waiting.pop()
        off = _off_line(points[first + 1 : last], points[first], points[last])
        if len(off) and off.max() > tolerance:
            middle = first + 1 + int(np.argmax(off))
            keep[middle] = True
            waiting += [(first, middle), (middle, last)]
    return points[keep]


def _off_line(points: Floats, a: Floats, b: Floats) -> Floats:
    """Distances from the stretch between two points."""
    way = b - a
    length = float(way @ way)
    share = np.clip((points - a) @ way / length, 0.0, 1.0) if length > 0 else np.zeros(len(points))
    off = points - a - share[:, None] * way
    return np.asarray(np.hypot(off[:, 0], off[:, 1]))


def profile_drawing(route: Route, exposure: Exposure, most: int = 400) -> Drawing:
    """Height, hours to help and water left by kilometre.

    Parameters
    ----------
    most : int
        Points a line, at the most.

    Returns
    -------
    dict
        ``length_km``; ``height``: (km, m) rows of the profile without its noise, None where heights are unknown;
        ``hours``: kind -> (km, h) rows, h None where that help cannot be reached; ``dead_days`` and ``water_margin_days``: (km, days)
        rows; ``days``: ``day, from_km, to_km`` of each driving day; ``legs``: ``index, from_km, to_km, surface, difficulty``.

    Examples
    --------
    >>> from fieldkit.exposure import expose
    >>> from fieldkit.route import trip_route
    >>> from fieldkit.specs.read_library import shipped_folder
    >>> from fieldkit.specs.read_trip import load_trip
    >>> trip = load_trip(shipped_folder("vehicle_specs") / "example_trips" / "blank")
    >>> route = trip_route(trip)
    >>> drawn = profile_drawing(route, expose(trip, route, None))
    >>> drawn["height"] is None, drawn["days"][0]
    (True, {'day': 1, 'from_km': 0.0, 'to_km': 140.0})
    """
    far = exposure.remoteness
    profile = route_profile(route)
    height = None if profile is None else _rows(profile.km, profile.height, most)
    return {
        "length_km": round(route.length_km, 3),
        "height": height,
        "hours": {kind: _rows(far.km, values, most) for kind, values in sorted(far.hours.items())},
        "dead_days": _rows(far.km, far.dead_days, most),
        "water_margin_days": _rows(far.km, far.water_margin_days, most),
        "days": _days(exposure.legs),
        "legs": [
            {"index": x.index, "from_km": x.from_km, "to_km": x.to_km, "surface": x.surface, "difficulty": x.difficulty}
            for x in exposure.legs
        ],
    }


def _rows(km: Floats, values: Floats, most: int) -> list[tuple[float, float | None]]:
    """(km, value) rows, thinned by shape so that peaks stay; None where there is no value."""
    finite = np.isfinite(values)
    if len(km) > most:
        low = float(values[finite].min()) if finite.any() else 0.0
        span = max(float(np.ptp(values[finite])), 1e-9) if finite.any() else 1.0
        shape = np.where(finite, (np.where(finite, values, low) - low) / span, 1.5)
        scaled = np.column_stack([km / max(float(km[-1]), 1e-9), shape])
        kept = _fewest(scaled, most)
        km, values, finite = km[kept], values[kept], finite[kept]
    return [
        (_r(k), _r(v) if ok else None) for k, v, ok in zip(km.tolist(), values.tolist(), finite.tolist(), strict=True)
    ]


def _fewest(points: Floats, most: int) -> list[int]:
    """Indices kept when a line is thinned just enough."""
    tolerance = 0.0005
    rows = np.column_stack([points, np.arange(len(points))])
    while True:
        kept = _thinned_rows(rows, tolerance)
        if len(kept) <= most:
            return kept
        tolerance *= 1.7


def _thinned_rows(rows: Floats, tolerance: float) -> list[int]:
    line = thinned(rows[:, :2], tolerance)
    place = {(x, y): int(i) for x, y, i in reversed(rows.tolist())}
    return sorted({place[(x, y)] for x, y in line.tolist()} | {len(rows) - 1})


def _days(legs: Sequence[LegExposure]) -> list[Drawing]:
    found = sorted({leg.day for leg in legs})
    return [
        {
            "day": day,
            "from_km": min(leg.from_km for leg in legs if leg.day == day),
            "to_km": max(leg.to_km for leg in legs if leg.day == day),
        }
        for day in found
    ]
