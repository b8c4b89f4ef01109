"""Fit to leave or not: each vehicle's state as found and after the chosen work, with every reason."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Protocol

from fieldkit.exposure.result import Exposure
from fieldkit.inspection.defects import Case, conflicts, defects, limits_of, unmatched, unseen
from fieldkit.inspection.dry_runs import dry_run_words, dry_runs, not_tried
from fieldkit.inspection.papers import (
    after_shakedown,
    expiry,
    figures,
    looked_at,
    looked_words,
    odd_spare,
    shakedown,
    supplies,
    weighing,
)
from fieldkit.inspection.result import STATES, Beliefs, Readiness, Reason, State
from fieldkit.inspection.settings import Rules, rules_of
from fieldkit.inspection.work import renewed_by, within
from fieldkit.likelihood.result import Risks
from fieldkit.loads.result import Loads, VehicleLoads
from fieldkit.quantities import both
from fieldkit.specs.library import WorkshopOption
from fieldkit.specs.trip import Trip, Vehicle


class Chosen(Protocol):
    """Work as the plan chose it (``kit.result.WorkChoice`` is one)."""

    @property
    def vehicle(self) -> str: ...
    @property
    def mode(self) -> str: ...
    @property
    def option(self) -> str: ...
    @property
    def chosen(self) -> bool: ...


def readiness(
    trip: Trip,
    risks: Risks,
    beliefs: Beliefs,
    loads: Loads,
    exposure: Exposure,
    work: Sequence[Chosen] = (),
) -> dict[str, Readiness]:
    """The state of every vehicle by the rules in ``settings/readiness.toml``.

    1. reasons as found: defects, sets that do not match, what nobody looked at, weighing, shakedown, expiry, supplies;
    2. those that the chosen work clears;
    3. what the chosen work asks for in its turn;
    4. the worst state of each, the limits that stay, and what to do first.

    A defect in an unsafe weak point, and an unsafe unmatched set, are never outweighed: ``repair-first`` only where a workshop
    option clears it within the stated hours, money and lead time, else ``off-the-road``.
    """
    rules = rules_of(trip.library)
    first = min(trip.vehicles, key=lambda v: (v.entry.position or 99, v.id)).id if trip.vehicles else ""
    return {
        v.id: _vehicle(Case(trip, v, risks, beliefs, rules), loads[v.id], exposure, _options(trip, v, work), first)
        for v in trip.vehicles
    }


def worst(states: Iterable[State]) -> State:
    """The worst of some states; fit where there are none.

    Examples
    --------
    >>> worst(["fit", "repair-first", "fit-with-limits"])
    'repair-first'
    """
    return max(states, key=STATES.index, default="fit")


def _options(trip: Trip, vehicle: Vehicle, work: Sequence[Chosen]) -> list[tuple[str, WorkshopOption]]:
    """(weak point, option) of a vehicle's chosen work."""
    modes = trip.library.failure_modes
    return [
        (w.mode, o)
        for w in work
        if w.vehicle == vehicle.id and w.chosen and w.mode in modes
        for o in modes[w.mode].workshop
        if o.id == w.option
    ]


def _vehicle(
    case: Case,
    loads: VehicleLoads,
    exposure: Exposure,
    chosen: Sequence[tuple[str, WorkshopOption]],
    first_vehicle: str,
) -> Readiness:
    found = _jointly(case, _as_found(case, loads, exposure, first_vehicle))
    reasons = [*_cleared(case, found, chosen), *after_shakedown(case, sum(o.hours for _, o in chosen))]
    reasons.sort(key=lambda r: (-STATES.index(r.state), r.only_after, r.text))
    before = worst(r.state for r in reasons if not r.only_after)
    after = worst(r.state for r in reasons if not r.cleared)
    return Readiness(
        case.vehicle.id,
        before,
        after,
        tuple(reasons),
        tuple(dict.fromkeys([*_load_limits(case.rules, loads), *limits_of(case, reasons)])),
        "; ".join(filter(None, (loads.weighed or "not weighed", looked_words(case), _tried_words(case)))),
        first_words(reasons),
    )


def _as_found(case: Case, loads: VehicleLoads, exposure: Exposure, first_vehicle: str) -> list[Reason]:
    return [
        *defects(case),
        *unmatched(case),
        *conflicts(case),
        *unseen(case),
        *looked_at(case),
        *weighing(case, loads),
        *shakedown(case),
        *expiry(case, first_vehicle),
        *figures(case),
        *odd_spare(case),
        *supplies(case, exposure),
        *not_tried(dry_runs(case.trip, case.vehicle, case.rules, case.features)),
    ]


def _tried_words(case: Case) -> str:
    return dry_run_words(dry_runs(case.trip, case.vehicle, case.rules, case.features))


def _jointly(case: Case, found: Sequence[Reason]) -> list[Reason]:
    """Repairs that each fit the stated hours and money, but not all together: the longest do not get done."""
    wanted = {r.mode: _best(case, r) for r in found if r.state == "repair-first" and r.mode}
    options = {m: o for m, o in wanted.items() if o}
    while options and not within(options.values(), case.trip):
        options.pop(max(options, key=lambda m: (options[m].hours, m)))
    mend = "Together with the other repairs it does not keep to the stated hours and money."
    return [
        replace(r, state="off-the-road", mend=mend, lifted_by="nobody")
        if r.state == "repair-first" and r.mode and wanted.get(r.mode) and r.mode not in options
        else r
        for r in found
    ]


def _best(case: Case, reason: Reason) -> WorkshopOption | None:
    options = [o for o in case.options(reason.mode or "") if o.title == reason.mend]
    return options[0] if options else None


def _cleared(case: Case, found: Sequence[Reason], chosen: Sequence[tuple[str, WorkshopOption]]) -> list[Reason]:
    """Reasons with those marked that the chosen work clears: parts it renews, sets it completes."""
    renewed = {m for key, o in chosen for m in renewed_by(key, o)}
    still = {r.text for r in unmatched(case, _features_with(case, chosen))}
    sets = {r.text for r in unmatched(case)}
    return [replace(r, cleared=r.mode in renewed or (r.text in sets and r.text not in still)) for r in found]


def _features_with(case: Case, chosen: Sequence[tuple[str, WorkshopOption]]) -> frozenset[str]:
    features = set(case.features)
    for part in (p for _, o in chosen for p in o.fits):
        features = (features - set(case.trip.library.modifications[part].removes)) | {part}
        features |= set(case.trip.library.modifications[part].adds)
    return frozenset(features)


def _load_limits(rules: Rules, loads: VehicleLoads) -> list[str]:
    words, left = rules.limit_words.load, both(max(0.0, loads.payload_left_kg), "kg", 0)
    return [
        words.format(left=left, over=both(-m.left_kg, "kg", 0), limit=m.words) for m in loads.margins if m.left_kg < 0
    ]


def first_words(reasons: Sequence[Reason]) -> str:
    """What to do first, in a sentence.

    Examples
    --------
    >>> belt = Reason("Seat belt frayed", "repair-first", "belt", "New belt", "workshop", hours=1.5)
    >>> first_words([belt, Reason("Not weighed", "fit-with-limits")])
    'Fix this one, 1.5 h, then fit with limits.'
    >>> first_words([])
    'Fit to leave.'
    """
    found = [r for r in reasons if not r.only_after]
    if any(r.state == "off-the-road" for r in found):
        stop = [r.text for r in found if r.state == "off-the-road"]
        return f"Off the road: {stop[0]}" + (f", and {len(stop) - 1} more." if len(stop) > 1 else ".")
    fix = [r for r in found if r.state == "repair-first"]
    rest = "fit with limits" if any(r.state == "fit-with-limits" for r in found) else "fit"
    if not fix:
        return "Fit to leave." if rest == "fit" else "Fit with limits: see the reasons."
    count = {1: "this one", 2: "these two", 3: "these three"}.get(len(fix), f"these {len(fix)}")
    hours = sum({r.mend: r.hours or 0.0 for r in fix}.values())
    return f"Fix {count}, {hours:.3g} h, then {rest}."
