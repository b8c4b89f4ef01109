"""Distances on the WGS84 ellipsoid: steps of a line, positions along it, written positions."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from pyproj import Geod

Floats = NDArray[np.float64]


@lru_cache(maxsize=1)
def wgs84() -> Geod:
    """The WGS84 ellipsoid as the geodesic library has it (Karney's solution, accurate to nanometres)."""
    return Geod(ellps="WGS84")


def step_lengths(lat: Floats, lon: Floats) -> Floats:
    """Geodesic length of each step of a line.

    Parameters
    ----------
    lat, lon : array, shape (points,)
        Degrees, WGS84.

    Returns
    -------
    array, shape (points - 1,)
        Metres; across 180 degrees the short way round.

    Examples
    --------
    >>> step_lengths(np.array([0.0, 0.0]), np.array([0.0, 1.0])).round(4)
    array([111319.4908])

    References
    ----------
    .. [1] Karney, C. F. F., Algorithms for geodesics, J. Geodesy 87 (2013), through the pyproj library.
    """
    if len(lat) < 2:
        return np.zeros(0)
    return np.asarray(wgs84().inv(lon[:-1], lat[:-1], lon[1:], lat[1:])[2], dtype=float)


def distance_m(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    """Geodesic length between two points [m].

    Examples
    --------
    >>> round(distance_m(0, 0, 1, 0), 4)
    110574.3886
    """
    return float(wgs84().inv(lon1, lat1, lon2, lat2)[2])


def bounds(lat: Floats, lon: Floats) -> tuple[float, float, float, float] | None:
    """The smallest box round points: south, west, north, east [degrees]; west > east where it spans 180.

    Parameters
    ----------
    lat, lon : array, shape (points,)
        Degrees.

    Returns
    -------
    tuple or None
        None where there are no points. East and west are the ends of the smallest arc that holds every longitude.

    Examples
    --------
    >>> bounds(np.array([-16.8, -16.9]), np.array([179.99, -179.98]))
    (-16.9, 179.99, -16.8, -179.98)
    """
    if not len(lat):
        return None
    around = np.unique(lon)
    gaps = np.append(np.diff(around), around[0] + 360.0 - around[-1])
    widest = int(np.argmax(gaps))
    west = around[(widest + 1) % len(around)]
    return float(lat.min()), float(west), float(lat.max()), float(around[widest])


def along(km: Floats, lat: Floats, lon: Floats, at_km: Floats) -> tuple[Floats, Floats]:
    """Positions at distances along a line, straight between its points.

    Parameters
    ----------
    km, lat, lon : array, shape (points,)
        Distance from the start [km], not falling, and degrees.
    at_km : array, shape (n,)
        Distances asked for [km]; those beyond an end give that end.

    Returns
    -------
    (array, array), shape (n,)
        Latitude and longitude [degrees], longitude in [-180, 180).

    Examples
    --------
    >>> lat, lon = along(np.array([0.0, 2.0]), np.array([0.0, 0.0]), np.array([179.99, -179.99]), np.array([1.0]))
    >>> float(lon[0])
    -180.0
    """
    unrolled = np.unwrap(lon, period=360.0)
    east = np.interp(at_km, km, unrolled)
    return np.interp(at_km, km, lat), np.round((east + 180.0) % 360.0 - 180.0, 9)


def written_position(lat: float, lon: float) -> tuple[str, str]:
    """A position as it is read out: in decimal degrees, and in degrees and decimal minutes.

    Parameters
    ----------
    lat, lon : float
        Degrees.

    Returns
    -------
    (str, str)
        Both to about 10 m (decimal degrees) and 2 m (minutes).

    Examples
    --------
    >>> written_position(-24.1051, 134.25)
    ('-24.1051, 134.2500', 'S 24° 06.306′, E 134° 15.000′')
    """
    return f"{lat:.4f}, {lon:.4f}", f"{_minutes(lat, 'NS')}, {_minutes(lon, 'EW')}"


def _minutes(degrees: float, letters: str) -> str:
    thousandths = round(abs(degrees) * 60_000)
    whole, rest = divmod(thousandths, 60_000)
    return f"{letters[degrees < 0]} {whole}° {rest / 1000:06.3f}′"
