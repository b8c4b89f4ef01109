"""What a vehicle's page says about its tyres."""

from __future__ import annotations

from typing import Any

import pytest
from loaded_case import trip, vehicle

from fieldkit.errors import InputFaults
from fieldkit.loads import odd_sizes, tyre_report, weigh
from fieldkit.loads.result import TyreReport


def report(**changes: Any) -> TyreReport:
    one = vehicle(**changes)
    whole = trip(one)
    return tyre_report(one, weigh(whole)[one.id], whole)


def test_taller_tyres_change_speedometer_gearing_and_clearance() -> None:
    found = report(tyres={"size": "285/75R16", "load_index": 122})
    assert found.ratio == pytest.approx(1.0727, abs=1e-4)
    assert found.notes[:2] == (
        "At a true 107 km/h it shows 100: the taller tyres make the speedometer read low.",
        "Every gear behaves 7 % longer: a final drive of 4.10 acts as 3.82.",
    )


def test_smaller_tyres_the_other_way() -> None:
    found = report(tyres={"size": "235/70R16"})
    assert "read high" in found.notes[0]
    assert "5 % shorter" in found.notes[1]


def test_the_builds_own_size_needs_no_note() -> None:
    notes = report().notes
    assert len(notes) == 2
    assert notes[0].startswith("Pressures by surface are common practice, no source.")


@pytest.mark.parametrize(
    ("tyres", "said"),
    [
        ({"size": "265/70R16", "spares": 0}, "No spare wheel is carried."),
        (
            {"size": "265/70R16", "spare_size": "235/70R16"},
            "The spare (235/70R16) is not the size fitted (265/70R16): its diameter is 5.4 % smaller.",
        ),
        (
            {"size": "265/70R16", "spare_size": "265/75R16"},
            "The spare (265/75R16) is not the size fitted (265/70R16): its diameter is 3.4 % greater.",
        ),
    ],
)
def test_spare_against_fitted(tyres: dict[str, Any], said: str) -> None:
    found = report(tyres={**tyres, "date_code": "1026"})
    assert said in found.cautions
    assert any("locked axle" in c for c in found.cautions) is ("spare_size" in tyres)


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("1026", None),
        ("1020", "The tyres are 7.2 years old at departure: look for cracks between the tread blocks and at the bead."),
        ("1016", "The tyres are 11.2 years old at departure: common practice renews them by 10, whatever the tread."),
        (None, "No date code is given: read the four figures on the sidewall."),
    ],
)
def test_age_by_date_code(code: str | None, said: str | None) -> None:
    found = report(tyres={"size": "265/70R16", "date_code": code})
    ages = [c for c in found.cautions if "years old" in c or "date code" in c]
    assert ages == ([said] if said else [])


def test_a_bad_date_code_is_a_fault() -> None:
    one = vehicle(tyres={"size": "265/70R16", "date_code": "99"})
    with pytest.raises(InputFaults, match="is no week and year"):
        tyre_report(one, None, trip(one))


def test_load_on_each_tyre_at_the_planned_pressure() -> None:
    found = report(crew=2, tyres={"size": "265/70R16", "front": "200 kPa", "rear": "100 kPa"})
    front, rear = found.wheels[0], found.wheels[2]
    assert front.carries_kg > front.load_kg
    assert rear.carries_kg == pytest.approx(1120 * (100 / 250) ** 0.8)
    assert rear.load_kg > rear.carries_kg
    assert any(c.startswith("At 100 kPa the rear left tyre carries 538 kg and has") for c in found.cautions)
    assert rear.needed_kpa > 100


def test_pressures_by_surface_start_from_a_road_pressure_that_carries_the_load() -> None:
    """Planned 100 kPa does not carry the rear: the table starts from what does, and never goes below the least."""
    found = report(crew=2, tyres={"size": "265/70R16", "front": "200 kPa", "rear": "100 kPa"})
    by = {s.surface: s for s in found.surfaces}
    assert by["sealed"].front_kpa == 200
    assert by["sealed"].rear_kpa == 180
    assert by["gravel"].front_kpa == 150
    assert by["sand"].front_kpa == 100
    assert all(s.front_kpa >= 100 and s.rear_kpa >= 100 for s in found.surfaces)
    assert by["sand"].stuck_kpa is not None and by["sand"].stuck_kpa <= by["sand"].rear_kpa
    assert by["sand"].name == "soft sand"


def test_the_odd_size_of_a_convoy_is_named() -> None:
    one, two, three = vehicle("one"), vehicle("two"), vehicle("three", tyres={"size": "285/75R16"})
    assert odd_sizes(trip(one, two, three)) == (
        "Three runs 285/75R16, the others 265/70R16: their spare wheels do not serve it, nor its spare them.",
    )
    assert odd_sizes(trip(one, two)) == ()
    assert odd_sizes(trip(one)) == ()
    four = vehicle("four", tyres={"size": "235/85R16"})
    assert odd_sizes(trip(one, three, four)) == (
        "Every vehicle runs another tyre size (265/70R16, 285/75R16, 235/85R16): no spare wheel serves two vehicles.",
    )


def test_without_loads_there_are_sizes_and_no_pressures() -> None:
    found = tyre_report(vehicle())
    assert found.wheels == () and found.surfaces == ()
    assert found.size == "265/70R16"
