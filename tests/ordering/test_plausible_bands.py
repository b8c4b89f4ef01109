"""Each weak point's chance on 2,500 rough km against a mechanic's bands: common practice and judgement, no source.

O: an old, laden, unprepared wagon of unknown history. P: a prepared one, nine years old, its parts that are due renewed and
everything looked at and found sound. Bands are chances in percent of at least once. Each row lies in its band, or stands in ``OUTSIDE``
with its figure and why, and then still within a factor of 1.35 of the band for O, of 2 for P.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from fieldkit.likelihood.hazard import has_part
from fieldkit.likelihood.result import Risks
from fieldkit.loads.fitted_tyres import features_of
from fieldkit.specs.library import Library

Rough = Callable[..., Risks]

# row of the table: weak points, band of O, band of P, share (%) that leaves the vehicle disabled after the usual field repair
BANDS: dict[str, tuple[tuple[str, ...], tuple[float, float], tuple[float, float], float]] = {
    "tyre flat or cut": (("tyre-puncture", "tyre-sidewall-cut"), (55, 85), (25, 50), 1),
    "two or more casings lost": (("casings-two-lost",), (8, 20), (2, 5), 40),
    "overheats, must wait": (
        ("radiator-core-blocked", "fan-hub-weak", "thermostat-stuck", "radiator-cap-weak"), (20, 45), (3, 8), 3,
    ),
    "cooling ends the drive": (
        ("radiator-leak", "coolant-hose-burst", "water-pump-wear", "water-pump-housing-erosion", "head-gasket"),
        (4, 10), (0.7, 2), 60,
    ),
    "damper dead": (("front-damper", "rear-damper"), (25, 50), (5, 12), 0),
    "spring broken": (("front-spring", "rear-spring"), (3, 8), (0.5, 1.5), 20),
    "spring-tower crack acts": (("spring-tower-crack",), (5, 15), (0.7, 2), 12),
    "lower arm bent": (("lower-arm-bent",), (3, 8), (0.5, 1.5), 25),
    "front hub": (("free-wheel-hub",), (3, 12), (0.7, 2.5), 5),
    "front joint": (("front-joint",), (1, 6), (0.5, 2), 10),
    "steering link bent or end": (("tie-rod-bent", "tie-rod-end", "steering-arm"), (3, 7), (0.5, 1.5), 45),
    "wheel bearing or seal": (("front-wheel-bearing", "rear-wheel-bearing"), (5, 12), (1, 3), 25),
    "rear differential, drive lost": (("rear-differential-gears",), (1.5, 4), (0.3, 1), 50),
    "engine or gearbox mount": (
        ("engine-mount-torque-side", "engine-mount-other-side", "gearbox-mount"), (5, 12), (1, 2.5), 5,
    ),
    "alternator, charging": (("alternator-charging",), (4, 9), (1, 3), 15),
    "battery, terminals": (("starting-battery", "battery-terminals"), (8, 15), (2, 4), 15),
    "fuel starved or dirty": (("fuel-filter-blocked", "fuel-lift-pump", "wrong-or-dirty-fuel"), (8, 18), (2, 5), 20),
    "added wiring": (("added-wire-chafe", "added-connector-or-fuse"), (15, 35), (4, 10), 5),
    "brake hydraulics": (("brake-hose", "rear-brake-hose", "brake-line", "rear-drum-cylinder"), (3, 7), (0.5, 1.5), 25),
    "propshaft joint": (("front-propshaft-joint", "rear-propshaft-joint"), (3, 6), (0.5, 1.5), 8),
}  # fmt: skip
BESIDE: dict[str, tuple[tuple[str, ...], tuple[float, float], tuple[float, float], float]] = {
    "bogged beyond boards": (("bogged-sand", "bogged-mud", "bellied", "stuck-in-water"), (30, 60), (15, 30), 0),
    "rack, bar, fit-out fastener": (
        ("roof-rack-mount", "front-bar-mount", "drawer-fastener", "rear-wheel-carrier-crack", "tank-mount", "rooftop-tent-mount"),
        (25, 50), (8, 15), 0,
    ),
    "grass fire": (("dry-grass-fire",), (0.1, 0.5), (0.02, 0.1), 0),
}  # fmt: skip
DRIVER = (
    "only the driver can help it: the bands assume a careful one, both wagons here are driven as usual (driving.care)"
)
PASSED = "everything here was looked at and passed, which the band does not assume"
#: (row, kind): chance [%] and why it stands outside its band
OUTSIDE: dict[tuple[str, str], tuple[float, str]] = {
    ("tyre flat or cut", "P"): (56.5, DRIVER),
    ("two or more casings lost", "P"): (6.9, DRIVER),
    ("bogged beyond boards", "P"): (32.1, DRIVER),
    ("overheats, must wait", "P"): (8.3, "the core is looked at and clean, not taken out and flow-tested"),
    ("spring broken", "O"): (
        2.7,
        "new-when-unknown springs are averaged over their whole life; a tenth below the band",
    ),
    ("spring broken", "P"): (0.30, PASSED),
    ("front joint", "P"): (0.37, PASSED),
    ("wheel bearing or seal", "O"): (4.98, "level with the band's edge"),
    ("wheel bearing or seal", "P"): (0.54, PASSED),
    ("rear differential, drive lost", "P"): (0.24, PASSED),
    ("propshaft joint", "O"): (2.3, "owners grease or renew joints, so their age is spread; a quarter below the band"),
    ("propshaft joint", "P"): (0.27, PASSED),
    ("added wiring", "P"): (
        14.9,
        "a look finds chafe inside a loom seldom, and this wagon carries a second battery and a fridge",
    ),
    ("rack, bar, fit-out fastener", "P"): (5.6, "this wagon carries drawers only, neither rack nor bar"),
    ("grass fire", "P"): (0.10, "level with the band's edge"),
}
NEAR = {"O": 1.35, "P": 2.0}
RENEWED = (
    "front-damper", "rear-damper", "starting-battery", "drive-belt", "fuel-filter-blocked", "coolant-hose-burst", "brake-pads",
    "radiator-cap-weak", "radiator-core-blocked", "fan-hub-weak", "thermostat-stuck", "alternator-charging",
    "engine-mount-torque-side", "front-wheel-bearing", "rear-wheel-bearing",
)  # fmt: skip


@pytest.fixture(scope="module")
def wagons(library: Library, rough: Rough) -> dict[str, Risks]:
    """The old and the prepared wagon on the rough road."""
    past: dict[str, Any] = {"sealed": 0.65, "gravel": 0.25, "corrugated": 0.1}
    old = rough(
        *(
            "steel-roof-rack",
            "front-bar-plain",
            "grille-lights",
            "second-battery-system",
            "fridge-fitted",
            "roof-tent-fitted",
        ),
        since="150000 km",
        age={"odometer": "320000 km", "years": 32, "usual": past},
        tyres={"size": "255/85R16"},
        tyre=1.04,
        ratios={"mass": 1.08, "front_load": 1.05, "rear_load": 1.12, "roof": 1.3},
    )
    has = features_of_build(library)
    looked = [(k, "sound") for k, m in library.failure_modes.items() if m.inspection and has_part(m, has)]
    prepared = rough(
        *("second-battery-system", "fridge-fitted", "drawers-fitted"),
        since="70000 km",
        age={
            "odometer": "110000 km",
            "years": 9,
            "usual": {"sealed": 0.7, "gravel": 0.25, "corrugated": 0.05},
            "history_known": True,
        },
        renewed=[{"failure_mode": m, "km": "75000 km"} for m in RENEWED],
        shakedown="500 km",
        findings=looked,
        ratios={"mass": 1.0, "front_load": 1.0, "rear_load": 1.02, "roof": 0.5},
    )
    return {"O": old, "P": prepared}


def features_of_build(library: Library) -> frozenset[str]:
    from small_case import vehicle

    parts = [(p, library.modifications[p], {}) for p in ("second-battery-system", "fridge-fitted", "drawers-fitted")]
    return features_of(vehicle("wagon", library.archetypes["live-axle-wagon-mechanical-diesel"], parts))


def chance(risks: Risks, modes: tuple[str, ...]) -> float:
    """At least one of these, in percent; parts the wagon does not have are left out."""
    there = [risks.by_key[("wagon", m)].chance.value for m in modes if ("wagon", m) in risks.by_key]
    assert there
    return 100 * (1 - float(np.prod([1 - p for p in there])))


@pytest.mark.parametrize("row", [*BANDS, *BESIDE])
@pytest.mark.parametrize("kind", ["O", "P"])
def test_row_lies_in_or_near_its_band(wagons: dict[str, Risks], kind: str, row: str) -> None:
    modes, old, prepared, _ = {**BANDS, **BESIDE}[row]
    low, high = old if kind == "O" else prepared
    found = chance(wagons[kind], modes)
    assert low / NEAR[kind] <= found <= high * NEAR[kind], f"{found:.2f} % against {low} to {high} %"
    if (row, kind) in OUTSIDE:
        assert not low <= found <= high, "inside its band now: strike it from OUTSIDE"
        assert found == pytest.approx(OUTSIDE[(row, kind)][0], rel=0.05)
    else:
        assert low <= found <= high, f"{found:.2f} % against {low} to {high} %: argue it in OUTSIDE"


@pytest.mark.parametrize(("kind", "low", "high"), [("O", 17, 38), ("P", 4, 10)])
def test_disabled_share_over_the_table_alone(wagons: dict[str, Risks], kind: str, low: float, high: float) -> None:
    """1 - exp(-sum of -ln(1 - p) * share left disabled) over the table's twenty rows."""
    total = sum(-np.log(1 - chance(wagons[kind], modes) / 100) * share / 100 for modes, _, _, share in BANDS.values())
    assert low <= 100 * (1 - np.exp(-total)) <= high


def test_a_prepared_wagon_is_better_in_every_row(wagons: dict[str, Risks]) -> None:
    for row, (modes, *_) in {**BANDS, **BESIDE}.items():
        assert chance(wagons["P"], modes) < chance(wagons["O"], modes), row


@pytest.mark.parametrize(("kind", "whole", "without_bogging"), [("O", 75, 61), ("P", 49, 25)])
def test_total_of_the_whole_library_is_as_argued(
    wagons: dict[str, Risks], library: Library, kind: str, whole: float, without_bogging: float
) -> None:
    """Any disabling or unsafe failure, before any repair: docs/decisions.md argues these totals; no band is set for them."""
    bogged = BESIDE["bogged beyond boards"][0]
    severe = [m for _, m in wagons[kind].by_key if library.failure_modes[m].severity in ("disabled", "unsafe")]
    assert chance(wagons[kind], tuple(severe)) == pytest.approx(whole, abs=2)
    assert chance(wagons[kind], tuple(m for m in severe if m not in bogged)) == pytest.approx(without_bogging, abs=2)
