"""The trip's route from its files, and its legs."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from made_trip import LEGS, trip

from fieldkit.errors import InputFaults
from fieldkit.route import cut_legs, trip_route
from fieldkit.specs.trip import Leg, SurfaceStretch, Trip

DEGREE_KM = 110.574  # about one degree of latitude at the equator


def track(folder: Path, name: str, *lats: float, heights: bool = True, lon: float = 10.0) -> Path:
    """A file with one straight track northwards; heights rise 1 m per 0.01 degree."""
    ele = [f"<ele>{100 * lat:.1f}</ele>" if heights else "" for lat in lats]
    rows = "".join(f'<trkpt lat="{lat}" lon="{lon}">{e}</trkpt>' for lat, e in zip(lats, ele, strict=True))
    path = folder / f"{name}.gpx"
    path.write_text(f"<gpx><trk><name>{name}</name><trkseg>{rows}</trkseg></trk></gpx>", encoding="utf-8")
    return path


def files_trip(*paths: Path, surfaces: tuple[SurfaceStretch, ...] = (), **head: object) -> Trip:
    return trip((), surfaces=surfaces, route_files=paths, **{"help": [], "stop": [], **head})


def stretch(a: float, b: float, surface: str = "gravel", line: int = 2) -> SurfaceStretch:
    return SurfaceStretch(a, b, surface, line=line)


# ------------------------------------------------------------------------------------ several files
def test_files_in_order_make_one_route_with_named_joins(tmp_path: Path) -> None:
    """Kilometres run on across files; the straight line between them counts and is named."""
    route = trip_route(files_trip(track(tmp_path, "a", 0, 1), track(tmp_path, "b", 1.01, 2)))
    assert route.length_km == pytest.approx(2 * DEGREE_KM, rel=1e-4)
    assert route.joins == ("a.gpx to b.gpx at km 110.6: 1.11 km apart, counted as a straight line",)
    assert (np.diff(route.km) >= 0).all()
    assert route.climb_m == pytest.approx(199.0)


def test_a_file_the_wrong_way_round_and_a_missing_file_are_asked_about(tmp_path: Path) -> None:
    turned = trip_route(files_trip(track(tmp_path, "a", 0, 1), track(tmp_path, "b", 2, 1)))
    assert any("is it the wrong way round?" in w for w in turned.warnings)
    gone = trip_route(files_trip(track(tmp_path, "c", 0, 1), track(tmp_path, "d", 3, 4)))
    assert any("is a file missing?" in w for w in gone.warnings)


def test_faults_of_every_file_come_together(tmp_path: Path) -> None:
    bad = tmp_path / "bad.gpx"
    bad.write_text("<gpx/>")
    with pytest.raises(InputFaults) as caught:
        trip_route(files_trip(bad, tmp_path / "none.gpx"))
    assert len(caught.value.faults) == 2


def test_lines_that_lie_apart_must_be_named_in_the_trip(tmp_path: Path) -> None:
    path = tmp_path / "two.gpx"
    one, two = (
        f'<trk><name>{n}</name><trkseg><trkpt lat="{a}" lon="1"/><trkpt lat="{a + 1}" lon="1"/></trkseg></trk>'
        for n, a in (("North", 40), ("South", -40))
    )
    path.write_text(f"<gpx>{one}{two}</gpx>")
    with pytest.raises(InputFaults, match=r"route_line in trip\.toml: 'all' or one of 1 'North'; 2 'South'"):
        trip_route(files_trip(path))
    assert trip_route(files_trip(path, route_line="South")).lat[0] == -40
    assert trip_route(files_trip(path, route_line="all")).length_km > 8000


def test_a_named_line_is_looked_for_in_the_file_that_has_it(tmp_path: Path) -> None:
    """With several files the name belongs to one of them; the others take their only line."""
    route = trip_route(files_trip(track(tmp_path, "a", 0, 1), track(tmp_path, "b", 1, 2), route_line="b"))
    assert len(route.files) == 2


def test_a_leg_table_alone_has_a_length_and_no_line() -> None:
    route = trip_route(trip(LEGS))
    assert (route.length_km, len(route.km), route.climb_m) == (300.0, 0, None)
    known = trip_route(trip(tuple(replace(leg, climb_m=100.0) for leg in LEGS)))
    assert known.climb_m == 500.0


def test_a_table_beside_a_track_of_another_length_is_told(tmp_path: Path) -> None:
    made = replace(files_trip(track(tmp_path, "a", 0, 1)), legs=(Leg(1, 0, 150, "gravel"),))
    assert "legs.csv ends at 150 km, the track at 110.6 km: one of them is not the route" in trip_route(made).warnings


# -------------------------------------------------------------------------------------------- legs
def cut(made: Trip) -> tuple[Leg, ...]:
    return cut_legs(made, trip_route(made))


STOPS = [
    {"name": "Camp", "km": "40 km", "day": 1, "camp": True},
    {"name": "Lunch", "km": "60 km", "day": 2},
    {"name": "End", "km": "110.5 km", "day": 2},
]


def test_legs_are_cut_by_day_stop_and_surface(tmp_path: Path) -> None:
    path = track(tmp_path, "a", 0, 0.5, 1)
    surfaces = (stretch(0, 30, "sealed"), stretch(30, 50, "sand", 3), stretch(50, 110, "gravel", 4))
    legs = cut(files_trip(path, surfaces=surfaces, stop=STOPS, days=2))
    assert [(leg.day, leg.surface, round(leg.to_km, 1)) for leg in legs] == [
        (1, "sealed", 30.0),
        (1, "sand", 40.0),
        (2, "sand", 50.0),
        (2, "gravel", 60.0),
        (2, "gravel", 110.6),
    ]
    assert [leg.note for leg in legs] == ["", "to Camp", "", "to Lunch", "to End"]


def test_legs_have_no_gap_and_their_climb_adds_to_the_route(tmp_path: Path) -> None:
    path = track(tmp_path, "a", 0, 0.2, 0.4, 0.3, 1)
    made = files_trip(path, surfaces=(stretch(0, 70), stretch(70, 133, "sand", 3)), stop=STOPS, days=2)
    route, legs = trip_route(made), cut(made)
    assert legs[0].from_km == 0
    assert legs[-1].to_km == route.length_km
    assert all(a.to_km == b.from_km for a, b in itertools.pairwise(legs))
    assert sum(leg.climb_m or 0 for leg in legs) == pytest.approx(route.climb_m, abs=0.5)


def test_climb_stays_unknown_without_heights(tmp_path: Path) -> None:
    made = files_trip(track(tmp_path, "a", 0, 1, heights=False), surfaces=(stretch(0, 110),), days=1)
    assert [leg.climb_m for leg in cut(made)] == [None]


def test_without_stops_days_are_cut_at_equal_hours_and_say_so(tmp_path: Path) -> None:
    made = files_trip(
        track(tmp_path, "a", 0, 1), surfaces=(stretch(0, 80, "sealed"), stretch(80, 111, "sand", 3)), days=2
    )
    legs = cut(made)
    speed = made.library.surfaces
    hours = {
        day: sum((x.to_km - x.from_km) / speed[x.surface].speed_kmh for x in legs if x.day == day) for day in (1, 2)
    }
    assert hours[1] == pytest.approx(hours[2], rel=0.01)
    assert all("no stops are given" in leg.note for leg in legs)


def test_a_drive_home_after_the_last_camp_is_the_next_day(tmp_path: Path) -> None:
    stops = [{"name": "Camp", "km": "60 km", "day": 1, "camp": True}]
    made = files_trip(track(tmp_path, "a", 0, 1), surfaces=(stretch(0, 111),), stop=stops, days=2)
    assert [leg.day for leg in cut(made)] == [1, 2]


def test_a_leg_table_is_taken_as_it_stands() -> None:
    assert cut(trip(LEGS)) == LEGS


def test_a_stretch_shorter_than_the_shortest_leg_goes_to_its_neighbour(tmp_path: Path) -> None:
    stops = [{"name": "Camp", "km": "30.02 km", "day": 1, "camp": True}, {"name": "End", "km": "110 km", "day": 2}]
    made = files_trip(
        track(tmp_path, "a", 0, 1), surfaces=(stretch(0, 30), stretch(30, 111, "sand", 3)), stop=stops, days=2
    )
    assert [(leg.day, leg.surface) for leg in cut(made)] == [(1, "gravel"), (2, "sand")]


@pytest.mark.parametrize(
    ("surfaces", "head", "said"),
    [
        ((), {}, "surfaces.csv: no surfaces are given for the route; expected lines such as 0,111,gravel"),
        ((stretch(0, 50), stretch(60, 111, line=3)), {}, "surfaces.csv:3: no surface from 50 to 60 km"),
        ((stretch(0, 70), stretch(60, 111, line=3)), {}, "surfaces.csv:3: two surfaces from 60 to 70 km"),
        ((stretch(0, 80),), {}, "no surface from 80 to 110.6 km, the end of the route"),
        ((stretch(0, 150),), {}, "surfaces.csv:2: ends at 150 km, beyond the route's 110.6 km"),
        (
            (stretch(0, 111),),
            {"stop": [{"name": "X", "km": "200 km", "day": 1}]},
            "stop 'X' at 200 km lies beyond the route",
        ),
        ((stretch(0, 111),), {"help": [{"name": "H", "kind": ["fuel"], "km": "130 km"}]}, "help point 'H' at 130 km"),
        (
            (stretch(0, 111),),
            {
                "help": [{"name": "H", "kind": ["fuel"]}],
                "escape": [{"km": "150 km", "to": "H", "distance": "9 km", "surface": "sand"}],
            },
            "escape road to 'H' at 150 km",
        ),
        (
            (stretch(0, 111),),
            {"stop": [{"name": "A", "km": "50 km", "day": 2}, {"name": "B", "km": "90 km", "day": 1}]},
            "stop 'B' (day 1, 90 km) lies ahead of 'A' (day 2, 50 km) but comes before it",
        ),
        (
            (stretch(0, 111),),
            {"stop": [{"name": "A", "km": "50 km", "day": 7}]},
            "stop 'A' is on day 7 of a trip of 3 days",
        ),
    ],
)
def test_what_does_not_fit_on_the_route_is_a_fault(
    tmp_path: Path, surfaces: tuple[SurfaceStretch, ...], head: dict[str, object], said: str
) -> None:
    made = files_trip(track(tmp_path, "a", 0, 1), surfaces=surfaces, **head)
    with pytest.raises(InputFaults) as caught:
        cut(made)
    assert said in str(caught.value)


def test_all_that_does_not_fit_is_told_at_once(tmp_path: Path) -> None:
    made = files_trip(
        track(tmp_path, "a", 0, 1),
        surfaces=(stretch(0, 50), stretch(60, 80, line=3)),
        stop=[{"name": "X", "km": "200 km", "day": 9}],
    )
    with pytest.raises(InputFaults) as caught:
        cut(made)
    assert len(caught.value.faults) == 4


def test_a_leg_table_that_starts_late_or_runs_over_the_days_is_a_fault() -> None:
    late = (Leg(1, 50, 100, "gravel", line=2), Leg(9, 100, 300, "gravel", line=3))
    with pytest.raises(InputFaults) as caught:
        cut(trip(late))
    assert "legs.csv:2: the first leg starts at 50 km; expected a first leg from 0 km" in str(caught.value)
    assert "legs up to day 9" in str(caught.value)
