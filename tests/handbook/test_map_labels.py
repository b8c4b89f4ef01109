"""Numbers and names on a map keep clear of each other, of the road and of the edge."""

from __future__ import annotations

import itertools
from math import hypot

from hypothesis import given
from hypothesis import strategies as st

from fieldkit.handbook.map_labels import LEADER, RADIUS, Box, Labels, spread

ROAD = [(60.0, 150.0), (160.0, 60.0), (260.0, 150.0)]


def apart(one: Box, other: Box) -> bool:
    aside = one.right <= other.left or other.right <= one.left
    return aside or one.bottom <= other.top or other.bottom <= one.top


def test_a_name_stands_clear_of_the_road_and_of_other_names() -> None:
    labels = Labels(320, 220, spread(ROAD))
    names = [labels.name(at, "Somewhere far") for at in ROAD]
    for one, other in itertools.combinations(names, 2):
        assert apart(one.box, other.box)
    for name in names:
        box = name.box
        assert not any(box.left < x < box.right and box.top < y < box.bottom for x, y in labels.road)


def test_two_numbers_of_one_short_leg_lie_apart() -> None:
    labels = Labels(320, 220, [])
    leg = [(100.0, 100.0), (104.0, 100.0)]
    first, second, third = (labels.number(leg) for _ in range(3))
    assert first == (102.0, 100.0)
    for a, b in itertools.combinations((first, second, third), 2):
        assert max(abs(a[0] - b[0]), abs(a[1] - b[1])) >= RADIUS


def test_a_name_far_from_its_mark_is_joined_to_it() -> None:
    labels = Labels(320, 220, [])
    labels.taken.append(Box(60, 60, 260, 140))
    name = labels.name((160.0, 100.0), "Hemmed in")
    assert name.leader is not None
    assert hypot(name.leader[0] - 160.0, name.leader[1] - 100.0) >= LEADER * 0.9


@given(
    st.lists(st.tuples(st.floats(5, 315), st.floats(5, 215)), min_size=1, max_size=12),
    st.text(min_size=1, max_size=14),
)
def test_nothing_is_put_outside_while_there_is_room(marks: list[tuple[float, float]], text: str) -> None:
    labels = Labels(320, 220, [])
    for at in marks:
        box = labels.name(at, text).box
        assert box.left >= 0
        assert box.right <= 320
        assert box.top >= 0
        assert box.bottom <= 220
