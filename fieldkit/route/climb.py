"""Climb and descent from noisy heights: turning points of the profile, rises between them.

A recorded height wanders by metres while the vehicle stands still, and the plain sum of rises counts every
wobble. Here the profile is reduced to its turning points: the highest and lowest points between which the height
swings by at least ``noise``; between them only what leads from the one to the other is kept. The climb is the sum of rises
over a subset of the recorded heights, so it is never above the plain sum, and climb less descent is exactly the difference
between the ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fieldkit.route.settings import ClimbFigures

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True)
class HeightProfile:
    """Heights along a line without their noise: distance [km], height [m], climb and descent since the start [m], shape (n,)."""

    km: Floats
    height: Floats
    climb: Floats
    descent: Floats

    def between(self, from_km: float, to_km: float) -> tuple[float, float]:
        """Climb and descent between two distances [m]; a rise between two points is spread evenly."""
        ends = np.array([from_km, to_km])
        up, down = np.interp(ends, self.km, self.climb), np.interp(ends, self.km, self.descent)
        return float(up[1] - up[0]), float(down[1] - down[0])


def turning_points(height: Floats, noise_m: float) -> Ints:
    """Indices of the heights between which a profile swings by at least ``noise_m``, ends included.

    Parameters
    ----------
    height : array, shape (points,)
        Metres, none unknown.
    noise_m : float
        Smallest swing that counts [m], 0 or more.

    Returns
    -------
    array of int, shape (n,)
        Rising; the first and last point are always in.

    Examples
    --------
    >>> turning_points(np.array([400.0, 402.0, 399.0, 420.0, 418.0, 421.0, 410.0]), 5.0).tolist()
    [0, 2, 5, 6]
    """
    if len(height) < 3:
        return np.arange(len(height), dtype=np.intp)
    candidates = _bends(height)
    values = height[candidates].tolist()
    kept, extreme, rising = [0], 0, 0
    low = high = 0
    for i, value in enumerate(values):
        if rising == 0:
            low, high = (i if value < values[low] else low), (i if value > values[high] else high)
            if values[high] - values[low] >= noise_m:
                rising, extreme = (1, high) if high > low else (-1, low)
                kept.append(min(low, high))
        elif (value - values[extreme]) * rising > 0:
            extreme = i
        elif (values[extreme] - value) * rising >= noise_m:
            kept.append(extreme)
            rising, extreme = -rising, i
    kept += [extreme, len(values) - 1]
    return candidates[np.unique(kept)]


def _bends(height: Floats) -> Ints:
    """The ends, and each point where the profile turns from rising to falling or back."""
    moved = np.flatnonzero(np.diff(height)) + 1
    points = np.concatenate([[0], moved])
    step = np.sign(np.diff(height[points]))
    turns = points[1:-1][step[1:] != step[:-1]] if len(step) > 1 else points[:0]
    return np.unique(np.concatenate([[0], turns, points[-1:], [len(height) - 1]])).astype(np.intp)


def height_profile(km: Floats, height: Floats, starts: tuple[int, ...], figures: ClimbFigures) -> HeightProfile | None:
    """A line's heights without their noise, segment by segment.

    Parameters
    ----------
    km : array, shape (points,)
        Distance along the line [km].
    height : array, shape (points,)
        Metres, NaN where unknown; unknown points are passed over.
    starts : tuple of int
        Index of the first point of each segment: a rise from one segment to the next is not counted.
    figures : ClimbFigures
        Noise and the share of points that must have a height.

    Returns
    -------
    HeightProfile or None
        None where too few heights are known: the climb is unknown then, not nought.

    Examples
    --------
    >>> from fieldkit.route.settings import route_figures
    >>> heights = np.array([400.0, 402.0, 420.0, 410.0])
    >>> profile = height_profile(np.array([0.0, 1.0, 2.0, 3.0]), heights, (0,), route_figures().climb)
    >>> profile.between(0.0, 3.0)
    (20.0, 10.0)
    """
    known = np.isfinite(height)
    if known.sum() < 2 or known.mean() < figures.known_share:
        return None
    points: list[Ints] = []
    heights: list[Floats] = []
    for first, last in zip(starts, (*starts[1:], len(height)), strict=True):
        inside = np.flatnonzero(known[first:last]) + first
        points.append(inside)
        heights.append(without_noise(height[inside], figures.noise_m))
    breaks = np.cumsum([0, *(len(piece) for piece in points)])[:-1]
    quiet = np.concatenate(heights)
    rise = np.diff(quiet, prepend=quiet[0])
    rise[breaks[breaks < len(rise)]] = 0.0
    up, down = np.cumsum(np.maximum(rise, 0.0)), np.cumsum(np.maximum(-rise, 0.0))
    return HeightProfile(km[np.concatenate(points)], quiet, up, down)


def without_noise(height: Floats, noise_m: float) -> Floats:
    """Heights with every swing smaller than the noise taken out.

    Between two turning points the height follows the highest (rising) or lowest (falling) value so far, so a hill stays where
    it is and every rise between turning points is a real one.

    Examples
    --------
    >>> without_noise(np.array([400.0, 402.0, 399.0, 420.0, 418.0, 421.0, 410.0]), 5.0).tolist()
    [400.0, 400.0, 399.0, 420.0, 420.0, 421.0, 410.0]
    """
    quiet = height.copy()
    ends = turning_points(height, noise_m).tolist()
    for a, b in pairwise(ends):
        follow = np.maximum if height[b] >= height[a] else np.minimum
        inner = follow.accumulate(height[a : b + 1])
        quiet[a : b + 1] = np.minimum(inner, height[b]) if height[b] >= height[a] else np.maximum(inner, height[b])
    return quiet


def steepness(profile: HeightProfile, from_km: float, to_km: float, figures: ClimbFigures) -> float:
    """How steep a stretch is: the gradient that its steepest tenth exceeds, up or down [-].

    Measured over windows of ``figures.window_km``; a stretch shorter than one window is one window.

    Examples
    --------
    >>> from fieldkit.route.settings import route_figures
    >>> hill = HeightProfile(np.array([0.0, 1.0]), np.array([0.0, 80.0]), np.array([0.0, 80.0]), np.array([0.0, 0.0]))
    >>> round(steepness(hill, 0.0, 1.0, route_figures().climb), 3)
    0.08
    """
    pieces = max(1, round((to_km - from_km) / figures.window_km))
    ends = np.linspace(from_km, to_km, pieces + 1)
    heights = np.interp(ends, profile.km, profile.height)
    gradients = np.abs(np.diff(heights)) / (np.diff(ends) * 1000.0)
    return float(np.quantile(gradients, 1.0 - figures.steep_share))
