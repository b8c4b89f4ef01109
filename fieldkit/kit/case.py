"""A trip as the kit's parts see it: values, counts and the program, at the risks of the day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fieldkit.exposure.result import Exposure
from fieldkit.inspection.result import WorkOption
from fieldkit.inspection.work import after_work
from fieldkit.kit.budget import Budget, budget
from fieldkit.kit.catalogue import Catalogue, catalogue
from fieldkit.kit.counts import Member, Shared, count_class, member_of, shared_nodes, shared_worth
from fieldkit.kit.demand import MOST_COUNTS, Demand, demands, lost_without
from fieldkit.kit.must_carry import must_carry
from fieldkit.kit.problem import Problem, make_problem
from fieldkit.kit.result import Worth
from fieldkit.kit.settings import KitSettings, kit_settings
from fieldkit.kit.value import worths
from fieldkit.likelihood import risks as work_out_risks
from fieldkit.likelihood.result import Hazards, Risk, Risks
from fieldkit.likelihood.settings import settings_of
from fieldkit.loads.result import Loads
from fieldkit.recovery import gear_refused
from fieldkit.specs.trip import Trip

Key = tuple[str, str]


@dataclass(frozen=True)
class Case:
    """Everything the kit's parts read.

    ``risks``: with the chosen work done; ``changed``: those that differ from the ones given; ``gone``: weak points whose part was taken
    away. ``uncovered``: weak points without any repair that could be done -> hours expected to be lost to them [h].
    """

    trip: Trip
    exposure: Exposure
    loads: Loads
    settings: KitSettings
    risks: Risks
    worths: Mapping[Key, Worth]
    members: Mapping[Key, Member]
    shared: Shared
    demands: tuple[Demand, ...]
    catalogue: Catalogue
    budget: Budget
    uncovered: Mapping[Key, float]
    changed: Mapping[Key, Risk]
    gone: tuple[Key, ...] = ()

    def lost(self) -> float:
        """Hours expected to be lost with no repair at all [h]."""
        pooled = (count_class([self.members[k] for k in d.members], self.shared, MOST_COUNTS) for d in self.demands)
        covered = sum(lost_without(d, c) for d, c in zip(self.demands, pooled, strict=True))
        return covered + sum(self.uncovered.values())

    def problem(self) -> Problem:
        """The plain program."""
        return make_problem(
            self.demands, self.members, self.shared, self.catalogue, self.budget, sum(self.uncovered.values())
        )


def make_case(trip: Trip, exposure: Exposure, risks: Risks, loads: Loads) -> Case:
    """A trip before any work is done.

    Raises
    ------
    CannotBeSolved
        If the vehicles cannot take what must be carried.
    """
    return _case(trip, exposure, risks, loads, {}, (), None)


def case_after(case: Case, works: Iterable[WorkOption]) -> Case:
    """The same trip once some work is done, with everything that the work changes on its vehicles worked out again."""
    works = list(works)
    if not works:
        return case
    vehicles = {w.vehicle for w in works}
    before = {k: r for k, r in case.risks.by_key.items() if k[0] in vehicles}
    hazards = Hazards(case.risks.legs, {k: r.hazard for k, r in before.items()})
    degraded: Mapping[Key, Sequence[float]] = {k: r.degraded for k, r in before.items()}
    after = work_out_risks(case.trip, *after_work(hazards, degraded, works))
    gone = tuple(k for k in before if k not in after.by_key)
    kept = {k: after.by_key.get(k, r) for k, r in case.risks.by_key.items() if k not in gone}
    edges = tuple(e for e in case.risks.damage_edges if e[0] not in vehicles) + after.damage_edges
    changed = {k: r for k, r in after.by_key.items() if not np.array_equal(r.weights, before[k].weights)}
    return _case(case.trip, case.exposure, Risks(case.risks.legs, kept, edges), case.loads, changed, gone, case)


def _case(
    trip: Trip,
    exposure: Exposure,
    risks: Risks,
    loads: Loads,
    changed: Mapping[Key, Risk],
    gone: tuple[Key, ...],
    before: Case | None = None,
) -> Case:
    """``before``: an earlier case of the same trip; work changes chances, never what a failure costs."""
    settings, library = kit_settings(trip.library), trip.library
    values = {k: before.worths[k] for k in risks.by_key} if before else worths(trip, exposure, risks, loads)
    used = {i for worth in values.values() for way in worth.ways for i in (*way.tools, *way.stock)}
    found = catalogue(trip, used, must_carry(trip, exposure), gear_refused(trip, loads), settings)
    classes = tuple(demands(trip, values, found, settings.hours.second_try_h))
    members = {k: member_of(r, library.failure_modes[k[1]].causes_in_common) for k, r in risks.by_key.items()}
    groups = sorted({g for m in members.values() for g in m.groups})
    worth = shared_worth(settings_of(library).evidence, [v.id for v in trip.vehicles], groups)
    shared = shared_nodes(worth) if before is None else before.shared
    covered = {k for d in classes for k in d.members}
    bare = {k: _lost(members[k], values[k], shared) for k in values if k not in covered}
    return Case(
        trip,
        exposure,
        loads,
        settings,
        risks,
        values,
        members,
        shared,
        classes,
        found,
        budget(trip, loads, found),
        bare,
        changed,
        gone,
    )


def _lost(member: Member, worth: Worth, shared: Shared) -> float:
    """Hours expected to be lost to a weak point that no repair answers [h]."""
    return float((count_class([member], shared, MOST_COUNTS).means * worth.loss).sum())
