"""Route files: every figure of the shared collection, and every way in which a file can be at fault."""

from __future__ import annotations

import contextlib
import csv
import gzip
import json
import os
import tempfile
import tracemalloc
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.errors import InputFaults
from fieldkit.route import read_route, route_json
from fieldkit.route.settings import route_figures

HERE = Path(__file__).parents[1] / "data" / "routes"
ROOT = Path(__file__).parents[2]


def shared(folder: str) -> Path | None:
    """The shared test data, read in place."""
    for base in (os.environ.get("FIELDKIT_SHARED"), ROOT.parent / "shared"):
        if base and (Path(base) / folder).is_dir():
            return Path(base) / folder
    return None


def index_rows() -> list[dict[str, str]]:
    folder = shared("routes")
    if folder is None:
        return []
    return list(csv.DictReader((folder / "index.csv").read_text(encoding="utf-8").splitlines()))


ROWS = index_rows()
FAULTY = {row["file"] for row in ROWS if row["expected"].startswith("clear error")}


def test_the_shared_collection_is_at_hand() -> None:
    """Away from the machine that has it the collection is skipped; a continuous-integration run must have it."""
    if shared("routes") is None:
        assert os.environ.get("CI") != "true", "set FIELDKIT_SHARED: the shared route files are needed here"
        pytest.skip("no shared route files here: set FIELDKIT_SHARED")
    assert len(ROWS) >= 21


@pytest.mark.parametrize("row", [r for r in ROWS if r["file"] not in FAULTY], ids=lambda r: r["file"])
def test_a_sound_file_gives_its_stated_figures(row: dict[str, str]) -> None:
    """Counts exact; lengths to 0.01 % or 1 m; climb never above the plain sum, unknown where no heights are stated."""
    folder = shared("routes")
    assert folder is not None
    data = route_json(read_route(folder / row["file"]))
    for key in ("points", "tracks", "segments", "routes", "waypoints"):
        assert data[key] == int(row[key]), key
    for key in ("length_m", "length_with_gaps_m"):
        assert data[key] == pytest.approx(float(row[key]), rel=1e-4, abs=1.0), key
    assert data["bbox"] == pytest.approx([float(x) for x in row["bbox_s_w_n_e"].split()], abs=1e-6)
    for key in ("climb_m", "descent_m"):
        if not row[key]:
            assert data[key] is None, key
        elif data[key] is not None:
            assert data[key] <= float(row[key]) + 0.1, key
    json.dumps(data, allow_nan=False)


@pytest.mark.parametrize("row", [r for r in ROWS if r["file"] in FAULTY], ids=lambda r: r["file"])
def test_a_faulty_file_gives_one_clear_message(row: dict[str, str]) -> None:
    """The message names the file; nothing else than InputFaults comes out."""
    folder = shared("routes")
    assert folder is not None
    with pytest.raises(InputFaults) as caught:
        read_route(folder / row["file"])
    assert all(fault.place.startswith(row["file"]) for fault in caught.value.faults)
    assert all(fault.expected for fault in caught.value.faults)


MESSAGES = {
    "r05-waypoints-only-no-namespace.gpx": "no track and no route in the file (40 waypoints)",
    "r06-utf8-bom-no-version.gpx": "no track and no route in the file (1 waypoint)",
    "r12-undefined-coordinates.gpx": "r12-undefined-coordinates.gpx:5: latitude 'undefined'",
    "r13-single-point.gpx": "it needs two points",
    "r14-empty-track.gpx": "no points",
}


@pytest.mark.parametrize("file", [f for f in MESSAGES if f in FAULTY])
def test_the_message_says_what_is_the_matter(file: str) -> None:
    """What each broken file of the shared collection must be told."""
    folder = shared("routes")
    assert folder is not None
    with pytest.raises(InputFaults) as caught:
        read_route(folder / file)
    assert MESSAGES[file] in str(caught.value)


# --------------------------------------------------------------------------------- made-up files
@pytest.mark.parametrize(
    ("file", "length", "climb"),
    [
        ("s01-no-namespace.gpx", 2611.0, 20.0),
        ("s02-byte-order-mark.gpx", 2611.0, 20.0),
        ("s03-no-times.gpx", 2611.0, 20.0),
        ("s04-prefix-not-declared.gpx", 2611.0, 20.0),
        ("s05-one-height-missing.gpx", 221.5, 0.0),
        ("s06-across-180.gpx", 3938.5, None),
        ("r16-time-backwards.gpx", 12692.5, 48.9),
        ("r20-ordinary-drive.geojson", 12692.5, 48.9),
    ],
)
def test_made_up_files_give_their_stated_figures(file: str, length: float, climb: float | None) -> None:
    """Lengths as stated; the climb of the noisy drive (regression) is below its plain sum of 71.1 m."""
    data = route_json(read_route(HERE / file))
    assert data["length_m"] == pytest.approx(length, abs=0.1)
    assert data["climb_m"] == (None if climb is None else pytest.approx(climb, abs=0.1))


def test_an_empty_route_element_is_no_route() -> None:
    """`<rte/>` beside a track is passed over; three points are read."""
    found = read_route(HERE / "s01-no-namespace.gpx")
    assert (found.points, found.routes, found.chosen) == (3, 0, 0)


def test_an_undeclared_prefix_is_told_and_everything_is_read() -> None:
    """No point goes missing, and the warning names line and prefix."""
    found = read_route(HERE / "s04-prefix-not-declared.gpx")
    assert found.points == 3
    assert found.warnings == ("line 5: the prefix 'dev' is not declared; what stands under it was passed over",)


def test_a_box_across_180_degrees_has_its_west_east_of_its_east() -> None:
    found = read_route(HERE / "s06-across-180.gpx")
    assert found.bbox == pytest.approx((-16.82, 179.99, -16.80, -179.98))


def test_a_broken_off_file_names_its_last_good_line() -> None:
    with pytest.raises(
        InputFaults, match=r"r17-cut-off\.gpx:103: the file breaks off here; line 102 is the last good one"
    ):
        read_route(HERE / "r17-cut-off.gpx")


def test_entities_are_refused_at_once_and_cheaply() -> None:
    """Under 10 MB, where the entities would grow to 500 MB: nothing of the file is read on."""
    tracemalloc.start()
    with pytest.raises(InputFaults, match=r"r19-entity-bomb\.gpx:2: a document type or entity declaration"):
        read_route(HERE / "r19-entity-bomb.gpx")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 10e6


POINTS = '<trkpt lat="-24.1" lon="134.1"><ele>400</ele></trkpt><trkpt lat="-24.2" lon="134.1"><ele>420</ele></trkpt>'


def write(folder: Path, text: str | bytes, name: str = "x.gpx") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return path


def track(points: str = POINTS, name: str = "A") -> str:
    return f"<trk><name>{name}</name><trkseg>{points}</trkseg></trk>"


def gpx(inside: str) -> str:
    return f'<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">{inside}</gpx>'


def fault_of(path: Path) -> str:
    with pytest.raises(InputFaults) as caught:
        read_route(path)
    return str(caught.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "the file is empty"),
        ("day,km\n1,5\n", "neither GPX nor GeoJSON"),
        (b"PK\x03\x04xxxx", "a zip archive"),
        ("<html><body/></html>", "a <html> file; expected a GPX file"),
        (gpx(track())[:-20], "the file breaks off here"),
        (gpx("<trk></wrong>"), "not well-formed XML: mismatched tag"),
        (gpx(track('<trkpt lon="1"/><trkpt lat="1" lon="1"/>')), "a point without lat"),
        (
            gpx(track('<trkpt lat="1,5" lon="1"/><trkpt lat="1" lon="1"/>')),
            "latitude '1,5'; expected decimal degrees with a point",
        ),
        (gpx(track('<trkpt lat="nan" lon="1"/><trkpt lat="1" lon="1"/>')), "latitude nan is not on earth"),
        (gpx(track('<trkpt lat="1" lon="1"><ele>high</ele></trkpt><trkpt lat="2" lon="1"/>')), "height 'high'"),
        (
            gpx(track('<trkpt lat="1" lon="1"/><trkpt lat="1" lon="1"/>')),
            "no line that leads from one place to another",
        ),
        ('<?xml version="1.0" encoding="no-such"?>' + gpx(track()), "the encoding 'no-such' is not known"),
        (gpx(track(name="Gué")).encode("latin-1"), "a byte that is not UTF-8 text"),
        ('<!DOCTYPE gpx SYSTEM "file:///etc/hostname">' + gpx(track()), "a document type or entity declaration"),
        (gpx("<extensions>" + "<a>" * 80 + "</a>" * 80 + "</extensions>"), "elements nested deeper than 60"),
    ],
)
def test_each_fault_has_its_message(tmp_path: Path, text: str | bytes, said: str) -> None:
    """One clear message with the file's name, whatever is the matter."""
    message = fault_of(write(tmp_path, text))
    assert said in message
    assert message.startswith("x.gpx")


def test_every_faulty_point_is_named_up_to_a_limit(tmp_path: Path) -> None:
    """Twenty faults are named with their lines, the rest counted."""
    rows = "\n".join('<trkpt lat="95" lon="190"/>' for _ in range(30))
    message = fault_of(write(tmp_path, gpx(track(rows))))
    assert "x.gpx:1: latitude 95 is not on earth; expected -90 to 90" in message
    assert "longitude 190 is not on earth" in message
    assert "40 more faults of the same kind" in message


def test_a_file_that_is_not_there_and_a_folder(tmp_path: Path) -> None:
    assert "cannot be read (No such file or directory)" in fault_of(tmp_path / "none.gpx")
    assert "a folder; expected a GPX or GeoJSON file" in fault_of(tmp_path)


def test_a_leg_table_is_sent_to_its_trip(tmp_path: Path) -> None:
    assert "read with its trip" in fault_of(write(tmp_path, "day,from_km,to_km\n", "legs.csv"))


def test_too_large_a_file_is_refused_by_its_unpacked_size(tmp_path: Path) -> None:
    """A small packed file that unpacks beyond the limit is not read on."""
    figures = route_figures()
    small = figures.model_copy(update={"reading": figures.reading.model_copy(update={"largest_mb": 0.001})})
    path = write(tmp_path, gzip.compress(gpx(track(POINTS * 100)).encode()), "x.gpx.gz")
    with pytest.raises(InputFaults, match=r"more than 0\.001 MB"):
        read_route(path, figures=small)
    few = figures.model_copy(update={"reading": figures.reading.model_copy(update={"most_points": 100})})
    with pytest.raises(InputFaults, match="more than 100 points"):
        read_route(path, figures=few)


def test_a_packed_file_is_known_by_its_bytes_not_its_name(tmp_path: Path) -> None:
    packed = gzip.compress(gpx(track()).encode())
    assert read_route(write(tmp_path, packed, "x.gpx")).points == 2
    assert "a packed file that is broken" in fault_of(write(tmp_path, packed[:-12], "x.gpx"))


@pytest.mark.parametrize("encoding", ["utf-16", "windows-1252", "iso-8859-1", "utf-8-sig"])
def test_names_keep_their_accents(tmp_path: Path, encoding: str) -> None:
    declared = "utf-8" if encoding == "utf-8-sig" else encoding
    text = f'<?xml version="1.0" encoding="{declared}"?>' + gpx(track(name="Gué du Chêne"))
    assert read_route(write(tmp_path, text.encode(encoding))).lines[0].name == "Gué du Chêne"


def test_text_with_markup_is_taken_as_text(tmp_path: Path) -> None:
    found = read_route(write(tmp_path, gpx(track(name="<![CDATA[<b>A &amp; B</b>]]>"))))
    assert found.lines[0].name == "<b>A &amp; B</b>"


def test_what_stands_in_extensions_is_no_track(tmp_path: Path) -> None:
    """Nested tracks of another namespace, and heights of waypoints inside, are passed over."""
    hidden = f'<extensions><trk>{POINTS}</trk><o:trk xmlns:o="u"><trkpt lat="1" lon="1"/></o:trk></extensions>'
    foreign = f'<trk xmlns="urn:other"><trkseg>{POINTS}</trkseg></trk>'
    found = read_route(write(tmp_path, gpx(track() + hidden + foreign)))
    assert (found.tracks, found.points, found.warnings) == (1, 2, ())


def test_a_prefixed_file_and_blank_lines_before_the_declaration_are_read(tmp_path: Path) -> None:
    prefixed = f'\n\n<?xml version="1.0"?><g:gpx xmlns:g="http://www.topografix.com/GPX/1/0"><g:trk><g:trkseg>{POINTS.replace("<", "<g:").replace("<g:/", "</g:")}</g:trkseg></g:trk></g:gpx>'
    assert read_route(write(tmp_path, prefixed)).points == 2
    broken = "\n\n\n" + gpx(track('<trkpt lat="x" lon="1"/><trkpt lat="1" lon="1"/>'))
    assert "x.gpx:4: latitude 'x'" in fault_of(write(tmp_path, broken))


# ----------------------------------------------------------------------------- which line is taken
APART = track(name="One") + track('<trkpt lat="-20" lon="130"/><trkpt lat="-20.1" lon="130"/>', "Two")
ROUTE = '<rte><name>Planned</name><rtept lat="1" lon="1"/><rtept lat="2" lon="1"/></rte>'


def test_tracks_that_lie_apart_are_asked_for(tmp_path: Path) -> None:
    found = read_route(write(tmp_path, gpx(APART)))
    assert (found.joined, found.chosen) == ((), None)
    assert "2 lines that do not follow each other, none taken yet" in found.warnings[0]
    assert [line["chosen"] for line in route_json(found)["lines"]] == [False, False]


@pytest.mark.parametrize(("wanted", "joined"), [("Two", (1,)), ("2", (1,)), (2, (1,)), ("all", (0, 1))])
def test_a_line_is_taken_by_name_number_or_all(tmp_path: Path, wanted: str | int, joined: tuple[int, ...]) -> None:
    assert read_route(write(tmp_path, gpx(APART)), wanted).joined == joined


def test_a_wrong_name_lists_the_right_ones(tmp_path: Path) -> None:
    with pytest.raises(
        InputFaults, match=r"x\.gpx: no line 'Tow'; expected one of: 1 'One'; 2 'Two'; did you mean 'Two'\?"
    ):
        read_route(write(tmp_path, gpx(APART)), "Tow")


def test_a_name_that_stands_twice_asks_for_the_number(tmp_path: Path) -> None:
    with pytest.raises(InputFaults, match="2 lines are named 'A'; expected a number instead: 1, 2"):
        read_route(write(tmp_path, gpx(track() + track())), "A")


def test_tracks_that_follow_each_other_are_joined_and_named(tmp_path: Path) -> None:
    following = track('<trkpt lat="-24.201" lon="134.1"/><trkpt lat="-24.3" lon="134.1"/>', "B")
    found = read_route(write(tmp_path, gpx(track() + following)))
    assert found.joined == (0, 1)
    assert "track 'A' is followed by track 'B', 0.11 km on" in found.warnings


def test_a_track_goes_before_a_route_and_is_named(tmp_path: Path) -> None:
    found = read_route(write(tmp_path, gpx(track() + ROUTE)))
    assert found.chosen == 0
    assert "taken: track 'A'; also in the file, to be named if wanted: route 'Planned'" in found.warnings


def test_a_route_alone_says_that_it_follows_its_points(tmp_path: Path) -> None:
    found = read_route(write(tmp_path, gpx(ROUTE)))
    assert found.points == 0
    assert found.climb_m is None
    assert any("its length follows its 2 points, not a recorded line" in w for w in found.warnings)


def test_gaps_and_jumps_are_told(tmp_path: Path) -> None:
    """A hole between segments and a step far beyond the usual are named; an empty segment is not a gap."""
    dense = "".join(f'<trkpt lat="{-24 - i * 1e-4:.4f}" lon="134"/>' for i in range(50))
    jump = dense + '<trkpt lat="-25" lon="134"/>'
    text = gpx(
        f"<trk><name>A</name><trkseg>{jump}</trkseg><trkseg/><trkseg><trkpt lat='-25.1' lon='134'/></trkseg></trk>"
    )
    found = read_route(write(tmp_path, text))
    assert "gap of 11.08 km in track 'A' between its segments 1 and 2" in found.warnings
    assert any(w.startswith("track 'A' has a step of up to 110.2 km between points") for w in found.warnings)
    assert found.segments == 3


# ----------------------------------------------------------------------------------------- GeoJSON
def geojson(path: Path, document: object, name: str = "x.geojson") -> Path:
    return write(path, json.dumps(document), name)


LINE = {"type": "LineString", "coordinates": [[134, -24, 400], [134.1, -24, 420]]}


@pytest.mark.parametrize(
    "document",
    [
        LINE,
        {"type": "Feature", "properties": None, "geometry": LINE},
        {"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {"name": "N"}, "geometry": LINE}]},
        {"type": "GeometryCollection", "geometries": [LINE, {"type": "Point", "coordinates": [134, -24]}]},
        {"type": "MultiLineString", "coordinates": [LINE["coordinates"], [[134.1, -24], [134.1, -24.1]]]},
    ],
)
def test_each_shape_of_geojson_with_a_line_is_read(tmp_path: Path, document: object) -> None:
    found = read_route(geojson(tmp_path, document))
    assert found.lines[0].kind == "line"
    assert found.length_m > 10_000
    assert found.joined == (0,)


def test_a_line_cut_at_180_degrees_is_one_line(tmp_path: Path) -> None:
    """RFC 7946 section 3.1.9 cuts lines at 180 degrees; 180 and -180 are one meridian."""
    parts = [[[179.9, 0], [180, 0]], [[-180, 0], [-179.9, 0]]]
    found = read_route(geojson(tmp_path, {"type": "MultiLineString", "coordinates": parts}))
    assert found.length_with_gaps_m == pytest.approx(0.2 * 111319.4908, abs=0.1)
    assert not any("gap" in w for w in found.warnings)


@pytest.mark.parametrize(
    ("document", "said"),
    [
        ({"type": "LineString", "coordinates": [[-24, 134], [-24.1, 134]]}, "latitude 134; expected longitude first"),
        ({"type": "LineString", "coordinates": [["134", "-24"], [134, -24]]}, 'position ["134", "-24"]'),
        ({"type": "LineString", "coordinates": [[200, 0], [201, 0]]}, "longitude 200 is not on earth"),
        ({"type": "Point", "coordinates": [1, 1]}, "no track and no route in the file (1 waypoint)"),
        ({"type": "Lines"}, "type 'Lines'; expected a type of the GeoJSON standard"),
        (
            {"crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::3857"}}, **LINE},
            "expected WGS84 longitude and latitude",
        ),
        ([1, 2], "JSON without a GeoJSON type"),
    ],
)
def test_each_fault_of_geojson_has_its_message(tmp_path: Path, document: object, said: str) -> None:
    assert said in fault_of(geojson(tmp_path, document))


@pytest.mark.parametrize(
    ("text", "said"), [('{"type": ', "the file breaks off here"), ('{"type" 5}', "x.geojson:1: not JSON")]
)
def test_text_that_is_no_json_names_its_line(tmp_path: Path, text: str, said: str) -> None:
    assert said in fault_of(write(tmp_path, text, "x.geojson"))


# ----------------------------------------------------------------------------- whatever the bytes
@given(st.data())
def test_a_spoilt_file_is_read_or_refused_and_nothing_else(data: st.DataObject) -> None:
    """Bytes changed, dropped or repeated at random: a RouteFile or InputFaults, never another error."""
    sound = (
        HERE / data.draw(st.sampled_from(["s04-prefix-not-declared.gpx", "r20-ordinary-drive.geojson"]))
    ).read_bytes()
    spoilt = bytearray(sound)
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(spoilt) - 1))
        spoilt[at : at + data.draw(st.integers(0, 9))] = data.draw(st.binary(max_size=6))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "x.gpx"
        path.write_bytes(bytes(spoilt))
        with contextlib.suppress(InputFaults):
            json.dumps(route_json(read_route(path)), allow_nan=False)


def test_collections_within_collections_end_in_a_message(tmp_path: Path) -> None:
    deep = '{"type": "GeometryCollection", "geometries": [' * 450 + "]}" * 450
    with pytest.raises(InputFaults):
        read_route(write(tmp_path, deep, "x.geojson"))
