"""Where in a vehicle's file a figure stands, for messages."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any

from fieldkit.specs.reading import line_at, lines_of
from fieldkit.specs.trip import Trip, Vehicle
from fieldkit.tables import read_text

#: Key path -> file and line, such as ("tyres", "size") -> "vehicles/wagon.toml:14".
Locator = Callable[..., str]


def locator(vehicle: Vehicle, trip: Trip | None = None) -> Locator:
    """Key paths of a vehicle's file to file and line; to the file alone where it cannot be read again.

    Examples
    --------
    >>> from fieldkit.specs.trip import VehicleEntry
    >>> from types import SimpleNamespace
    >>> at = locator(SimpleNamespace(entry=VehicleEntry(id="a", spec="vehicles/a.toml", crew=1)))
    >>> at("tyres", "size")
    'vehicles/a.toml'
    """
    where = _lines(trip.folder / vehicle.entry.spec) if trip else None

    def place(*loc: Any) -> str:
        return vehicle.entry.spec if not where else f"{vehicle.entry.spec}:{line_at(dict(where), loc)}"

    return place


@lru_cache(maxsize=64)
def _lines(path: Path) -> tuple[tuple[tuple[Any, ...], int], ...] | None:
    text, faults = read_text(path, path.name)
    return None if faults else tuple(lines_of(text).items())
