"""Whole-trip figures: at least one disabling failure by vehicle, leg and subsystem, and functions with a second way."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from fieldkit.exposure.result import Exposure
from fieldkit.likelihood.ranges import at_least_once, shared_worths
from fieldkit.likelihood.result import Range, Risk, Risks
from fieldkit.likelihood.settings import Evidence, settings_of
from fieldkit.specs.base import Severity
from fieldkit.specs.library import FailureMode
from fieldkit.specs.trip import Trip

Floats = NDArray[np.float64]
DISABLING: tuple[Severity, ...] = ("disabled", "unsafe")


def severity_on(mode: FailureMode, need: str) -> Severity:
    """How bad a failure is where the leg needs this."""
    where: Mapping[str, Severity] = mode.severity_where  # type: ignore[assignment]
    return where.get(need, mode.severity)


def mean_hazard(risk: Risk) -> float:
    """Mean m of a weak point over the trip at its middle estimate, so that exp(-m) is the chance of no failure there.

    Mixture of sound and degraded per position, damage from others added.
    """
    q = np.array(risk.degraded)
    scale = 1.0 if np.isinf(risk.hazard.shape_a) else risk.hazard.shape_a / risk.hazard.rate_b
    worn = np.array([p.degraded[-1] for p in risk.hazard.positions]) * scale
    fine = np.array([p.sound[-1] for p in risk.hazard.positions]) * scale
    damage = 0.0 if risk.others is None else float(risk.others[:, -1].sum())
    return float(-np.log(q * np.exp(-worn) + (1.0 - q) * np.exp(-fine)).sum() + damage)


def leg_shares(risk: Risk) -> Floats:
    """Shares of a weak point's expected failures by leg, adding to 1 (or 0 where none are expected)."""
    total = risk.by_leg.sum()
    return np.asarray(risk.by_leg / total if total > 0 else np.zeros_like(risk.by_leg))


def any_of(
    risks: Risks,
    trip: Trip,
    exposure: Exposure,
    *,
    vehicle: str | None = None,
    legs: Collection[int] | None = None,
    subsystem: str | None = None,
    severities: Collection[str] = DISABLING,
) -> Range:
    """Chance of at least one failure of these severities, with its central 80 %.

    Means are summed, and the sum is taken as a Gamma with the sum's own mean and variance: every weak point's factor, its
    vehicle's, the trip's and the common causes' in. Ends are never added up.

    Parameters
    ----------
    vehicle, legs, subsystem
        Only this vehicle, these legs (by index), this subsystem; None for all.
    severities : collection of str
        Counted by what the leg needs.
    """
    library, needs = trip.library, [leg.need for leg in exposure.legs]
    means: list[tuple[Risk, float]] = []
    for (owner, key), risk in risks.by_key.items():
        if (vehicle and owner != vehicle) or (subsystem and library.subsystem_of[key] != subsystem):
            continue
        mode = library.failure_modes[key]
        counts = [(legs is None or i in legs) and severity_on(mode, need) in severities for i, need in enumerate(needs)]
        share = float(leg_shares(risk)[np.array(counts, bool)].sum())
        if share > 0:
            means.append((risk, share * mean_hazard(risk)))
    return at_least_once(*summed(means, trip, settings_of(library).evidence))


def summed(means: Sequence[tuple[Risk, float]], trip: Trip, evidence: Evidence) -> tuple[float, float]:
    """Mean and variance of a sum of uncertain means that share factors.

    E theta_f theta_g = product of (1 + 1/k) over the factors both carry: the vehicle's, the trip's, the common causes'.
    """
    cells: dict[tuple[str, frozenset[str]], float] = {}
    variance = 0.0
    for risk, mean in means:
        groups = frozenset(trip.library.failure_modes[risk.mode].causes_in_common)
        cells[(risk.vehicle, groups)] = cells.get((risk.vehicle, groups), 0.0) + mean
        both = float(np.prod([1 + 1 / k for k in shared_worths(evidence, sorted(groups))]))
        variance += mean**2 * (1.0 + 1.0 / risk.failures_worth - both)  # its own factor, beyond what it shares
    for (one, groups), x in cells.items():
        for (other, more), y in cells.items():
            variance += x * y * (_shared_moment(evidence, one == other, groups & more) - 1.0)
    return sum(m for _, m in means), variance


def _shared_moment(evidence: Evidence, same_vehicle: bool, groups: Iterable[str]) -> float:
    worths = [evidence.trip, *(evidence.of_group(g) for g in sorted(groups))]
    if same_vehicle:
        worths.append(evidence.vehicle)
    return float(np.prod([1.0 + 1.0 / k for k in worths]))


def lost_altogether(ways: Iterable[Iterable[float]]) -> float:
    """Chance that every way of a function is lost, ways failing on their own: prod over ways of 1 - prod(1 - p).

    Examples
    --------
    >>> round(lost_altogether([[0.02, 0.05], [0.03]]), 8)
    0.00207
    """
    return float(np.prod([1.0 - np.prod(1.0 - np.array(list(way), float)) for way in ways]))


def functions_lost(trip: Trip, risks: Risks, vehicle: str) -> dict[str, float]:
    """Chance that a vehicle loses every way of a function that has a second way, by function; 0 ways: left out."""
    library = trip.library
    found = {}
    for key, function in library.functions.items():
        ways = [
            [r.chance.value for r in risks.of(vehicle) if library.failure_modes[r.mode].function == way]
            for way in function.ways
        ]
        if all(ways):
            found[key] = lost_altogether(ways)
    return found


def sum_of_means(trip: Trip, risks: Risks, vehicle: str) -> tuple[float, float]:
    """Expected failures of a vehicle, all and those that disable it: lives that each look right add up too high here."""
    mine = risks.of(vehicle)
    severe = [r for r in mine if trip.library.failure_modes[r.mode].severity in DISABLING]
    return sum(r.expected.value for r in mine), sum(r.expected.value for r in severe)


def whole_trip(trip: Trip, risks: Risks, exposure: Exposure) -> dict[str, object]:
    """The trip's figures as plain data.

    Returns
    -------
    dict
        ``disabling``: Range of at least one disabling failure in the party; ``by_vehicle``: vehicle -> ``disabling`` Range,
        ``expected`` and ``expected_disabling`` failures, ``functions_lost``; ``by_leg``: Ranges in leg order;
        ``by_subsystem``: subsystem -> Range.
    """
    vehicles = [v.id for v in trip.vehicles]
    used = sorted({trip.library.subsystem_of[m] for _, m in risks.by_key})
    sums = {v: sum_of_means(trip, risks, v) for v in vehicles}
    return {
        "disabling": any_of(risks, trip, exposure),
        "by_vehicle": {
            v: {
                "disabling": any_of(risks, trip, exposure, vehicle=v),
                "expected": sums[v][0],
                "expected_disabling": sums[v][1],
                "functions_lost": functions_lost(trip, risks, v),
            }
            for v in vehicles
        },
        "by_leg": [any_of(risks, trip, exposure, legs=(i,)) for i in range(risks.legs)],
        "by_subsystem": {s: any_of(risks, trip, exposure, subsystem=s) for s in used},
    }
