"""Whole-trip figures: at least one disabling failure by vehicle, leg and subsystem, and functions with a second way."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldkit.exposure.result import Exposure
from fieldkit.likelihood.ranges import at_least_once
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


@dataclass(frozen=True)
class Term:
    """One weak point's part of a sum: its mean on the legs that count (legs,), and the factors it carries.

    ``own_excess``: E theta^2 of everything that acts on it, less that of the factors it shares.
    """

    vehicle: str
    subsystem: str
    groups: frozenset[str]
    by_leg: Floats
    own_excess: float


def terms(risks: Risks, trip: Trip, exposure: Exposure, severities: Collection[str] = DISABLING) -> list[Term]:
    """The parts of sums over weak points whose failures are this bad where they happen."""
    library, needs = trip.library, [leg.need for leg in exposure.legs]
    evidence = settings_of(library).evidence
    found = []
    for (owner, key), risk in risks.by_key.items():
        mode = library.failure_modes[key]
        counts = np.array([severity_on(mode, need) in severities for need in needs])
        if counts.any():
            groups = frozenset(mode.causes_in_common)
            shared = _moment(evidence, owner, owner, groups)
            excess = 1.0 + 1.0 / risk.failures_worth - shared
            by_leg = np.where(counts, leg_shares(risk) * mean_hazard(risk), 0.0)
            found.append(Term(owner, library.subsystem_of[key], groups, by_leg, excess))
    return found


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
    evidence = settings_of(trip.library).evidence
    return _any(terms(risks, trip, exposure, severities), evidence, vehicle, legs, subsystem)


def _any(
    parts: Sequence[Term],
    evidence: Evidence,
    vehicle: str | None = None,
    legs: Collection[int] | None = None,
    subsystem: str | None = None,
) -> Range:
    pick = slice(None) if legs is None else sorted(legs)
    means = [
        (t, float(t.by_leg[pick].sum()))
        for t in parts
        if vehicle in (None, t.vehicle) and subsystem in (None, t.subsystem)
    ]
    return at_least_once(*summed(means, evidence))


def summed(means: Sequence[tuple[Term, float]], evidence: Evidence) -> tuple[float, float]:
    """Mean and variance of a sum of uncertain means that share factors.

    E theta_f theta_g = product of (1 + 1/k) over the factors both carry: the vehicle's, the trip's, the common causes'.
    """
    cells: dict[tuple[str, frozenset[str]], float] = {}
    variance = 0.0
    for term, mean in means:
        cell = (term.vehicle, term.groups)
        cells[cell] = cells.get(cell, 0.0) + mean
        variance += mean**2 * term.own_excess
    for (one, groups), x in cells.items():
        for (other, more), y in cells.items():
            variance += x * y * (_moment(evidence, one, other, groups & more) - 1.0)
    return sum(m for _, m in means), variance


def _moment(evidence: Evidence, one: str, other: str, groups: Iterable[str]) -> float:
    """E of the product of the shared factors of two weak points: vehicles, and the common causes both have."""
    moment = 1.0 + 1.0 / evidence.trip
    if one == other:
        moment *= 1.0 + 1.0 / evidence.vehicle
    for group in sorted(groups):
        moment *= 1.0 + 1.0 / evidence.of_group(group)
    return moment


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
    parts, evidence = terms(risks, trip, exposure), settings_of(trip.library).evidence
    vehicles = [v.id for v in trip.vehicles]
    used = sorted({trip.library.subsystem_of[m] for _, m in risks.by_key})
    sums = {v: sum_of_means(trip, risks, v) for v in vehicles}
    return {
        "disabling": _any(parts, evidence),
        "by_vehicle": {
            v: {
                "disabling": _any(parts, evidence, v),
                "expected": sums[v][0],
                "expected_disabling": sums[v][1],
                "functions_lost": functions_lost(trip, risks, v),
            }
            for v in vehicles
        },
        "by_leg": [_any(parts, evidence, legs=(i,)) for i in range(risks.legs)],
        "by_subsystem": {s: _any(parts, evidence, subsystem=s) for s in used},
    }
