"""Alive, not painted: what is changed in the files changes the right figures of plan.json, in the right direction."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from fieldkit.export import plan_json
from fieldkit.plan import PlanOptions, make_plan
from fieldkit.specs.library import Library
from fieldkit.specs.read_library import shipped_folder
from fieldkit.specs.read_trip import load_trip

EXAMPLES = shipped_folder("vehicle_specs") / "example_trips"
ROOT = Path(__file__).parent.parent
Spoil = Callable[[str, str, str], Path]


def planned(folder: Path, library: Library) -> dict[str, Any]:
    return plan_json(make_plan(load_trip(folder, library), PlanOptions(quick=True)))


@pytest.fixture(scope="module")
def base(library: Library, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The blank trip, unchanged."""
    folder = shutil.copytree(EXAMPLES / "blank", tmp_path_factory.mktemp("base") / "trip")
    return planned(Path(folder), library)


@cache
def _schema() -> dict[str, Any]:
    return json.loads((ROOT / "docs" / "schema" / "plan.schema.json").read_text(encoding="utf-8"))


def expected(plan: dict[str, Any], mode: str) -> float:
    return next(r["expected"]["value"] for v in plan["vehicles"] for r in v["risks"] if r["mode"] == mode)


def test_a_plan_meets_its_published_schema(base: dict[str, Any]) -> None:
    jsonschema.validate(base, _schema())


def test_kit_mass_is_the_sum_of_its_items(base: dict[str, Any]) -> None:
    total = sum(i["quantity"] * i["mass_kg"] for i in base["kit"]["items"])
    assert base["kit"]["mass_kg"] == pytest.approx(total, rel=1e-5)


def test_twice_the_corrugated_road_wears_what_vibration_wears(
    base: dict[str, Any], spoil: Spoil, library: Library
) -> None:
    """Sealed and graded stretches made corrugated: dampers up clearly, the clutch hardly."""
    spoil("legs.csv", "1,80,140,gravel", "1,80,140,corrugated")
    spoil("legs.csv", "2,215,270,gravel", "2,215,270,corrugated")
    changed = planned(spoil("legs.csv", "4,440,520,gravel", "4,440,520,corrugated"), library)
    damper = expected(changed, "rear-damper") / expected(base, "rear-damper")
    clutch = expected(changed, "clutch-worn") / expected(base, "clutch-worn")
    assert damper > 1.4
    assert 1 <= clutch < damper


def test_larger_tyres_load_steering_and_joints(base: dict[str, Any], spoil: Spoil, library: Library) -> None:
    changed = planned(spoil("vehicles/wagon.toml", 'size = "265/75R16"', 'size = "315/75R16"'), library)
    for mode in ("front-joint", "steering-box-wear", "free-wheel-hub"):
        assert expected(changed, mode) > 1.05 * expected(base, mode), mode
    assert expected(changed, "fuel-filter-blocked") == pytest.approx(expected(base, "fuel-filter-blocked"), rel=0.05)


def test_five_more_years_of_known_history_age_rubber_and_webbing(spoil: Spoil, library: Library) -> None:
    """Known history: the same vehicle five years on. Tyres, belts and valves up; route events as they were."""
    known = "years = 8\nhistory_known = true"
    young = planned(spoil("vehicles/wagon.toml", "years = 33", known), library)
    old = planned(spoil("vehicles/wagon.toml", "years = 8", "years = 13"), library)
    for mode in ("tyre-aged", "seat-belt-webbing", "valve-leak"):
        assert expected(old, mode) > 1.5 * expected(young, mode), mode
    assert expected(old, "tyre-puncture") == pytest.approx(expected(young, "tyre-puncture"), rel=1e-6)


def test_a_defective_unsafe_finding_stops_the_vehicle(base: dict[str, Any], spoil: Spoil, library: Library) -> None:
    """A frayed seat belt is never bought off by spares: the state as found is no longer fit."""
    line = "2027-07-20,wagon,drive-belt,,worn"
    changed = planned(
        spoil("findings.csv", line, f"2027-07-20,wagon,brake-hose,,defective,,a mechanic,cracked\n{line}"), library
    )
    before, after = (p["vehicles"][0]["readiness"] for p in (base, changed))
    assert before["as_found"] in ("fit", "fit-with-limits")
    assert after["as_found"] in ("repair-first", "off-the-road")
    assert any(r["mode"] == "brake-hose" for r in after["reasons"])


def test_half_the_kit_limit_leaves_more_hours_lost(base: dict[str, Any], spoil: Spoil, library: Library) -> None:
    changed = planned(spoil("trip.toml", 'kit_mass = "90 kg"', 'kit_mass = "45 kg"'), library)
    chosen = changed["kit"]["mass_kg"] - changed["kit"]["must_carry_kg"]
    assert chosen <= 45 + 1e-6
    assert changed["kit"]["hours_with"] > base["kit"]["hours_with"]


def test_a_slower_escape_road_lengthens_the_way_to_help(base: dict[str, Any], spoil: Spoil, library: Library) -> None:
    changed = planned(spoil("trip.toml", 'surface = "gravel"', 'surface = "rock"'), library)
    longer = [
        a["index"]
        for a, b in zip(changed["legs"], base["legs"], strict=True)
        if (a["hours_to_help"].get("fuel") or 99) > (b["hours_to_help"].get("fuel") or 99) + 0.01
    ]
    assert longer
    assert len(longer) < len(base["legs"])
