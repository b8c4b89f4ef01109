"""The purchase form's end, and what an after-trip form brings from the trip."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from html_tools import main, parse_errors, text, tree
from sample import small_library, small_trip

from fieldkit.handbook import write_forms
from fieldkit.inspection import inspection_form
from fieldkit.inspection.buying import buying, cost_to_put_right
from fieldkit.inspection.defects import unsafe_defect
from fieldkit.inspection.workshop_settings import workshop_settings
from fieldkit.specs.library import Library
from fieldkit.specs.marked import StockMove, VehicleOut
from fieldkit.specs.read_library import load_library
from fieldkit.specs.trip import Trip


@pytest.fixture(scope="module")
def shipped() -> Library:
    return load_library()


@pytest.fixture(scope="module")
def trip() -> Trip:
    return small_trip(small_library())


def form_page(out: Path, kind: str, trip: Trip | None = None, library: Library | None = None, build: str = "") -> Any:
    write_forms(library or trip.library, out, build or None, trip, kind=kind)  # type: ignore[union-attr]
    path = out / f"{build or 'tern'}.html"
    assert parse_errors(path) == []
    return path


# -------------------------------------------------------------------------------------------- purchase
def test_every_unsafe_point_is_a_reason_to_walk_away_and_structure_stands_first(shipped: Library) -> None:
    """Common practice, no source: what carries the vehicle is looked at first when somebody buys."""
    features = frozenset(shipped.archetypes["live-axle-wagon-mechanical-diesel"].features)
    form = inspection_form(shipped, features, "purchase")
    found = buying(shipped, features, form)
    points = {line.mode for s in form.stations for line in s.lines}
    assert {m for m, _ in found.walk_away} == {m for m in points if unsafe_defect(shipped.failure_modes[m])}
    carried = [m in found.structure for m, _ in found.walk_away]
    assert carried == sorted(carried, reverse=True)
    assert carried[0]
    assert not carried[-1]


def test_what_no_look_finds_is_said_for_what_the_vehicle_has(shipped: Library) -> None:
    def hidden(build: str) -> str:
        features = frozenset(shipped.archetypes[build].features)
        return " ".join(w for w, _ in buying(shipped, features, inspection_form(shipped, features, "purchase")).hidden)

    assert "high-voltage" in hidden("electric-dual-motor-utility")
    assert "Cylinders" not in hidden("electric-dual-motor-utility")
    assert "Cylinders" in hidden("live-axle-wagon-mechanical-diesel")
    assert "high-voltage" not in hidden("live-axle-wagon-mechanical-diesel")


def test_looks_that_often_miss_are_named(shipped: Library) -> None:
    """By the shipped rule: a look that finds no more than 7 in 10."""
    features = frozenset(shipped.archetypes["live-axle-wagon-mechanical-diesel"].features)
    form = inspection_form(shipped, features, "purchase")
    limit = workshop_settings(shipped).purchase.unseen_below
    wanted = [
        line.title
        for s in form.stations
        for line in s.lines
        if shipped.failure_modes[line.mode].inspection.detects <= limit  # type: ignore[union-attr]
    ]
    assert [t for t, _ in buying(shipped, features, form).poorly_seen] == wanted
    assert wanted


def test_every_point_of_the_shipped_library_has_a_price_to_put_it_right(shipped: Library) -> None:
    bad = [k for k, m in shipped.failure_modes.items() if m.inspection and cost_to_put_right(k, m) is None]
    assert bad == []
    for key, mode in shipped.failure_modes.items():
        if cost := cost_to_put_right(key, mode):
            assert 0 <= cost.low <= cost.high
            assert 0 <= cost.hours_low <= cost.hours_high


def test_paper_has_a_column_to_fill_in_and_a_sum_for_each_part_of_the_walk(trip: Trip, tmp_path: Path) -> None:
    page = main(form_page(tmp_path / "out", "purchase", trip))
    walks = [t for t in page.iter("table") if "walk" in str(t.get("class"))]
    for table in walks:
        assert [text(h) for h in table.iter("th") if h.get("scope") == "col"][-1] == "To put right"
    sums = [r.get("data-sum") for r in page.iter("tr") if r.get("data-sum")]
    assert sums == [*(t.get("data-station") for t in walks), "all"]
    said = text(page)
    assert said.index("Reasons to walk away") < said.index("Not seen without taking parts off")
    assert "Ask for:" in said


def test_a_stated_rate_prices_the_hours_and_without_one_they_stand_beside(trip: Trip, tmp_path: Path) -> None:
    """By hand: low is parts plus hours at the rate."""
    key = next(k for k, m in trip.library.failure_modes.items() if m.workshop and m.inspection)
    cost = cost_to_put_right(key, trip.library.failure_modes[key])
    assert cost
    limits = trip.head.limits.model_copy(update={"workshop_rate": 100.0})
    rated = replace(trip, head=trip.head.model_copy(update={"limits": limits}))
    for name, one, rate in (("a", trip, 0.0), ("b", rated, 100.0)):
        page = tree(form_page(tmp_path / name, "purchase", one))
        row = next(b for b in page.iter("tbody") if b.get("data-mode") == key)
        assert float(str(row.get("data-low"))) == round(cost.low + cost.hours_low * rate)
        assert ("work at 100 an hour" in text(page.find("body/main"))) == bool(rate)


def test_other_forms_have_no_prices(trip: Trip, tmp_path: Path) -> None:
    page = main(form_page(tmp_path / "out", "departure", trip))
    assert "To put right" not in text(page)
    assert not [b for b in page.iter("tbody") if b.get("data-low")]


# ------------------------------------------------------------------------------------------ after the trip
def test_an_after_trip_form_brings_faults_stock_and_loans(trip: Trip, tmp_path: Path) -> None:
    item = next(iter(trip.library.items.values()))
    at = f"{trip.head.start.isoformat()}T10:00:00Z"
    moves = (
        StockMove(item=item.id, vehicle="tern", place="box", what="used", quantity=2, at=at),
        StockMove(item=item.id, vehicle="tern", place="rack", what="lent", quantity=1, to="plover", at=at),
    )
    finding = trip.findings[0].model_copy(update={"vehicle": "tern", "finding": "defective", "date": trip.head.start})
    back = replace(trip, stock_moves=moves, findings=(finding,), vehicles_out=(VehicleOut(vehicle="tern", at=at),))
    said = text(main(form_page(tmp_path / "out", "after-trip", back)))
    assert f"{trip.library.failure_modes[finding.failure_mode].title}" in said
    assert f"{item.name} 2 2 used" in said
    assert f"1 × {item.name} {trip.vehicle('tern').name}, lent to {trip.vehicle('plover').name}" in said
    assert "Left on the way" in said
    other = text(main(tmp_path / "out" / "plover.html"))
    assert "lent to" in other
    assert "2 used" not in other


def test_blank_forms_have_lines_for_it(shipped: Library, tmp_path: Path) -> None:
    build = "unibody-all-wheel-drive"
    said = text(main(form_page(tmp_path / "out", "after-trip", library=shipped, build=build)))
    assert "Also used, lost or broken" in said
    assert "Also lent or borrowed, and whose" in said


def test_dry_runs_on_the_departure_form_are_those_the_vehicle_has_the_parts_for(shipped: Library) -> None:
    electric = frozenset(shipped.archetypes["electric-dual-motor-utility"].features)
    diesel = frozenset(shipped.archetypes["live-axle-wagon-mechanical-diesel"].features)
    asked = [dict(inspection_form(shipped, f, "departure").dry_runs) for f in (electric, diesel)]
    assert "filter-bled" not in asked[0]
    assert {"filter-bled", "belt-fitted", "locks-worked"} <= set(asked[1])
