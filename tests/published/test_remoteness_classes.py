"""A published remoteness scale, ARIA+, by its construction and its class bounds; and road classes by order.

Construction: road distance to the nearest service centre of five sizes over the national mean, each capped at 3, added: 0 to 15
(University of Adelaide, "About ARIA+"; Australian health department, ARIA Review Report 2011, section 2.3; both seen).
Bounds: 0.20, 2.40, 5.92, 10.53, 15, upper bounds included (Queensland statistics office's page on ARIA+, "Remoteness Areas"; AIHW,
Rural, regional and remote health, 2004; seen). The same page prints another, half-open set (5.95, 10.5): not mixed in here.
"""

from __future__ import annotations

import numpy as np
import pytest
from made_trip import LEGS, exposed, trip

from fieldkit.exposure.scale import remoteness_class, remoteness_score
from fieldkit.exposure.settings import difficulty_figures, remoteness_figures
from fieldkit.specs.read_library import shipped_folder
from fieldkit.specs.trip import Leg
from fieldkit.tables import read_table

SCALE = remoteness_figures().scale


@pytest.mark.parametrize(
    ("score", "printed"),
    [
        (0.0, "major city"), (0.20, "major city"), (0.2001, "inner regional"), (2.40, "inner regional"), (2.4001, "outer regional"),
        (5.92, "outer regional"), (5.9201, "remote"), (10.53, "remote"), (10.5301, "very remote"), (15.0, "very remote"),
    ],
)  # fmt: skip
def test_class_bounds(score: float, printed: str) -> None:
    """Remoteness areas: the upper bound belongs to the class below it."""
    assert remoteness_class(score, SCALE) == printed


def test_each_ratio_is_capped_at_three_and_the_most_is_fifteen() -> None:
    assert remoteness_score([1e6] * 5, [100.0] * 5, SCALE) == 15.0
    assert remoteness_score([300.0] * 5, [100.0] * 5, SCALE) == 15.0
    assert remoteness_score([0.0] * 5, [100.0] * 5, SCALE) == 0.0


def test_a_place_with_ratios_1_2_4_half_3_is_remote() -> None:
    """Derived from the construction: 1 + 2 + 3 + 0.5 + 3 = 9.5."""
    score = remoteness_score([10, 20, 40, 5, 30], [10] * 5, SCALE)
    assert (score, remoteness_class(score, SCALE)) == (9.5, "remote")


def test_road_distances_of_the_graph_give_scores_that_rise_away_from_the_towns() -> None:
    """The scale applied to our own road graph: five sizes of centre at the start town, means of 100 km (invented)."""
    from fieldkit.exposure.legs import driven_legs
    from fieldkit.exposure.roads import road_graph
    from fieldkit.route import trip_route

    made = trip(LEGS)
    route = trip_route(made)
    legs = driven_legs(made, route, made.legs, difficulty_figures())
    roads = road_graph(made, route, legs, made.head.help[:1], remoteness_figures().sampling)
    scores = [remoteness_score([d] * 5, [100.0] * 5, SCALE) for d in roads.distance_km[0]]
    assert scores[0] == pytest.approx(0.0, abs=1e-6)
    assert scores[roads.nearest(100)] == pytest.approx(5.0)
    assert max(scores) == 15.0
    assert (np.diff(scores) >= -1e-9).all()
    classes = list(dict.fromkeys(remoteness_class(s, SCALE) for s in scores))
    assert classes == ["major city", "inner regional", "outer regional", "remote", "very remote"]


#: US Forest Service road maintenance levels (FSH 7709.58 section 10; guideline of 2012, seen in two copies), best road first, and the
#: surface here that its description fits: 5 high comfort, paved double lane; 4 moderate comfort, gravel double lane; 3 a prudent
#: driver in a passenger car; 2 high-clearance vehicles, passenger cars not considered.
LEVELS = [(5, "sealed"), (4, "gravel"), (3, "corrugated"), (2, "rock")]


def test_surfaces_are_ordered_like_published_road_maintenance_levels() -> None:
    """Ordinal only: a lower level is never quicker or easier, and level 2 asks for more than two-wheel drive."""
    table = read_table(
        shipped_folder("vehicle_specs") / "surfaces.csv",
        "surfaces.csv",
        ["id", "speed_kmh", "difficulty", "need"],
        _columns(),
    )
    rows = {row.cells["id"]: row.cells for row in table.rows}
    speeds = [float(rows[s]["speed_kmh"]) for _, s in LEVELS]
    classes = [int(rows[s]["difficulty"]) for _, s in LEVELS]
    assert speeds == sorted(speeds, reverse=True)
    assert classes == sorted(classes)
    assert rows["rock"]["need"] in ("four-wheel", "low-range")


def _columns() -> list[str]:
    from fieldkit.specs.library import Surface

    return [name for name in Surface.model_fields if name not in ("id", "speed_kmh", "difficulty", "need")]


def test_four_step_track_classes_by_what_they_need() -> None:
    """General land-agency practice, no agency text seen (from memory, order only): easy, medium with high range, difficult and very
    difficult with low range and experience."""
    legs = tuple(Leg(1, i, i + 1, "clay-dry", difficulty=i + 1, line=i + 2) for i in range(4))
    needs = [leg.need for leg in exposed(trip(legs, days=1, stop=[], help=[])).legs]
    order = ["highway", "two-wheel", "four-wheel", "low-range"]
    assert [order.index(n) for n in needs] == sorted(order.index(n) for n in needs)
    assert needs[3] == "low-range"
