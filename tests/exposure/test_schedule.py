"""The trip by the clock: opening hours, time zones, daylight, long days."""

from __future__ import annotations

from datetime import UTC, date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_trip import LEGS, exposed, trip

from fieldkit.errors import InputFaults
from fieldkit.exposure.opening import parse_opening
from fieldkit.exposure.sun import parse_zone, sun_day
from fieldkit.specs.trip import Leg

AT_SEA = {"at": [-32.0, -19.0]}


def waits(text: str, *week_hours: float) -> list[float]:
    return parse_opening(text).wait(np.array(week_hours)).tolist()


def test_waits_by_opening_hours() -> None:
    assert waits("always", 3.0, 100.0) == [0, 0]
    assert waits("08:00-18:00", 7, 8, 17.99, 18, 24 * 6 + 20) == [1, 0, 0, 14, 12]
    assert waits("Mon-Sat 08:00-18:00", 24 * 5 + 19, 24 * 6 + 9) == [37, 23]
    assert waits("Mon-Fri 08:00-12:00, Sat 09:00-10:00", 24 * 5 + 8, 24 * 4 + 13) == [1, 20]
    assert waits("Sat-Mon 10:00-11:00", 24 * 6 + 10.5, 24 * 1 + 10.5) == [0, 95.5]
    assert waits("20:00-06:00", 24 * 6 + 23, 2, 6, 12) == [0, 0, 14, 8]


@given(st.floats(0, 500), st.sampled_from(["08:00-18:00", "Mon-Sat 07:30-12:00", "Sun 22:00-04:00", "Tue 00:00-24:00"]))
def test_after_the_wait_it_is_open(hour: float, text: str) -> None:
    opening = parse_opening(text)
    wait = opening.wait(np.array([hour]))
    assert 0 <= wait[0] < 168
    assert opening.wait(np.array([hour + wait[0] + 1e-6]))[0] == 0


@pytest.mark.parametrize("text", ["8-18", "Mo-Sa 08:00-18:00", "08:00-25:00", "closed", "", "08:00-18:61"])
def test_hours_that_cannot_be_read_are_a_fault_with_the_point_named(text: str) -> None:
    points = [{"name": "Pump", "kind": ["fuel"], "km": "0 km", "open": text or "-"}]
    with pytest.raises(
        InputFaults, match=r"help point 'Pump': open .*; expected 'always', '08:00-18:00' or 'Mon-Sat 08:00-18:00'"
    ):
        exposed(trip(LEGS, help=points))


def test_zones_by_name_and_by_offset() -> None:
    assert parse_zone("UTC+5:45").utcoffset(None) == timedelta(hours=5, minutes=45)
    assert parse_zone("UTC-3").utcoffset(None) == timedelta(hours=-3)
    assert parse_zone("utc") == UTC
    assert str(parse_zone("Africa/Windhoek")) == "Africa/Windhoek"
    for wrong in ("Mars/Base", "UTC+99", "../etc/passwd", "Africa"):
        with pytest.raises(ValueError, match="no time zone"):
            parse_zone(wrong)


def test_an_unknown_zone_is_a_fault_of_the_trip() -> None:
    with pytest.raises(InputFaults, match=r"trip\.toml: time_zone 'Nowhere/Land' is not known"):
        exposed(trip(LEGS, time_zone="Nowhere/Land"))


def test_without_coordinates_there_are_no_sun_times_and_it_is_said() -> None:
    found = exposed(trip(LEGS))
    assert found.sun == ()
    assert any("Sun times are not known" in c for c in found.cautions)


def test_a_help_points_position_gives_the_sun_times_of_a_leg_table() -> None:
    points = [{"name": "West", "kind": ["workshop", "water", "fuel"], "km": "0 km", **AT_SEA}]
    found = exposed(trip(LEGS, help=points))
    assert [row["day"] for row in found.sun] == [1, 2, 3]
    sunrise = str(found.sun[0]["sunrise"])
    assert "07:00" < sunrise < "07:30"
    assert found.sun[0]["leave"] == f"08:{sunrise[3:]}"
    assert found.sun[0]["place"] == "First camp"


def test_a_zone_far_from_the_suns_own_is_said_and_not_used() -> None:
    points = [{"name": "West", "kind": ["workshop"], "km": "0 km", "at": [-24.0, 134.0]}]
    found = exposed(trip(LEGS, help=points, time_zone="UTC"))
    assert any("the clock is reckoned as UTC+9" in c for c in found.cautions)
    assert str(found.sun[0]["sunrise"]).startswith("06:")


def test_the_midnight_sun_has_no_dark_and_no_fault() -> None:
    points = [{"name": "North", "kind": ["workshop", "fuel", "water"], "km": "0 km", "at": [78.0, 15.0]}]
    found = exposed(trip(LEGS, help=points, time_zone="UTC+1"))
    assert found.sun[0]["note"] == "the sun does not set"
    assert not any("dusk or by night" in c for c in found.cautions)


def test_long_days_and_arrivals_in_the_dark_are_told() -> None:
    """520 km of corrugations in one winter day: more than nine hours, home after sunset."""
    points = [{"name": "West", "kind": ["workshop", "fuel", "water"], "km": "0 km", **AT_SEA}]
    found = exposed(trip((Leg(1, 0, 520, "corrugated", line=2),), days=1, stop=[], help=points))
    assert any("Day 1: 10 h at the wheel" in c for c in found.cautions)
    assert any("No driving at dusk or by night" in c for c in found.cautions)


def test_a_day_of_eight_to_nine_hours_and_a_late_camp_are_told_apart() -> None:
    points = [{"name": "West", "kind": ["workshop", "fuel", "water"], "km": "0 km", **AT_SEA}]
    found = exposed(trip((Leg(1, 0, 368, "corrugated", line=2),), days=1, stop=[], help=points))
    assert any(c.startswith("Day 1: arrival at km 368 about 16:") and "Camp should stand" in c for c in found.cautions)
    full = exposed(trip((Leg(1, 0, 425, "corrugated", line=2),), days=1, stop=[], help=points))
    assert any("a full day" in c for c in full.cautions)


def test_stops_take_their_time_and_nights_part_the_days() -> None:
    """A two-hour stop at 60 km makes the day two hours longer; day 2 starts on day 2."""
    stops = [
        {"name": "Market", "km": "60 km", "day": 1, "hours": "2 h"},
        {"name": "Camp", "km": "100 km", "day": 1, "camp": True},
    ]
    plain, stopped = exposed(trip(LEGS)), exposed(trip(LEGS, stop=stops))
    at = [float(np.interp(99, f.remoteness.km, f.remoteness.clock_h)) for f in (plain, stopped)]
    assert at[1] - at[0] == pytest.approx(2.0, abs=0.01)
    clock = plain.remoteness.clock_h
    assert clock is not None
    assert float(np.interp(101, plain.remoteness.km, clock)) > 24


def test_sun_times_move_the_right_way() -> None:
    """Days are longer in summer and equal near the equator in March: ordering, no source."""
    zone = UTC
    june, december = sun_day(50, 0, date(2027, 6, 21), zone), sun_day(50, 0, date(2027, 12, 21), zone)
    assert june.sunset is not None
    assert june.sunrise is not None
    assert december.sunset is not None
    assert december.sunrise is not None
    assert june.sunset - june.sunrise > 16 > 9 > december.sunset - december.sunrise
    equator = sun_day(0, 0, date(2027, 3, 20), zone)
    assert equator.sunset is not None
    assert equator.sunrise is not None
    assert equator.sunset - equator.sunrise == pytest.approx(12.1, abs=0.05)
