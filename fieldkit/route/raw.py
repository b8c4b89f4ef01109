"""What the parsers hand over: lines and waypoints as found, with the place of each point for messages."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from fieldkit.errors import Fault


@dataclass
class RawLine:
    """A track, route or line string: coordinates as numbers, NaN where they could not be read.

    ``places`` holds, per point, the line number of the file (GPX) or the position in the coordinate list (GeoJSON);
    ``starts`` the index of the first point of each segment, empty segments included.
    """

    kind: Literal["track", "route", "line"]
    name: str = ""
    lat: list[float] = field(default_factory=list)
    lon: list[float] = field(default_factory=list)
    height: list[float] = field(default_factory=list)
    places: list[int] = field(default_factory=list)
    starts: list[int] = field(default_factory=list)
    at: str = ""
    segments: int = 0


@dataclass
class RawPoint:
    """A waypoint as found."""

    lat: float
    lon: float
    height: float
    place: int
    name: str = ""


@dataclass
class RawFile:
    """A route file as parsed: nothing measured, nothing chosen."""

    name: str
    lines: list[RawLine] = field(default_factory=list)
    waypoints: list[RawPoint] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    def place(self, line: RawLine, point: int) -> str:
        """Where a point of a line stands, for a message."""
        number = line.places[point]
        return f"{self.name}:{number}" if not line.at else f"{self.name} {line.at}[{number}]"
