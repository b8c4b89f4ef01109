"""Work before leaving, chosen together with the kit under hours, money and lead time.

Every demand class has versions, one per set of works that change any of its members; a version is in force exactly with its
works. Works whose effect on a class is below a stated size are left out of its versions; the kit is then solved again with
every effect of the chosen works in.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import highspy
import numpy as np
from scipy.sparse import csr_array

from fieldkit.hushed import hushed
from fieldkit.inspection import beliefs
from fieldkit.inspection.defects import broken_rules, unsafe_defect
from fieldkit.inspection.result import WorkOption
from fieldkit.inspection.work import in_time, money
from fieldkit.kit.budget import Budget
from fieldkit.kit.case import Case
from fieldkit.kit.catalogue import Catalogue
from fieldkit.kit.counts import (
    Member,
    Pooled,
    Shared,
    changed_member,
    expected_roughly,
    over_shared,
    pool,
    possible_counts,
)
from fieldkit.kit.demand import MOST_COUNTS, Demand, lost_without
from fieldkit.kit.problem import class_columns, kit_program
from fieldkit.kit.program import Column, Program, State, Work
from fieldkit.kit.result import Worth
from fieldkit.kit.search import Search
from fieldkit.kit.settings import KitSettings
from fieldkit.likelihood.result import Hazards, Risks
from fieldkit.loads.fitted_tyres import features_of
from fieldkit.specs.trip import Trip

Key = tuple[str, str]

#: The solver's work on works and kit together, about a second a unit or two; then the best found is taken, its gap shown.
MOST_EFFORT = 10.0


@dataclass(frozen=True)
class Chosen:
    """Indices of the options done, those that had to be done, and what was pruned to keep the program small."""

    works: tuple[int, ...]
    required: tuple[int, ...]
    gap: float
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Shop:
    """Everything that choosing work needs."""

    trip: Trip
    risks: Risks
    worths: Mapping[Key, Worth]
    members: Mapping[Key, Member]
    shared: Shared
    options: Sequence[WorkOption]
    settings: KitSettings

    def possible(self) -> list[int]:
        """Options that come in time and alone keep to the limits."""
        limits = self.trip.head.limits
        return [
            i
            for i, w in enumerate(self.options)
            if in_time(w.option, self.trip)
            and w.option.hours <= limits.workshop_hours + 1e-9
            and money(w.option, limits) <= limits.workshop_money + 1e-9
        ]

    def under(self, key: Key, works: Iterable[int]) -> Member | None:
        """A weak point once some works are done; None when its part is gone. A renewing work stands over a mere change."""
        risk, base = self.risks.by_key[key], self.members[key]
        hazard, degraded, renewed = risk.hazard, risk.degraded, False
        for work in (self.options[i] for i in works):
            if work.vehicle != key[0]:
                continue
            if key[1] in work.gone:
                return None
            if key[1] in work.degraded:
                hazard, degraded, renewed = work.after[key[1]], work.degraded[key[1]], True
            elif key[1] in work.after and not renewed:
                hazard = work.after[key[1]]
        return changed_member(hazard, degraded, base.damage, base.groups)

    def touches(self, work: int) -> list[Key]:
        """Weak points that an option changes."""
        option = self.options[work]
        return [k for m in (*option.after, *option.gone) if (k := (option.vehicle, m)) in self.members]

    def effect(self, work: int, key: Key) -> float:
        """Hours that an option saves at one weak point, without a kit [h]; below 0 where it loads it more."""
        after = self.under(key, [work])
        loss = self.worths[key].loss
        left = 0.0 if after is None else float(expected_roughly(after) @ loss)
        return float(expected_roughly(self.members[key]) @ loss) - left


def choose_works(case: Case, options: Sequence[WorkOption]) -> Chosen:
    """The works of the best plan of kit and work together.

    1. options that come in time, with what each changes beyond a stated size;
    2. those that must be done: every defect that nothing carried outweighs;
    3. the versions of each class, as states of the program;
    4. the best works with the kit they go with, within a stated share of the bound.

    Where that search finds nothing, the works are picked for what they save without a kit.
    """
    shop = _Shop(case.trip, case.risks, case.worths, case.members, case.shared, options, case.settings)
    possible = shop.possible()
    effects = {w: _effects(shop, w) for w in possible}
    required = _required(shop, possible)
    wanted = {w for group in required for w in group}
    useful = [w for w in possible if w in wanted or sum(effects[w].values()) > case.settings.work.ignore_h]
    if not useful:
        return Chosen((), (), 0.0, ())
    program, notes = _program(shop, case.demands, useful, effects, required, case.catalogue, case.budget)
    search = Search(program)
    found = search.best(share=case.settings.work.within, effort=MOST_EFFORT)
    if found is None or not len(found.values):
        works, forced, _ = pick_works(case, options, {})
        return Chosen(works, forced, 1.0, tuple(notes))
    blocks = search.matrix.blocks
    done = [useful[i] for i in np.flatnonzero(found.values[blocks.works : blocks.states] > 0.5).tolist()]
    gap = (found.bound - found.objective) / found.bound if found.bound > 0 else 0.0
    return Chosen(tuple(done), tuple(w for w in done if w in wanted), gap, tuple(notes))


def _effects(shop: _Shop, work: int) -> dict[Key, float]:
    """What an option changes, small changes left out: (vehicle, weak point) -> hours saved."""
    found = {k: shop.effect(work, k) for k in shop.touches(work)}
    return {k: h for k, h in found.items() if abs(h) > shop.settings.work.ignore_h}


# ------------------------------------------------------------------------------- what must be done
def _required(shop: _Shop, possible: Sequence[int]) -> list[list[int]]:
    """Per defect that nothing carried outweighs: the options that clear it. Those that cannot all be done are left to the readiness page."""
    groups = [g for g in (*_defects(shop, possible), *_sets(shop, possible)) if g]
    limits = shop.trip.head.limits
    while groups:
        best = {min(g, key=lambda w: (shop.options[w].option.hours, w)) for g in groups}
        hours = sum(shop.options[w].option.hours for w in best)
        cost = sum(money(shop.options[w].option, limits) for w in best)
        if hours <= limits.workshop_hours + 1e-9 and cost <= limits.workshop_money + 1e-9:
            break
        groups.remove(max(groups, key=lambda g: min(shop.options[w].option.hours for w in g)))
    return groups


def _defects(shop: _Shop, possible: Sequence[int]) -> list[list[int]]:
    """Findings of defects in unsafe weak points, and the options that renew them."""
    hazards = Hazards(shop.risks.legs, {k: r.hazard for k, r in shop.risks.by_key.items()})
    found = []
    for key, believed in beliefs(shop.trip, hazards).by_key.items():
        mode = shop.trip.library.failure_modes[key[1]]
        if unsafe_defect(mode) and any(b.finding == "defective" for b in believed):
            found.append(
                [w for w in possible if shop.options[w].vehicle == key[0] and key[1] in shop.options[w].degraded]
            )
    return found


def _sets(shop: _Shop, possible: Sequence[int]) -> list[list[int]]:
    """Unsafe sets of fitted parts that do not match, and the options that complete them."""
    library, found = shop.trip.library, []
    for vehicle in shop.trip.vehicles:
        features = features_of(vehicle)
        for rule in broken_rules(library.matching, features):
            if library.matching[rule].unsafe:
                mine = [w for w in possible if shop.options[w].vehicle == vehicle.id]
                mends = [w for w in mine if rule not in broken_rules(library.matching, _with(shop, features, w))]
                found.append(mends)
    return found


def _with(shop: _Shop, features: frozenset[str], work: int) -> frozenset[str]:
    """A vehicle's features with what an option fits."""
    now = set(features)
    for part in shop.options[work].option.fits:
        now -= set(shop.trip.library.modifications[part].removes)
        now |= {part, *shop.trip.library.modifications[part].adds}
    return frozenset(now)


# ----------------------------------------------------------------------------------- the program
def _program(
    shop: _Shop,
    demands: Sequence[Demand],
    useful: Sequence[int],
    effects: Mapping[int, Mapping[Key, float]],
    required: Sequence[Sequence[int]],
    catalogue: Catalogue,
    budget: Budget,
) -> tuple[Program, list[str]]:
    place = {w: n for n, w in enumerate(useful)}
    owners = {(shop.options[w].vehicle, shop.options[w].mode): None for w in useful}
    group = {owner: n for n, owner in enumerate(owners)}
    works = [_work(shop, w, group[(shop.options[w].vehicle, shop.options[w].mode)]) for w in useful]
    columns: list[Column] = []
    states: list[State] = []
    slot_state: dict[int, int] = {}
    slot, pruned = 0, 0
    covered = {k for d in demands for k in d.members}
    bare = [k for k in shop.worths if k not in covered]
    parts: list[Demand | Key] = [*demands, *bare]
    for number, part in enumerate(parts):
        keys: tuple[Key, ...] = part.members if isinstance(part, Demand) else (part,)
        touching = [w for w in useful if any(k in effects[w] for k in keys)]
        versions, dropped = _versions(shop, touching, keys, effects)
        pruned += dropped
        touched = [w for v in versions for w in v]
        cache: dict[tuple[Key, tuple[int, ...]], Pooled | None] = {}
        base: float | None = None
        for version in versions:
            lost, more = _version(shop, part, keys, version, effects, cache, slot)
            base = lost if base is None else base
            if len(versions) > 1:
                slot_state.update(dict.fromkeys(range(slot, slot + _slots(more, slot)), len(states)))
                off = tuple(place[w] for w in sorted(set(touched) - set(version)))
                states.append(State(number, round(1000 * (base - lost)), tuple(place[w] for w in version), off))
            columns += more
            slot += _slots(more, slot)
    limits = shop.trip.head.limits
    extra = [
        ("workshop hours", round(limits.workshop_hours * 60)),
        ("workshop money", round(limits.workshop_money * 100)),
    ]
    sets = [[place[w] for w in g if w in place] for g in required]
    program = kit_program(
        columns, catalogue, budget, works=works, states=states, slot_state=slot_state, required=sets, extra=extra
    )
    notes = [f"{pruned} versions of weak points by work were too small to tell apart and left out."] if pruned else []
    return program, notes


def _slots(columns: Sequence[Column], first: int) -> int:
    return max((c.slot - first + 1 for c in columns), default=0)


def _work(shop: _Shop, work: int, group: int) -> Work:
    option = shop.options[work]
    cost = money(option.option, shop.trip.head.limits)
    takes = (0, 0, 0, round(option.option.hours * 60), round(cost * 100))
    return Work(f"{option.vehicle} / {option.mode} / {option.option.id}", takes, group)


def _versions(
    shop: _Shop, touching: Sequence[int], keys: Sequence[Key], effects: Mapping[int, Mapping[Key, float]]
) -> tuple[list[tuple[int, ...]], int]:
    """Sets of works to tell apart at one class, nothing done first; the smallest effects are pruned where there are too many."""
    ranked = sorted(touching, key=lambda w: (-sum(abs(effects[w].get(k, 0.0)) for k in keys), w))
    dropped = 0
    while True:
        owners: dict[Key, list[int]] = {}
        for w in sorted(ranked):
            owners.setdefault((shop.options[w].vehicle, shop.options[w].mode), []).append(w)
        size = int(np.prod([1 + len(ws) for ws in owners.values()])) if owners else 1
        if size <= shop.settings.work.versions_at_most:
            break
        ranked.pop()
        dropped += 1
    choices = [[None, *ws] for ws in owners.values()]
    return [tuple(w for w in pick if w is not None) for pick in product(*choices)], dropped


def _version(
    shop: _Shop,
    part: Demand | Key,
    keys: Sequence[Key],
    version: tuple[int, ...],
    effects: Mapping[int, Mapping[Key, float]],
    cache: dict[tuple[Key, tuple[int, ...]], Pooled | None],
    slot: int,
) -> tuple[float, list[Column]]:
    """Hours lost without a kit, and the columns, of one class under one set of works."""
    most = possible_counts([shop.members[k] for k in keys], MOST_COUNTS)
    found = []
    for key in keys:
        mine = tuple(w for w in version if key in effects[w])
        if (key, mine) not in cache:
            member = shop.under(key, mine)
            cache[(key, mine)] = None if member is None else over_shared(member, shop.shared, most)
        found.append(cache[(key, mine)])
    if not isinstance(part, Demand):
        only = found[0]
        mean = np.diff(only.mean.mean(axis=0), prepend=0.0) if only else np.zeros(shop.risks.legs)
        return float(mean @ shop.worths[part].loss), []
    blank = next((f for f in found if f is not None), None)
    if blank is None:
        return 0.0, []
    gone = np.zeros_like(blank.chance)
    gone[0] = 1.0
    counted = pool([f if f is not None else Pooled(gone, np.zeros_like(blank.mean)) for f in found])
    columns, _ = class_columns([part], [counted])
    return lost_without(part, counted), [Column(c.slot + slot, c.benefit, c.tools, c.stock) for c in columns]


# ---------------------------------------------------------------------- for what the kit leaves
def pick_works(
    case: Case, options: Sequence[WorkOption], left: Mapping[Key, float]
) -> tuple[tuple[int, ...], tuple[int, ...], dict[int, float]]:
    """The works that save most of what the kit leaves, under hours and money; one work at most for each weak point.

    Parameters
    ----------
    left : (vehicle, weak point) -> share of its hours that the kit leaves; 1 where it is missing.

    Returns
    -------
    works, required : tuple of int
        Indices of the options done, and of those that had to be done.
    saves : dict
        Index -> hours saved of every option that comes in time [h].
    """
    shop = _Shop(case.trip, case.risks, case.worths, case.members, case.shared, options, case.settings)
    possible = shop.possible()
    required = _required(shop, possible)
    saves = {w: sum(shop.effect(w, k) * left.get(k, 1.0) for k in shop.touches(w)) for w in possible}
    wanted = {w for group in required for w in group}
    useful = [w for w in possible if w in wanted or saves[w] > case.settings.work.ignore_h]
    if not useful:
        return (), (), saves
    done = _together(shop, _knapsack(case.trip, options, useful, saves, required), useful, wanted, left)
    return tuple(done), tuple(w for w in done if w in wanted), saves


def savings(
    case: Case, options: Sequence[WorkOption], chosen: Sequence[int], left: Mapping[Key, float]
) -> dict[int, float]:
    """Hours that each option saves beside the chosen ones, of what the kit leaves; a chosen one against being left undone.

    Parameters
    ----------
    case : Case
        Before any work.
    left : (vehicle, weak point) -> share of its hours that the kit leaves.
    """
    shop = _Shop(case.trip, case.risks, case.worths, case.members, case.shared, options, case.settings)
    return {w: _adds(shop, w, [c for c in chosen if c != w], left) for w in range(len(options))}


def _together(
    shop: _Shop, done: Sequence[int], useful: Sequence[int], wanted: set[int], left: Mapping[Key, float]
) -> list[int]:
    """The works without those that add nothing beside the others, and with those that then fit and do."""
    kept = list(done)
    for work in sorted(done, key=lambda w: (sum(shop.effect(w, k) for k in shop.touches(w)), w)):
        rest = [w for w in kept if w != work]
        if work not in wanted and _adds(shop, work, rest, left) <= shop.settings.work.ignore_h:
            kept = rest
    while more := [w for w in useful if w not in kept and _fits(shop, [*kept, w])]:
        gains = {w: _adds(shop, w, kept, left) for w in more}
        best = max(more, key=lambda w: (gains[w], -w))
        if gains[best] <= shop.settings.work.ignore_h:
            break
        kept.append(best)
    return sorted(kept)


def _adds(shop: _Shop, work: int, others: Sequence[int], left: Mapping[Key, float]) -> float:
    """Hours that a work saves beside others [h]."""
    total = 0.0
    for key in shop.touches(work):
        share, loss = left.get(key, 1.0), shop.worths[key].loss
        without, with_it = shop.under(key, others), shop.under(key, [*others, work])
        for member, sign in ((without, 1.0), (with_it, -1.0)):
            if member is not None:
                total += sign * share * float(expected_roughly(member) @ loss)
    return total


def _fits(shop: _Shop, works: Sequence[int]) -> bool:
    """Hours, money, and one work at most for each weak point."""
    limits, options = shop.trip.head.limits, [shop.options[w] for w in works]
    return (
        sum(o.option.hours for o in options) <= limits.workshop_hours + 1e-9
        and sum(money(o.option, limits) for o in options) <= limits.workshop_money + 1e-9
        and len({(o.vehicle, o.mode) for o in options}) == len(options)
    )


def _knapsack(
    trip: Trip,
    options: Sequence[WorkOption],
    useful: Sequence[int],
    saves: Mapping[int, float],
    required: Sequence[Sequence[int]],
) -> list[int]:
    """The best set of works under hours and money; exact, by the solver that the kit uses."""
    limits = trip.head.limits
    owners = {(options[w].vehicle, options[w].mode): None for w in useful}
    rows = [[options[w].option.hours for w in useful], [money(options[w].option, limits) for w in useful]]
    low, high = [-np.inf, -np.inf], [limits.workshop_hours + 1e-9, limits.workshop_money + 1e-9]
    for owner in owners:
        rows.append([float((options[w].vehicle, options[w].mode) == owner) for w in useful])
        low.append(-np.inf)
        high.append(1.0)
    for group in required:
        rows.append([float(w in group) for w in useful])
        low.append(1.0)
        high.append(np.inf)
    table = csr_array(np.array(rows))
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("mip_rel_gap", 0.0)
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = len(useful), len(rows)
    model.col_cost_ = np.array([-saves[w] + 1e-6 * options[w].option.hours for w in useful])
    model.col_lower_, model.col_upper_ = np.zeros(len(useful)), np.ones(len(useful))
    model.row_lower_, model.row_upper_ = np.array(low), np.array(high)
    model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    model.a_matrix_.start_, model.a_matrix_.index_, model.a_matrix_.value_ = table.indptr, table.indices, table.data
    model.integrality_ = [highspy.HighsVarType.kInteger] * len(useful)
    solver.passModel(model)
    with hushed():
        solver.run()
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return []
    return [w for w, x in zip(useful, solver.getSolution().col_value, strict=True) if x > 0.5]
