"""What a look before leaving is worth: hours that its outcome saves by the work it may call for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fieldkit.exposure.result import Exposure, LegExposure
from fieldkit.inspection.result import Beliefs, LookValue
from fieldkit.inspection.settings import Rules, rules_of
from fieldkit.inspection.work import Key, within, work_options
from fieldkit.likelihood.result import Floats, Hazards, ModeHazard
from fieldkit.likelihood.totals import severity_on
from fieldkit.specs.library import FailureMode, Inspection
from fieldkit.specs.trip import Trip


@dataclass(frozen=True)
class Stakes:
    """One position before a look: hours lost if it is sound, if it is degraded, and if its work is done first [h]."""

    sound: float
    degraded: float
    worked: float

    def least(self, q: float) -> float:
        """Least expected hours lost at chance q of being degraded: leave it, or do the work."""
        return min(q * self.degraded + (1.0 - q) * self.sound, self.worked)


def look_value(q: float, look: Inspection, stakes: Sequence[Stakes]) -> float:
    """Hours that a look saves: V(q) - sum over outcomes of P(o) V(q after o); never negative.

    V is concave in q (the least of two straight lines) and the outcomes average back to q, so knowing more never costs.

    Parameters
    ----------
    q : float
        Chance of being degraded before the look.
    look : Inspection
        How sure it is: ``detects`` and ``false_alarm``.
    stakes : sequence of Stakes
        One entry per position of this chance.

    Examples
    --------
    >>> from types import SimpleNamespace as N
    >>> perfect = N(detects=1.0, false_alarm=0.0)
    >>> look_value(0.5, perfect, [Stakes(0.0, 10.0, 2.0)])        # leave 5 h or work 2 h; knowing: 0.5 * 2 h
    1.0
    >>> look_value(0.5, N(detects=0.5, false_alarm=0.5), [Stakes(0.0, 10.0, 2.0)])
    0.0
    """
    found = q * look.detects + (1.0 - q) * look.false_alarm
    value = 0.0
    for s in stakes:
        after = 0.0
        for chance, hit in ((found, look.detects), (1.0 - found, 1.0 - look.detects)):
            if chance > 0:
                after += chance * s.least(min(1.0, q * hit / chance))
        value += max(0.0, s.least(q) - after)
    return value


def value_of_looking(
    trip: Trip,
    hazards: Hazards,
    beliefs: Beliefs,
    exposure: Exposure | None = None,
    hours: Mapping[Key, float] | None = None,
) -> list[LookValue]:
    """What looking at each weak point is worth, best per minute first.

    In closed form: the kit is held fixed and only that weak point's own workshop option reacts. Against whole plans solved for each
    outcome it is mostly a lower bound (docs/decisions.md).

    Parameters
    ----------
    exposure : Exposure or None
        For the hours that a failure costs; a reference trip's (``settings/readiness.toml``) when None.
    hours : mapping or None
        (vehicle, weak point) -> hours lost per failure, where the caller knows better (with the kit).

    Returns
    -------
    list of LookValue
        Weak points that can be looked at and show wear before they fail.
    """
    rules = rules_of(trip.library)
    cheapest = _cheapest(trip, hazards, beliefs, rules)
    values = []
    for key, hazard in hazards.modes.items():
        mode = trip.library.failure_modes[key[1]]
        if mode.inspection is None or all(p.wear is None or p.wear.warning is None for p in hazard.positions):
            continue
        cost = (hours or {}).get(key)
        if cost is None:
            cost = hours_per_failure(trip, key[0], mode, hazard, exposure, rules)
        saved = _saved(key, hazard, mode.inspection, cost, cheapest.get(key), beliefs)
        values.append(LookValue(*key, saved, saved / mode.inspection.minutes))
    return sorted(values, key=lambda v: (-v.per_minute, v.vehicle, v.mode))


def _saved(
    key: Key,
    hazard: ModeHazard,
    look: Inspection,
    cost: float,
    work: tuple[float, ModeHazard] | None,
    beliefs: Beliefs,
) -> float:
    if work is None:
        return 0.0
    price, after = work
    believed = beliefs.by_key.get(key)
    saved = 0.0
    for i, (now, then) in enumerate(zip(hazard.positions, after.positions, strict=True)):
        q = believed[i].degraded if believed else now.prior_degraded
        worked = price / len(hazard.positions) + cost * _chance(hazard, then.own)
        stakes = Stakes(cost * _chance(hazard, now.sound), cost * _chance(hazard, now.degraded), worked)
        saved += look_value(q, look, [stakes])
    return saved


def _chance(hazard: ModeHazard, mean: Floats) -> float:
    """Chance of a failure by the end of the trip, the factor integrated out."""
    end = float(mean[-1])
    if np.isinf(hazard.shape_a):
        return float(-np.expm1(-end))
    return float(1.0 - (1.0 + end / hazard.rate_b) ** -hazard.shape_a)


def _cheapest(trip: Trip, hazards: Hazards, beliefs: Beliefs, rules: Rules) -> dict[Key, tuple[float, ModeHazard]]:
    """The weak point's own option that leaves the least, priced in trip hours; options out of time or limits are no reaction."""
    best: dict[Key, tuple[float, ModeHazard]] = {}
    for work in work_options(trip, hazards, beliefs):
        key = (work.vehicle, work.mode)
        if work.mode not in work.degraded or not within([work.option], trip):
            continue
        price = work.option.hours * rules.look.workshop_hour_worth
        if key not in best or price < best[key][0]:
            best[key] = (price, work.after[work.mode])
    return best


def hours_per_failure(
    trip: Trip, vehicle: str, mode: FailureMode, hazard: ModeHazard, exposure: Exposure | None, rules: Rules
) -> float:
    """Hours that one failure costs without a kit, averaged over the legs where it is to be expected [h]."""
    if exposure is None:
        return rules.reference_hours[mode.severity]
    lead = mode.part_lead_days * 24.0 * trip.vehicle(vehicle).archetype.part_lead_factor
    by_leg = np.diff(sum(p.own for p in hazard.positions), prepend=0.0)
    shares = by_leg / by_leg.sum() if by_leg.sum() > 0 else np.full(len(exposure.legs), 1.0 / len(exposure.legs))
    costs = [rough_loss(mode, leg, lead) for leg in exposure.legs]
    return float(shares @ np.array(costs))


def rough_loss(mode: FailureMode, leg: LegExposure, lead_h: float) -> float:
    """Hours lost to a failure on a leg when nothing is carried to mend it [h].

    Nuisance: its own hours. Limp: the slower way to a workshop on the route, or off it and back, and the repair.
    Disabled or unsafe: help comes, the way back, and the repair.
    """
    severity = severity_on(mode, leg.need)
    repair = lead_h + leg.part_lead_h + mode.fit_hours
    if severity == "nuisance":
        return mode.nuisance_hours
    if severity == "limp":
        slow = mode.limp_speed_kmh or 20.0
        pace = max(leg.speed_kmh, slow)
        ways = [
            km * (1.0 / slow + sign / pace)
            for km, sign in ((leg.workshop_on_km, -1.0), (leg.workshop_off_km, 1.0))
            if km is not None
        ]
        return min(ways, default=leg.out_h + leg.back_h) + repair
    return leg.out_h + leg.back_h + repair
