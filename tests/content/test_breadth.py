"""The breadth the library promises, and that each entry says where its figures come from."""

from __future__ import annotations

import csv

import pytest

from fieldkit.specs.library import Library
from fieldkit.specs.read_library import load_library, shipped_folder

LEAST = {
    "archetypes": 10,
    "failure_modes": 120,
    "procedures": 130,
    "items": 240,
    "modifications": 60,
    "matching": 25,
    "symptoms": 100,
    "functions": 3,
}


@pytest.fixture(scope="module")
def library() -> Library:
    return load_library()


@pytest.mark.parametrize("part", LEAST)
def test_the_library_is_as_broad_as_promised(library: Library, part: str) -> None:
    assert len(getattr(library, part)) >= LEAST[part]


def test_every_row_of_gear_fills_its_evidence() -> None:
    for path in sorted(shipped_folder("vehicle_specs").glob("items/*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            assert [r["id"] for r in csv.DictReader(file) if not r["evidence"].strip()] == [], path.name


def test_a_trailer_has_no_weak_point_of_a_driven_vehicle(library: Library) -> None:
    """No handbrake lever, brake pipes or front dampers on what is towed."""
    has = set(library.archetypes["off-road-trailer"].features)
    mine = {k for k, m in library.failure_modes.items() if set(m.needs) <= has and not set(m.without) & has}
    assert not mine & {"brake-hose", "rear-brake-hose", "brake-line", "handbrake", "front-damper"}


def test_each_brake_circuit_counts_its_own_hose(library: Library) -> None:
    modes = library.failure_modes
    assert modes["brake-hose"].function == "brake-circuit-front"
    assert modes["rear-brake-hose"].function == "brake-circuit-rear"


def test_each_fuelled_or_electric_build_can_lose_its_electric_supply(library: Library) -> None:
    """Both ways of the supply exist on every build with an engine or a drive."""
    for key, build in library.archetypes.items():
        if build.fuel == "none":
            continue
        has = set(build.features)
        ways = {
            m.function
            for m in library.failure_modes.values()
            if set(m.needs) <= has and not set(m.without) & has and (not m.needs_any or set(m.needs_any) & has)
        }
        assert set(library.functions["electric-supply"].ways) <= ways, key
