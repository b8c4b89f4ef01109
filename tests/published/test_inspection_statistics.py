"""Prior shares of worn parts against what road-car inspections find: orders of magnitude and growth with age.

UK Driver and Vehicle Standards Agency, initial failures by category, July-September 2019 (read in a copy); German periodic inspections
2020 of one large organisation (read): any defect about 8 % up to three years, 20 % at five to seven, 40 % over nine. Road cars, not
expedition vehicles: the fleet is the unibody build in ordinary use, its history unknown, ages as on the road (invented, stated below).
"""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from small_case import exposure, leg, loads, trip, vehicle

from fieldkit.likelihood import hazards
from fieldkit.specs.library import Library

MAP: dict[str, Any] = tomllib.loads((Path(__file__).parent / "inspection_categories.toml").read_text(encoding="utf-8"))
CATEGORIES = list(MAP)
AGES = (
    3,
    4,
    5,
    6,
    7,
    8,
    9,
    10,
    11,
    12,
    13,
    14,
    15,
    16,
    18,
)  # years, from the first inspection on, equal shares: invented


@pytest.fixture(scope="module")
def worn(library: Library) -> dict[str, dict[int, float]]:
    """Category -> age [years] -> chance that at least one of its weak points shows wear, 12,000 km a year."""
    fleet = [
        vehicle(
            f"y{years}",
            library.archetypes["unibody-all-wheel-drive"],
            age={"odometer": f"{12_000 * years} km", "years": years, "usual": {"sealed": 0.98, "gravel": 0.02}},
            tyres={"size": "225/60R17"},
        )
        for years in AGES
    ]
    road = exposure([replace(leg(0, 1.0, "sealed"), surface="sealed")], np.ones((8, 1)))
    found = hazards(trip(library, fleet, days=1), road, loads(*[v.id for v in fleet]))
    shares: dict[str, dict[int, float]] = {}
    for category in CATEGORIES:
        for years in AGES:
            there = [found.modes[(f"y{years}", m)] for m in MAP[category]["modes"] if (f"y{years}", m) in found.modes]
            none = np.prod([1 - p.prior_degraded for h in there for p in h.positions])
            shares.setdefault(category, {})[years] = float(1 - none)
    return shares


@pytest.mark.parametrize("category", CATEGORIES)
def test_shares_lie_within_a_factor_of_two(worn: dict[str, dict[int, float]], category: str) -> None:
    share = 100 * float(np.mean(list(worn[category].values())))
    printed = MAP[category]["share"]
    assert printed / 2 <= share <= printed * 2, f"{share:.1f} % against {printed} %"


def test_any_defect_grows_with_age_as_published(worn: dict[str, dict[int, float]]) -> None:
    """Published: any defect about 8 % up to three years, 20 % at five to seven, 40 % over nine. Ours rises at each step.

    Less steeply, since parts are renewed; lamps and tyres alone need not rise: bulbs do not age and tread is renewed as it wears.
    """
    clear = {y: np.prod([1 - worn[c][y] for c in CATEGORIES]) for y in AGES}
    found = {y: float(1 - x) for y, x in clear.items()}
    middle, old = np.mean([found[y] for y in (5, 6, 7)]), np.mean([found[y] for y in AGES if y > 9])
    assert found[3] < middle < old


@pytest.mark.parametrize("category", ["brakes", "suspension", "steering"])
def test_shares_grow_with_age_as_published(worn: dict[str, dict[int, float]], category: str) -> None:
    """Published steps: up to three years, five to seven, over nine. Ours rise at each; less steeply, since parts are renewed."""
    young = worn[category][3]
    middle = np.mean([worn[category][y] for y in (5, 6, 7)])
    old = np.mean([worn[category][y] for y in AGES if y > 9])
    assert young < middle < old
    assert old > 1.5 * young


def test_the_categories_that_age_rise_by_the_published_steps(worn: dict[str, dict[int, float]]) -> None:
    """Published: any defect 8, 20 and 40 % (up to three years, five to seven, over nine): steps of 2.5 and 2.0.

    Brakes, suspension and steering together rise by such steps, within a factor of 1.5; lamps and tyres, which were calibrated on their
    shares, stay level (docs/decisions.md) and would hide it.
    """
    aging = ("brakes", "suspension", "steering")
    found = {y: 1 - float(np.prod([1 - worn[c][y] for c in aging])) for y in AGES}
    young, middle, old = (
        found[3],
        float(np.mean([found[y] for y in (5, 6, 7)])),
        float(np.mean([found[y] for y in AGES if y > 9])),
    )
    for step, printed in ((middle / young, 20 / 8), (old / middle, 40 / 20)):
        assert printed / 1.5 <= step <= printed * 1.5
