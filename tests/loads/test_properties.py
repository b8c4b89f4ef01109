"""What must hold for any masses: sums close, moving keeps totals, weighing is linear."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from loaded_case import TRACK, WHEELBASE, weighed

from fieldkit.loads import axle_loads
from fieldkit.loads.result import MassEntry

MASSES = st.builds(
    MassEntry,
    st.just("m"),
    st.floats(0.1, 2000),
    st.floats(-2, 5),
    st.floats(-0.9, 0.9),
    st.floats(0.1, 2.5),
    on_roof=st.booleans(),
)
LISTS = st.lists(MASSES, min_size=1, max_size=12)


@given(LISTS)
def test_axles_and_wheels_add_to_the_gross_mass(entries: list[MassEntry]) -> None:
    loads = axle_loads(entries, WHEELBASE, TRACK)
    assert loads.front_kg + loads.rear_kg == pytest.approx(loads.gross_kg, abs=1e-6)
    assert sum(loads.wheels_kg) == pytest.approx(loads.gross_kg, abs=1e-6)
    assert loads.wheels_kg[0] + loads.wheels_kg[1] == pytest.approx(loads.front_kg, abs=1e-6)


@given(LISTS, st.floats(-2, 5), st.floats(-0.9, 0.9))
def test_moving_a_mass_keeps_the_total(entries: list[MassEntry], x: float, y: float) -> None:
    moved = [replace(entries[0], x_m=x, y_m=y), *entries[1:]]
    before, after = axle_loads(entries, WHEELBASE, TRACK), axle_loads(moved, WHEELBASE, TRACK)
    assert after.gross_kg == pytest.approx(before.gross_kg, abs=1e-6)
    shift = entries[0].mass_kg * (x - entries[0].x_m) / WHEELBASE
    assert after.front_kg - before.front_kg == pytest.approx(shift, abs=1e-6)
    assert after.rear_kg - before.rear_kg == pytest.approx(-shift, abs=1e-6)


@given(LISTS, LISTS)
def test_loads_of_two_lots_add(one: list[MassEntry], other: list[MassEntry]) -> None:
    a, b, both = (axle_loads(e, WHEELBASE, TRACK) for e in (one, other, one + other))
    assert both.front_kg == pytest.approx(a.front_kg + b.front_kg, abs=1e-6)
    assert both.roof_kg == pytest.approx(a.roof_kg + b.roof_kg, abs=1e-6)


@given(LISTS)
def test_the_centre_lies_among_the_masses(entries: list[MassEntry]) -> None:
    loads = axle_loads(entries, WHEELBASE, TRACK)
    heights = [e.z_m for e in entries]
    assert min(heights) - 1e-9 <= loads.centre_height_m <= max(heights) + 1e-9
    assert 0 <= loads.static_roll_deg <= 90


@given(LISTS)
def test_a_mass_taken_away_again_leaves_nothing(entries: list[MassEntry]) -> None:
    both = [*entries, replace(entries[0], mass_kg=-entries[0].mass_kg)]
    loads = axle_loads(both, WHEELBASE, TRACK)
    rest = axle_loads(entries[1:], WHEELBASE, TRACK)
    assert loads.gross_kg == pytest.approx(rest.gross_kg, abs=1e-6)
    assert loads.wheels_kg == pytest.approx(rest.wheels_kg, abs=1e-6)


@given(st.floats(-1, 0), st.floats(0, 1))
def test_impossible_axles_are_refused(wheelbase: float, track: float) -> None:
    with pytest.raises(ValueError, match="must be above 0"):
        axle_loads([], wheelbase, track)


def test_no_mass_at_all_stands() -> None:
    loads = axle_loads([], WHEELBASE, TRACK)
    assert (loads.gross_kg, loads.centre_height_m, loads.static_roll_deg) == (0, 0, 90)


PLACED = st.lists(
    st.tuples(st.floats(1, 120), st.sampled_from(["load-floor", "forward", "footwell", "roof"])), min_size=1, max_size=6
)


@given(PLACED, st.integers(0, 5), st.floats(0, 60))
def test_a_weighed_vehicle_closes_its_sums_in_every_state(
    things: list[tuple[float, str]], crew: int, used: float
) -> None:
    """Property: in every state axles and wheels add up; the margin of the gross limit is the gross mass."""
    load = [{"name": f"t{i}", "mass": f"{kg:.6f} kg", "place": place} for i, (kg, place) in enumerate(things)]
    loads, _ = weighed(load=load, crew=crew, used={"fuel": [used]})
    for state in loads.states.values():
        assert state.front_kg + state.rear_kg == pytest.approx(state.gross_kg, abs=1e-6)
        assert sum(state.wheels_kg) == pytest.approx(state.gross_kg, abs=1e-6)
    gross = next(m for m in loads.margins if m.limit == "gross")
    assert gross.actual_kg == pytest.approx(loads.states["departure"].gross_kg, abs=1e-6)
    assert loads.payload_left_kg == pytest.approx(3000 - gross.actual_kg, abs=1e-6)
    over = any(m.left_kg < -0.05 for m in loads.margins)
    assert (loads.verdict == "overloaded") is over
    assert bool(loads.ways_back) is over
