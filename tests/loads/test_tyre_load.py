"""Loads, pressures and speed symbols of tyres."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.loads import load_capacity_kg, parse_tyre
from fieldkit.loads.tyre_load import (
    least_load_index,
    pressure_factor,
    rounded_up_kpa,
    speed_limit_kmh,
    tyre_rating,
)


def test_an_index_outside_the_table_is_refused() -> None:
    with pytest.raises(ValueError, match=r"^load index 59 is not in the table \(60 to 140\)$"):
        load_capacity_kg(59)


def test_an_unknown_speed_symbol_is_refused() -> None:
    with pytest.raises(ValueError, match="speed symbol 'Z' is not known"):
        speed_limit_kmh("Z")


@given(st.floats(1, 2400))
def test_least_index_carries_the_load_and_the_one_below_does_not(load: float) -> None:
    index = least_load_index(load)
    assert index is not None
    assert load_capacity_kg(index) >= load
    if index > 60:
        assert load_capacity_kg(index - 1) < load


def test_no_index_carries_more_than_the_table() -> None:
    assert least_load_index(1e6) is None


@given(st.floats(1, 700), st.floats(1, 700), st.sampled_from(["265/70R16", "LT265/75R16"]), st.integers(100, 123))
def test_more_pressure_never_carries_less_and_never_more_than_marked(p: float, q: float, size: str, index: int) -> None:
    rating = tyre_rating(parse_tyre(size), index)
    low, high = sorted((p, q))
    assert rating.carries_kg(low) <= rating.carries_kg(high) <= load_capacity_kg(index)


@given(st.floats(50, 1000), st.integers(104, 123))
def test_the_needed_pressure_carries_the_load(load: float, index: int) -> None:
    """Pressure for a load and load at that pressure are inverse, up to the marked load."""
    rating = tyre_rating(parse_tyre("265/70R16"), index)
    needed = rating.needed_kpa(load)
    if load <= rating.index_kg:
        assert rating.carries_kg(needed) == pytest.approx(load)
    else:
        assert needed > rating.index_kpa


def test_light_truck_tyres_need_more_pressure_for_the_same_load() -> None:
    """What misleads: a high load index is printed for a pressure that nobody drives on."""
    plain, heavy = tyre_rating(parse_tyre("265/75R16"), 116), tyre_rating(parse_tyre("LT265/75R16"), 123)
    assert heavy.index_kg > plain.index_kg
    assert heavy.carries_kg(240) < plain.carries_kg(240)
    assert plain.assumed and heavy.assumed


def test_the_pressure_read_on_the_sidewall_wins() -> None:
    read = tyre_rating(parse_tyre("LT265/75R16"), 119, index_kpa=450)
    assert (read.index_kpa, read.assumed) == (450, False)
    assert read.carries_kg(260) > tyre_rating(parse_tyre("LT265/75R16"), 119).carries_kg(260)


def test_without_a_pressure_the_marked_load_holds() -> None:
    assert tyre_rating(parse_tyre("265/70R16"), 112).carries_kg(None) == 1120


def test_pressures_are_rounded_up_never_down() -> None:
    assert [rounded_up_kpa(p) for p in (230, 230.001, 239, 240)] == [230, 240, 240, 240]


def test_no_air_carries_nothing() -> None:
    assert pressure_factor(0, 250, 0.8) == 0
