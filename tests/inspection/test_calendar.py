"""The calendar back from departure, the work order and the parts order.

The weeks before departure are common practice, no source; the small case's dates are reckoned by hand below.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

import pytest
from small_case import library, mode, modification, trip, vehicle

from fieldkit.inspection.calendar import parts_order, work_order, workshop_calendar
from fieldkit.inspection.workshop_settings import workshop_settings
from fieldkit.specs.library import Library
from fieldkit.specs.marked import Tick
from fieldkit.specs.trip import Trip

START = date(2027, 6, 1)
CORE = {
    "id": "core",
    "title": "Fit a new core",
    "hours": "3 h",
    "cost_low": 300,
    "cost_high": 500,
    "lead_weeks": 2,
    "fits": ["wide-core"],
    "gives_up": "a little room",
    "legality": "nothing to approve",
}
BELT = {"id": "belt", "title": "Fit a new belt", "hours": "1.5 h", "cost_low": 80, "cost_high": 160}
CLEAN = {"id": "clean", "title": "Clean the fins", "hours": "1 h", "cost_low": 0, "cost_high": 0}
LIMITS = {
    "kit_mass": "100 kg",
    "kit_volume": "200 L",
    "kit_money": 1000,
    "workshop_hours": "10 h",
    "workshop_money": 1000,
    "workshop_rate": 80,
}


@dataclass(frozen=True)
class Choice:
    """Work as the plan lists it."""

    vehicle: str
    mode: str
    option: str
    title: str = "a title"
    hours: float = 3.0
    cost_low: float = 300.0
    cost_high: float = 500.0
    lead_weeks: float = 2.0
    saves_hours: float = 5.0
    chosen: bool = True
    required: bool = False
    too_late: bool = False


NEW_CORE = Choice("wagon", "core", "core", "Fit a new core")
NEW_BELT = Choice("wagon", "belt", "belt", "Fit a new belt", 1.5, 80.0, 160.0, 0.0)
FINS = Choice("wagon", "core", "clean", "Clean the fins", 1.0, 0.0, 0.0, 0.0)


def case(weeks: float = 12, findings=(), **head) -> Trip:  # type: ignore[no-untyped-def]
    """A trip planned so many weeks before it starts on 1 June 2027."""
    lib = library(
        {"core": mode(workshop=[CORE, CLEAN]), "belt": mode(workshop=[BELT])},
        modifications={"wide-core": modification(name="wide radiator core")},
    )
    head = {"limits": LIMITS, "prepared": START - timedelta(weeks=weeks), **head}
    return trip(lib, [vehicle()], findings, **head)


def step(found, key: str):  # type: ignore[no-untyped-def]
    return next(s for s in found.steps if s.id == key)


def test_the_steps_stand_at_their_weeks_before_departure() -> None:
    """8 to 10 weeks inspect, 6 order, 4 do, 3 shakedown, 2 re-torque and weigh, 1 pack, day 0 check: common practice, no source."""
    found = workshop_calendar(case(), [NEW_CORE])
    weeks = {s.id: (START - s.due).days / 7 for s in found.steps}
    assert weeks == {"inspect": 8, "order": 6, "do": 4, "shakedown": 3, "retorque": 2, "pack": 1, "check": 0}
    assert (START - step(found, "inspect").first).days / 7 == 10
    assert found.days_left == 84
    assert found.too_late == ()
    assert found.moved == ()
    assert {s.state for s in found.steps} == {"ahead"}
    assert [s.day for s in found.steps] == [s.due for s in found.steps]


def test_what_each_step_holds_for_this_trip() -> None:
    """The work, its parts with lead weeks, who must be driven in, weighed and tried."""
    found = workshop_calendar(case(), [replace(NEW_CORE, hours=4.0), NEW_BELT])
    assert step(found, "inspect").holds == ("Wagon: nobody has looked yet",)
    # The workshop day is 4 May (4 weeks before); two weeks' lead makes 20 April the day to order.
    assert step(found, "order").holds == (
        "Wagon: Fit a new core, 2 weeks, order by 2027-04-20",
        "Off the shelf: parts for 1 work, on the parts order",
    )
    assert step(found, "do").holds == ("Wagon: Fit a new core; Fit a new belt (5.5 h)",)
    assert step(found, "shakedown").holds == ("Wagon: 300 km (186 mi) to 500 km (311 mi) laden, after 5.5 h of work",)
    assert step(found, "retorque").holds == ("Wagon: re-torque what the 2 works undid, weigh as packed",)
    assert step(found, "pack").holds == ("Wagon: 4 of 4 dry runs to do",)
    assert step(found, "check").holds == ("Figures sheet still has blank lines: Wagon",)


def test_what_the_files_show_as_done_is_done() -> None:
    """Looked at within the rules' 120 days; no work chosen; dry runs ticked are counted."""
    looked = case(findings=[("wagon", "belt", "", "sound")])
    ticks = (Tick(list="form-departure-wagon", item="dry-run-wheel-change"),)
    found = workshop_calendar(replace(looked, ticks=ticks), [])
    assert [step(found, k).state for k in ("inspect", "order", "do")] == ["done"] * 3
    assert step(found, "inspect").holds == ("Wagon: looked at 2027-04-01, A. Nyone",)
    assert step(found, "do").holds == ("No work chosen.",)
    assert step(found, "pack").holds == ("Wagon: 3 of 4 dry runs to do",)


def test_three_weeks_before_departure_steps_move_and_wait_for_each_other() -> None:
    """Planned 11 May; the core takes two weeks and is there 25 May, after the last day for work (23 May): order by 9 May."""
    found = workshop_calendar(case(3), [NEW_CORE])
    assert (step(found, "inspect").state, step(found, "order").state) == ("move", "too-late")
    assert step(found, "order").latest == date(2027, 5, 9)
    assert step(workshop_calendar(case(3), [NEW_BELT]), "order").state == "move"
    assert step(found, "do").state == "too-late"
    assert any("Its parts are there 2027-05-25; after 2027-05-23 there is no time left" in x for x in found.too_late)
    assert any("should have been ordered by 2027-04-20; ordered 2027-05-11" in x for x in found.moved)


def test_work_that_waits_for_no_part_moves_and_pushes_what_follows() -> None:
    """Planned 15 May: do it now (latest 23 May), then the shakedown (usual day 11 May) not before, and so on in order."""
    found = workshop_calendar(case(0, prepared=date(2027, 5, 15)), [NEW_BELT])
    assert [(step(found, k).state, step(found, k).day) for k in ("do", "shakedown", "retorque", "pack", "check")] == [
        ("move", date(2027, 5, 15)),
        ("move", date(2027, 5, 15)),
        ("ahead", date(2027, 5, 18)),
        ("ahead", date(2027, 5, 25)),
        ("ahead", START),
    ]
    days = [s.day for s in found.steps if s.day and s.id != "inspect"]
    assert days == sorted(days)


def test_a_day_before_departure_nearly_all_is_too_late_and_says_what_is_left() -> None:
    """Every step that no longer serves is named, with what can still be done of it."""
    found = workshop_calendar(case(0, prepared=START - timedelta(days=1)), [NEW_BELT])
    late = [s.id for s in found.steps if s.state == "too-late"]
    assert late == ["inspect", "order", "do", "shakedown", "retorque"]
    rules = {s.id: s for s in workshop_settings(case().library).step}
    for key in late:
        assert any(rules[key].if_late in x for x in found.too_late), key
    assert step(found, "pack").state == "move"
    assert step(found, "check").day == START


def test_work_wanted_but_too_late_is_named_with_what_its_parts_take() -> None:
    """Not chosen, because its parts would come after departure; chosen work and work nobody wants are not named."""
    late = replace(NEW_CORE, chosen=False, too_late=True, lead_weeks=8.0)
    useless = replace(late, mode="belt", option="belt", title="Fit a new belt", saves_hours=0.0)
    found = workshop_calendar(case(6), [late, useless, replace(NEW_BELT, chosen=False)])
    assert found.too_late == ("Wagon: Fit a new core. Its parts take 8 weeks; departure is in 42 days",)


def test_the_work_order_adds_up_and_is_held_against_the_limits() -> None:
    """By hand: 4.5 h at 80 is 360; parts 380 to 660; so 740 to 1,020, in the middle 880 of 1,000."""
    order = work_order(case(), [NEW_CORE, NEW_BELT, replace(FINS, chosen=False)])
    assert (order.hours, order.money_low, order.money_high, order.money) == (4.5, 740.0, 1020.0, 880.0)
    assert order.over == ("at the top of the range 1020 units, 1000 are there",)
    only = order.vehicles[0]
    assert (only.hours, only.parts_low, only.parts_high) == (4.5, 380.0, 660.0)
    assert [r.title for r in only.rows] == ["Fit a new core", "Fit a new belt"]
    core = only.rows[0]
    assert (core.fits, core.gives_up, core.legality) == (("wide radiator core",), "a little room", "nothing to approve")
    assert "tightening torques" in order.manual
    assert any("maker's manual" in c for c in order.cautions)


@pytest.mark.parametrize(
    ("limits", "said"),
    [
        ({"workshop_hours": "4 h"}, "4.5 h of work, 4 h are there"),
        ({"workshop_money": 500}, "880 units in the middle of the range, 500 are there"),
    ],
)
def test_limits_that_are_not_kept_are_said(limits: dict[str, object], said: str) -> None:
    assert said in work_order(case(limits={**LIMITS, **limits}), [NEW_CORE, NEW_BELT]).over


def test_required_work_stands_first() -> None:
    order = work_order(case(), [NEW_CORE, replace(NEW_BELT, required=True)])
    assert [r.title for r in order.vehicles[0].rows] == ["Fit a new belt", "Fit a new core"]


def test_the_parts_order_is_by_the_day_to_order_and_leaves_out_what_needs_none() -> None:
    """Cleaning costs nothing and waits for nothing."""
    order = parts_order(case(), [FINS, NEW_BELT, NEW_CORE])
    assert [(r.title, r.order_by) for r in order.rows] == [
        ("Fit a new core", date(2027, 4, 20)),
        ("Fit a new belt", date(2027, 5, 4)),
    ]
    assert (order.low, order.high) == (380.0, 660.0)
    assert not any(r.late for r in order.rows)


def test_nothing_chosen_gives_empty_orders() -> None:
    order = work_order(case(), [replace(NEW_CORE, chosen=False)])
    assert (order.vehicles, order.hours, order.money, order.over) == ((), 0.0, 0.0, ())
    assert parts_order(case(), []).rows == ()


def test_work_of_a_vehicle_or_option_that_is_gone_is_passed_over() -> None:
    odd = [replace(NEW_CORE, vehicle="van"), replace(NEW_CORE, option="gone"), replace(NEW_CORE, mode="gone")]
    assert work_order(case(), odd).vehicles == ()


def test_the_checklist_names_dry_runs_that_the_rules_know(library: Library) -> None:
    """Lines of the shipped checklist that prove a dry run, and features that the rules ask for, exist."""
    from fieldkit.inspection.settings import rules_of

    rules = rules_of(library)
    lines = [x for part in library.settings["checklist-dry-run-at-home"]["part"] for x in part["item"]]
    assert {x["dry_run"] for x in lines if "dry_run" in x} <= set(rules.dry_runs)
    assert set(rules.dry_run_needs) <= set(rules.dry_runs)
    assert {f for needs in rules.dry_run_needs.values() for f in needs} <= set(library.features)
    settings = workshop_settings(library)
    assert set(settings.purchase.structure) <= set(library.failure_modes)
    assert {f for h in settings.purchase.hidden for f in h.needs_any} <= set(library.features)
