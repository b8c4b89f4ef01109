"""What is carried whatever the program says follows the trip that is planned."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest

from fieldkit.exposure import expose
from fieldkit.kit.must_carry import must_carry
from fieldkit.loads import weigh
from fieldkit.route import trip_route
from fieldkit.specs.library import Library
from fieldkit.specs.read_trip import load_trip
from fieldkit.specs.scaffold import new_trip
from fieldkit.specs.trip import Trip


def asked(trip: Trip) -> dict[str, int]:
    exposure = expose(trip, trip_route(trip), weigh(trip))
    return {m.item: m.packs for m in must_carry(trip, exposure)}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    new_trip(tmp_path / "trip")
    return tmp_path / "trip"


def test_tyres_let_down_are_pumped_up_again(folder: Path, library: Library) -> None:
    """A plan that counts on low pressures carries what brings them up; one that keeps them up, or never leaves the sealed road, need not."""
    low = asked(load_trip(folder, library))
    assert low["compressor"] == 1
    assert low["tyre-gauge"] == 1

    head = (folder / "trip.toml").read_text(encoding="utf-8")
    (folder / "trip.toml").write_text(
        head.replace("pressures_let_down = true", "pressures_let_down = false"), encoding="utf-8"
    )
    kept = asked(load_trip(folder, library))
    assert set(low) - set(kept) == {"compressor", "tyre-gauge"}

    (folder / "trip.toml").write_text(head, encoding="utf-8")
    legs = (folder / "legs.csv").read_text(encoding="utf-8")
    rows = [
        re.sub(r"^((?:[^,]*,){3})[^,]*", r"\1sealed", row) if row[:1].isdigit() else row for row in legs.splitlines()
    ]
    (folder / "legs.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    trip = load_trip(folder, library)
    assert {leg.surface for leg in trip.legs} == {"sealed"}
    assert "compressor" not in asked(trip)


def test_means_of_alarm_that_the_plan_counts_on_are_carried(folder: Path, library: Library) -> None:
    trip = load_trip(folder, library)
    comms = trip.head.comms.model_copy(update={"carried": ("satellite-messenger",)})
    trip = dataclasses.replace(trip, head=trip.head.model_copy(update={"comms": comms}))
    assert asked(trip)["satellite-messenger"] >= 1
