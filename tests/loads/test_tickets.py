"""Weighbridge tickets anchor the sums; what they cannot explain is shown."""

from __future__ import annotations

from typing import Any

import pytest
from loaded_case import weighed


def ticket(**changes: Any) -> dict[str, Any]:
    return {"date": "2027-05-20", "loaded": "kerb", "front": "1180 kg", "rear": "1075 kg", **changes}


def test_never_weighed_is_said() -> None:
    loads, _ = weighed()
    assert loads.unexplained_kg is None
    assert loads.weighed == ""
    assert loads.cautions[0].startswith("Never weighed:")


def test_a_kerb_ticket_anchors_build_and_parts_axle_by_axle() -> None:
    """2,200 kg of build and 30 kg of rack; the bridge says 2,255 kg."""
    loads, _ = weighed(fitted=["rack"], weighed=[ticket()])
    fitted = loads.states["fitted"]
    assert (fitted.front_kg, fitted.rear_kg) == (pytest.approx(1180), pytest.approx(1075))
    assert loads.unexplained_kg == pytest.approx(2255 - 2230)
    assert loads.weighed == "weighed 2027-05-20, empty, axle by axle"
    assert loads.states["after-rack"].gross_kg == pytest.approx(2230)  # sums stay sums


def test_the_difference_goes_with_the_vehicle_to_departure() -> None:
    plain, _ = weighed(crew=2)
    anchored, _ = weighed(crew=2, weighed=[ticket()])
    more = anchored.states["departure"].gross_kg - plain.states["departure"].gross_kg
    assert more == pytest.approx(2255 - 2200)


def test_fuel_and_people_on_the_bridge_are_taken_out_of_it() -> None:
    """A half-full tank and the driver: what is expected on the bridge is the build less 40 L, plus 75 kg."""
    expected = 2200 - 40 * 0.845 + 75
    exact = ticket(front="0 kg", rear=f"{expected} kg", fuel="40 L", people=1)
    loads, _ = weighed(weighed=[exact])
    assert loads.unexplained_kg == pytest.approx(0, abs=1e-6)


def test_wheel_by_wheel_finds_the_heavy_side() -> None:
    wheels = {"front_left": "600 kg", "front_right": "550 kg", "rear_left": "560 kg", "rear_right": "490 kg"}
    loads, _ = weighed(weighed=[{"date": "2027-05-20", "loaded": "kerb", **wheels}])
    assert loads.states["fitted"].wheels_kg == pytest.approx((600, 550, 560, 490))
    assert loads.unexplained_kg == pytest.approx(0)
    assert loads.weighed == "weighed 2027-05-20, empty, wheel by wheel"


def test_an_as_packed_ticket_anchors_departure() -> None:
    """Nobody aboard on the bridge; people come on top."""
    packed = ticket(loaded="as-packed", front="1250 kg", rear="1400 kg")
    boxes = [{"name": "boxes", "mass": "300 kg", "place": "load-floor"}]
    loads, _ = weighed(crew=2, load=boxes, weighed=[packed])
    without_people = loads.states["departure"].gross_kg - 150
    assert without_people == pytest.approx(2650)
    assert loads.unexplained_kg == pytest.approx(2650 - 2500)
    assert loads.states["fitted"].gross_kg == pytest.approx(2200)  # not anchored: no kerb ticket


def test_both_kinds_anchor_their_own_state() -> None:
    """The as-packed ticket explains only what the kerb ticket left."""
    tickets = [ticket(), ticket(loaded="as-packed", date="2027-05-25", front="1260 kg", rear="1330 kg")]
    boxes = [{"name": "boxes", "mass": "300 kg", "place": "load-floor"}]
    loads, _ = weighed(load=boxes, weighed=tickets)
    assert loads.states["fitted"].gross_kg == pytest.approx(2255)
    assert loads.states["departure"].front_kg == pytest.approx(1260)
    assert loads.states["departure"].rear_kg == pytest.approx(1330)
    assert loads.unexplained_kg == pytest.approx(55 + (2590 - 2555))
    assert "empty" in loads.weighed and "as packed" in loads.weighed


def test_the_latest_ticket_of_a_kind_counts() -> None:
    tickets = [ticket(date="2026-01-01", front="1300 kg"), ticket(), ticket(date="2026-06-01", front="1400 kg")]
    loads, _ = weighed(weighed=tickets)
    assert loads.states["fitted"].front_kg == pytest.approx(1180)


def test_parts_fitted_after_the_weighing_come_on_top_and_are_named() -> None:
    later = {"id": "rack", "date": "2027-05-25"}
    loads, _ = weighed(fitted=[later], weighed=[ticket()])
    assert loads.states["fitted"].gross_kg == pytest.approx(2255 + 30)
    assert "The ticket of 2027-05-20 is older than steel rack: their masses are the library's." in loads.cautions


def test_one_axle_alone_anchors_that_axle() -> None:
    loads, _ = weighed(weighed=[{"date": "2027-05-20", "loaded": "kerb", "front": "1200 kg"}])
    assert loads.states["fitted"].front_kg == pytest.approx(1200)
    assert loads.states["fitted"].rear_kg == pytest.approx(1050)
    assert "The ticket of 2027-05-20 has one axle only. The other is the build's figure." in loads.cautions


@pytest.mark.parametrize(("rear", "word"), [("1275 kg", "more"), ("875 kg", "less")])
def test_a_large_difference_is_named(rear: str, word: str) -> None:
    loads, _ = weighed(weighed=[ticket(front="1150 kg", rear=rear)])
    kilograms = "225" if word == "more" else "175"
    text = (
        f"{kilograms} kg are unexplained: the ticket of 2027-05-20 says so much {word} than the sum of what is listed."
    )
    assert any(c.startswith(text) for c in loads.cautions)


def test_a_small_difference_is_shown_but_not_warned_of() -> None:
    loads, _ = weighed(weighed=[ticket(front="1170 kg", rear="1060 kg")])
    assert loads.unexplained_kg == pytest.approx(30)
    assert not any("unexplained" in c for c in loads.cautions)


def test_an_old_ticket_is_named() -> None:
    loads, _ = weighed(weighed=[ticket(date="2025-06-01")])
    assert "The ticket is 730 days old at departure. Weigh again, axle by axle." in loads.cautions
