"""What a vehicle does to a part, factor by factor, each with its reason."""

from __future__ import annotations

import numpy as np
import pytest
from small_case import archetype, library, loads, mode, modification, vehicle

from fieldkit.errors import InputFaults
from fieldkit.likelihood import stress
from fieldkit.likelihood.settings import settings_of


def test_factors_multiply_and_say_why() -> None:
    lib = library({"joint": mode(drivers={"tyre": 2.5, "front_torque": 3.0, "mass": 0.0})})
    build = archetype(stress={"joint": 1.3})
    lock = (
        "front-locker-fitted",
        modification(name="front lock", adds=["front-locker"], drivers={"front_torque": 1.8}),
        {},
    )
    brace = ("brace", modification(name="brace", stress={"joint": 0.5}, evidence="a maker's test"), {})
    found = stress(vehicle(build=build, parts=[lock, brace]), "joint", loads(tyre_ratio=1.1)["wagon"], lib, 0.1)
    assert found.factor == pytest.approx(1.3 * 1.1**2.5 * (0.9 + 0.1 * 1.8**3) * 0.5)
    assert found.factor == pytest.approx(np.prod([s.factor for s in found.steps]))
    assert [s.label for s in found.steps] == ["this build", "tyre diameter", "torque on one front shaft", "brace"]
    assert found.steps[1].reason == "1.1 of the build's, to the power 2.5"
    assert found.steps[2].reason == "1 of the build's, to the power 3; 1.8 times that while locked, 10 % of the time"
    assert found.steps[3].reason == "a maker's test"


def test_a_build_scales_how_much_a_driver_counts() -> None:
    lib = library({"rack": mode(drivers={"roof": 2.0})})
    tall = archetype(driver_exponents={"roof": 1.5})
    weighed = loads(ratios={"roof": 1.2})["wagon"]
    assert stress(vehicle(build=tall), "rack", weighed, lib).factor == pytest.approx(1.2**3)


def test_lift_counts_by_its_height_unless_the_part_says_more() -> None:
    lib = library({"joint": mode(drivers={"lift": 1.0})})
    plain = ("lift", modification(lift_mm=50), {})
    stated = ("lift", modification(lift_mm=50, drivers={"lift": 1.3}), {})
    assert stress(vehicle(parts=[plain]), "joint", loads()["wagon"], lib).factor == pytest.approx(1.1)
    assert stress(vehicle(parts=[stated]), "joint", loads()["wagon"], lib).factor == pytest.approx(1.3)


def test_settings_of_an_overlay_replace_whole_tables() -> None:
    lib = library({"joint": mode()}, settings={"likelihood": {"lift": {"mm_per_unit": 250.0}}})
    assert settings_of(lib).lift.mm_per_unit == 250.0
    assert settings_of(lib).evidence.vehicle == settings_of(library({})).evidence.vehicle


def test_a_mistyped_setting_is_a_fault_with_its_nearest_name() -> None:
    lib = library({}, settings={"likelihood": {"lift": {"mm_per_unitt": 250.0}}})
    with pytest.raises(InputFaults) as odd:
        settings_of(lib)
    assert "unknown key 'mm_per_unitt'" in str(odd.value)
    assert "did you mean 'mm_per_unit'?" in str(odd.value)
