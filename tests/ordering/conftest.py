"""A rough trip and vehicles of the shipped library for ordering checks; masses by hand, so that one thing changes at a time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from small_case import exposure, leg, loads, trip, vehicle

from fieldkit.inspection import after_work, beliefs, work_options
from fieldkit.likelihood import hazards, risks
from fieldkit.likelihood.result import Risks
from fieldkit.specs.base import CHANNELS
from fieldkit.specs.library import Library, Modification

AGE = {"odometer": "180000 km", "years": 16, "usual": {"sealed": 0.7, "gravel": 0.3}, "history_known": False}
ROUGH = (("corrugated", 1700.0), ("sand", 500.0), ("rock", 300.0))


def rough_road(library: Library) -> Any:
    """2,500 km: 68 % corrugated, 20 % sand, 12 % rock, over nine days."""
    legs, start = [], 0.0
    for i, (name, km) in enumerate(ROUGH):
        surface = library.surfaces[name]
        plain = leg(i, km, "rough", start, day=1 + 3 * i, hours=km / surface.speed_kmh)
        legs.append(replace(plain, surface=name, need=surface.need, difficulty=surface.difficulty))
        start += km
    intensity = np.array([[getattr(library.surfaces[x.surface], c) for x in legs] for c in CHANNELS], float)
    return exposure(legs, intensity)


@pytest.fixture(scope="session")
def rough(library: Library) -> Callable[..., Risks]:
    """Risks of one vehicle on the rough road: its build, fitted parts, ratios, findings."""

    def run(
        *parts: str,
        build: str = "live-axle-wagon-mechanical-diesel",
        ratios: dict[str, float] | None = None,
        tyre: float = 1.0,
        findings: Sequence[tuple[str, str]] = (),
        age: dict[str, Any] | None = None,
        locked_share: float = 0.2,
        since: str = "179000 km",
        driven: dict[str, float] | None = None,
        **spec: Any,
    ) -> Risks:
        fitted = [(p, library.modifications[p], {"since_km": since}) for p in parts]
        if driven:  # a made-up part that does nothing else
            made = {"name": "made-up part", "summary": "a test", "drivers": driven, "gives_up": "-", "legality": "-"}
            fitted.append(("made-up", Modification.model_validate(made), {"since_km": since}))
        one = vehicle("wagon", library.archetypes[build], fitted, age=age or AGE, **spec)
        found = [("wagon", mode, "", what) for mode, what in findings]
        case = trip(library, [one], found, days=9, driving={"locked_share": locked_share})
        hazard = hazards(case, rough_road(library), loads(ratios=ratios, tyre_ratio=tyre))
        return risks(case, hazard, beliefs(case, hazard).degraded)

    return run


@pytest.fixture(scope="session")
def figure(rough: Callable[..., Risks]) -> Callable[..., float]:
    """Expected failures of one weak point of the wagon."""

    def run(mode: str, *parts: str, **changes: Any) -> float:
        return rough(*parts, **changes).by_key[("wagon", mode)].expected.value

    return run


@pytest.fixture(scope="session")
def worked(library: Library) -> Callable[[str, str], float]:
    """Expected failures of a weak point of the wagon on the rough road once one of its workshop options is done."""
    one = vehicle("wagon", library.archetypes["live-axle-wagon-mechanical-diesel"], age=AGE)
    case = trip(library, [one], days=9, driving={"locked_share": 0.2})
    hazard = hazards(case, rough_road(library), loads())
    options = work_options(case, hazard, beliefs(case, hazard))

    def run(mode: str, option: str) -> float:
        chosen = [w for w in options if (w.mode, w.option.id) == (mode, option)]
        assert chosen, f"{option} is not offered"
        return risks(case, *after_work(hazard, {}, chosen)).by_key[("wagon", mode)].expected.value

    return run
