"""After the trip: faults, restock, loans and vehicles left, from what came back."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from small_case import library, mode, trip, vehicle

from fieldkit.inspection.afterwards import after_lines, after_trip, totals
from fieldkit.inspection.marks import restock
from fieldkit.report import findings_report
from fieldkit.specs.library import Item, Library
from fieldkit.specs.marked import StockMove, VehicleOut
from fieldkit.specs.read_trip import load_trip
from fieldkit.specs.trip import LogEntry, Trip

BELT = {"id": "belt", "title": "Fit a new belt", "hours": "1.5 h", "cost_low": 80, "cost_high": 160}
DEAR = {"id": "dear", "title": "Fit a whole new drive", "hours": "6 h", "cost_low": 900, "cost_high": 1200}
AFTER = {"date": date(2027, 6, 3)}
TAPE = Item(
    id="tape", name="hose tape", kind="supply", mass_kg=0.1, volume_l=0.1, longest_cm=8, price_low=4, price_high=9
)


def case(findings: Any = (), moves: Any = (), out: Any = (), log: Any = ()) -> Trip:
    """Two vehicles that left on 1 June 2027."""
    lib = library(
        {
            "belt": mode(title="Drive belt", workshop=[DEAR, BELT]),
            "arm": mode(title="Steering arm", severity="unsafe", unsafe_kind="do-not-move", positions=2, position_names=["left", "right"]),
        },
        items={"tape": TAPE},
    )  # fmt: skip
    made = trip(lib, [vehicle(), vehicle("van")], findings)
    return replace(made, stock_moves=tuple(moves), vehicles_out=tuple(out), logbook=tuple(log))


def move(what: str, quantity: float = 1.0, at: str = "2027-06-02T10:00:00Z", **more: str) -> StockMove:
    return StockMove(**{"item": "tape", "vehicle": "wagon", "place": "drawers", "what": what, "quantity": quantity, "at": at, **more})  # type: ignore[arg-type] # fmt: skip


# ---------------------------------------------------------------------------------------------- faults
def test_a_fault_names_the_least_costly_work() -> None:
    found = after_trip(case([("wagon", "belt", "", "worn", {**AFTER, "note": "frayed"})])).faults[0]
    assert (found.title, found.found, found.new, found.unsafe) == ("Drive belt", "worn", True, False)
    assert (found.mend, found.hours, found.cost_low, found.cost_high) == ("Fit a new belt", 1.5, 80, 160)
    assert (found.who, found.note) == ("A. Nyone", "frayed")


def test_what_stops_a_vehicle_stands_first_and_old_faults_are_told_from_new() -> None:
    found = after_trip(
        case(
            [
                ("wagon", "belt", "", "worn"),
                ("wagon", "arm", "left", "worn", AFTER),
                ("van", "arm", "right", "defective", AFTER),
            ]
        )
    ).faults
    assert [(f.vehicle, f.mode, f.position, f.unsafe, f.new) for f in found] == [
        ("van", "arm", "right", True, True),
        ("wagon", "arm", "left", False, True),
        ("wagon", "belt", "", False, False),
    ]


def test_the_latest_look_stands() -> None:
    """Mended since: no fault. Looked at again without seeing it: the fault stays."""
    mended = [("wagon", "belt", "", "worn"), ("wagon", "belt", "", "renewed", AFTER)]
    assert after_trip(case(mended)).faults == ()
    unseen = [("wagon", "belt", "", "worn"), ("wagon", "belt", "", "not-seen", AFTER)]
    assert len(after_trip(case(unseen)).faults) == 1


def test_of_two_looks_on_one_day_the_worse_stands_in_any_order() -> None:
    two = [("wagon", "belt", "", "defective", AFTER), ("wagon", "belt", "", "sound", AFTER)]
    assert [f.found for f in after_trip(case(two)).faults] == ["defective"]
    assert [f.found for f in after_trip(case(two[::-1])).faults] == ["defective"]


def test_a_later_look_at_all_positions_closes_each() -> None:
    found = [("wagon", "arm", "left", "worn"), ("wagon", "arm", "", "sound", AFTER)]
    assert after_trip(case(found)).faults == ()


def test_a_failure_in_the_logbook_is_a_fault_until_something_closes_it() -> None:
    """A get-out repair held on the way; the proper work is still due, unless it was renewed or looked at since."""
    entry = LogEntry(date=date(2027, 6, 2), vehicle="wagon", kind="failure", failure_mode="belt", procedure="tie-it")
    found = after_trip(case(log=[entry])).faults
    assert [(f.found, f.note, f.mend) for f in found] == [("failed", "field repair: tie-it", "Fit a new belt")]
    new = LogEntry(date=date(2027, 6, 9), vehicle="wagon", kind="renewed", failure_mode="belt")
    assert after_trip(case(log=[entry, new])).faults == ()
    assert after_trip(case([("wagon", "belt", "", "sound", AFTER)], log=[entry])).faults == ()
    before = entry.model_copy(update={"date": date(2027, 1, 2)})
    assert after_trip(case(log=[before])).faults == ()


def test_one_work_counts_once_for_each_vehicle() -> None:
    """Two positions of one weak point are put right in one go."""
    faults = after_trip(case([("wagon", "belt", "", "worn"), ("van", "belt", "", "worn")])).faults
    assert totals([*faults, faults[0]]) == (3.0, 160.0, 320.0)


# ------------------------------------------------------------------------------------------ stock, loans
def test_restock_counts_used_and_lost_with_their_price() -> None:
    found = after_trip(case(moves=[move("used", 2), move("lost", vehicle="van")])).restock
    assert [(r.name, r.used, r.lost, r.vehicles, r.price_low, r.price_high) for r in found] == [
        ("hose tape", 2.0, 1.0, ("van", "wagon"), 12.0, 27.0)
    ]


def test_back_undoes_every_earlier_mark_of_its_line_as_the_pages_do() -> None:
    """Two used, then back where it was: nothing to replace, whichever file was read first."""
    moves = [move("back", at="2027-06-03T08:00:00Z"), move("used", 2)]
    assert after_trip(case(moves=moves)).restock == ()
    rows = [m.model_dump(mode="json") for m in moves[::-1]]
    assert restock(rows) == {}


def test_loans_that_came_back_are_told_from_those_that_did_not() -> None:
    lent = move("lent", to="van")
    other = move("lent", vehicle="van", place="tray", to="a passer-by", at="2027-06-02T12:00:00Z")
    back = move("back", at="2027-06-03T08:00:00Z")
    found = after_trip(case(moves=[lent, other, back])).loans
    assert [(x.vehicle, x.to, x.back) for x in found] == [("van", "a passer-by", False), ("wagon", "van", True)]


def test_a_vehicle_left_on_the_way_says_where_its_kit_is() -> None:
    """Marked twice: the later mark counts."""
    out = [
        VehicleOut(vehicle="van", at="2027-06-02T09:00:00Z"),
        VehicleOut(vehicle="van", kit_moved=True, at="2027-06-02T18:00:00Z"),
    ]
    found = after_trip(case(out=out))
    assert [(o.name, o.kit_moved, o.day) for o in found.out] == [("Van", True, "2027-06-02")]
    assert after_lines(found, "units") == ["left on the way: Van, 2027-06-02; its kit was moved to the others"]


def test_names_that_nothing_bears_are_noted_and_not_lost() -> None:
    found = after_trip(case(moves=[move("used", item="tap"), move("lost", vehicle="vann")]))
    assert [r.item for r in found.restock] == ["tap", "tape"]
    assert found.loose == ("no item 'tap' in the library", "no vehicle 'vann' on this trip")


def test_one_vehicle_sees_its_own_and_what_it_holds_of_others() -> None:
    found = after_trip(case([("van", "belt", "", "worn")], [move("lent", to="van")], [VehicleOut(vehicle="van")]))
    assert (len(found.of("van").faults), len(found.of("van").loans), len(found.of("van").out)) == (1, 1, 1)
    assert (len(found.of("wagon").faults), len(found.of("wagon").loans), len(found.of("wagon").out)) == (0, 1, 0)
    assert not found.empty
    assert after_trip(case()).empty


# ----------------------------------------------------------------------------------- the whole way round
def test_marks_of_a_phone_come_back_as_work_and_shopping(blank: Path, library: Library, tmp_path: Path) -> None:
    """The command reads the marks file and says what to put right, replace, bring back and fetch; twice says the same."""
    start = load_trip(blank, library).head.start.isoformat()
    jack = {"vehicle": "wagon", "place": "drawers", "at": f"{start}T10:00:00Z"}
    marks = {
        "format": "fieldkit-marks-1", "trip": "trip", "revision": "0", "by": "the driver",
        "ticks": [], "vehicles_out": [{"vehicle": "wagon", "at": f"{start}T18:00:00Z"}],
        "findings": [{"date": start, "vehicle": "wagon", "failure_mode": "drive-belt", "finding": "defective"}],
        "figures": [{"vehicle": "wagon", "figure": "wheel_nuts", "value": "as the manual says"}],
        "stock": [
            {"item": "bottle-jack", "what": "lost", "quantity": 1, **jack},
            {"item": "tyre-plug-kit", "what": "lent", "quantity": 1, "to": "a passer-by", **jack},
        ],
    }  # fmt: skip
    file = tmp_path / "m.json"
    file.write_text(json.dumps(marks), encoding="utf-8")
    first = findings_report(blank, [file]).splitlines()
    second = findings_report(blank, [file]).splitlines()
    said = [x for x in first if x.split(":")[0] in ("put right", "to restock", "to bring back", "left on the way")]
    assert [x.split(":")[0] for x in said] == ["put right", "to restock", "to bring back", "left on the way"]
    assert "Drive belt" in said[0] or "belt" in said[0].lower()
    assert set(said) <= set(second)
    assert load_trip(blank, library).vehicles[0].spec.figures["wheel_nuts"] == "as the manual says"


def test_figures_typed_on_a_phone_fill_blank_lines_and_replace_none(blank: Path, library: Library) -> None:
    """The vehicle's own file stands; the difference is said."""
    (blank / "figures.csv").write_text(
        "vehicle,figure,value\nwagon,wheel_nuts,first\nwagon,wheel_nuts,second\nvan,wheel_nuts,x\n", encoding="utf-8"
    )
    read = load_trip(blank, library)
    assert read.vehicles[0].spec.figures["wheel_nuts"] == "second"
    assert "figures.csv: no vehicle 'van' on this trip" in read.warnings
    path = blank / "vehicles" / "wagon.toml"
    path.write_text(
        path.read_text(encoding="utf-8").replace('wheel_nuts = ""', 'wheel_nuts = "mine"'), encoding="utf-8"
    )
    read = load_trip(blank, library)
    assert read.vehicles[0].spec.figures["wheel_nuts"] == "mine"
    assert any("the file stands" in w for w in read.warnings)
