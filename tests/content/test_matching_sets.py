"""Every kind of set that must match: a vehicle that violates it is named with the set whole, one that matches is not.

The sets themselves are common practice, no source.
"""

from __future__ import annotations

import pytest

from fieldkit.inspection.defects import broken_rules
from fieldkit.specs.library import Library
from fieldkit.specs.read_library import load_library

NEWER = {"newer-front-joints", "newer-steering-arms", "newer-drag-link", "newer-steering-box"}
#: kind of set -> (rule, fitted and wrong, the other side of the set that is named, fitted and right)
SETS: dict[str, tuple[str, set[str], set[str], set[str]]] = {
    "steering parts of one axle generation": (
        "steering-of-one-generation",
        {"newer-front-joints", "newer-drag-link"},
        {"newer-steering-arms", "newer-steering-box"},
        NEWER,
    ),
    "final-drive ratio front and rear": (
        "final-drive-front-and-rear",
        {"lower-rear-gears"},
        {"lower-front-gears"},
        {"lower-rear-gears", "lower-front-gears"},
    ),
    "rolling size front and rear": (
        "rolling-size-front-and-rear",
        {"unlike-rolling-sizes", "full-time-four-wheel-drive"},
        {"full-time-four-wheel-drive"},
        {"full-time-four-wheel-drive"},
    ),
    "callipers against rim": (
        "wide-callipers-small-rims",
        {"bigger-callipers", "odd-spare"},
        {"odd-spare"},
        {"bigger-callipers"},
    ),
    "brake master bore": (
        "master-cylinder-and-callipers",
        {"bigger-callipers"},
        {"larger-master-cylinder"},
        {"bigger-callipers", "larger-master-cylinder"},
    ),
    "hub, spline and ring": (
        "rings-on-bargain-hubs",
        {"hub-strengthening-rings", "bargain-free-wheel-hubs"},
        {"bargain-free-wheel-hubs"},
        {"hub-strengthening-rings"},
    ),
    "bump-stop length against lift and damper": (
        "lift-and-bump-stops",
        {"lifted-over-75-mm"},
        {"long-bump-stops", "air-springs"},
        {"lifted-over-75-mm", "long-bump-stops"},
    ),
    "air helper against unbraced tower": (
        "air-helper-on-unbraced-tower",
        {"air-helper-in-coil"},
        {"tower-brace-in-tower", "unibody"},
        {"air-helper-in-coil", "tower-brace-in-tower"},
    ),
    "rack on rusty gutters": (
        "rack-on-patched-gutters",
        {"gutter-roof", "patched-gutters", "steel-roof-rack"},
        {"steel-roof-rack"},
        {"gutter-roof", "steel-roof-rack"},
    ),
    "locker against shafts": (
        "locker-on-old-joints",
        {"front-locker-fitted"},
        {"newer-front-joints", "front-independent", "hub-strengthening-rings", "fixed-drive-flanges"},
        {"front-locker-fitted", "newer-front-joints"},
    ),
    "fan clearance against mounts": (
        "firm-mounts-and-fan",
        {"uprated-both-mounts", "uprated-torque-side-mount"},
        {"uprated-torque-side-mount"},
        {"uprated-both-mounts"},
    ),
    "wheel spare against fitted": (
        "odd-spare-with-full-time-drive",
        {"odd-spare", "rear-locker"},
        {"rear-locker"},
        {"rear-locker"},
    ),
    "charging plug": (
        "charging-plug",
        {"high-voltage"},
        {"charge-adapter", "hybrid"},
        {"high-voltage", "charge-adapter"},
    ),
    "fuel kind, diesel engine": (
        "petrol-cans-on-a-diesel",
        {"diesel", "petrol-can-holder"},
        {"petrol-can-holder"},
        {"diesel", "diesel-can-holder"},
    ),
    "fuel kind, petrol engine": (
        "diesel-cans-on-a-petrol-engine",
        {"petrol", "diesel-can-holder"},
        {"diesel-can-holder"},
        {"petrol", "petrol-can-holder"},
    ),
}


@pytest.fixture(scope="module")
def library() -> Library:
    return load_library()


@pytest.mark.parametrize("kind", SETS)
def test_a_set_that_does_not_match_is_named_whole(library: Library, kind: str) -> None:
    rule, wrong, other, _ = SETS[kind]
    have, named = broken_rules(library.matching, frozenset(wrong))[rule]
    assert have == wrong & set(library.matching[rule].parts)
    assert named == other


@pytest.mark.parametrize("kind", SETS)
def test_a_set_that_matches_is_not_named(library: Library, kind: str) -> None:
    rule, _, _, right = SETS[kind]
    assert rule not in broken_rules(library.matching, frozenset(right))


def test_every_rule_can_be_broken_and_kept(library: Library) -> None:
    """No rule is dead: its first part alone, or with what is in its way, breaks it; no part fitted keeps it."""
    for key, rule in library.matching.items():
        wrong = {rule.parts[0]} | (set(rule.with_any[:1]) if rule.kind == "conflict" else set())
        assert key in broken_rules({key: rule}, frozenset(wrong)), key
        assert not broken_rules({key: rule}, frozenset()), key


def test_the_workshop_fits_whole_sets_only(library: Library) -> None:
    """An option that fits one part of a set fits all of it: work before leaving never makes a mixed set."""
    for key, mode in library.failure_modes.items():
        for option in mode.workshop:
            rules = {k: r for k, r in library.matching.items() if r.kind == "all-or-none"}
            assert not broken_rules(rules, frozenset(option.fits)), (key, option.id)
