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
