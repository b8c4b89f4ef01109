"""A route file to a RouteFile: opened within limits, parsed, measured, its line chosen or asked for."""

from __future__ import annotations

import gzip
import zlib
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import BinaryIO, NoReturn

import numpy as np

from fieldkit.errors import Fault, InputFaults
from fieldkit.route.choose import choose_lines, gap_between, line_title
from fieldkit.route.climb import height_profile
from fieldkit.route.geodesic import Floats, bounds, step_lengths
from fieldkit.route.geojson import parse_geojson
from fieldkit.route.gpx import parse_gpx
from fieldkit.route.raw import RawFile, RawLine
from fieldkit.route.result import Line, RouteFile, Waypoint
from fieldkit.route.settings import ReadingFigures, RouteFigures, route_figures


def read_route(path: Path | str, line: str | int | None = None, figures: RouteFigures | None = None) -> RouteFile:
    """A route file as read: every figure of the whole file, its lines, and which of them the trip follows.

    Parameters
    ----------
    path : Path or str
        GPX 1.0 or 1.1, or GeoJSON; plain or gzip-packed.
    line : str, int or None
        The line to take: its name, its number in the file (from 1), or "all" for every track in order. None: the
        only one, or tracks that follow each other closely; several that lie apart are asked for (``joined`` is
        empty then and a warning lists them).
    figures : RouteFigures or None
        Limits and noise; the shipped ones when None.

    Returns
    -------
    RouteFile
        Lengths are WGS84 geodesics [m]; climb and descent have the noise taken out and are None where too few heights are known.

    Raises
    ------
    InputFaults
        If the file cannot be read, is broken off or too large, holds no line, or has no line of that name. Every
        faulty coordinate is named with its line.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> f = pathlib.Path(tempfile.mkdtemp()) / "short.gpx"
    >>> _ = f.write_text('<gpx><trk><name>Short</name><trkseg><trkpt lat="0" lon="0"/><trkpt lat="0" lon="1"/></trkseg></trk></gpx>')
    >>> found = read_route(f)
    >>> round(found.length_m, 1), found.climb_m, found.lines[0].name
    (111319.5, None, 'Short')
    """
    path, figures = Path(path), figures or route_figures()
    raw = _parse(_bytes(path, figures.reading), path.name, figures.reading)
    _check_points(raw, figures.reading)
    steps = [step_lengths(np.array(found.lat), np.array(found.lon)) for found in raw.lines]
    lines = tuple(_line(found, i, step) for i, (found, step) in enumerate(zip(raw.lines, steps, strict=True), 1))
    _check_lines(raw, lines)
    joined, said = choose_lines(path.name, lines, line, figures.joins)
    return _measured(raw, lines, joined, (*raw.warnings, *said, *_oddities(lines, steps, joined, figures)), figures)


# ------------------------------------------------------------------------------------------ opening
def _bytes(path: Path, figures: ReadingFigures) -> bytes:
    """A file's bytes, unpacked, within the size limit."""
    most = int(figures.largest_mb * 1e6)
    try:
        if path.is_dir():
            _refuse(path.name, "a folder", "a GPX or GeoJSON file")
        with path.open("rb") as stream:
            packed = stream.read(2) == b"\x1f\x8b"
        with gzip.open(path, "rb") if packed else path.open("rb") as stream:
            data = _within(stream, most)
    except (EOFError, gzip.BadGzipFile, zlib.error):
        _refuse(path.name, "a packed file that is broken", "a whole .gz file: copy it again")
    except OSError as odd:
        _refuse(path.name, f"cannot be read ({odd.strerror or odd})", "a readable file")
    if len(data) > most:
        _refuse(path.name, f"more than {figures.largest_mb:g} MB", "a thinned track: a point each 10 to 50 m is enough")
    return data


def _within(stream: BinaryIO | gzip.GzipFile, most: int) -> bytes:
    """A stream's bytes, at most one piece more than ``most``; memory grows with what is there, not with the limit."""
    pieces, size = list[bytes](), 0
    while size <= most and (piece := stream.read(1 << 20)):
        pieces.append(piece)
        size += len(piece)
    return b"".join(pieces)


def _refuse(place: str, found: str, expected: str) -> NoReturn:
    raise InputFaults([Fault(place, found, expected)])


def _parse(data: bytes, name: str, figures: ReadingFigures) -> RawFile:
    """Bytes to raw lines, by what they begin with rather than by the file's name."""
    head = data[:200].lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n\x00")
    if not head:
        _refuse(name, "the file is empty", "a GPX or GeoJSON file")
    if head.startswith(b"<"):
        return parse_gpx(data, name, figures)
    if head[:1] in b"{[":
        return parse_geojson(data, name, figures)
    if head.startswith(b"PK"):
        _refuse(name, "a zip archive", "the GPX or GeoJSON file inside: unpack it")
    if name.lower().endswith(".csv"):
        _refuse(name, "a table", "a GPX or GeoJSON file; a table of legs is read with its trip: fieldkit check FOLDER")
    _refuse(f"{name}:1", "neither GPX nor GeoJSON", "a file that begins with <gpx ...> or {")


# ----------------------------------------------------------------------------------------- checking
def _check_points(raw: RawFile, figures: ReadingFigures) -> None:
    """Every coordinate on earth; raises with all faults, the parsers' included."""
    faults = list(raw.faults)
    for line in raw.lines:
        lat, lon = np.array(line.lat, dtype=float), np.array(line.lon, dtype=float)
        for i in np.flatnonzero(_off_earth(lat, lon)).tolist():
            faults += _range_faults(raw.place(line, i), line.lat[i], line.lon[i])
    for point in raw.waypoints:
        if _off_earth(np.array([point.lat]), np.array([point.lon]))[0]:
            faults += _range_faults(f"{raw.name}:{point.place}", point.lat, point.lon)
    if faults:
        raise InputFaults(_first(faults, raw.name, figures.most_faults))


def _off_earth(lat: Floats, lon: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    unread = np.isnan(lat) & np.isnan(lon)
    return ~unread & ~((np.abs(lat) <= 90.0) & (lon >= -180.0) & (lon < 180.0))


def _range_faults(place: str, lat: float, lon: float) -> list[Fault]:
    faults = []
    if not abs(lat) <= 90:
        faults.append(Fault(place, f"latitude {lat:g} is not on earth", "-90 to 90"))
    if not -180 <= lon < 180:
        faults.append(Fault(place, f"longitude {lon:g} is not on earth", "-180 to below 180 (180 is written -180)"))
    return faults


def _first(faults: list[Fault], name: str, most: int) -> list[Fault]:
    """The first faults of a file, and how many more there are."""
    if len(faults) <= most:
        return faults
    return [*faults[:most], Fault(name, f"{len(faults) - most} more faults of the same kind", "a mended file")]


def _check_lines(raw: RawFile, lines: tuple[Line, ...]) -> None:
    """At least one line that leads somewhere; else the fault says what the file holds instead."""
    if any(len(line.lat) >= 2 and line.length_m > 0 for line in lines):
        return
    count = len(raw.waypoints)
    held = f" ({count} waypoint{'s' * (count > 1)})" if count else ""
    points = sum(len(line.lat) for line in lines)
    if not lines:
        _refuse(
            raw.name, f"no track and no route in the file{held}", "a track (<trk>), a route (<rte>) or a LineString"
        )
    if not points:
        _refuse(raw.name, f"no points in its tracks and routes{held}", "a line of two points or more")
    if points == 1:
        _refuse(raw.name, f"a single point{held}", "a line: it needs two points")
    _refuse(raw.name, f"no line that leads from one place to another{held}", "a line of two different points or more")


# ---------------------------------------------------------------------------------------- measuring
def _line(raw: RawLine, number: int, steps: Floats) -> Line:
    lat, lon = np.array(raw.lat, dtype=float), np.array(raw.lon, dtype=float)
    starts = _starts(raw)
    gaps = float(steps[[s - 1 for s in starts[1:]]].sum()) if len(starts) > 1 else 0.0
    total = float(steps.sum())
    height = np.array(raw.height, dtype=float)
    return Line(raw.name or f"{raw.kind} {number}", raw.kind, lat, lon, height, starts, total - gaps, total)


def _starts(raw: RawLine) -> tuple[int, ...]:
    """First points of the segments that hold any."""
    ends = [*raw.starts, len(raw.lat)][1:]
    return tuple(first for first, end in zip(raw.starts, ends, strict=True) if end > first)


def _measured(
    raw: RawFile, lines: tuple[Line, ...], joined: tuple[int, ...], warnings: tuple[str, ...], figures: RouteFigures
) -> RouteFile:
    tracks = [line for line in lines if line.kind != "route"]
    measured = tracks if any(len(line.lat) for line in tracks) else [line for line in lines if line.kind == "route"]
    climb, descent = _climb(measured, figures)
    everywhere = [*lines, *raw.waypoints]
    return RouteFile(
        name=raw.name,
        points=sum(len(line.lat) for line in tracks),
        tracks=len(tracks),
        segments=sum(found.segments for found in raw.lines if found.kind != "route"),
        routes=sum(found.kind == "route" and bool(found.name or found.lat) for found in raw.lines),
        waypoints=tuple(
            Waypoint(p.name, p.lat, p.lon, None if np.isnan(p.height) else p.height) for p in raw.waypoints
        ),
        length_m=sum(line.length_m for line in measured),
        length_with_gaps_m=_with_gaps(measured),
        climb_m=climb,
        descent_m=descent,
        bbox=bounds(
            *(np.concatenate([np.atleast_1d(getattr(x, axis)) for x in everywhere]) for axis in ("lat", "lon"))
        ),
        lines=lines,
        chosen=joined[0] if len(joined) == 1 else None,
        joined=joined,
        warnings=warnings,
    )


def _with_gaps(lines: list[Line]) -> float:
    """Length of lines one after the other, with the straight line from each to the next [m]."""
    held = [line for line in lines if len(line.lat)]
    between = sum(1000.0 * gap_between(one, other) for one, other in pairwise(held))
    return sum(line.length_with_gaps_m for line in held) + between


def _climb(lines: list[Line], figures: RouteFigures) -> tuple[float | None, float | None]:
    """Climb and descent of several lines, segment by segment [m]; None where too few heights are known."""
    height = np.concatenate([line.height for line in lines])
    firsts = np.cumsum([0, *(len(line.height) for line in lines)])
    starts = tuple(int(first) + s for first, line in zip(firsts, lines, strict=False) for s in line.starts)
    profile = height_profile(np.arange(len(height), dtype=float), height, starts, figures.climb)
    return (None, None) if profile is None else (float(profile.climb[-1]), float(profile.descent[-1]))


# ------------------------------------------------------------------------------------------ remarks
def _oddities(
    lines: tuple[Line, ...], steps: Sequence[Floats], joined: tuple[int, ...], figures: RouteFigures
) -> list[str]:
    """What is odd about the lines taken: gaps, jumps, routes without a recorded line, unknown heights."""
    said = []
    for i in joined:
        said += _gaps(lines[i], steps[i], figures) + _jumps(lines[i], steps[i], figures) + _unknown(lines[i], figures)
    if not joined and not any(np.isfinite(line.height).any() for line in lines):
        said.append("climb is unknown: no point has a height")
    return said


def _gaps(line: Line, steps: Floats, figures: RouteFigures) -> list[str]:
    gaps = [(number, float(steps[s - 1])) for number, s in enumerate(line.starts[1:], 1)]
    return [
        f"gap of {gap / 1000:.2f} km in {line_title(line)} between its segments {number} and {number + 1}"
        for number, gap in gaps
        if gap >= figures.joins.told_km * 1000
    ]


def _jumps(line: Line, steps: Floats, figures: RouteFigures) -> list[str]:
    """Single steps far longer than the rest of a recorded line: a fix gone wrong, or the recorder was off."""
    within = steps.copy()
    within[[s - 1 for s in line.starts[1:]]] = 0.0
    usual = float(np.median(within[within > 0])) if (within > 0).any() else 0.0
    wild = within[within > max(figures.joins.jump_km * 1000, figures.joins.jump_times * usual)]
    if line.kind == "route" or not len(wild):
        return []
    count = "a step" if len(wild) == 1 else f"{len(wild)} steps"
    longest = f"{float(wild.max()) / 1000:.1f} km"
    return [
        f"{line_title(line)} has {count} of up to {longest} between points: a wrong fix, or a recorder that was off"
    ]


def _unknown(line: Line, figures: RouteFigures) -> list[str]:
    said = []
    if line.kind == "route":
        said.append(
            f"{line_title(line)} is a route: its length follows its {len(line.lat)} points, not a recorded line"
        )
    known = int(np.isfinite(line.height).sum())
    if known < 2 or known < figures.climb.known_share * len(line.height):
        said.append(f"climb of {line_title(line)} is unknown: {known} of {len(line.height)} points have a height")
    return said
