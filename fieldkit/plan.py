"""The main path: a trip in, every decision about it out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from hashlib import sha256

from fieldkit.beside import Beside
from fieldkit.exposure import expose
from fieldkit.exposure.result import Exposure
from fieldkit.inspection import beliefs, readiness, value_of_looking, work_options
from fieldkit.inspection.result import Beliefs, LookValue, Readiness
from fieldkit.kit import KitOptions, choose_kit, decide_kit
from fieldkit.kit.result import Kit
from fieldkit.likelihood import diagnosis_table, hazards, risks, what_moves, whole_trip
from fieldkit.likelihood.moves import Move
from fieldkit.likelihood.result import Diagnosis, Hazards, Risks
from fieldkit.likelihood.risk import Key
from fieldkit.loads import weigh
from fieldkit.loads.result import Loads
from fieldkit.plan_options import PlanOptions
from fieldkit.recovery import plan_recovery
from fieldkit.recovery.result import Recovery
from fieldkit.route import trip_route
from fieldkit.route.result import Route
from fieldkit.specs.trip import Trip
from fieldkit.trials import TrialRuns, trial_runs


@dataclass(frozen=True)
class Plan:
    """Everything decided and computed for one trip; the pages and ``plan.json`` are made from it alone."""

    trip: Trip
    options: PlanOptions
    route: Route
    exposure: Exposure
    loads: Loads
    hazards: Hazards
    beliefs: Beliefs
    risks: Risks
    kit: Kit
    readiness: dict[str, Readiness]
    trials: TrialRuns
    recovery: Recovery
    diagnosis: dict[str, Diagnosis]
    looks: tuple[LookValue, ...]
    summary: Mapping[str, object]
    moves: Mapping[str, tuple[Move, ...]]


def make_plan(trip: Trip, options: PlanOptions | None = None, beside: Beside | None = None) -> Plan:
    """Everything from a trip as read to a plan to act on.

    1. the route and what it asks for, leg by leg;
    2. what each vehicle weighs before the kit;
    3. how likely each weak point is, with what inspections found;
    4. the kit and the work before leaving, chosen together and proven;
    5. what each vehicle weighs with it, leg by leg, and whether it is fit to leave;
    6. the trip tried out many times with that kit;
    7. recovery figures and the diagnosis tables for the handbook.

    Parameters
    ----------
    beside : Beside or None
        Where what does not depend on each other is worked out side by side; the plan is the same without.

    Raises
    ------
    InputFaults
        If the files contradict each other in a way only the computation shows.
    CannotBeSolved
        If no kit meets the limits; names the limit, by how much, and the heaviest causes.
    """
    options, beside = options or PlanOptions(), beside or Beside(second=False)
    route = trip_route(trip)
    before = weigh(trip)
    exposure = expose(trip, route, before)

    hazard = hazards(trip, exposure, before)
    belief = beliefs(trip, hazard)
    degraded = {key: tuple(b.degraded for b in found) for key, found in belief.by_key.items()}
    risk = risks(trip, hazard, degraded)

    moves = dict if options.quick else beside.ask(_all_moves, trip, exposure, before, degraded)
    work = work_options(trip, hazard, belief)
    how = KitOptions(quick=options.quick, seed=options.seed, foresight=options.foresight)
    decided = decide_kit(trip, exposure, risk, before, work, how, beside)
    trials = beside.ask(
        trial_runs, trip, exposure, risk, decided.bare, options.trials, options.seed, "full", not options.quick
    )
    summary, diagnosis = (
        whole_trip(trip, risk, exposure),
        {v.id: diagnosis_table(trip, risk, v.id) for v in trip.vehicles},
    )
    kit = decided.kit()
    after = weigh(trip, kit, exposure.supplies.used_kg, exposure.supplies.can_fuel_kg)
    return Plan(
        trip=trip,
        options=options,
        route=route,
        exposure=exposure,
        loads=after,
        hazards=hazard,
        beliefs=belief,
        risks=risk,
        kit=kit,
        readiness=readiness(trip, risk, belief, after, exposure, kit.work),
        trials=trials(),
        recovery=plan_recovery(trip, after, kit.stock()),
        diagnosis=diagnosis,
        looks=tuple(value_of_looking(trip, hazard, belief, exposure, _hours_with(kit, risk))),
        summary=summary,
        moves=moves(),
    )


def _all_moves(
    trip: Trip, exposure: Exposure, before: Loads, degraded: Mapping[Key, Sequence[float]]
) -> dict[str, tuple[Move, ...]]:
    """Vehicle -> what moves its total most."""
    return {v.id: tuple(what_moves(trip, exposure, before, v.id, degraded)) for v in trip.vehicles}


def looks_of(trip: Trip) -> dict[str, dict[str, float]]:
    """Hours that a minute of looking saves, by vehicle and weak point, with a quick kit aboard [h/min]: the order of a short form."""
    before = weigh(trip)
    exposure = expose(trip, trip_route(trip), before)
    hazard = hazards(trip, exposure, before)
    belief = beliefs(trip, hazard)
    risk = risks(trip, hazard, {key: tuple(b.degraded for b in found) for key, found in belief.by_key.items()})
    work = work_options(trip, hazard, belief)
    kit = choose_kit(trip, exposure, risk, before, work, KitOptions(quick=True))
    worth: dict[str, dict[str, float]] = {v.id: {} for v in trip.vehicles}
    for look in value_of_looking(trip, hazard, belief, exposure, _hours_with(kit, risk)):
        worth[look.vehicle][look.mode] = look.per_minute
    return worth


def _hours_with(kit: Kit, risk: Risks) -> dict[tuple[str, str], float]:
    """Hours that one failure still costs with the kit aboard [h], by (vehicle, weak point)."""
    found = {}
    for cover in kit.cover:
        key = (cover.vehicle, cover.mode)
        expected = risk.by_key[key].expected.value if key in risk.by_key else 0.0
        if expected > 0:
            found[key] = cover.hours_with / expected
    return found


def without_workshop(trip: Trip) -> Trip:
    """The same trip with no workshop hours and money: what a workshop day buys shows when the two plans are compared.

    Its revision differs from the trip's, so that marks made in one handbook are not taken for the other's.
    """
    limits = trip.head.limits.model_copy(update={"workshop_hours": 0.0, "workshop_money": 0.0})
    return replace(
        trip,
        head=trip.head.model_copy(update={"limits": limits}),
        digest=sha256(f"{trip.digest} without workshop".encode()).hexdigest()[:10],
        warnings=(*trip.warnings, "Planned as if no workshop hours and no workshop money were left."),
    )
