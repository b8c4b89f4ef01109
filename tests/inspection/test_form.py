"""Forms: the walk round the vehicle, full and short, for each kind."""

from __future__ import annotations

import pytest
from small_case import library, mode

from fieldkit.inspection import inspection_form
from fieldkit.inspection.form import Form
from fieldkit.inspection.result import Belief
from fieldkit.specs.library import Library


def look(station: str, minutes: float) -> dict[str, object]:
    return {
        "how": "Look.",
        "accept": "Whole.",
        "minutes": minutes,
        "detects": 0.9,
        "false_alarm": 0.05,
        "station": station,
    }


def lib() -> Library:
    warns = {"sudden": 0.2, "warning": "20000 km"}
    return library(
        {
            "arm": mode(**warns, inspection=look("under", 20), title="Arm"),
            "belt": mode(severity="unsafe", unsafe_kind="do-not-move", inspection=look("cabin", 10), title="Belt"),
            "rust": mode(**warns, severity="nuisance", inspection=look("outside", 30), title="Rust"),
            "hub": mode(needs=["free-wheel-hubs"], inspection=look("under", 5), title="Hub"),
            "cut": mode(clock="event", rates={"rough": 0.1}),
        }
    )


def titles(form: Form) -> list[str]:
    return [line.title for station in form.stations for line in station.lines]


def test_points_follow_the_walk_round() -> None:
    form = inspection_form(lib(), frozenset())
    assert titles(form) == ["Rust", "Arm", "Belt"]  # outside, under, cabin
    assert [line.number for s in form.stations for line in s.lines] == [1, 2, 3]
    assert form.minutes == 60
    assert form.dry_runs
    assert dict(form.figures)["wheel_nuts"] == "wheel-nut torque"


def test_only_what_the_vehicle_has() -> None:
    assert "Hub" in titles(inspection_form(lib(), frozenset({"free-wheel-hubs"})))


def test_the_short_form_keeps_unsafe_points_and_what_a_minute_is_worth() -> None:
    """45 minutes: the belt (10), then the arm (20); rust (30) no longer fits."""
    form = inspection_form(lib(), frozenset(), short=True)
    assert titles(form) == ["Arm", "Belt"]
    assert form.left_out == ("Rust",)
    swapped = inspection_form(lib(), frozenset(), short=True, worth={"rust": 9.0})
    assert titles(swapped) == ["Rust", "Belt"]


@pytest.mark.parametrize(("kind", "count"), [("departure", 3), ("shakedown", 2), ("after-trip", 3), ("purchase", 3)])
def test_kinds_hold_their_stations(kind: str, count: int) -> None:
    form = inspection_form(lib(), frozenset(), kind)
    assert len(titles(form)) == count
    assert form.use


def test_an_unknown_kind_is_refused() -> None:
    with pytest.raises(KeyError):
        inspection_form(lib(), frozenset(), "yearly")


def test_findings_are_filled_in() -> None:
    form = inspection_form(lib(), frozenset(), found={"arm": (Belief(0.5, "worn"),)})
    lines = {line.mode: line for s in form.stations for line in s.lines}
    assert lines["arm"].found == ("worn",)
    assert lines["belt"].found == ()
    assert lines["belt"].unsafe
    assert lines["arm"].sure == "finds 9 in 10; 1 false alarm in 20"


def test_a_trips_short_form_follows_what_a_look_saves_there() -> None:
    """Worth per minute on the trip decides after the unsafe points; without a trip the reference trip's does."""
    assert titles(inspection_form(lib(), frozenset(), short=True)) == ["Arm", "Belt"]
    on_trip = inspection_form(lib(), frozenset(), short=True, worth={"rust": 5.0})
    assert sorted(titles(on_trip)) == ["Belt", "Rust"]
    assert on_trip.left_out == ("Arm",)
