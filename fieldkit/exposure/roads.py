"""The road graph: the route sampled by kilometre, help points beside it, escape roads; and ways through it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree

from fieldkit.exposure.result import Floats, LegExposure
from fieldkit.exposure.settings import SamplingFigures
from fieldkit.route.geodesic import along
from fieldkit.route.result import Route
from fieldkit.specs.library import Library
from fieldkit.specs.trip import Help, Trip

Pair = tuple[int, int]
_MOST_STEPS = 100_000
_NEAR_ZERO = 1e-9  # a road of no length is still a road: the solver takes 0 for "no road"


class Road(NamedTuple):
    """A road's time [h], length [km], and length times its surface's fuel factor [km]."""

    hours: float
    km: float
    fuel_km: float


@dataclass(frozen=True)
class Roads:
    """The graph and what was found on it.

    ``roads``: (place, place) -> the road between them, both ways alike; the points of ``km`` are places 0 to n - 1, those of ``points``
    follow. ``hours``, ``distance_km``, ``fuel_km`` have shape
    (points, n): the least of each from a help point to a kilometre, infinite where no road leads; ``between_fuel_km`` (points, points).
    """

    roads: Mapping[Pair, Road]
    km: Floats
    points: tuple[Help, ...]
    hours: Floats
    distance_km: Floats
    fuel_km: Floats
    between_fuel_km: Floats

    def nearest(self, at_km: float) -> int:
        """Index of the sampled point nearest to a kilometre of the route."""
        return int(np.argmin(np.abs(self.km - at_km)))

    def of(self, kind: str) -> list[int]:
        """Indices of the help points of a kind."""
        return [j for j, point in enumerate(self.points) if kind in point.kind]


def road_graph(
    trip: Trip, route: Route, legs: Sequence[LegExposure], points: Sequence[Help], figures: SamplingFigures
) -> Roads:
    """The roads of a trip and the least hours, kilometres and fuel from each help point to each kilometre.

    Parameters
    ----------
    trip : Trip
        For its escape roads and the surfaces' speeds.
    route : Route
        Where it comes within ``figures.touch_km`` of itself, the two places are joined.
    legs : sequence of LegExposure
        Their speeds hold on the route; elsewhere the surface's own.
    points : sequence of Help
        Usually ``trip.head.help``; a point without a road to the route stays out of reach.

    Notes
    -----
    Every leg's end, help point and escape road has a node of its own, so no distance is rounded to the sampling
    step. Roads are taken as open both ways at the same speed.
    """
    km = sample_km(trip, legs, points, figures)
    roads: dict[Pair, Road] = {}
    _add_route(roads, km, legs, trip.library)
    _add_help(roads, km, legs, points, trip.library)
    _add_escapes(roads, km, trip, points)
    _add_touches(roads, km, route, legs, figures)
    return _solved(roads, km, tuple(points))


def sample_km(trip: Trip, legs: Sequence[LegExposure], points: Sequence[Help], figures: SamplingFigures) -> Floats:
    """Kilometres at which the route is sampled: an even grid, and every place that something happens."""
    start, end = legs[0].from_km, legs[-1].to_km
    step = max(figures.step_km, (end - start) / figures.most)
    places = [leg.from_km for leg in legs] + [leg.to_km for leg in legs]
    places += [p.km for p in points if p.km is not None] + [e.km for e in trip.head.escape]
    every = np.concatenate([np.arange(start, end, step), np.clip(np.array(places), start, end)])
    return np.unique(np.round(every, 6))


def _index(km: Floats, at_km: float) -> int:
    return int(np.argmin(np.abs(km - at_km)))


def _leg_of(legs: Sequence[LegExposure], km: Floats) -> list[int]:
    ends = np.array([leg.to_km for leg in legs])
    return np.minimum(np.searchsorted(ends, km, side="left"), len(ends) - 1).tolist()


def _join(roads: dict[Pair, Road], one: int, other: int, km: float, speed: float, fuel_factor: float) -> None:
    """Add a road; of two roads between the same places the quicker one counts."""
    hours, pair = max(km / speed, _NEAR_ZERO), (min(one, other), max(one, other))
    if one != other and (pair not in roads or roads[pair].hours > hours):
        roads[pair] = Road(hours, max(km, _NEAR_ZERO), max(km * fuel_factor, _NEAR_ZERO))


def _add_route(roads: dict[Pair, Road], km: Floats, legs: Sequence[LegExposure], library: Library) -> None:
    middles = _leg_of(legs, (km[:-1] + km[1:]) / 2)
    for i, (leg, length) in enumerate(zip(middles, np.diff(km).tolist(), strict=True)):
        factor = library.surfaces[legs[leg].surface].fuel_factor
        _join(roads, i, i + 1, length, legs[leg].speed_kmh, factor)


def _add_help(
    roads: dict[Pair, Road], km: Floats, legs: Sequence[LegExposure], points: Sequence[Help], library: Library
) -> None:
    """The way beside the route to each help point; without a surface of its own, the leg's."""
    for j, point in enumerate(points):
        if point.km is None:
            continue
        leg = legs[_leg_of(legs, np.array([point.km]))[0]]
        surface = library.surfaces[point.surface or leg.surface]
        _join(roads, _index(km, point.km), len(km) + j, point.off_km, surface.speed_kmh, surface.fuel_factor)


def _add_escapes(roads: dict[Pair, Road], km: Floats, trip: Trip, points: Sequence[Help]) -> None:
    names = {point.name: j for j, point in reversed(list(enumerate(points)))}
    for road in trip.head.escape:
        if road.to in names:
            surface = trip.library.surfaces[road.surface]
            here, there = _index(km, road.km), len(km) + names[road.to]
            _join(roads, here, there, road.distance_km, surface.speed_kmh, surface.fuel_factor)


def _add_touches(
    roads: dict[Pair, Road], km: Floats, route: Route, legs: Sequence[LegExposure], figures: SamplingFigures
) -> None:
    """Join places where the route comes back to itself: the end of a loop, a road driven out and back, a crossing."""
    for i, j, apart in touches(km, route, figures):
        speed = legs[_leg_of(legs, km[[i]])[0]].speed_kmh
        _join(roads, i, j, apart, speed, 1.0)


def touches(km: Floats, route: Route, figures: SamplingFigures) -> list[tuple[int, int, float]]:
    """Pairs of sampled points between which the route touches itself, with the kilometres along it to the touch and on.

    Parameters
    ----------
    km : array, shape (n,)
        Sampled kilometres.
    route : Route
        Searched at steps of ``figures.touch_km``; two places count if they are no further apart than that on the ground and
        further apart than ``figures.touch_apart_km`` along the route.

    Returns
    -------
    list of (int, int, float)
        Indices of the sampled points nearest to the two places, and the distances from them to the places [km].
    """
    if len(route.km) < 3:
        return []
    step = max(figures.touch_km, route.length_km / _MOST_STEPS)
    at = np.append(np.arange(0.0, route.length_km, step), route.length_km)
    pairs = cKDTree(_cartesian(*along(route.km, route.lat, route.lon, at))).query_pairs(step, output_type="ndarray")
    one, other = at[pairs[:, 0]], at[pairs[:, 1]]
    far = np.abs(one - other) > figures.touch_apart_km
    i, j = _nearest(km, one[far]), _nearest(km, other[far])
    apart = np.abs(one[far] - km[i]) + np.abs(other[far] - km[j])
    least: dict[tuple[int, int], float] = {}
    for a, b, off in sorted(zip(i.tolist(), j.tolist(), apart.tolist(), strict=True), reverse=True):
        least[(a, b)] = off
    return sorted((a, b, off) for (a, b), off in least.items() if a != b)


def _nearest(km: Floats, at: Floats) -> NDArray[np.intp]:
    """Indices of the sampled kilometres nearest to these."""
    right = np.clip(np.searchsorted(km, at), 1, len(km) - 1)
    return np.where(at - km[right - 1] <= km[right] - at, right - 1, right)


def _cartesian(lat: Floats, lon: Floats) -> Floats:
    """Points on a sphere [km], good enough to find neighbours."""
    phi, lam = np.radians(lat), np.radians(lon)
    return 6371.0088 * np.column_stack([np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)])


def _solved(roads: Mapping[Pair, Road], km: Floats, points: tuple[Help, ...]) -> Roads:
    n, places = len(km), len(km) + len(points)
    ends = np.array(list(roads), np.int64).reshape(-1, 2).T
    hours, distance, fuel = (
        _least(csr_array((weight, ends), (places, places)), np.arange(n, places))
        for weight in np.array(list(roads.values()), float).reshape(-1, 3).T
    )
    return Roads(roads, km, points, hours[:, :n], distance[:, :n], fuel[:, :n], fuel[:, n:])


def _least(graph: csr_array, sources: NDArray[np.int64]) -> Floats:
    """Least sum of weights from some places to all, (sources, places)."""
    if not len(sources):
        return np.zeros((0, graph.shape[0]))
    return np.asarray(dijkstra(graph, directed=False, indices=sources))
