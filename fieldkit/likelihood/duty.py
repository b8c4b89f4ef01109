"""What a trip, and the past, ask of each weak point: duty on its own clock, leg by leg."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldkit.exposure.result import LegExposure
from fieldkit.likelihood.physics import arrhenius
from fieldkit.likelihood.settings import Settings
from fieldkit.specs.base import CHANNELS
from fieldkit.specs.library import FailureMode, Library

Floats = NDArray[np.float64]


def channel_weights(modes: Sequence[FailureMode]) -> Floats:
    """Weights by mode and stress channel, shape (modes, channels), each row adding to 1 or 0.

    Examples
    --------
    >>> from types import SimpleNamespace as N
    >>> channel_weights([N(channels={"heat": 1.0})])[0].tolist()
    [0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0]
    """
    shares: list[Mapping[Any, float]] = [m.channels for m in modes]
    rows = [[given.get(c, 0.0) for c in CHANNELS] for given in shares]
    return np.array(rows, np.float64).reshape(-1, len(CHANNELS))


def leg_duty(km: Floats, weights: Floats, intensity: Floats) -> Floats:
    """Reference kilometres by mode and leg before the vehicle's own stress: km[l] * sum_c w[f, c] * I[c, l].

    Wear adds up over legs and channels in proportion (Miner's rule).

    Parameters
    ----------
    km : array, shape (legs,)
    weights : array, shape (modes, channels)
    intensity : array, shape (channels, legs)
        Damage per km against the reference kilometre.

    Examples
    --------
    >>> leg_duty(np.array([10.0]), np.array([[0.5, 0.5]]), np.array([[4.0], [2.0]]))
    array([[30.]])
    """
    return np.asarray((weights @ intensity) * km)


@dataclass(frozen=True)
class TripClock:
    """The trip on every clock, by leg (legs,): distance [km], days, and water crossings against the reference depth."""

    km: Floats
    days: Floats
    crossings: Floats
    temperature_c: Floats


def trip_clock(legs: Sequence[LegExposure], days: int, settings: Settings) -> TripClock:
    """Distance, calendar and crossings by leg.

    Each day belongs to its legs by their hours (by distance where hours are 0); days without a leg count to the leg
    before them, days after the last to the last.

    Parameters
    ----------
    days : int
        Length of the trip [days].
    """
    km = np.array([leg.km for leg in legs], float)
    return TripClock(
        km, _calendar(legs, km, days), _crossings(legs, settings), np.array([x.temperature_c for x in legs])
    )


def _calendar(legs: Sequence[LegExposure], km: Floats, days: int) -> Floats:
    on_day = np.array([leg.day for leg in legs])
    used = sorted(set(on_day.tolist()))
    ends = [*[d - 1 for d in used[1:]], max(days, used[-1])]
    found = np.zeros(len(legs))
    for first, day, last in zip([1, *used[1:]], used, ends, strict=True):
        pick = on_day == day
        hours = np.array([leg.hours for leg, p in zip(legs, pick, strict=True) if p])
        share = hours if hours.sum() > 0 else km[pick]
        share = share / share.sum() if share.sum() > 0 else np.full(len(share), 1.0 / len(share))
        found[pick] = share * (last - first + 1)
    return found


def _crossings(legs: Sequence[LegExposure], settings: Settings) -> Floats:
    rule = settings.crossings
    depth = np.array([leg.water_depth_m for leg in legs], float)
    count = np.array([leg.crossings for leg in legs], float)
    relative = np.where(depth > 0, depth / rule.reference_depth_m, 1.0)
    return np.asarray(count * relative**rule.exponent)


def calendar_factor(mode: FailureMode, clock: TripClock, settings: Settings) -> Floats:
    """How much faster a calendar mode ages by leg: Arrhenius in the trip's temperature where heat is a common cause."""
    if "heat" not in mode.causes_in_common:
        return np.ones_like(clock.days)
    rule = settings.calendar
    return arrhenius(rule.reference_c, clock.temperature_c, rule.activation_ev)


def event_means(mode: FailureMode, legs: Sequence[LegExposure], clock: TripClock) -> Floats:
    """Expected route events by leg at stress 1: rate per 1,000 km of the leg's surface, and per day.

    Examples
    --------
    >>> from types import SimpleNamespace as N
    >>> clock = TripClock(np.array([50.0]), np.array([2.0]), np.zeros(1), np.zeros(1))
    >>> event_means(N(rates={"sand": 0.4, "day": 0.01}), [N(surface="sand")], clock)
    array([0.04])
    """
    by_km = np.array([mode.rates.get(leg.surface, 0.0) for leg in legs], float) / 1000.0
    return np.asarray(by_km * clock.km + mode.rates.get("day", 0.0) * clock.days)


def usual_intensity(library: Library, usual: Mapping[str, float]) -> Floats:
    """Damage per km of the past by channel (channels,), from shares of surfaces; the reference kilometre where none is known."""
    if not usual:
        return np.ones(len(CHANNELS))
    rows = [[getattr(library.surfaces[s], c) for c in CHANNELS] for s in usual]
    return np.asarray(np.array(list(usual.values()), float) @ np.array(rows, float))


def usual_crossings(usual: Mapping[str, float], settings: Settings) -> float:
    """Water crossings per km of the past."""
    rates = settings.crossings.past_per_1000_km
    return sum(share * rates.get(s, rates.get("other", 0.0)) for s, share in usual.items()) / 1000.0
