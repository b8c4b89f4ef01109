"""All findings of a club by weak point."""

from __future__ import annotations

import csv
import io

from small_case import library, mode, trip, vehicle

from fieldkit.inspection.by_mode import findings_by_mode, findings_csv
from fieldkit.specs.trip import Trip

LIB = library(
    {
        "belt": mode(readiness="unsafe-defect"),
        "hose": mode(positions=2, position_names=["left", "right"]),
        "pump": mode(),
    }
)


def club(*findings: tuple[object, ...]) -> Trip:
    return trip(LIB, [vehicle("wagon"), vehicle("van")], findings)


def test_the_newest_look_at_each_place_counts_and_defects_come_first() -> None:
    rows = findings_by_mode(
        club(
            ("wagon", "hose", "left", "worn", {"date": "2027-04-02"}),
            ("wagon", "hose", "left", "sound", {"date": "2027-04-01"}),
            ("van", "hose", "right", "worn"),
            ("van", "belt", "", "defective"),
            ("wagon", "belt", "", "sound"),
        )
    )
    assert [r.mode for r in rows] == ["belt", "hose"]
    belt, hose = rows
    assert (belt.unsafe, belt.vehicles, belt.counts["defective"], belt.counts["sound"]) == (True, 2, 1, 1)
    assert belt.where["defective"] == ("van",)
    assert hose.counts == {"sound": 0, "worn": 2, "defective": 0, "renewed": 0, "not-seen": 0}
    assert hose.where["worn"] == ("wagon left", "van right")


def test_counts_add_up_to_the_places_looked_at() -> None:
    made = club(
        ("wagon", "hose", "left", "worn"), ("wagon", "hose", "right", "not-seen"), ("van", "pump", "", "renewed")
    )
    rows = findings_by_mode(made)
    assert sum(sum(r.counts.values()) for r in rows) == 3
    table = list(csv.DictReader(io.StringIO(findings_csv(rows))))
    assert [(r["failure_mode"], r["worn"], r["not_seen"], r["renewed"]) for r in table] == [
        ("hose", "1", "1", "0"),
        ("pump", "0", "0", "1"),
    ]
    assert findings_by_mode(club()) == ()
