"""Marks and findings come back whole, once, and with every fault named."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from fieldkit.errors import InputFaults
from fieldkit.inspection.marks import bring_back, read_marks
from fieldkit.specs.library import Library
from fieldkit.specs.read_trip import load_trip

SCHEMA = Path(__file__).parent.parent.parent / "docs" / "schema" / "marks.schema.json"


def marks(**change: Any) -> dict[str, Any]:
    """A sound marks file, with changes."""
    return {
        "format": "fieldkit-marks-1",
        "trip": "trip",
        "revision": "0123456789",
        "by": "the driver",
        "ticks": [{"list": "camp", "item": "tyres", "at": "2027-09-06T17:00:00"}],
        "findings": [
            {
                "date": "2027-09-06",
                "vehicle": "wagon",
                "failure_mode": "drive-belt",
                "finding": "defective",
                "note": 'é, "frayed"',
            }
        ],
        "stock": [{"item": "bottle-jack", "vehicle": "wagon", "place": "drawers", "what": "lost", "quantity": 1}],
        "vehicles_out": [],
        **change,
    }


def save(path: Path, data: Any) -> Path:
    path.write_text(json.dumps(data), encoding="utf-8")
    return path


def test_the_sample_meets_the_published_schema() -> None:
    """The file that these tests make is one that the pages may write."""
    jsonschema.validate(marks(), json.loads(SCHEMA.read_text(encoding="utf-8")))


def test_reading_twice_changes_nothing_the_second_time(blank: Path, library: Library, tmp_path: Path) -> None:
    """Import is idempotent, and what was written before stays."""
    file = save(tmp_path / "m.json", marks())
    before = (blank / "findings.csv").read_text(encoding="utf-8").splitlines()
    first = bring_back(load_trip(blank, library), [file])
    text = (blank / "findings.csv").read_text(encoding="utf-8")
    second = bring_back(load_trip(blank, library), [file])
    assert first.added == {"findings": 1, "stock": 1, "ticks": 1, "figures": 0, "vehicles_out": 0}
    assert second.added == dict.fromkeys(first.added, 0)
    assert (blank / "findings.csv").read_text(encoding="utf-8") == text
    assert len(text.splitlines()) == len(before) + 1
    assert load_trip(blank, library).findings[-1].inspector == "the driver"
    assert first.restock == {"bottle-jack": 1.0}


def test_an_older_revision_still_reads_and_says_so(blank: Path, library: Library, tmp_path: Path) -> None:
    """The note names both revisions."""
    trip = load_trip(blank, library)
    back = bring_back(trip, [save(tmp_path / "m.json", marks())])
    assert back.notes == (f"m.json comes from revision 0123456789; the trip is now at {trip.digest}",)


def test_inspectors_who_disagree_are_both_kept_and_shown(blank: Path, library: Library, tmp_path: Path) -> None:
    """Two findings of one day on one position are a conflict, not an overwrite."""
    other = marks(by="the mechanic")
    other["findings"][0]["finding"] = "sound"
    back = bring_back(load_trip(blank, library), [save(tmp_path / "a.json", marks()), save(tmp_path / "b.json", other)])
    assert back.conflicts == ("wagon, drive-belt, 2027-09-06: defective (the driver), sound (the mechanic)",)
    assert back.added["findings"] == 2


def test_a_findings_table_comes_in_as_well(blank: Path, library: Library, tmp_path: Path) -> None:
    """CSV with a byte-order mark and shuffled columns is read by heading."""
    path = tmp_path / "f.csv"
    path.write_bytes("\ufefffailure_mode,date,finding,vehicle\nradiator-leak,2027-09-05,sound,wagon\n".encode())
    assert bring_back(load_trip(blank, library), [path]).added["findings"] == 1


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"format": "other"}, "no marks file of this tool"),
        ({"extra": 1}, "unknown key 'extra'"),
        ({"findings": [{"date": "6/9/27", "vehicle": "wagon", "failure_mode": "drive-belt", "finding": "sound"}]}, "two digits"),
        ({"findings": [{"date": "2027-09-06", "vehicle": "wagn", "failure_mode": "drive-belt", "finding": "sound"}]}, "did you mean 'wagon'?"),
        ({"findings": [{"date": "2027-09-06", "vehicle": "wagon", "failure_mode": "drive-bolt", "finding": "sound"}]}, "did you mean 'drive-belt'?"),
        ({"findings": [{"date": "2027-09-06", "vehicle": "wagon", "failure_mode": "drive-belt", "finding": "bad"}]}, "one of: defective, not-seen"),
        ({"stock": [{"item": "x", "vehicle": "wagon", "place": "", "what": "used", "quantity": -1}]}, "greater than 0"),
    ],
)  # fmt: skip
def test_faults_are_named_and_nothing_is_written(
    blank: Path, library: Library, tmp_path: Path, change: dict[str, Any], said: str
) -> None:
    """A fault in one file leaves every table of the trip as it was."""
    before = {p: p.read_bytes() for p in blank.rglob("*") if p.is_file()}
    good = save(tmp_path / "good.json", marks())
    with pytest.raises(InputFaults) as caught:
        bring_back(load_trip(blank, library), [good, save(tmp_path / "bad.json", marks(**change))])
    assert said in str(caught.value)
    assert {p: p.read_bytes() for p in blank.rglob("*") if p.is_file()} == before


@pytest.mark.parametrize("text", ["", "{", "[]", "null", '{"format": "fieldkit-marks-1"}'])
def test_broken_files_give_one_clear_message(tmp_path: Path, text: str) -> None:
    """No traceback for a file cut off or of another kind."""
    path = tmp_path / "m.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputFaults):
        read_marks(path)


# ------------------------------------------------------------------- a table filled in by hand
BY_HAND = """date;vehicle;failure_mode;position;finding;measured;inspector;note
2027-04-12;wagon;drive-belt;;sound;;A;
12.04.2027;wagon;drive-belt;;worn;;A;
04/05/2027;wagon;drive-belt;;worn;;A;
12 Apr 27;wagon;drive-belt;;worn;;A;
2027-04-12;wagn;drive-belt;;worn;;A;
2027-04-12;;drive-belt;;worn;;A;merged with the cell above
;;;;;;;
2027-04-12;wagon;drive-bellt;;worn;;A;
2027-04-12;wagon;drive-belt;;wornn;"4,5 mm";A;
2027-04-12;wagon;front-damper;front midle;worn;;A;
2027-04-12;wagon;drive-belt;;worn;;A;one;too many
"""


def test_a_table_full_of_slips_gives_one_message_for_each_in_one_run(
    blank: Path, library: Library, tmp_path: Path
) -> None:
    """Separator, three styles of date, misspelt vehicle, part, kind and position, a merged cell, a cell too many."""
    file = tmp_path / "typed.csv"
    file.write_text(BY_HAND, encoding="utf-8")
    before = (blank / "findings.csv").read_bytes()
    with pytest.raises(InputFaults) as odd:
        bring_back(load_trip(blank, library), [file])
    said = [str(f) for f in odd.value.faults]
    places = [f.place for f in odd.value.faults]
    assert places == [
        "typed.csv:1", "typed.csv:3 date", "typed.csv:4 date", "typed.csv:5 date", "typed.csv:6 vehicle",
        "typed.csv:7 vehicle", "typed.csv:9 failure_mode", "typed.csv:10 finding", "typed.csv:11 position", "typed.csv:12",
    ]  # fmt: skip
    assert "separated by a semicolon" in said[0]
    assert "12 April or as 4 December" in said[1]
    assert "4 May or as 5 April" in said[2]
    assert "not an ISO date" in said[3]
    assert "merged cells" in said[5]
    for near, line in (("wagon", 4), ("drive-belt", 6), ("worn", 7)):
        assert f"did you mean '{near}'?" in said[line]
    assert (blank / "findings.csv").read_bytes() == before


def test_the_good_rows_are_kept_when_asked_and_the_mended_rest_comes_later(
    blank: Path, library: Library, tmp_path: Path
) -> None:
    file = tmp_path / "typed.csv"
    head = "date,vehicle,failure_mode,finding\n"
    file.write_text(
        head + "2027-04-12,wagon,drive-belt,worn\n\n2027-04-12,wagn,drive-belt,defective\n", encoding="utf-8"
    )
    back = bring_back(load_trip(blank, library), [file], sound_rows_only=True)
    assert back.added["findings"] == 1
    assert [f.place for f in back.left_out] == ["typed.csv:4 vehicle"]
    assert back.notes == ("typed.csv: line 3 without any entry passed over",)
    file.write_text(file.read_text(encoding="utf-8").replace("wagn", "wagon"), encoding="utf-8")
    again = bring_back(load_trip(blank, library), [file])
    assert (again.added["findings"], again.known["findings"]) == (1, 1)


def test_a_part_that_the_vehicle_does_not_have_is_refused_before_it_can_spoil_the_trip(
    blank: Path, library: Library, tmp_path: Path
) -> None:
    file = tmp_path / "typed.csv"
    file.write_text("date,vehicle,failure_mode,finding\n2027-04-12,wagon,hv-charge-port,worn\n", encoding="utf-8")
    with pytest.raises(InputFaults, match="which has no such part"):
        bring_back(load_trip(blank, library), [file])
    load_trip(blank, library)
