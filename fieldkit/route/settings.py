"""The figures of ``settings/route.toml``: limits of files, noise of heights, joins, cutting."""

from __future__ import annotations

from pydantic import Field

from fieldkit.specs.base import Distance, Length, Share, Spec
from fieldkit.specs.library import Library
from fieldkit.specs.settings import read_settings


class ReadingFigures(Spec):
    """Limits of one route file: millions of bytes, points, nesting, faults named."""

    largest_mb: float = Field(gt=0)
    most_points: int = Field(gt=0)
    deepest: int = Field(gt=4)
    most_faults: int = Field(gt=0)


class ClimbFigures(Spec):
    """Noise of heights [m], share of points that must have one, window of steepness [km]."""

    noise_m: Length = Field(alias="noise")
    known_share: Share
    window_km: Distance = Field(alias="window")
    steep_share: Share


class JoinFigures(Spec):
    """Distances [km] from which gaps and jumps are told."""

    near_km: Distance = Field(alias="near")
    told_km: Distance = Field(alias="told")
    far_km: Distance = Field(alias="far")
    jump_km: Distance = Field(alias="jump")
    jump_times: float = Field(gt=1)


class CuttingFigures(Spec):
    """How far kilometres written by hand may miss the track [share, km]; the shortest leg [km]."""

    end_share: Share
    end_km: Distance = Field(alias="end")
    shortest_km: Distance = Field(alias="shortest")
    table_share: Share


class RouteFigures(Spec):
    """``settings/route.toml``."""

    reading: ReadingFigures
    climb: ClimbFigures
    joins: JoinFigures
    cutting: CuttingFigures


def route_figures(library: Library | None = None) -> RouteFigures:
    """Route figures: the shipped ones with the library's laid over them.

    Examples
    --------
    >>> route_figures().climb.noise_m
    5.0
    """
    return read_settings("route", RouteFigures, library)
