"""A route file's figures as plain data (``fieldkit route FILE --json``)."""

from __future__ import annotations

from typing import Any

from fieldkit.route.result import RouteFile


def route_json(route_file: RouteFile) -> dict[str, Any]:
    """A route file as plain JSON data.

    Parameters
    ----------
    route_file : RouteFile

    Returns
    -------
    dict
        ``points, tracks, segments, routes, waypoints`` counts over the whole file; ``length_m`` inside segments,
        ``length_with_gaps_m`` with the jumps between them, ``climb_m`` and ``descent_m`` without the noise [m]; ``bbox``
        south, west, north, east [degrees], west > east where it spans 180; ``warnings``; ``lines`` with name, kind,
        length [m] and whether the trip follows it. Unknown figures are None. Rounded to 0.1 m and 1e-6 degrees.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> from fieldkit.route.read import read_route
    >>> f = pathlib.Path(tempfile.mkdtemp()) / "short.gpx"
    >>> _ = f.write_text('<gpx><trk><trkseg><trkpt lat="0" lon="0"/><trkpt lat="0" lon="1"/></trkseg></trk></gpx>')
    >>> route_json(read_route(f))["length_m"]
    111319.5
    """
    return {
        "points": route_file.points,
        "tracks": route_file.tracks,
        "segments": route_file.segments,
        "routes": route_file.routes,
        "waypoints": len(route_file.waypoints),
        "length_m": _metres(route_file.length_m),
        "length_with_gaps_m": _metres(route_file.length_with_gaps_m),
        "climb_m": _metres(route_file.climb_m),
        "descent_m": _metres(route_file.descent_m),
        "bbox": None if route_file.bbox is None else [round(degrees, 6) for degrees in route_file.bbox],
        "warnings": list(route_file.warnings),
        "lines": [
            {"name": line.name, "kind": line.kind, "length_m": _metres(line.length_m), "chosen": i in route_file.joined}
            for i, line in enumerate(route_file.lines)
        ],
    }


def _metres(value: float | None) -> float | None:
    return None if value is None else round(value, 1) + 0.0
