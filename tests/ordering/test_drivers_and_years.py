"""Each driver of wear moves the weak points that name it, and what perishes ages by the calendar: common practice, no source."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, get_args

import pytest

from fieldkit.likelihood.result import Risks
from fieldkit.specs.base import Driver
from fieldkit.specs.library import Library

Rough = Callable[..., Risks]

#: what stands still and ages all the same: kind -> weak points
PERISHES = {
    "rubber": ("brake-hose", "rear-brake-hose", "coolant-hose-burst", "drive-belt", "fuel-line-leak", "front-shaft-gaiter", "tyre-aged"),
    "seals and fluids": ("clutch-hydraulics", "rear-drum-cylinder", "calliper-seized", "radiator-cap-weak", "gas-leak"),
    "batteries": ("starting-battery", "second-battery"),
    "webbing": ("seat-belt-webbing", "cargo-restraint"),
}  # fmt: skip
STEEL = ("lower-arm-bent", "front-spring", "rear-differential-gears", "tie-rod-end", "rear-wheel-bearing")


def figures(rough: Rough, build: str, *parts: str, **changes: Any) -> dict[str, float]:
    """Expected failures of each weak point's own, without damage from others."""
    found = rough(*parts, build=build, **changes).by_key
    return {m: sum(float(p.own[-1]) for p in r.hazard.positions) for (_, m), r in found.items()}


def aged(years: int) -> dict[str, Any]:
    return {"odometer": "60000 km", "years": years, "usual": {"sealed": 1.0}, "history_known": True}


@pytest.mark.parametrize("driver", get_args(Driver))
def test_each_driver_moves_the_weak_points_that_name_it(library: Library, rough: Rough, driver: str) -> None:
    seen = 0
    for build in library.archetypes:
        plain, driven = figures(rough, build), figures(rough, build, driven={driver: 1.3})
        for mode, before in plain.items():
            exponents: dict[Any, float] = dict(library.failure_modes[mode].drivers)
            exponent = exponents.get(driver, 0.0)
            if exponent and before > 0:
                assert (driven[mode] - before) * exponent > 0, (build, mode)
                seen += 1
        if seen >= 3:
            break
    assert seen >= 1


@pytest.mark.parametrize("kind", PERISHES)
def test_what_perishes_ages_by_the_years(library: Library, rough: Rough, kind: str) -> None:
    """The same distance in 5, 15 and 30 years."""
    for mode in PERISHES[kind]:
        seen = 0
        for build in library.archetypes:
            parts = [p for p in ("second-battery-system",) if mode == "second-battery"]
            years = (5, 15, 30)
            young, middle, old = (figures(rough, build, *parts, age=aged(y), since="1000 km").get(mode) for y in years)
            if young is not None and middle is not None and old is not None:
                assert young <= middle < old, (build, mode)
                seen += 1
            if seen >= 2:
                break
        assert seen >= 1, mode


def test_steel_does_not_age_by_standing(library: Library, rough: Rough) -> None:
    build = "live-axle-wagon-mechanical-diesel"
    young, old = (figures(rough, build, age=aged(y)) for y in (5, 30))
    for mode in STEEL:
        assert old[mode] == pytest.approx(young[mode]), mode


def test_a_renewed_hose_starts_its_years_anew(rough: Rough) -> None:
    build = "live-axle-wagon-mechanical-diesel"
    old = figures(rough, build, age=aged(30))["coolant-hose-burst"]
    made_new = [{"failure_mode": "coolant-hose-burst", "km": "59000 km"}]
    assert figures(rough, build, age=aged(30), renewed=made_new)["coolant-hose-burst"] < 0.5 * old
