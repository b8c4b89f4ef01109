"""GeoJSON (RFC 7946) to raw lines: LineString and MultiLineString become lines, points become waypoints."""

from __future__ import annotations

import json
from math import isfinite, nan
from typing import Any

from fieldkit.errors import Fault, InputFaults
from fieldkit.route.raw import RawFile, RawLine, RawPoint
from fieldkit.route.settings import ReadingFigures

_WGS84 = ("crs84", "epsg:4326", "epsg::4326")


def parse_geojson(data: bytes, name: str, figures: ReadingFigures) -> RawFile:
    """A GeoJSON file's bytes as raw lines and waypoints.

    Parameters
    ----------
    data : bytes
        The whole file; UTF-8, with or without a byte-order mark.
    name : str
        How messages call it.
    figures : ReadingFigures
        Limits of points.

    Raises
    ------
    InputFaults
        If it is not JSON, not GeoJSON, or in other coordinates than WGS84 longitude and latitude.

    Notes
    -----
    A longitude of exactly 180 degrees, which the standard allows, is taken as -180.

    Examples
    --------
    >>> from fieldkit.route.settings import route_figures
    >>> text = b'{"type": "LineString", "coordinates": [[2, 1], [3, 1]]}'
    >>> parse_geojson(text, "a.geojson", route_figures().reading).lines[0].lon
    [2.0, 3.0]
    """
    document = _document(data, name)
    file = RawFile(name)
    _check_system(document, file)
    try:
        _collect(document, "", "", file)
    except RecursionError:
        raise InputFaults([Fault(f"{name}:1", "collections nested too deeply", "a GeoJSON file")]) from None
    points = sum(len(line.lat) for line in file.lines) + len(file.waypoints)
    if points > figures.most_points:
        file.faults.append(Fault(name, f"{points} points", f"at most {figures.most_points}: a thinned track"))
    return file


def _document(data: bytes, name: str) -> dict[str, Any]:
    try:
        found = json.loads(data.decode("utf-8-sig"), parse_constant=lambda word: nan)
    except UnicodeDecodeError as odd:
        line = data[: odd.start].count(b"\n") + 1
        raise InputFaults([Fault(f"{name}:{line}", "a byte that is not UTF-8 text", "a file saved as UTF-8")]) from None
    except json.JSONDecodeError as odd:
        broken = odd.pos >= len(odd.doc.rstrip())
        found_words = "the file breaks off here" if broken else f"not JSON: {odd.msg[:1].lower()}{odd.msg[1:]}"
        wanted = "a whole file: copy it again" if broken else "a GeoJSON file as its program wrote it"
        raise InputFaults([Fault(f"{name}:{odd.lineno}", found_words, wanted)]) from None
    except RecursionError:
        raise InputFaults([Fault(f"{name}:1", "brackets nested too deeply", "a GeoJSON file")]) from None
    if not isinstance(found, dict) or "type" not in found:
        raise InputFaults(
            [Fault(f"{name}:1", "JSON without a GeoJSON type", "a FeatureCollection, Feature or LineString")]
        )
    return found


def _check_system(document: dict[str, Any], file: RawFile) -> None:
    system = document.get("crs")
    if not isinstance(system, dict):
        return
    properties = system.get("properties")
    label = str(properties.get("name", "")) if isinstance(properties, dict) else ""
    if not label.lower().replace("urn:ogc:def:crs:", "").endswith(_WGS84):
        file.faults.append(
            Fault(
                f"{file.name} crs", f"coordinates in '{label or 'an unnamed system'}'", "WGS84 longitude and latitude"
            )
        )


def _collect(node: Any, at: str, name: str, file: RawFile) -> None:
    """Walk features and geometries; ``at`` is the path for messages, ``name`` the feature's name."""
    if not isinstance(node, dict):
        return
    kind, path = node.get("type"), f"{at}." if at else ""
    if kind == "FeatureCollection":
        _collect_all(node.get("features"), f"{path}features", name, file)
    elif kind == "GeometryCollection":
        _collect_all(node.get("geometries"), f"{path}geometries", name, file)
    elif kind == "Feature":
        _collect(node.get("geometry"), f"{path}geometry", _name_of(node) or name, file)
    elif kind == "LineString":
        _add_line([node.get("coordinates")], f"{path}coordinates", name, file, nested=False)
    elif kind == "MultiLineString":
        _add_line(node.get("coordinates"), f"{path}coordinates", name, file, nested=True)
    elif kind == "Point":
        _add_points([node.get("coordinates")], f"{path}coordinates", name, file)
    elif kind == "MultiPoint":
        _add_points(node.get("coordinates"), f"{path}coordinates", name, file)
    elif kind in ("Polygon", "MultiPolygon"):
        file.warnings.append(f"{at or 'the file'} is an area, not a line; it was passed over")
    else:
        file.faults.append(Fault(f"{file.name} {at}".strip(), f"type {kind!r}", "a type of the GeoJSON standard"))


def _collect_all(nodes: Any, at: str, name: str, file: RawFile) -> None:
    for i, node in enumerate(nodes if isinstance(nodes, list) else ()):
        _collect(node, f"{at}[{i}]", name, file)


def _name_of(feature: dict[str, Any]) -> str:
    properties = feature.get("properties")
    for key in ("name", "title"):
        if isinstance(properties, dict) and isinstance(properties.get(key), str):
            return " ".join(properties[key].split())[:200]
    return ""


def _add_line(parts: Any, at: str, name: str, file: RawFile, nested: bool) -> None:
    line = RawLine("line", name, at=at)
    for i, part in enumerate(parts if isinstance(parts, list) else ()):
        line.starts.append(len(line.lat))
        line.segments += 1
        for j, position in enumerate(part if isinstance(part, list) else ()):
            lat, lon, height = _position(position, f"{at}[{i}][{j}]" if nested else f"{at}[{j}]", file)
            line.lat.append(lat)
            line.lon.append(lon)
            line.height.append(height)
            line.places.append(j)
    file.lines.append(line)


def _add_points(positions: Any, at: str, name: str, file: RawFile) -> None:
    for i, position in enumerate(positions if isinstance(positions, list) else ()):
        lat, lon, height = _position(position, at, file)
        file.waypoints.append(RawPoint(lat, lon, height, i, name))


def _position(position: Any, at: str, file: RawFile) -> tuple[float, float, float]:
    numbers = position if isinstance(position, list) else []
    if len(numbers) < 2 or any(isinstance(v, bool) or not isinstance(v, (int, float)) for v in numbers[:2]):
        file.faults.append(
            Fault(f"{file.name} {at}", f"position {_short(position)}", "[longitude, latitude] in degrees")
        )
        return nan, nan, nan
    lon, lat = float(numbers[0]), float(numbers[1])
    if abs(lat) > 90 and abs(lon) <= 90:
        file.faults.append(
            Fault(f"{file.name} {at}", f"latitude {lat:g}", "longitude first, then latitude, as GeoJSON has it")
        )
        return nan, nan, nan
    height = numbers[2] if len(numbers) > 2 else None
    known = isinstance(height, (int, float)) and not isinstance(height, bool) and isfinite(height)
    return lat, -180.0 if lon == 180 else lon, float(height) if known and height is not None else nan


def _short(value: Any) -> str:
    text = json.dumps(value, allow_nan=True)
    return text if len(text) <= 40 else text[:39] + "…"
