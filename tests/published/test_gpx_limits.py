"""GPX 1.1 schema (topografix.com/GPX/1/1/gpx.xsd): the limits of its types, read from the schema's own documentation.

latitudeType: -90 to 90, both included. longitudeType: -180 included to 180 excluded. Root attributes ``version`` ("1.1") and
``creator`` are required; a file without them is still read here, since devices write such files.
"""

from __future__ import annotations

from pathlib import Path

import gpxpy
import gpxpy.geo
import pytest

from fieldkit.errors import InputFaults
from fieldkit.route import read_route

ROOT = '<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">'


def file(folder: Path, *points: tuple[str, str]) -> Path:
    rows = "".join(f'<trkpt lat="{lat}" lon="{lon}"/>' for lat, lon in points)
    path = folder / "x.gpx"
    path.write_text(f"{ROOT}<trk><trkseg>{rows}</trkseg></trk></gpx>", encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("lat", "lon"), [("90", "0"), ("-90", "0"), ("0", "-180"), ("0", "179.9999999"), ("+1.5", "1e1")]
)
def test_values_at_the_limits_are_valid(tmp_path: Path, lat: str, lon: str) -> None:
    """xsd:decimal has no exponent; a device that writes one is read all the same."""
    assert read_route(file(tmp_path, (lat, lon), ("1", "1"))).points == 2


@pytest.mark.parametrize(
    ("lat", "lon", "said"),
    [
        ("90.0001", "0", "latitude 90.0001 is not on earth; expected -90 to 90"),
        ("-90.0001", "0", "latitude -90.0001 is not on earth"),
        ("0", "180", "longitude 180 is not on earth; expected -180 to below 180"),
        ("0", "-180.0001", "longitude -180 is not on earth"),
        ("0", "INF", "longitude inf is not on earth"),
    ],
)
def test_values_beyond_the_limits_are_faults(tmp_path: Path, lat: str, lon: str, said: str) -> None:
    with pytest.raises(InputFaults) as caught:
        read_route(file(tmp_path, (lat, lon), ("1", "1")))
    assert said in str(caught.value)


def test_elements_in_the_schemas_order_are_read(tmp_path: Path) -> None:
    """metadata, wpt, rte, trk, extensions: each is found, whatever the others hold."""
    path = tmp_path / "x.gpx"
    path.write_text(
        f"{ROOT}<metadata><name>not a track's name</name></metadata>"
        '<wpt lat="1" lon="2"><ele>3</ele><name>W</name></wpt>'
        '<rte><name>R</name><rtept lat="1" lon="2"/><rtept lat="1" lon="3"/></rte>'
        '<trk><name>T</name><trkseg><trkpt lat="1" lon="2"/><trkpt lat="1" lon="3"/></trkseg></trk>'
        "<extensions><name>no</name></extensions></gpx>",
        encoding="utf-8",
    )
    found = read_route(path)
    assert [line.name for line in found.lines] == ["R", "T"]
    assert (found.waypoints[0].name, found.waypoints[0].height_m) == ("W", 3.0)


def test_counts_and_spherical_length_agree_with_a_general_gpx_library(tmp_path: Path) -> None:
    """The library measures on a sphere or a flat cell, so only to half a per cent; points and segments exactly."""
    path = Path(__file__).parents[1] / "data" / "routes" / "r16-time-backwards.gpx"
    theirs = gpxpy.parse(path.read_text(encoding="utf-8"))
    ours = read_route(path)
    assert ours.points == theirs.get_points_no()
    assert ours.segments == sum(len(track.segments) for track in theirs.tracks)
    assert ours.length_m == pytest.approx(theirs.length_2d(), rel=5e-3)
    up, _ = theirs.get_uphill_downhill()
    assert ours.climb_m is not None
    assert 0.5 * up < ours.climb_m < 1.7 * up  # both take noise out, by other rules
