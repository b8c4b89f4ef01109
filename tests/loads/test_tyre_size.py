"""Tyre sizes read from text."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.loads import TyreSizeError, parse_tyre
from fieldkit.loads.tyre_size import same_size, size_change


@pytest.mark.parametrize(
    "text",
    ["265/75R16", "265/75-16", "265/75 R16", "265 / 75 R 16", "LT265/75R16", "lt265/75r16", "265/75R16C", "P265/75R16"],
)
def test_every_way_to_write_a_metric_size_gives_one_diameter(text: str) -> None:
    """16 in rim and two side walls of 265 x 75 %."""
    assert parse_tyre(text).diameter_mm == pytest.approx(16 * 25.4 + 2 * 265 * 0.75)


@pytest.mark.parametrize(
    ("text", "light_truck", "passenger"),
    [
        ("LT265/75R16", True, False),
        ("265/75R16C", True, False),
        ("P265/75R16", False, True),
        ("265/75R16", False, False),
    ],
)
def test_marks_for_light_trucks_and_passenger_cars_are_kept(text: str, light_truck: bool, passenger: bool) -> None:
    size = parse_tyre(text)
    assert (size.light_truck, size.passenger) == (light_truck, passenger)


@pytest.mark.parametrize(
    ("text", "inches"), [("33x12.5R15", 33), ("33X12.50R15LT", 33), ("35x12,5-17", 35), ("33 in", 33), ('31.5"', 31.5)]
)
def test_sizes_in_inches_print_their_diameter(text: str, inches: float) -> None:
    assert parse_tyre(text).diameter_mm == pytest.approx(inches * 25.4)


def test_sizes_that_leave_the_height_out_are_marked_as_about() -> None:
    """Their heights are from memory, in settings/tyres.toml."""
    numeric, full = parse_tyre("7.50R16"), parse_tyre("205R16")
    assert numeric.about and full.about
    assert 780 < numeric.diameter_mm < 815
    assert 730 < full.diameter_mm < 750
    assert not parse_tyre("255/100R16").about


@pytest.mark.parametrize(
    "text", ["", "big", "265", "265/75", "265/75R", "R16", "33", "33x12.5", "265-75/16", "33 mm", "-5 in"]
)
def test_what_is_no_size_is_refused_with_the_way_to_write_one(text: str) -> None:
    with pytest.raises(TyreSizeError) as odd:
        parse_tyre(text)
    assert str(odd.value) == (
        f'\'{text}\' is not a tyre size; write a size such as "265/75R16", "LT265/75R16", "33x12.5R15", "7.50R16" or "33 in"'
    )


@pytest.mark.parametrize(
    ("text", "found"),
    [("965/75R16", "width of 965 mm, not 100 to 500 mm"), ("265/15R16", "aspect of 15 %, not 20 to 110 %"),
     ("265/75R46", "rim of 46 in, not 10 to 30 in"), ("99x12.5R15", "aspect of 336 %, not 20 to 110 %")],
)  # fmt: skip
def test_sizes_that_no_road_tyre_has_are_refused(text: str, found: str) -> None:
    with pytest.raises(TyreSizeError) as odd:
        parse_tyre(text)
    assert found in str(odd.value)


@given(st.integers(100, 500), st.integers(20, 110), st.integers(10, 30))
def test_any_metric_size_is_read_or_refused_by_its_diameter(width: int, aspect: int, rim: int) -> None:
    """The definition holds for every possible size; nothing else is raised."""
    expected = rim * 25.4 + 2 * width * aspect / 100
    text = f"{width}/{aspect}R{rim}"
    if 18 <= expected / 25.4 <= 60:
        assert parse_tyre(text).diameter_mm == pytest.approx(expected)
    else:
        with pytest.raises(TyreSizeError, match="diameter"):
            parse_tyre(text)


@given(st.text(max_size=12))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Never another error than the one that says how to write a size."""
    try:
        assert parse_tyre(text).diameter_mm > 0
    except TyreSizeError as odd:
        assert "write a size such as" in str(odd)


def test_same_size_goes_by_diameter_and_rim() -> None:
    """What turns alike and fits the rim may stand in; a rim of another size may not."""
    assert same_size(parse_tyre("265/75R16"), parse_tyre("LT265/75R16"))
    assert not same_size(parse_tyre("265/75R16"), parse_tyre("265/70R16"))
    assert not same_size(parse_tyre("265/70R16"), parse_tyre("265/65R17"))


@given(st.integers(195, 325), st.integers(60, 95))
def test_a_change_and_its_way_back_cancel(width: int, aspect: int) -> None:
    old, new = parse_tyre("235/75R16"), parse_tyre(f"{width}/{aspect}R16")
    there, back = size_change(old, new), size_change(new, old)
    assert there.ratio * back.ratio == pytest.approx(1)
    assert there.ratio * there.drive_factor == pytest.approx(1)
    assert there.clearance_mm == pytest.approx(-back.clearance_mm)
