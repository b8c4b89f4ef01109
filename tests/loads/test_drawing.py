"""The side view as plain data."""

from __future__ import annotations

import pytest
from loaded_case import build, weighed

from fieldkit.loads import side_view
from fieldkit.loads.drawing import TEXT, WIDTH, Drawing


def inside(drawing: Drawing) -> bool:
    """Every shape lies on the sheet; texts by a generous width for their letters."""
    for shape in drawing.shapes:
        for x, y in shape.points:
            r = shape.radius
            if min(x, y) - r < -0.01 or x + r > drawing.width + 0.01 or y + r > drawing.height:
                return False
        if (
            shape.kind == "text"
            and shape.points[0][0] + len(shape.text) * TEXT * 0.6 > drawing.width
            and shape.anchor == "start"
        ):
            return False
    return True


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"fitted": ["rack", "tent", "winch-bar"], "crew": 4},
        {"on": build(features=["trailer"], seats=0, seat_rows=[], fuel="none")},
        {"on": build(features=["load-tray"])},
        {"on": build(features=["camper-body"])},
    ],
)
def test_every_shape_lies_on_the_sheet(changes: dict[str, object]) -> None:
    loads, one = weighed(**changes)
    drawing = side_view(loads, one)
    assert drawing.width == WIDTH == 320  # laid out for a narrow phone
    assert inside(drawing)


def test_bars_show_load_against_limit() -> None:
    """The bar is as long as the load's share of the limit; over the limit its role changes."""
    loads, one = weighed(load=[{"name": "m", "mass": "560 kg", "x": "-1 m", "z": "0.8 m"}])
    drawing = side_view(loads, one)
    bars = [s for s in drawing.shapes if s.role in ("bar", "over")]
    assert [b.role for b in bars] == ["bar", "over"]
    limits = [s for s in drawing.shapes if s.role == "limit"]
    front = loads.margins[1]
    width, full = bars[0].points[1][0] - bars[0].points[0][0], limits[0].points[0][0] - bars[0].points[0][0]
    assert width / full == pytest.approx(front.actual_kg / front.limit_kg, abs=0.002)


def test_words_say_what_the_drawing_shows() -> None:
    loads, one = weighed(crew=2)
    drawing = side_view(loads, one)
    front = loads.margins[1]
    assert f"front axle {front.actual_kg:.0f} of 1400 kg" in drawing.desc
    texts = [s.text for s in drawing.shapes if s.kind == "text"]
    assert texts[0] == "front axle" and texts[2] == "rear axle"
    assert any(s.role == "centre" for s in drawing.shapes)
    assert [s.text for s in drawing.shapes if s.role == "mass"][:1] == ["driver, 75 kg"]


def test_a_trailer_stands_on_one_axle() -> None:
    loads, one = weighed(on=build(features=["trailer"], seats=0, seat_rows=[], fuel="none"))
    assert len([s for s in side_view(loads, one).shapes if s.role == "wheel"]) == 1
