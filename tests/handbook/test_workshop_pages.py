"""The workshop plan, its orders, and the forms that lead to it and from it."""

from __future__ import annotations

from copy import copy
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from html_tools import by_class, links, main, text, tree
from sample import sample_plan, small_trip

from fieldkit.handbook import write_handbook
from fieldkit.handbook.book import gather
from fieldkit.handbook.words import day_text, days_said
from fieldkit.handbook.workshop_pages import workshop_pages
from fieldkit.inspection.calendar import work_order, workshop_calendar
from fieldkit.inspection.workshop_settings import workshop_settings


def headings(path: Path) -> list[str]:
    return [text(e) for e in main(path).iter() if e.tag in ("h1", "h2")]


def test_the_plan_says_every_step_its_days_and_what_it_holds(built: Path, plan: Any) -> None:
    """Every step of the calendar in order, with the usual and the latest day."""
    page = main(built / "workshop" / "index.html")
    calendar = workshop_calendar(plan.trip, plan.kit.work)
    rows = [text(row) for row in page.iter("tr")][1:]
    assert len(rows) == len(calendar.steps) == 7
    for row, step in zip(rows, calendar.steps, strict=True):
        assert row.startswith(step.title)
        assert day_text(step.due) in row
        assert day_text(step.latest) in row
        assert all(days_said(held) in row for held in step.holds), row
    assert "common practice, no source" in text(page)


def test_what_is_too_late_and_what_moves_stands_before_the_calendar(built: Path, plan: Any) -> None:
    """This trip was planned 13 days before it starts: inspecting and ordering are late."""
    calendar = workshop_calendar(plan.trip, plan.kit.work)
    assert calendar.days_left == 13
    assert calendar.too_late
    said = headings(built / "workshop" / "index.html")
    assert said.index("Already too late") < said.index("Calendar")
    page = text(main(built / "workshop" / "index.html"))
    assert all(days_said(x) in page for x in calendar.too_late)


def test_each_vehicle_with_work_has_an_order_to_sign(built: Path, plan: Any) -> None:
    """Every chosen work with hours, cost, what it gives up, and lines for what the maker's manual says."""
    order = work_order(plan.trip, plan.kit.work)
    assert [v.vehicle for v in order.vehicles] == ["tern", "plover"]
    for mine in order.vehicles:
        page = main(built / "vehicles" / mine.vehicle / "work-order.html")
        jobs = by_class(page, "job")
        assert len(jobs) == len(mine.rows)
        for job, row in zip(jobs, mine.rows, strict=True):
            said = text(job)
            assert row.title in said
            assert f"{row.hours:g} h" in said
            assert row.gives_up in said
            assert row.legality in said
            assert len(by_class(job, "rule")) == len(order.manual) + 1
        signs = [text(s) for s in by_class(page, "sign")]
        assert len(signs) == 2
        assert all("signature" in s for s in signs)
        assert all(caution in text(page) for caution in order.cautions)


def test_work_that_was_not_chosen_is_on_no_order(plan: Any, tmp_path: Path) -> None:
    """One vehicle's work taken back: no order for it, and nothing of it among the parts."""
    fewer = copy(plan)
    fewer.kit = replace(plan.kit, work=tuple(replace(w, chosen=w.vehicle == "tern") for w in plan.kit.work))
    out = tmp_path / "out"
    write_handbook(fewer, out)
    assert [p.parent.name for p in out.glob("vehicles/*/work-order.html")] == ["tern"]
    parts = text(main(out / "workshop" / "parts-order.html"))
    assert plan.trip.vehicle("tern").name in parts
    assert plan.trip.vehicle("plover").name not in parts


def test_the_parts_order_lists_every_part_with_a_line_to_fill_in(built: Path, plan: Any) -> None:
    page = main(built / "workshop" / "parts-order.html")
    chosen = [w for w in plan.kit.work if w.chosen and (w.cost_high or w.lead_weeks)]
    rows = [text(r) for r in page.iter("tr")][1:]
    assert len(rows) == len(chosen)
    assert len(by_class(page, "fill")) == len(chosen)
    assert f"{sum(w.cost_low for w in chosen):.0f} to {sum(w.cost_high for w in chosen):.0f} crowns" in text(page)


def test_the_pages_are_reached_from_the_front_the_vehicles_and_the_print_list(built: Path) -> None:
    assert "workshop/index.html" in set(links(tree(built / "index.html")))
    assert {"../../workshop/index.html", "work-order.html"} <= set(links(tree(built / "vehicles/tern/index.html")))
    assert {"workshop.html", "../workshop/index.html"} <= set(links(tree(built / "print/index.html")))
    joined = text(main(built / "print" / "workshop.html"))
    assert all(x in joined for x in ("Workshop plan", "Parts order", "Work order: "))


def test_without_work_the_plan_stands_and_no_order_is_made(plan: Any, tmp_path: Path) -> None:
    idle = copy(plan)
    idle.kit = replace(plan.kit, work=tuple(replace(w, chosen=False) for w in plan.kit.work))
    out = tmp_path / "out"
    write_handbook(idle, out)
    assert not list(out.glob("vehicles/*/work-order.html"))
    assert "No work was chosen" in text(main(out / "workshop" / "index.html"))
    assert "No part to order." in text(main(out / "workshop" / "parts-order.html"))
    assert "work-order.html" not in set(links(tree(out / "vehicles" / "tern" / "index.html")))


def test_only_the_trips_own_dates_stand_on_the_plan(plan: Any) -> None:
    """Planned on another day, the same work gives other states: nothing looks at a clock."""
    trip = small_trip()
    early = replace(trip, head=trip.head.model_copy(update={"prepared": trip.head.start.replace(year=2030)}))
    first, again = (workshop_pages(gather(sample_plan(early)))[0].context for _ in range(2))
    assert first == again
    assert first["too_late"] == []
    assert {s["state"] for s in first["steps"]} <= {"ahead", "done, or nothing to do"}


def test_steps_come_from_the_settings_file(plan: Any) -> None:
    """A club may have its own weeks."""
    context = workshop_pages(gather(plan))[0].context
    assert [s["id"] for s in context["steps"]] == [s.id for s in workshop_settings(plan.trip.library).step]


@pytest.mark.parametrize("name", ["workshop/index", "workshop/parts-order"])
def test_print_is_stamped_with_trip_and_revision(built: Path, plan: Any, name: str) -> None:
    page = tree(built / f"{name}.html")
    assert page.find("body").get("data-revision") == plan.trip.digest  # type: ignore[union-attr]
