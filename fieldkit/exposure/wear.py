"""Wear per kilometre of each leg by stress channel, relative to the reference kilometre."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from fieldkit.exposure.result import Floats, LegExposure
from fieldkit.exposure.settings import DifficultyFigures, WearFigures
from fieldkit.specs.base import CHANNELS, Channel
from fieldkit.specs.trip import Trip


def wear_intensity(trip: Trip, legs: Sequence[LegExposure], figures: DifficultyFigures) -> Floats:
    """Damage per km of each leg by channel.

    Parameters
    ----------
    trip : Trip
        For the surfaces' own figures and the trip's speed on corrugations.
    legs : sequence of LegExposure
    figures : DifficultyFigures

    Returns
    -------
    array, shape (channels, legs)
        Relative to the reference kilometre [-], in the order of ``specs.base.CHANNELS``: the surface's figure times one
        factor each for difficulty, slope up, slope down, air temperature, speed on corrugations and depth of water.

    Notes
    -----
    All factors are judgement. A leg whose class is the surface's own, that is level, dry and at the reference
    temperature has exactly the surface's figures.
    """
    surfaces = [trip.library.surfaces[leg.surface] for leg in legs]
    base = np.array([[getattr(surface, channel) for surface in surfaces] for channel in CHANNELS], dtype=float)
    harder = np.array([leg.difficulty - s.difficulty for leg, s in zip(legs, surfaces, strict=True)], dtype=float)
    rule = figures.wear
    speed = trip.head.driving.corrugation_speed_kmh / rule.corrugation_speed_kmh
    ratio = np.array([speed if leg.surface in figures.speed.corrugated else 1.0 for leg in legs])
    return np.asarray(
        base
        * _by_channel(rule.per_class, 1.0) ** harder
        * (1.0 + _by_channel(rule.per_climb, 0.0) * _slope(legs, "climb_m"))
        * (1.0 + _by_channel(rule.per_descent, 0.0) * _slope(legs, "descent_m"))
        * ratio ** _by_channel(rule.per_corrugation_speed, 0.0)
        * _heat(legs, rule)
        * _depth(legs, figures)
    )


def _by_channel(values: Mapping[Channel, float], else_: float) -> Floats:
    """One figure per channel as a column (channels, 1)."""
    found = {str(channel): value for channel, value in values.items()}
    return np.array([[found.get(channel, else_)] for channel in CHANNELS])


def _slope(legs: Sequence[LegExposure], attribute: str) -> Floats:
    return np.array([(getattr(leg, attribute) or 0.0) / (leg.km * 1000.0) for leg in legs])


def _heat(legs: Sequence[LegExposure], rule: WearFigures) -> Floats:
    """Factor of the heat channel: doubles over so many kelvin above the reference temperature."""
    above = np.array([leg.temperature_c for leg in legs]) - rule.reference_c
    column = _by_channel({"heat": 1.0}, 0.0)
    return np.asarray(2.0 ** (column * above / rule.heat_doubles_over_k))


def _depth(legs: Sequence[LegExposure], figures: DifficultyFigures) -> Floats:
    """Factor of the water channel: by depth against the surface's usual crossing, at a ford; added to it elsewhere."""
    deep = np.array([leg.water_depth_m for leg in legs]) / figures.wear.reference_depth_m
    ford = np.array([leg.surface in figures.crossings.surfaces for leg in legs])
    factor = np.where(deep <= 0, 1.0, np.where(ford, deep, 1.0 + deep))
    return np.asarray(1.0 + _by_channel({"water": 1.0}, 0.0) * (factor - 1.0))
