"""Duty, stress and age meet: figures worked out by hand on the small case, and changes that move them the right way."""

from __future__ import annotations

import numpy as np
import pytest
from small_case import PREPARED, archetype, exposure, leg, loads, mode, modification, trip, vehicle

from fieldkit.likelihood import hazards
from fieldkit.likelihood.result import ModeHazard
from fieldkit.likelihood.weibull import renewals


def hazard(key: str, modes: dict[str, object], vehicles: list[object] | None = None, **more: object) -> ModeHazard:
    asked = more.pop("exposure", None) or exposure()
    weighed = more.pop("loads", None) or loads()
    case = trip(modes, vehicles, **more)  # type: ignore[arg-type]
    return hazards(case, asked, weighed).modes[(case.vehicles[0].id, key)]  # type: ignore[arg-type]


def own(found: ModeHazard) -> float:
    return float(sum(p.own[-1] for p in found.positions))


def test_first_part_of_known_history() -> None:
    """200,000 km sealed at stress 1 is age 2 lives; 400 rough km at 5 and 200 sealed are 2,200 reference km."""
    found = hazard("part", {"part": mode()})
    assert found.positions[0].own == pytest.approx([2.02**2 - 4, 2.022**2 - 4])
    assert found.positions[0].wear is not None
    assert found.positions[0].wear.age == pytest.approx(200_000)


def test_story_multiplies_exactly() -> None:
    parts = [("bar", modification(name="bar", stress={"part": 1.2}), {"since_km": "100000 km"})]
    found = hazard(
        "part",
        {"part": mode(drivers={"mass": 3.0}, early_life=0.01)},
        [vehicle(parts=parts, renewed=[{"failure_mode": "part", "km": "199900 km"}])],
        loads=loads(ratios={"mass": 1.1}),
    )
    assert np.prod([s.factor for s in found.stages]) == pytest.approx(own(found), rel=1e-12)
    labels = [s.label for s in found.stages]
    assert labels == [
        "as built, on sealed road, at middle age",
        "surfaces and gradients",
        "laden mass",
        "bar",
        "age and wear",
        "fresh work",
    ]
    assert found.wear_ratio == pytest.approx(1.2 * 1.1**3)


def test_unknown_history_takes_the_renewal_function() -> None:
    age = {"odometer": "200000 km", "years": 16, "usual": {"sealed": 1.0}}
    found = hazard("part", {"part": mode()}, [vehicle(age=age)])
    assert own(found) == pytest.approx(float(renewals(2.022, 2.0) - renewals(2.0, 2.0)))


def test_nothing_known_takes_the_long_run_rate() -> None:
    found = hazard("part", {"part": mode()}, [vehicle(age={})])
    assert found.positions[0].wear is not None
    assert found.positions[0].wear.kind == "steady"


def test_renewal_by_odometer_resets_one_position() -> None:
    renewed = [{"failure_mode": "part", "km": "190000 km", "positions": ["left"]}]
    found = hazard("part", {"part": mode(positions=2, position_names=["left", "right"])}, [vehicle(renewed=renewed)])
    left, right = found.positions
    assert left.wear is not None
    assert left.wear.age == pytest.approx(10_000)
    assert left.own[-1] < right.own[-1] / 5


def test_a_subsystem_renewed_as_an_assembly() -> None:
    """An engine or axle swap: every weak point of the subsystem starts afresh."""
    renewed = [{"failure_mode": "suspension", "km": "190000 km"}]
    found = hazard("part", {"part": mode()}, [vehicle(renewed=renewed)])
    assert found.positions[0].wear is not None
    assert found.positions[0].wear.age == pytest.approx(10_000)


def test_bargain_parts_live_shorter_and_fail_more_when_fresh() -> None:
    """Common practice, no source: a bargain part never beats a good one."""

    def figure(grade: str, km: str) -> float:
        renewed = [{"failure_mode": "part", "km": km, "grade": grade}]
        return own(hazard("part", {"part": mode(early_life=0.01)}, [vehicle(renewed=renewed)]))

    for km in ("199990 km", "150000 km"):
        assert figure("bargain", km) > 1.5 * figure("good", km)
        assert figure("good", km) == figure("maker", km)


def test_a_finding_of_renewed_counts_from_its_day() -> None:
    found = hazard("part", {"part": mode()}, findings=[("wagon", "part", "", "renewed")])
    assert found.positions[0].wear is not None
    assert found.positions[0].wear.age == pytest.approx(0.0, abs=1e-6)


def test_shakedown_uses_up_early_failures() -> None:
    def early(shakedown: str) -> float:
        spec = {"renewed": [{"failure_mode": "part", "date": PREPARED}], "shakedown": shakedown}
        found = hazard("part", {"part": mode(early_life=0.1, life="2000000 km")}, [vehicle(**spec)])
        return own(found)

    assert early("0 km") == pytest.approx(0.15 * (1 - np.exp(-4)), rel=1e-3)  # unknown fitter: 1.5 times
    assert early("450 km") < 0.06 * early("0 km")


def test_a_change_counts_from_the_day_it_was_fitted() -> None:
    """A part that doubles wear, fitted at half the distance: past duty is 1.5 times, the trip's twice."""

    def age(since: dict[str, object]) -> float:
        part = ("lift", modification(stress={"part": 2.0}), since)
        found = hazard("part", {"part": mode()}, [vehicle(parts=[part])])
        assert found.positions[0].wear is not None
        return found.positions[0].wear.age

    assert age({"since_km": "100000 km"}) == pytest.approx(300_000)
    assert age({"since_km": "200000 km"}) == pytest.approx(200_000)
    assert age({}) == pytest.approx(400_000)  # of unknown date: counted from the start


def test_odometer_is_corrected_for_taller_tyres() -> None:
    tyres = {"size": "255/85R16", "fitted_at": "100000 km"}
    ratio = (16 * 25.4 + 2 * 255 * 0.85) / (16 * 25.4 + 2 * 235 * 0.85)
    found = hazard("part", {"part": mode()}, [vehicle(tyres=tyres)], loads=loads(tyre_ratio=ratio))
    assert found.positions[0].wear is not None
    assert found.positions[0].wear.age == pytest.approx(100_000 + 100_000 * ratio)
    calibrated = vehicle(
        tyres=tyres,
        age={
            "odometer": "200000 km",
            "years": 16,
            "usual": {"sealed": 1.0},
            "history_known": True,
            "odometer_tyre": "255/85R16",
        },
    )
    found = hazard("part", {"part": mode()}, [calibrated], loads=loads(tyre_ratio=ratio))
    assert found.positions[0].wear is not None
    assert found.positions[0].wear.age == pytest.approx(200_000)


def test_taller_tyres_wear_by_their_exponent() -> None:
    plain, tall = (hazard("part", {"part": mode(drivers={"tyre": 3.0})}, loads=loads(tyre_ratio=r)) for r in (1.0, 1.1))
    assert tall.wear_ratio / plain.wear_ratio == pytest.approx(1.1**3)


def test_a_front_locker_loads_its_shafts_for_the_share_of_time_it_is_locked() -> None:
    joint = {"joint": mode(drivers={"front_torque": 3.0})}
    locker = ("front-locker-fitted", modification(adds=["front-locker"]), {})
    assert hazard("joint", joint).wear_ratio == 1.0
    assert hazard("joint", joint, [vehicle(parts=[locker])]).wear_ratio == pytest.approx(0.9 + 0.1 * 8)
    often = hazard("joint", joint, [vehicle(parts=[locker])], driving={"locked_share": 0.3})
    assert often.wear_ratio == pytest.approx(0.7 + 0.3 * 8)


def test_a_rate_ratio_enters_by_the_shape() -> None:
    part = ("brace", modification(rate={"part": 0.25}), {})
    assert hazard("part", {"part": mode()}, [vehicle(parts=[part])]).wear_ratio == pytest.approx(0.5)


def test_weak_points_of_parts_the_vehicle_lacks_are_left_out() -> None:
    modes = {"hub": mode(needs=["free-wheel-hubs"]), "part": mode()}
    case = trip(modes)
    assert set(hazards(case, exposure(), loads()).modes) == {("wagon", "part")}
    has = trip(modes, [vehicle(build=archetype(features=["separate-chassis", "free-wheel-hubs"]))])
    assert ("wagon", "hub") in hazards(has, exposure(), loads()).modes


def test_a_fitted_part_is_as_old_as_its_fitting() -> None:
    winch = ("front-bar-and-winch", modification(adds=["winch"]), {"since_km": "150000 km"})
    found = hazard("winch-fault", {"winch-fault": mode(needs=["winch"])}, [vehicle(parts=[winch])])
    assert found.positions[0].wear is not None
    assert found.positions[0].wear.age == pytest.approx(50_000)


def test_work_that_fits_a_part_renewed_what_it_renews() -> None:
    """A larger radiator fitted at a known distance is a new core, without saying so twice."""
    option = {"id": "bigger", "title": "Fit it", "hours": "2 h", "cost_low": 1, "cost_high": 2, "fits": ["larger"]}
    larger = ("larger", modification(), {"since_km": "180000 km"})
    found = hazard("core", {"core": mode(workshop=[option])}, [vehicle(parts=[larger])])
    assert found.positions[0].wear is not None
    assert found.positions[0].wear.age == pytest.approx(20_000)


def test_route_events_have_rates_and_no_age() -> None:
    event = mode(clock="event", rates={"rough": 0.5, "day": 0.01}, repair="patches", positions=4)
    found = hazard("cut", {"cut": event})
    assert own(found) == pytest.approx(0.5 * 0.4 + 0.01 * 2)
    old = hazard("cut", {"cut": event}, [vehicle(age={"odometer": "600000 km", "years": 40})])
    assert own(old) == own(found)


def test_pressures_kept_up_raise_bogging() -> None:
    event = {"bogged-sand": mode(clock="event", rates={"rough": 0.5}, repair="patches")}
    kept = hazard("bogged-sand", event, driving={"pressures_let_down": False})
    assert own(kept) == pytest.approx(3 * own(hazard("bogged-sand", event)))
    assert kept.stages[-1].label == "pressures kept up off the road"


def test_calendar_modes_age_by_days_and_heat() -> None:
    rubber = mode(clock="days", life=None, life_days="1000 days", channels={}, causes_in_common=["heat"], shape=1.0)
    assert own(hazard("hose", {"hose": rubber})) == pytest.approx(2 / 1000)
    hot = exposure([leg(0, 400.0, temperature_c=40.0), leg(1, 200.0, "sealed", 400.0, temperature_c=40.0)])
    warm = hazard("hose", {"hose": rubber}, exposure=hot)
    assert own(warm) == pytest.approx(2 / 1000 * np.exp(0.6 / 8.617333262e-5 * (1 / 298.15 - 1 / 313.15)))


def test_crossings_count_by_depth() -> None:
    seal = mode(clock="crossings", life=None, life_crossings=100.0, channels={}, shape=1.0)
    wet = exposure([leg(0, 400.0, crossings=3.0, water_depth_m=0.8), leg(1, 200.0, "sealed", 400.0)])
    assert own(hazard("seal", {"seal": seal}, exposure=wet)) == pytest.approx(3 * 2**1.5 / 100)


def test_altitude_narrows_the_coolant_margin() -> None:
    core = {"core": mode(drivers={"airflow": 2.0}, channels={"heat": 1.0})}
    high = exposure([leg(0, 400.0, altitude_m=3000.0), leg(1, 200.0, "sealed", 400.0, altitude_m=3000.0)])
    thin, thick = hazard("core", core, exposure=high), hazard("core", core)
    assert own(thin) > own(thick)
    assert "coolant boils sooner" in [s.label for s in thin.stages]


def test_tyres_age_by_their_date_code() -> None:
    old = mode(clock="days", life=None, life_days="9 years", channels={}, shape=4.0)
    tyres = {"size": "235/85R16", "date_code": "1424"}
    found = hazard("tyre-aged", {"tyre-aged": old}, [vehicle(tyres=tyres)])
    assert found.positions[0].wear is not None
    assert found.positions[0].wear.age == pytest.approx(1096, abs=1)  # week 14 of 2024 to 1 April 2027


def test_what_a_logbook_taught_replaces_the_prior() -> None:
    found = hazard("part", {"part": mode(failures_worth=2)}, learned={"part": (16.0, 30.0)})
    assert (found.shape_a, found.rate_b) == (16.0, 30.0)
    assert found.evidence.startswith("on 14 logged failures")
    assert hazard("part", {"part": mode()}).evidence == "rests on judgement"
