"""The shipped builds, parts and example trips hold together as masses."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from loaded_case import trip

from fieldkit.loads import axle_loads, load_capacity_kg, parse_tyre, weigh
from fieldkit.loads.aboard import aboard
from fieldkit.recovery import plan_recovery
from fieldkit.specs.library import Library
from fieldkit.specs.read_library import shipped_folder
from fieldkit.specs.read_trip import load_trip
from fieldkit.specs.trip import Fitted, Vehicle, VehicleEntry, VehicleSpec

ARCHETYPES = sorted(p.stem for p in (shipped_folder("vehicle_specs") / "archetypes").glob("*.toml"))
EXAMPLES = sorted(p.name for p in (shipped_folder("vehicle_specs") / "example_trips").iterdir() if p.is_dir())


def plain(library: Library, build: str) -> Vehicle:
    spec = VehicleSpec.model_validate({"name": build, "based_on": build})
    return Vehicle(VehicleEntry(id="one", spec="vehicles/one.toml", crew=0), spec, library.archetypes[build])


@pytest.mark.parametrize("build", ARCHETYPES)
def test_a_build_as_it_left_the_factory_is_within_its_limits(library: Library, build: str) -> None:
    """Kerb axles as written, every limit kept, payload left, a tipping angle that no road vehicle exceeds."""
    one = plain(library, build)
    masses = one.archetype.masses
    found = weigh(trip(one, lib=library))["one"]
    kerb = axle_loads(aboard(one).built, one.archetype.wheelbase_m, one.archetype.track_m)
    assert (kerb.front_kg, kerb.rear_kg) == (pytest.approx(masses.kerb_front_kg), pytest.approx(masses.kerb_rear_kg))
    assert found.verdict == "within"
    assert found.payload_left_kg > 200
    assert 25 < found.states["as-built"].static_roll_deg < 60


@pytest.mark.parametrize("build", ARCHETYPES)
def test_a_builds_own_tyres_carry_its_axle_limits(library: Library, build: str) -> None:
    archetype = library.archetypes[build]
    pair = 2 * load_capacity_kg(archetype.tyre.load_index)
    axles = [archetype.masses.rear_limit_kg]
    if "trailer" not in archetype.features:
        axles.append(archetype.masses.front_limit_kg)
    assert pair >= max(axles)
    assert 550 < parse_tyre(archetype.tyre.size).diameter_mm < 1000


@pytest.mark.parametrize("build", [b for b in ARCHETYPES if "trailer" not in b])
def test_every_part_that_goes_on_a_build_sits_in_a_place_it_has(library: Library, build: str) -> None:
    """A heavy part without a place would be taken in the vehicle's middle: the library names one that the build has."""
    one, lost = plain(library, build), []
    for key, part in sorted(library.modifications.items()):
        have = one.features | {key}
        if set(part.needs) <= have and not set(part.without) & one.features:
            fitted = replace(one, modifications=((Fitted(id=key), part),))
            lost += [f"{key}: {c}" for c in aboard(fitted).cautions]
    assert lost == []


@pytest.mark.parametrize("name", EXAMPLES)
def test_an_example_trip_is_weighed_and_its_recovery_planned(library: Library, name: str) -> None:
    """No faults; every vehicle weighed on a bridge, none overloaded; pulls rise with depth."""
    whole = load_trip(Path(shipped_folder("vehicle_specs")) / "example_trips" / name, library)
    loads = weigh(whole)
    for found in loads.vehicles.values():
        assert found.unexplained_kg is not None
        assert found.verdict != "overloaded", found.ways_back
    for vehicle in plan_recovery(whole, loads).vehicles:
        by = {(s, slope, d): high for s, slope, d, _, high, _ in vehicle.table}
        for (surface, slope, depth), high in by.items():
            if depth == "axle":
                assert by[(surface, slope, "none")] < by[(surface, slope, "rim")] < high
