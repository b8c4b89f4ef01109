"""The map and the profiles as numbers."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_trip import HEAD, LEGS, exposed, trip

from fieldkit.exposure import map_drawing, profile_drawing
from fieldkit.exposure.drawing import thinned
from fieldkit.route import trip_route
from fieldkit.specs.trip import SurfaceStretch, Trip

HERE = Path(__file__).parents[1] / "data" / "routes"


def on_track(path: Path, end: float, **head: object) -> Trip:
    surfaces = (SurfaceStretch(0, end / 2, "gravel", line=2), SurfaceStretch(end / 2, end, "sand", line=3))
    return trip(
        (), surfaces=surfaces, route_files=(path,), **{"days": 1, "stop": [], "help": [], "time_zone": "UTC+12", **head}
    )


def drawn(made: Trip) -> dict:  # type: ignore[type-arg]
    route = trip_route(made)
    return map_drawing(route, exposed(made), made)


def test_a_route_across_180_degrees_is_about_3_km_wide() -> None:
    """No line round the world; both legs lie in the map."""
    found = drawn(on_track(HERE / "s06-across-180.gpx", 3.9))
    assert found["on_ground"]
    assert found["width_km"] == pytest.approx(3.2, abs=0.2)
    assert found["height_km"] == pytest.approx(2.2, abs=0.1)
    points = np.array([p for leg in found["legs"] for p in leg["points"]])
    assert points.min() >= -0.001
    assert (points.max(axis=0) <= np.array([found["width_km"], found["height_km"]]) + 0.001).all()


def test_lengths_on_the_map_are_those_on_the_ground() -> None:
    """Over 12 km the projection keeps lengths to a part in ten thousand (thinning loses a little)."""
    made = on_track(HERE / "r20-ordinary-drive.geojson", 12.6, time_zone="UTC+9")
    found = drawn(made)
    total = sum(np.hypot(*np.diff(np.array(leg["points"]), axis=0).T).sum() for leg in found["legs"])
    assert total == pytest.approx(trip_route(made).length_km, rel=2e-3)


def test_help_points_carry_their_position_in_both_spellings() -> None:
    points = [
        {"name": "Far", "kind": ["workshop"], "at": [-23.9, 134.1]},
        {"name": "Near", "kind": ["water"], "km": "2 km"},
    ]
    roads = [{"km": "5 km", "to": "Far", "distance": "9 km", "surface": "gravel"}]
    found = drawn(on_track(HERE / "r20-ordinary-drive.geojson", 12.6, help=points, escape=roads, time_zone="UTC+9"))
    far, near = found["help"]
    assert far["position"] == ["-23.9000, 134.1000", "S 23° 54.000′, E 134° 06.000′"]
    assert near["at"] is not None
    (road,) = found["escapes"]
    assert road["to"] == "Far"
    assert len(road["points"]) == 2
    assert road["points"][1] == pytest.approx((far["x"], far["y"]), abs=0.002)


def test_a_leg_table_is_drawn_as_a_strip() -> None:
    found = drawn(
        trip(
            LEGS,
            help=[*HEAD["help"], {"name": "Mine", "kind": ["workshop"]}],
            escape=[{"km": "9 km", "to": "Mine", "distance": "5 km", "surface": "sand"}],
        )
    )
    assert not found["on_ground"]
    assert (found["width_km"], found["height_km"]) == (300.0, 0.0)
    assert found["legs"][1]["points"] == [(60.0, 0.0), (100.0, 0.0)]
    assert found["help"][2]["x"] is None


def test_drawings_are_plain_json_with_few_points() -> None:
    made = on_track(HERE / "r20-ordinary-drive.geojson", 12.6, time_zone="UTC+9")
    route, exposure = trip_route(made), exposed(made)
    text = json.dumps([map_drawing(route, exposure, made), profile_drawing(route, exposure)], allow_nan=False)
    assert len(text) < 60_000


def test_the_profile_keeps_its_ends_and_its_peaks() -> None:
    made = on_track(HERE / "r20-ordinary-drive.geojson", 12.6, time_zone="UTC+9")
    route = trip_route(made)
    found = profile_drawing(route, exposed(made), most=20)
    heights = [h for _, h in found["height"]]
    assert len(heights) <= 20
    assert min(heights) == pytest.approx(route.height.min(), abs=6)
    assert max(heights) == pytest.approx(route.height.max(), abs=6)
    assert found["hours"]["airstrip"][0][1] is None


@given(st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=2, max_size=40), st.floats(0.01, 5))
def test_no_dropped_point_lies_further_off_than_the_tolerance(
    points: list[tuple[float, float]], tolerance: float
) -> None:
    line = np.array(points)
    kept = thinned(line, tolerance)
    assert kept[0].tolist() == line[0].tolist()
    assert kept[-1].tolist() == line[-1].tolist()
    for point in line:
        assert min(_off(point, a, b) for a, b in itertools.pairwise(kept)) <= tolerance + 1e-9


def _off(p: np.ndarray, a: np.ndarray, b: np.ndarray) -> float:
    way = b - a
    share = np.clip((p - a) @ way / (way @ way), 0, 1) if way @ way else 0.0
    return float(np.hypot(*(p - a - share * way)))
