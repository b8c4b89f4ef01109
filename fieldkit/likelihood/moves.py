"""Which of a vehicle's inputs move its total most: each put back to plain, one at a time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldkit.exposure.result import Exposure
from fieldkit.likelihood.hazard import hazards
from fieldkit.likelihood.risk import Key, expected_by_leg
from fieldkit.likelihood.settings import Settings, settings_of
from fieldkit.likelihood.totals import severity_on
from fieldkit.loads.result import Loads
from fieldkit.specs.trip import Driving, Trip, Vehicle

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Move:
    """One input, and the expected disabling failures with it as it is and put back to plain."""

    label: str
    now: float
    without: float

    @property
    def change(self) -> float:
        """What the input adds; below 0 it takes away."""
        return self.now - self.without


def what_moves(
    trip: Trip,
    exposure: Exposure,
    loads: Loads,
    vehicle: str,
    beliefs: Mapping[Key, Sequence[float]] | None = None,
    most: int = 5,
) -> list[Move]:
    """The inputs that move a vehicle's expected disabling failures most, the largest first.

    Each fitted part off, each mass and tyre ratio back to the build's, half the age, no findings, no locking, driven as most do, and the
    kilometres of each surface left out, one at a time.

    Parameters
    ----------
    beliefs : mapping or None
        (vehicle, weak point) -> chance of wear per position, as for ``risks``.
    most : int
        How many to return.
    """
    own = _only(trip, trip.vehicle(vehicle))
    believed = {k: v for k, v in (beliefs or {}).items() if k[0] == vehicle}
    now = expected_by_leg(own, hazards(own, exposure, loads), believed)
    total = disabling(own, now, exposure)
    moves = [Move(label, total, total - lost) for label, lost in _by_surface(own, now, exposure)]
    for label, changed, weighed, known in _changes(own, loads, vehicle, believed, settings_of(trip.library)):
        found = expected_by_leg(changed, hazards(changed, exposure, weighed), known)
        moves.append(Move(label, total, disabling(changed, found, exposure)))
    moves = [m for m in moves if abs(m.change) > 1e-12]
    return sorted(moves, key=lambda m: (-abs(m.change), m.label))[:most]


def disabling(trip: Trip, expected: Mapping[Key, Floats], exposure: Exposure) -> float:
    """Expected disabling failures, by what each leg needs; ``expected`` by (vehicle, weak point), shape (legs,)."""
    return float(_disabling_by_leg(trip, expected, exposure).sum())


def _disabling_by_leg(trip: Trip, expected: Mapping[Key, Floats], exposure: Exposure) -> Floats:
    modes, needs = trip.library.failure_modes, [leg.need for leg in exposure.legs]
    total = np.zeros(len(needs))
    for (_, key), by_leg in expected.items():
        stops = {need: severity_on(modes[key], need) in ("disabled", "unsafe") for need in set(needs)}
        total += by_leg * np.array([stops[need] for need in needs])
    return total


def _by_surface(trip: Trip, expected: Mapping[Key, Floats], exposure: Exposure) -> list[tuple[str, float]]:
    by_leg = _disabling_by_leg(trip, expected, exposure).tolist()
    lost: dict[str, float] = {}
    for leg, value in zip(exposure.legs, by_leg, strict=True):
        lost[leg.surface] = lost.get(leg.surface, 0.0) + value
    km = {s: sum(leg.km for leg in exposure.legs if leg.surface == s) for s in lost}
    return [(f"{km[s]:.0f} km of {trip.library.surfaces[s].name}", value) for s, value in lost.items()]


def _only(trip: Trip, vehicle: Vehicle) -> Trip:
    return replace(trip, vehicles=(vehicle,))


def _changes(
    trip: Trip, loads: Loads, vehicle: str, beliefs: Mapping[Key, Sequence[float]], settings: Settings
) -> Iterator[tuple[str, Trip, Loads, Mapping[Key, Sequence[float]]]]:
    this = trip.vehicles[0]
    for fitted, part in this.modifications:
        without = tuple((f, p) for f, p in this.modifications if f.id != fitted.id)
        yield part.name, _only(trip, replace(this, modifications=without)), loads, beliefs
    weighed = loads[vehicle]
    for driver, ratio in sorted(weighed.ratios.items()):
        if ratio != 1.0:
            plain = replace(weighed, ratios={**weighed.ratios, driver: 1.0})
            yield settings.words.driver.get(driver, driver), trip, Loads({**loads.vehicles, vehicle: plain}), beliefs
    if weighed.tyre_ratio != 1.0:
        plain = replace(weighed, tyre_ratio=1.0)
        yield settings.words.driver["tyre"], trip, Loads({**loads.vehicles, vehicle: plain}), beliefs
    age = this.spec.age
    half = {"odometer_km": age.odometer_km and age.odometer_km / 2, "years": age.years and age.years / 2}
    younger = this.spec.model_copy(update={"age": age.model_copy(update=half)})
    yield "age: half of it", _only(trip, replace(this, spec=younger)), loads, beliefs
    for label, way in _ways_back(trip.head.driving, settings):
        head = trip.head.model_copy(update={"driving": trip.head.driving.model_copy(update=way)})
        yield label, replace(trip, head=head), loads, beliefs
    if beliefs:
        yield settings.words.findings, replace(trip, findings=()), loads, {}


def _ways_back(driving: Driving, settings: Settings) -> Iterator[tuple[str, dict[str, Any]]]:
    """Ways of driving other than the plain ones, and what puts each back."""
    if not driving.pressures_let_down:
        yield settings.words.pressures, {"pressures_let_down": True}
    if driving.care != "usual":
        yield settings.words.care[driving.care], {"care": "usual"}
    if driving.locked_share > 0:
        yield settings.words.locked, {"locked_share": 0.0}
