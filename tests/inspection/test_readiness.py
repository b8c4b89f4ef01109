"""Fit to leave: rules, reasons, and what nothing outweighs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pytest
from small_case import (
    MatchingRule,
    MustCarryRule,
    archetype,
    exposure,
    library,
    loads,
    mode,
    modification,
    trip,
    vehicle,
)

from fieldkit.exposure.result import FuelLine, Supplies
from fieldkit.inspection import beliefs, readiness
from fieldkit.inspection.dry_runs import dry_runs
from fieldkit.inspection.result import Readiness
from fieldkit.inspection.settings import figures_asked, rules_of
from fieldkit.likelihood import hazards, risks
from fieldkit.loads.fitted_tyres import features_of
from fieldkit.loads.result import Margin
from fieldkit.specs.library import Item
from fieldkit.specs.marked import Tick
from fieldkit.specs.trip import Stock

FIGURES = {"wheel_nuts": "as the manual says", "jacking_points": "axle tubes"}
BELT = {"id": "belt", "title": "Fit a new belt", "hours": "1.5 h", "cost_low": 80, "cost_high": 160, "lead_weeks": 2}
LIMITS = {
    "kit_mass": "100 kg",
    "kit_volume": "200 L",
    "kit_money": 1000,
    "workshop_hours": "10 h",
    "workshop_money": 500,
}
TRIED = tuple(
    Tick(list="form-departure-wagon", item=f"dry-run-{key}", at="2027-05-25T09:00:00Z")
    for key in ("wheel-change", "locking-nut-key", "compressor-run", "beacon-tested")
)
UNSAFE = {"severity": "unsafe", "unsafe_kind": "do-not-move", "readiness": "unsafe-defect"}


@dataclass(frozen=True)
class Choice:
    vehicle: str
    mode: str
    option: str
    chosen: bool = True


def judged(
    modes=None, findings=(), work=(), weighed=None, asked=None, parts=(), lib=None, inventory=(), **spec
) -> Readiness:  # type: ignore[no-untyped-def]
    """The wagon's readiness; everything but what is said is in order."""
    limits = spec.pop("limits", LIMITS)
    lib = lib or library(modes or {"belt": mode(**UNSAFE, workshop=[BELT])})
    ticks = spec.pop("ticks", TRIED)
    case = trip(lib, [vehicle(parts=parts, **{"figures": FIGURES, **spec})], findings, inventory, limits=limits)
    case = replace(case, ticks=ticks)
    hazard = hazards(case, exposure(), loads())
    belief = beliefs(case, hazard)
    risk = risks(case, hazard, belief.degraded)
    return readiness(case, risk, belief, weighed or loads(), asked or exposure(), work)["wagon"]


SOUND = [("wagon", "belt", "", "sound")]
BAD = [("wagon", "belt", "", "defective")]


def texts(found: Readiness) -> list[str]:
    return [r.text for r in found.reasons]


def test_fit_needs_a_look_a_name_a_date_and_a_weighing() -> None:
    found = judged(findings=SOUND)
    assert (found.as_found, found.after_work) == ("fit", "fit")
    assert found.reasons == ()
    assert (
        found.evidence == "weighed 2027-03-30, laden; 1 points looked at 2027-04-01 by A. Nyone; 1 of 1 safety points; "
        "4 of 4 dry runs at home done, the last 2027-05-25"
    )
    assert found.first == "Fit to leave."


def test_not_weighed_is_at_best_fit_with_limits() -> None:
    found = judged(findings=SOUND, weighed=loads(weighed=""))
    assert found.as_found == "fit-with-limits"
    assert "Not weighed: the masses are sums of what the files say" in texts(found)
    assert found.evidence.startswith("not weighed")


def test_nobody_looked() -> None:
    found = judged()
    assert found.as_found == "fit-with-limits"
    assert "No inspection on record" in texts(found)
    assert any("not looked at: Part worn" in t for t in texts(found))


def test_no_inspector_named() -> None:
    found = judged(findings=[("wagon", "belt", "", "sound", {"inspector": ""})])
    assert "No inspector named on any finding" in texts(found)
    assert found.as_found == "fit-with-limits"


def test_a_stale_look_says_its_age() -> None:
    found = judged(findings=[("wagon", "belt", "", "sound", {"date": date(2026, 6, 1)})])
    assert "Last looked at 2026-06-01, 365 days before departure" in texts(found)


def test_an_unsafe_defect_is_repaired_first() -> None:
    found = judged(findings=BAD)
    assert found.as_found == found.after_work == "repair-first"
    reason = found.reasons[0]
    assert reason.text == "Part worn: defective; unsafe to drive"
    assert (reason.mend, reason.hours, reason.lifted_by) == ("Fit a new belt", 1.5, "workshop")
    assert found.first == "Fix this one, 1.5 h, then fit."


def test_the_chosen_work_clears_it() -> None:
    found = judged(findings=BAD, work=[Choice("wagon", "belt", "belt")])
    assert (found.as_found, found.after_work) == ("repair-first", "fit")
    assert found.reasons[0].cleared
    other = judged(findings=BAD, work=[Choice("wagon", "belt", "belt", chosen=False)])
    assert other.after_work == "repair-first"


@pytest.mark.parametrize(
    "change",
    [
        {"workshop_hours": "1 h"},
        {"workshop_money": 50},
    ],
    ids=["too few hours", "too little money"],
)
def test_no_work_within_the_limits_is_off_the_road(change: dict[str, object]) -> None:
    found = judged(findings=BAD, limits={**LIMITS, **change})
    assert found.as_found == "off-the-road"
    assert found.reasons[0].lifted_by == "nobody"
    assert found.first.startswith("Off the road: Part worn")


def test_parts_that_come_too_late_are_off_the_road() -> None:
    """The trip starts 61 days after the plan is made."""
    late = {**BELT, "lead_weeks": 9}
    assert judged({"belt": mode(**UNSAFE, workshop=[late])}, BAD).as_found == "off-the-road"
    just = {**BELT, "lead_weeks": 8}
    assert judged({"belt": mode(**UNSAFE, workshop=[just])}, BAD).as_found == "repair-first"


def test_no_workshop_option_is_off_the_road() -> None:
    assert judged({"belt": mode(**UNSAFE)}, BAD).as_found == "off-the-road"


def test_two_repairs_that_do_not_fit_together() -> None:
    """Each keeps to ten hours, both do not: the longer one stays undone."""
    long = {**BELT, "id": "long", "title": "Long work", "hours": "9 h"}
    modes = {"belt": mode(**UNSAFE, workshop=[BELT]), "arm": mode(**UNSAFE, title="Arm bent", workshop=[long])}
    found = judged(modes, [*BAD, ("wagon", "arm", "", "defective")])
    assert found.as_found == "off-the-road"
    worst = found.reasons[0]
    assert worst.text == "Arm bent: defective; unsafe to drive"
    assert worst.mend == "Together with the other repairs it does not keep to the stated hours and money."
    wide = judged(modes, [*BAD, ("wagon", "arm", "", "defective")], limits={**LIMITS, "workshop_hours": "12 h"})
    assert wide.as_found == "repair-first"
    assert wide.first == "Fix these two, 10.5 h, then fit."


def test_no_probability_outweighs_a_defect() -> None:
    """A part that all but never fails, found defective, still blocks; the figures play no part."""
    never = {"belt": mode(**UNSAFE, life="2000000 km", workshop=[BELT])}
    assert judged(never, BAD, age={"odometer": "100 km", "years": 1, "history_known": True}).as_found == "repair-first"


def test_worn_but_within_its_limit_is_watched() -> None:
    found = judged(findings=[("wagon", "belt", "", "worn")])
    assert found.as_found == "fit-with-limits"
    assert found.limits == ("look at it at every stop: Part worn",)


def test_a_defect_that_limits_sets_its_speed() -> None:
    lamp = mode(severity="limp", limp_speed="60 km/h", readiness="limits", title="Damper dead")
    found = judged({"damper": lamp}, [("wagon", "damper", "", "defective")])
    assert found.as_found == "fit-with-limits"
    assert found.limits == ("at most 60 km/h (37 mph): Damper dead",)


def test_advice_does_not_change_the_state() -> None:
    found = judged({"rattle": mode(severity="nuisance")}, [("wagon", "rattle", "", "defective")])
    assert found.as_found == "fit"
    assert texts(found) == ["Part worn: defective"]


def steering(unsafe: bool) -> dict[str, MatchingRule]:
    return {
        "steering-set": MatchingRule(
            title="Steering of one axle generation", kind="all-or-none", parts=("new-box", "new-link", "new-arms"),
            unsafe=unsafe, why="Mixed tapers work loose.", mend="Fit the whole set.",
        )
    }  # fmt: skip


def test_a_part_swapped_set_is_named_whole() -> None:
    mods = {k: modification(name=k.replace("-", " ")) for k in ("new-box", "new-link", "new-arms")}
    parts = [(k, mods[k], {}) for k in ("new-box", "new-link")]
    lib = library({"belt": mode(**UNSAFE)}, modifications=mods, matching=steering(True))
    found = judged(findings=SOUND, parts=parts, lib=lib)
    assert found.as_found == "off-the-road"
    assert found.reasons[0].text == (
        "Steering of one axle generation: fitted new box, new link; missing new arms. Mixed tapers work loose."
    )
    whole = judged(findings=SOUND, parts=[(k, m, {}) for k, m in mods.items()], lib=lib)
    assert whole.as_found == "fit"
    mild = library({"belt": mode(**UNSAFE)}, modifications=mods, matching=steering(False))
    assert judged(findings=SOUND, parts=parts, lib=mild).as_found == "fit-with-limits"


def test_work_that_completes_the_set_clears_it() -> None:
    mods = {k: modification(name=k.replace("-", " ")) for k in ("new-box", "new-link", "new-arms")}
    parts = [(k, mods[k], {}) for k in ("new-box", "new-link")]
    arms = {**BELT, "id": "arms", "title": "Fit the arms", "fits": ["new-arms"]}
    lib = library({"belt": mode(**UNSAFE, workshop=[arms])}, modifications=mods, matching=steering(True))
    found = judged(findings=SOUND, parts=parts, lib=lib)
    assert found.as_found == "repair-first"
    done = judged(findings=SOUND, parts=parts, lib=lib, work=[Choice("wagon", "belt", "arms")])
    assert done.after_work == "fit"


def test_needs_and_conflicts() -> None:
    rules = {
        "power": MatchingRule(
            title="More power", kind="needs", parts=("tune",), with_any=("core",), why="Heat.", mend="Fit a core."
        ),
        "fans": MatchingRule(
            title="Two fans", kind="conflict", parts=("tune",), with_any=("fan",), why="No room.", mend="Take one out."
        ),
    }
    mods = {k: modification(name=k) for k in ("tune", "core", "fan")}
    lib = library({"belt": mode(**UNSAFE)}, modifications=mods, matching=rules)
    tuned = judged(findings=SOUND, lib=lib, parts=[("tune", mods["tune"], {})])
    assert texts(tuned) == ["More power: fitted tune; needs one of core. Heat."]
    both = judged(findings=SOUND, lib=lib, parts=[(k, mods[k], {}) for k in ("tune", "core", "fan")])
    assert texts(both) == ["Two fans: fitted tune; does not go with fan. No room."]


def test_overloaded_is_lifted_by_taking_load_out() -> None:
    heavy = loads(margins=(Margin("rear", "rear axle", 1700.0, 1782.0),), verdict="overloaded", payload_left_kg=-82.0)
    found = judged(findings=SOUND, weighed=heavy)
    assert found.as_found == "fit-with-limits"
    assert found.reasons[0].text == "Overloaded: rear axle 1782 kg (3929 lb), limit 1700 kg (3748 lb)"
    assert found.reasons[0].lifted_by == "driver"
    assert found.limits == ("carry at most 0 kg (0 lb) more; 82 kg (181 lb) must come out: rear axle",)


def test_expired_must_carry_items_are_noticed() -> None:
    kit = Item(id="first-aid-kit", name="first-aid kit", kind="safety", mass_kg=2, volume_l=5, longest_cm=30, price_low=1, price_high=2, shelf_life_months=36)  # fmt: skip
    lib = library({"belt": mode(**UNSAFE)}, items={"first-aid-kit": kit}, must_carry={"aid": MustCarryRule(item="first-aid-kit", why="Bleeding.", per_vehicle=1)})  # fmt: skip
    old = Stock(item="first-aid-kit", quantity=1, good_until=date(2027, 6, 2))
    found = judged(findings=SOUND, lib=lib, inventory=[old])
    assert found.as_found == "fit-with-limits"
    assert texts(found) == ["first-aid kit: expires 2027-06-02, the trip ends 2027-06-03"]
    dateless = judged(findings=SOUND, lib=lib, inventory=[Stock(item="first-aid-kit", quantity=1)])
    assert dateless.as_found == "fit"
    assert texts(dateless) == ["first-aid kit: must be carried, and its date is not written down"]


def test_major_work_without_a_shakedown() -> None:
    major = {**BELT, "hours": "8 h"}
    renewed = [{"failure_mode": "belt", "date": date(2027, 3, 20)}]
    modes = {"belt": mode(**UNSAFE, workshop=[major])}
    found = judged(modes, SOUND, renewed=renewed)
    assert texts(found) == ["No shakedown of 300 km (186 mi) since Part worn"]
    assert judged(modes, SOUND, renewed=renewed, shakedown="350 km").as_found == "fit"
    planned = judged(modes, BAD, work=[Choice("wagon", "belt", "belt")])
    assert planned.after_work == "fit-with-limits"
    assert planned.reasons[-1].only_after


def test_a_blank_line_on_the_figures_sheet_is_a_reason() -> None:
    found = judged(findings=SOUND, figures={"wheel_nuts": " ", "jacking_points": "here"})
    assert texts(found) == ["Figures sheet has blank lines: wheel-nut torque"]
    assert found.as_found == "fit"


def test_the_figures_sheet_asks_for_what_the_vehicle_has() -> None:
    """A driven vehicle's sheet holds fluids, points, fuse map, bleeding order and isolator; a trailer's wheels and jacking only."""
    found = judged(findings=SOUND, features=["seat-belts", "diesel"])
    said = next(t for t in texts(found) if t.startswith("Figures sheet"))
    assert "isolator" in said
    assert "bleeding" in said
    assert "engine oil" in said
    assert "coolant" not in said
    sheet = dict.fromkeys(rules_of(library({})).figures, "written")
    filled = judged(findings=SOUND, features=["seat-belts", "diesel"], figures=sheet)
    assert not [t for t in texts(filled) if t.startswith("Figures sheet")]
    assert list(figures_asked(rules_of(library({})), {"trailer"})) == ["wheel_nuts", "jacking_points"]


def test_a_supply_fault_that_names_a_vehicle_is_that_vehicles_reason() -> None:
    asked = exposure(
        supplies=replace(exposure().supplies, faults=("Wagon carries no water of its own.", "Other is dry."))
    )
    found = judged(findings=SOUND, asked=asked)
    assert texts(found) == ["Wagon carries no water of its own."]


def test_water_can_forbid_departure() -> None:
    dry = replace(exposure().remoteness, water_margin_days=np.array([2.0, -0.5]))
    found = judged(findings=SOUND, asked=exposure(remoteness=dry))
    assert found.as_found == "off-the-road"
    assert found.reasons[0].lifted_by == "driver"
    thin = replace(exposure().remoteness, water_margin_days=np.array([0.4]))
    assert judged(findings=SOUND, asked=exposure(remoteness=thin)).as_found == "fit-with-limits"


def test_fuel_short_between_two_points() -> None:
    line = FuelLine("wagon", "Here", "There", 400.0, 80.0, 10.0, 70.0)
    short = exposure(supplies=Supplies((line,), 4.0, 20.0, 40.0, 3.0))
    found = judged(findings=SOUND, asked=short)
    assert texts(found) == ["Fuel from Here to There: 20 L (5.3 US gal) short with its reserve"]
    assert found.as_found == "fit-with-limits"


def test_an_odd_spare_is_a_reason() -> None:
    tyres = {"size": "235/85R16", "spare_size": "265/70R16"}
    found = judged(findings=SOUND, tyres=tyres)
    assert "The spare is of another size than the wheels fitted" in texts(found)


def test_a_build_without_the_part_gives_no_reason() -> None:
    found = judged({"belt": mode(**UNSAFE, needs=["seat-belts"]), "arm": mode()}, [("wagon", "arm", "", "sound")])
    assert found.as_found == "fit"
    assert archetype().features == ("separate-chassis",)


# ------------------------------------------------------------------------------------------ dry runs at home
def test_a_dry_run_that_is_not_ticked_is_advice_and_no_more() -> None:
    found = judged(findings=SOUND, ticks=TRIED[:3])
    assert (found.as_found, found.after_work) == ("fit", "fit")
    assert texts(found) == [
        "Not yet tried at home: Beacon and messenger tested, registered, and their batteries in date"
    ]
    assert found.evidence.endswith("; 3 of 4 dry runs at home done, the last 2027-05-25")


def test_nothing_is_asked_of_parts_that_the_vehicle_lacks() -> None:
    """The plain wagon of the tests has no belts, filter, locks or discs: four dry runs are left."""
    found = judged(findings=SOUND, ticks=())
    assert "no dry run at home ticked" in found.evidence
    assert "and 1 more" in found.reasons[0].text
    more = judged(findings=SOUND, ticks=TRIED, features=["drive-belts"])
    assert texts(more) == ["Not yet tried at home: The spare belt fitted once; the known-good old one carried"]


def test_ticks_of_the_shared_checklist_count_for_one_vehicle_alone() -> None:
    """Line 1-1 of the shipped checklist proves the wheel change; in a convoy nobody knows on which vehicle."""
    lib = library({"belt": mode(**UNSAFE, workshop=[BELT])})
    lib.settings["checklist-dry-run-at-home"] = {
        "part": [{"item": [{"object": "Wheel", "state": "changed", "station": "first", "dry_run": "wheel-change"}]}]
    }
    shared = Tick(list="lists/dry-run-at-home", item="1-1", at="2027-05-25T09:00:00Z")
    alone = judged(lib=lib, findings=SOUND, ticks=(shared, *TRIED[1:]))
    assert alone.reasons == ()
    two = replace(trip(lib, [vehicle(), vehicle("van")]), ticks=(shared, *TRIED[1:]))
    runs = dry_runs(two, two.vehicles[0], rules_of(lib), features_of(two.vehicles[0]))
    assert list(runs.missing) == ["wheel-change"]
    assert runs.unnamed == 1
