"""A kit for failures that share: a sample-average program over patterns of failures that come on the same trip.

The plain program sets stock aside for every failure it plans for. Two failures that seldom coincide may share a spare. Here trips
are drawn; on each, failures that could want the same scarce stock belong together; equal sets of classes are one pattern with
its share of trips; every pattern has the whole kit's stock for itself. Within a pattern the program knows all
failures before it gives out stock, which no driver does: its optimum is a bound (information relaxation), and the kit it
finds is tried out, failure by failure, against the plain one before it is taken.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from fieldkit.kit.case import Case
from fieldkit.kit.counts import shared_worth
from fieldkit.kit.explain import Account
from fieldkit.kit.options import KitOptions
from fieldkit.kit.packing import Packed, pack
from fieldkit.kit.policy import Practice
from fieldkit.kit.problem import kit_program
from fieldkit.kit.program import UNITS, Column, Ints, Program
from fieldkit.kit.sample import Edge, Events, draw_events
from fieldkit.kit.search import Search
from fieldkit.kit.solver import Found
from fieldkit.likelihood.settings import settings_of

Floats = NDArray[np.float64]
Key = tuple[str, str]

#: Trips drawn for trying kits out, and for patterns; patterns of several failures that are told apart.
TRIED_TRIPS, PATTERN_TRIPS, MOST_PATTERNS = 20_000, 20_000, 300
#: Stock that lasts on all but this share of trips, whatever fails, is not scarce.
SCARCE_SHARE = 0.001
#: The solver's work on the pattern program, about a second a unit or two; then the best found is taken, its gap shown.
MOST_EFFORT = 10.0


@dataclass(frozen=True)
class PatternKit:
    """How the plain program's kit does in trial runs, and the kit that failure patterns choose.

    ``tried_hours``, ``error``: hours lost with the plain kit in trial runs, and their standard error; ``apart``: their distance from the
    program's as a share of it. The rest is None where that is within the threshold: ``pattern_hours``: hours lost with the patterns' kit on
    the same trips; ``packed``: that kit with its places, ``search`` and ``found``: the pattern program and its answer, ``lost``: hours lost by (vehicle,
    weak point) (these None too where it did worse). ``foresight_hours``: what no kit gets below, None where it was not asked for.
    """

    tried_hours: float
    error: float
    apart: float
    pattern_hours: float | None = None
    packed: Packed | None = None
    search: Search | None = None
    found: Found | None = None
    lost: Mapping[Key, float] = field(default_factory=dict)
    foresight_hours: float | None = None


def pattern_kit(case: Case, packed: Packed, options: KitOptions) -> PatternKit:
    """Try the plain kit out; where the runs are far from the program, let failure patterns choose another and keep the better.

    1. trips drawn with damage from failure to failure;
    2. hours lost with the plain kit on them, everything possible tried;
    3. beyond the threshold: the pattern program's kit, placed, tried on the same trips;
    4. the kit that loses fewer hours.

    Where it is asked for, the pattern program's bound is told in any case: hours lost, on its trips, by the best kit with its plan if every trip's
    failures were known before stock is given out.
    """
    worths, edges = _factors(case), _edges(case)
    members = list(case.members.values())
    events = draw_events(members, worths, TRIED_TRIPS, options.seed, edges)
    hours, _ = _hours(case, packed, events, options.seed)
    program = packed.problem.lost - packed.found.objective / 1000.0
    tried, error = float(hours.mean()), float(hours.std(ddof=1) / np.sqrt(len(hours)))
    found = PatternKit(tried, error, abs(tried - program) / program if program > 0 else 0.0)
    wanted = options.pattern_threshold
    threshold = case.settings.show.pattern_threshold if wanted is None else wanted
    near = found.apart <= threshold or abs(tried - program) <= 2.0 * error
    if near and not options.foresight:
        return found
    sampled = draw_events(members, worths, PATTERN_TRIPS, options.seed + 1, edges)
    search = Search(pattern_program(case, sampled, PATTERN_TRIPS))
    best = _best_found(search)
    if best is None:
        return found
    if options.foresight:
        found = replace(found, foresight_hours=_lost_without(case, sampled, PATTERN_TRIPS) - best.bound / 1000.0)
    other = None if near else pack(case, packed, search.packs(best))
    if other is None:
        return found
    theirs, lost = _hours(case, other, events, options.seed)
    tried_too = replace(found, pattern_hours=float(theirs.mean()))
    if float(theirs.mean()) >= tried:
        return tried_too
    return replace(tried_too, packed=other, search=search, found=best, lost=lost)


def _best_found(search: Search) -> Found | None:
    """The best answer, or where that takes too long a good one with its bound."""
    near = search.near()
    return None if near is None else search.best(known=[near.values], effort=MOST_EFFORT)


def _lost_without(case: Case, events: Events, trips: int) -> float:
    """Hours that a drawn trip loses on average with no repair at all [h]."""
    loss = np.array([case.worths[key].loss for key in case.members])
    return float(loss[events.member, events.leg].sum()) / trips


def _factors(case: Case) -> dict[str, float]:
    groups = sorted({g for m in case.members.values() for g in m.groups})
    return shared_worth(settings_of(case.trip.library).evidence, [v.id for v in case.trip.vehicles], groups)


def _edges(case: Case) -> list[Edge]:
    at = {k: i for i, k in enumerate(case.members)}
    found = ((at.get((v, f)), at.get((v, g)), p) for v, f, g, p in case.risks.damage_edges)
    return [Edge(s, t, p) for s, t, p in found if s is not None and t is not None]


def _hours(case: Case, packed: Packed, events: Events, seed: int) -> tuple[Floats, dict[Key, float]]:
    """Hours lost with a kit on each trip, and a trip by each (vehicle, weak point)."""
    account = Account(case, packed.problem, packed.found, packed.search)
    practice = Practice(
        case.trip.library,
        list(case.members),
        case.worths,
        account.planned(),
        case.catalogue,
        account.packs,
        [leg.need for leg in case.exposure.legs],
        case.settings.hours.second_try_h,
    )
    outcome = practice.play(events, TRIED_TRIPS, seed)
    by_member = np.bincount(events.member, outcome.hours, len(case.members)) / TRIED_TRIPS
    lost = dict(zip(case.members, by_member.tolist(), strict=True))
    return np.asarray(np.bincount(events.trip, outcome.hours, TRIED_TRIPS), np.float64), lost


# ------------------------------------------------------------------------------------- the program
def pattern_program(case: Case, events: Events, trips: int) -> Program:
    """The program over failure patterns of drawn trips; benefits are averages over the trips [0.001 h]."""
    table = _Table(case, events)
    together, alone = _patterns(table)
    columns: list[Column] = []
    pools: dict[int, int] = {}
    slot = 0
    for pool, rows in enumerate([*alone, *together], 1):
        shared = _shared_items(table, [int(table.group[r[0]]) for r in rows]) if len(rows) > 1 else frozenset()
        for failures in rows:
            columns += _slot_columns(table, failures, slot, shared, trips)
            pools[slot] = pool
            slot += 1
    return kit_program(columns, case.catalogue, case.budget, slot_pool=pools)


class _Table:
    """Events that some repair answers: class, member within it, leg; and what each class could want of scarce stock."""

    def __init__(self, case: Case, events: Events) -> None:
        self.case = case
        place = {k: (c, m) for c, d in enumerate(case.demands) for m, k in enumerate(d.members)}
        of = np.array([place.get(k, (-1, -1)) for k in case.members], np.int64).reshape(-1, 2)
        keep = of[events.member, 0] >= 0
        self.trip, self.leg = events.trip[keep], events.leg[keep]
        self.group, self.member = of[events.member[keep]].T
        self.wants = [self._wants(c) for c in range(len(case.demands))]
        self.scarce = self._scarce()

    def _wants(self, number: int) -> dict[int, int]:
        """Most units that one failure of a class could use of each item, stand-ins for it named too."""
        most: dict[int, int] = {}
        demand = self.case.demands[number]
        for n in range(len(demand.chains)):
            for item, units in demand.chain_needs(n).stock.items():
                for one in (item, *self.case.catalogue.stand_ins.get(item, ())):
                    most[one] = max(most.get(one, 0), units)
        return most

    def _scarce(self) -> frozenset[int]:
        """Items of which one pack may not last on a trip."""
        items = {i for w in self.wants for i in w}
        found = set()
        for item in items:
            use = np.array([w.get(item, 0) for w in self.wants])[self.group]
            total = np.bincount(self.trip, use, minlength=1)
            if np.quantile(total, 1.0 - SCARCE_SHARE) > UNITS:
                found.add(item)
        return frozenset(found)


def _patterns(table: _Table) -> tuple[list[list[Ints]], list[list[Ints]]]:
    """Sets of failures that share, and failures by themselves: per pattern, per place in it, the events there.

    The patterns that come most often are told apart; failures of the others count as alone.
    """
    part = _parts(table)
    order = np.lexsort((table.group, part))
    start = np.flatnonzero(np.diff(part[order], prepend=-1))
    size = np.diff(start, append=len(order))
    found: list[tuple[int, tuple[int, ...], Ints]] = []
    for many in np.unique(size[size > 1]).tolist():
        events = order[start[size == many][:, None] + np.arange(many)]
        keys, which, counts = np.unique(table.group[events], axis=0, return_inverse=True, return_counts=True)
        mine = np.split(np.argsort(which.ravel(), kind="stable"), np.cumsum(counts)[:-1])
        found += [(-len(m), tuple(key), events[m]) for key, m in zip(keys.tolist(), mine, strict=True)]
    kept = [events for _, _, events in sorted(found, key=lambda f: f[:2])[:MOST_PATTERNS]]
    alone = np.ones(len(part), bool)
    for events in kept:
        alone[events] = False
    single = np.flatnonzero(alone)
    single = single[np.argsort(table.group[single], kind="stable")]
    ends = np.flatnonzero(np.diff(table.group[single])) + 1
    return [list(events.T) for events in kept], [[events] for events in np.split(single, ends) if len(events)]


def _parts(table: _Table) -> Ints:
    """Which events of a trip could want the same scarce stock, at second hand too: the same number for those that could, (events,)."""
    scarce = [sorted(frozenset(w) & table.scarce) for w in table.wants]
    length = np.array([len(s) for s in scarce], np.int64)
    item = np.array([i for s in scarce for i in s], np.int64)
    wanted = length[table.group]
    event = np.repeat(np.arange(len(wanted)), wanted)
    nth = np.arange(len(event)) - np.repeat(np.cumsum(wanted) - wanted, wanted)
    item = item[(np.cumsum(length) - length)[table.group[event]] + nth]
    stock, at = np.unique(table.trip[event] * (item.max(initial=0) + 1) + item, return_inverse=True)
    nodes = len(wanted) + len(stock)
    ties = coo_array((np.ones(len(event)), (event, len(wanted) + at)), shape=(nodes, nodes))
    return np.asarray(connected_components(ties, directed=False)[1][: len(wanted)], np.int64)


def _shared_items(table: _Table, groups: Sequence[int]) -> frozenset[int]:
    """Scarce items that more than one failure of a pattern could want."""
    wanted = [frozenset(table.wants[g]) & table.scarce for g in groups]
    return frozenset(i for i in table.scarce if sum(i in w for w in wanted) > 1)


def _slot_columns(table: _Table, events: Ints, slot: int, shared: frozenset[int], trips: int) -> list[Column]:
    """Repairs of one place in a pattern: what they save on average over all trips; stock that nobody else wants need only be there."""
    demand = table.case.demands[int(table.group[events[0]])]
    saved = demand.saved[table.member[events], :, table.leg[events]].sum(axis=0) * (1000.0 / trips)
    first = {chain[0]: float(saved[n]) for n, chain in enumerate(demand.chains) if len(chain) == 1}
    columns = []
    for n, chain in enumerate(demand.chains):
        benefit = round(float(saved[n]))
        if benefit < 1 or (len(chain) == 2 and saved[n] <= first[chain[0]]):
            continue
        needs = demand.chain_needs(n)
        tools = dict(needs.tools)
        stock = {i: units for i, units in needs.stock.items() if i in shared}
        for item, units in needs.stock.items():
            if item not in shared:
                tools[item] = max(tools.get(item, 0), -(-units // UNITS))
        columns.append(Column(slot, benefit, tools, stock))
    return columns
