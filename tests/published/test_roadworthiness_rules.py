"""The library's unsafe defects against a published roadworthiness rule set; local law decides, not this list.

Source: Driver and Vehicle Standards Agency (Great Britain), "MOT inspection manual: cars and passenger vehicles", sections as
named in ``roadworthiness_rules.toml``, with what was seen and what comes from memory. The manual follows Directive 2014/45/EU,
Annex I, whose classes are minor, major and dangerous.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from fieldkit.specs.read_library import load_library

RULES: dict[str, list[dict[str, Any]]] = tomllib.loads(
    (Path(__file__).parent / "roadworthiness_rules.toml").read_text(encoding="utf-8")
)
LIBRARY = load_library()


@pytest.mark.parametrize("rule", RULES["rule"], ids=lambda r: f"{r['section']} {r['mode']}")
def test_what_the_rule_set_calls_dangerous_stops_a_vehicle_here(rule: dict[str, Any]) -> None:
    """Defective is off the road or repair first, whatever else is good."""
    assert LIBRARY.failure_modes[rule["mode"]].readiness == "unsafe-defect", rule["what"]


@pytest.mark.parametrize("rule", RULES["partly"], ids=lambda r: f"{r['section']} {r['mode']}")
def test_what_is_met_only_in_part_is_argued(rule: dict[str, Any]) -> None:
    mode = LIBRARY.failure_modes[rule["mode"]]
    assert mode.readiness != "unsafe-defect"
    assert len(rule["why"].split()) > 8
    assert rule["mode"] not in {r["mode"] for r in RULES["rule"]}


def test_every_braking_steering_and_wheel_point_that_stops_a_vehicle_is_in_the_rule_set_or_beyond_it() -> None:
    """Nothing in brakes, steering or wheels is called unsafe here without a row, but what the manual does not test."""
    beyond = {
        "brake-booster": "the manual rates it major",
        "handbrake": "the manual rates it major; here nothing else holds the vehicle while somebody is beneath",
        "steering-rack": "2.1.2 covers it with the box",
    }
    named = {r["mode"] for r in RULES["rule"]}
    unsafe = {
        key
        for key, mode in LIBRARY.failure_modes.items()
        if mode.readiness == "unsafe-defect" and LIBRARY.subsystem_of[key] in ("brakes", "steering", "wheel-bearings")
    }
    assert unsafe - named == set(beyond)
