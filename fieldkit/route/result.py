"""What reading a route gives; the arrow from ``route`` to ``exposure``."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Line:
    """One track, route or line string of a file.

    Attributes
    ----------
    lat, lon : array, shape (points,)
        Degrees, WGS84; lon in [-180, 180).
    height : array, shape (points,)
        Metres, NaN where unknown.
    starts : tuple of int
        Index of the first point of each non-empty segment.
    """

    name: str
    kind: Literal["track", "route", "line"]
    lat: Floats
    lon: Floats
    height: Floats
    starts: tuple[int, ...]
    length_m: float
    length_with_gaps_m: float


@dataclass(frozen=True)
class Waypoint:
    name: str
    lat: float
    lon: float
    height_m: float | None = None


@dataclass(frozen=True)
class RouteFile:
    """A file as read: counts and figures over the whole file (``route --json``), and its lines.

    ``joined`` are the indices of the lines that the trip follows, in order: one, several that join, or none where
    the reader has to be told; ``chosen`` is the only one of them, None otherwise.
    """

    name: str
    points: int
    tracks: int
    segments: int
    routes: int
    waypoints: tuple[Waypoint, ...]
    length_m: float
    length_with_gaps_m: float
    climb_m: float | None
    descent_m: float | None
    bbox: tuple[float, float, float, float] | None
    lines: tuple[Line, ...]
    chosen: int | None
    warnings: tuple[str, ...] = ()
    joined: tuple[int, ...] = ()


@dataclass(frozen=True)
class Route:
    """The trip's route: the chosen lines of each file, in order.

    ``lat, lon, height, km`` have shape (points,) and are empty where only a leg table was given; ``km`` is the
    distance from the start along the line [km], gaps and joins included as straight lines, each named in ``joins``.
    ``starts`` are the first points of its unbroken pieces.
    """

    length_km: float
    lat: Floats
    lon: Floats
    height: Floats
    km: Floats
    climb_m: float | None
    descent_m: float | None
    waypoints: tuple[Waypoint, ...] = ()
    joins: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    files: tuple[RouteFile, ...] = field(default=(), repr=False)
    starts: tuple[int, ...] = (0,)
