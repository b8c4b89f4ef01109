"""What work leaves, and what a look is worth."""

from __future__ import annotations

import pytest
from small_case import archetype, exposure, leg, library, loads, mode, modification, trip, vehicle

from fieldkit.inspection import after_work, beliefs, value_of_looking, work_options
from fieldkit.inspection.look import rough_loss
from fieldkit.inspection.result import WorkOption
from fieldkit.likelihood import hazards, risks
from fieldkit.likelihood.result import Hazards
from fieldkit.specs.trip import Trip

CORE = {"id": "core", "title": "Fit a new core", "hours": "2 h", "cost_low": 300, "cost_high": 700}
LONG = {**CORE, "hours": "6 h"}
LIMITS = {
    "kit_mass": "100 kg",
    "kit_volume": "200 L",
    "kit_money": 1000,
    "workshop_hours": "20 h",
    "workshop_money": 9000,
}


YOUNG = {"odometer": "60000 km", "years": 6, "usual": {"sealed": 1.0}, "history_known": True}


def offered(modes, mods=None, **spec) -> tuple[Trip, Hazards, dict[str, WorkOption]]:  # type: ignore[no-untyped-def]
    lib = library(modes, modifications=mods or {})
    case = trip(lib, [vehicle(**spec)], limits=LIMITS)
    found = hazards(case, exposure(), loads())
    return case, found, {w.option.id: w for w in work_options(case, found, beliefs(case, found))}


def end(hazard) -> float:  # type: ignore[no-untyped-def]
    return float(sum(p.own[-1] for p in hazard.positions))


def test_a_renewed_part_starts_at_age_nought_with_its_early_failures() -> None:
    case, found, work = offered({"core": mode(early_life=0.01, workshop=[CORE])})
    after = work["core"].after["core"]
    assert after.positions[0].wear is not None
    assert after.positions[0].wear.age == 0
    assert end(after) == pytest.approx((2_200 / 100_000) ** 2 + 0.01 * (1 - 2.718281828**-4), rel=1e-3)
    assert end(after) < end(found.modes[("wagon", "core")])
    assert work["core"].degraded == {"core": (0.0,)}
    assert case.library.failure_modes["core"].workshop[0] == work["core"].option


def test_bargain_work_never_beats_good_work() -> None:
    """Common practice, no source."""
    options = [CORE, {**CORE, "id": "cheap", "grade": "bargain"}]
    _, _, work = offered({"core": mode(early_life=0.01, workshop=options)})
    assert end(work["cheap"].after["core"]) > end(work["core"].after["core"])


def test_neighbours_are_loaded_more() -> None:
    """A stronger lower arm loads its bracket; the part itself is new."""
    arm = {**CORE, "id": "arm", "stress": {"bracket": 1.5}}
    case, found, work = offered({"arm": mode(workshop=[arm]), "bracket": mode(shape=1.0)})
    option = work["arm"]
    assert set(option.after) == {"arm", "bracket"}
    assert end(option.after["bracket"]) == pytest.approx(1.5 * end(found.modes[("wagon", "bracket")]))
    later, degraded = after_work(found, {}, [option])
    before, done = risks(case, found), risks(case, later, degraded)
    assert done.by_key[("wagon", "bracket")].expected.value > before.by_key[("wagon", "bracket")].expected.value
    assert done.by_key[("wagon", "arm")].expected.value < before.by_key[("wagon", "arm")].expected.value


def test_a_fitted_part_changes_every_weak_point_it_drives() -> None:
    fit = {**CORE, "id": "larger", "fits": ["larger-core"]}
    mods = {"larger-core": modification(drivers={"airflow": 0.8}, stress={"core": 0.5})}
    _, found, work = offered(
        {"core": mode(drivers={"airflow": 1.0}, workshop=[fit]), "head": mode(drivers={"airflow": 2.0}, shape=1.0)},
        mods,
    )
    assert end(work["larger"].after["head"]) == pytest.approx(0.64 * end(found.modes[("wagon", "head")]))
    assert work["larger"].after["core"].positions[0].wear.duty[-1] == pytest.approx(  # type: ignore[union-attr]
        0.4 * found.modes[("wagon", "core")].positions[0].wear.duty[-1]  # type: ignore[union-attr]
    )


def test_a_locker_loads_the_joint_and_a_flange_takes_the_hub_away() -> None:
    lock = {**CORE, "id": "lock", "fits": ["locker"]}
    flange = {**CORE, "id": "flange", "fits": ["flanges"]}
    mods = {"locker": modification(adds=["front-locker"]), "flanges": modification(removes=["free-wheel-hubs"])}
    lib = library(
        {
            "hub": mode(needs=["free-wheel-hubs"], workshop=[lock, flange]),
            "joint": mode(drivers={"front_torque": 3.0}, shape=1.0),
        },
        modifications=mods,
    )
    wagon = vehicle(build=archetype(features=["free-wheel-hubs"]))
    case = trip(lib, [wagon], limits=LIMITS)
    found = hazards(case, exposure(), loads())
    work = {w.option.id: w for w in work_options(case, found, beliefs(case, found))}
    assert end(work["lock"].after["joint"]) == pytest.approx(1.7 * end(found.modes[("wagon", "joint")]))
    assert work["flange"].gone == ("hub",)
    assert ("wagon", "hub") not in after_work(found, {}, [work["flange"]])[0].modes


def test_parts_that_do_not_suit_or_are_fitted_are_not_offered() -> None:
    options = [{**CORE, "id": "fan", "fits": ["fan-hub"]}, {**CORE, "id": "again", "fits": ["larger"]}, CORE]
    mods = {"fan-hub": modification(needs=["viscous-fan"]), "larger": modification()}
    lib = library({"core": mode(workshop=options)}, modifications=mods)
    case = trip(lib, [vehicle(parts=[("larger", mods["larger"], {})])], limits=LIMITS)
    found = hazards(case, exposure(), loads())
    assert [w.option.id for w in work_options(case, found, beliefs(case, found))] == ["core"]


def looked(case: Trip, found: Hazards, **more):  # type: ignore[no-untyped-def]
    return {v.mode: v for v in value_of_looking(case, found, beliefs(case, found), **more)}


def test_a_look_that_changes_nothing_is_worth_nothing() -> None:
    warns = {"sudden": 0.2, "warning": "30000 km"}
    case, found, _ = offered(
        {"bare": mode(**warns), "arm": mode(**warns, workshop=[LONG]), "sudden": mode(workshop=[LONG])}, age=YOUNG
    )
    values = looked(case, found, hours={("wagon", "arm"): 60.0, ("wagon", "bare"): 60.0})
    assert values["bare"].hours == 0.0  # no workshop option reacts
    assert values["arm"].hours > 0.0
    assert "sudden" not in values  # it shows nothing before it fails


def test_value_by_hand() -> None:
    """Leave it: 60 h per failure by its chances; work first: 1.5 h and what is left; the look tells which."""
    case, found, work = offered({"arm": mode(sudden=0.2, warning="30000 km", workshop=[LONG])}, age=YOUNG)
    hazard = found.modes[("wagon", "arm")]
    p = hazard.positions[0]

    def chance(mean) -> float:  # type: ignore[no-untyped-def]
        return 1 - (1 + mean[-1] / 2) ** -2

    worked = 1.5 + 60 * chance(work["core"].after["arm"].positions[0].own)

    def least(q: float) -> float:
        return min(60 * (q * chance(p.degraded) + (1 - q) * chance(p.sound)), worked)

    q = p.prior_degraded
    found_share = q * 0.8 + (1 - q) * 0.1
    value = (
        least(q) - found_share * least(q * 0.8 / found_share) - (1 - found_share) * least(q * 0.2 / (1 - found_share))
    )
    got = looked(case, found)["arm"]
    assert value > 0
    assert got.hours == pytest.approx(value)
    assert got.per_minute == pytest.approx(value / 10)


def test_looks_are_ranked_by_what_a_minute_saves() -> None:
    warns = {"sudden": 0.2, "warning": "30000 km", "workshop": [LONG]}
    quick = {"how": "Look.", "accept": "Whole.", "minutes": 1, "detects": 0.8, "false_alarm": 0.1, "station": "under"}
    case, found, _ = offered({"slow": mode(**warns), "quick": mode(**warns, inspection=quick)}, age=YOUNG)
    values = value_of_looking(case, found, beliefs(case, found))
    assert [v.mode for v in values] == ["quick", "slow"]
    assert values[0].hours == pytest.approx(values[1].hours)


def test_known_hours_replace_the_rough_ones() -> None:
    case, found, _ = offered({"arm": mode(sudden=0.2, warning="30000 km", workshop=[LONG])}, age=YOUNG)
    assert (
        looked(case, found, hours={("wagon", "arm"): 6000.0})["arm"].hours == 0.0
    )  # so dear that the work is done unseen
    assert looked(case, found)["arm"].hours > 0.0


def test_hours_of_a_failure_follow_the_route() -> None:
    """Disabled: help comes, way back, part and fitting. Limp: the slower way to the workshop on or off the route."""
    near = {"out_h": 2.0, "back_h": 1.0, "workshop_on_km": 100.0, "workshop_off_km": 500.0}
    assert rough_loss(mode(fit_time="2 h"), leg(0, 50.0, **near), 24.0) == pytest.approx(2 + 1 + 24 + 2)
    limp = mode(severity="limp", limp_speed="25 km/h", fit_time="2 h")
    assert rough_loss(limp, leg(0, 50.0, **near), 24.0) == pytest.approx(100 * (1 / 25 - 1 / 50) + 26)
    assert rough_loss(mode(severity="nuisance", nuisance="0.7 h"), leg(0, 50.0), 24.0) == pytest.approx(0.7)
