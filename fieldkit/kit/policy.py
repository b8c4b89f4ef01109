"""What is done about each failure of many trips, with the stock that is really there.

The plan's repairs come first, in the plan's order for the count-th failure of its class; then any other possible repair, by what
it saves on that leg, until one holds or none is left. Every try takes its time and its stock. What nothing has mended is left
to what can be done without a kit, or to help. Of parts that back each other up the loss of the last one strands.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fieldkit.kit.catalogue import Catalogue
from fieldkit.kit.program import UNITS
from fieldkit.kit.result import Planned, Worth
from fieldkit.kit.sample import Events
from fieldkit.kit.value import severity_at
from fieldkit.specs.library import Library

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Key = tuple[str, str]

#: ``full``: as above. ``plan-only``: the plan's repairs with their stock set aside. ``plan-shared``: the plan's repairs, real stock.
Policy = Literal["full", "plan-only", "plan-shared"]

#: How a failure ends, from best to worst: the trip goes on, to a workshop, waiting for help from outside.
GOES_ON, TO_WORKSHOP, STRANDED = 0, 1, 2
ENDS = {"ok": GOES_ON, "nuisance": GOES_ON, "limp": TO_WORKSHOP, "disabled": STRANDED, "unsafe": STRANDED}


@dataclass(frozen=True)
class Outcome:
    """Of every event (events,): hours lost and how it ended; ``tried`` (tries, 2): event and way index of every try."""

    hours: Floats
    end: Ints
    tried: Ints


@dataclass(frozen=True)
class Ways:
    """All repairs of all members as flat arrays.

    ``first`` (members + 1,): a member's ways are ``first[m]:first[m + 1]``. ``hours``, ``holds`` (ways,); ``left`` (ways, legs);
    ``end``, ``proper`` (ways,); ``ready`` (ways,): its tools are there, and stock for one try; ``shelves`` (shelves,): catalogue positions
    that some ready way takes stock from; ``need``, ``amount`` (ways, needs, choices), (ways, needs): shelves that can give each stock need (-1:
    none) and units.
    """

    names: tuple[str, ...]
    first: Ints
    hours: Floats
    holds: Floats
    left: Floats
    end: Ints
    proper: Bools
    ready: Bools
    shelves: Ints
    need: Ints
    amount: Ints


class Practice:
    """A trip's repairs and a kit, ready to meet failures.

    Parameters
    ----------
    keys : (vehicle, weak point) of each member.
    worths : what each failure costs and each repair leaves.
    plan : the plan's repairs by class and count.
    packs : (positions,) packs carried, by catalogue position.
    needs : what each leg needs.
    """

    def __init__(
        self,
        library: Library,
        keys: Sequence[Key],
        worths: Mapping[Key, Worth],
        plan: Sequence[Planned],
        catalogue: Catalogue,
        packs: Ints,
        needs: Sequence[str],
        second_try_h: float,
    ) -> None:
        self.library, self.keys, self.catalogue = library, list(keys), catalogue
        self.worths = [worths[k] for k in keys]
        self.plan, self.packs, self.second_try_h = plan, packs, second_try_h
        self.loss = np.array([w.loss for w in self.worths])
        self.own_end = np.array([[self._unmended(k, need) for need in needs] for k in keys])
        self.ways = self._flat()

    def _unmended(self, key: Key, need: str) -> int:
        return ENDS[severity_at(self.library.failure_modes[key[1]], need)]

    def _flat(self) -> Ways:
        rows = [(m, way) for m, w in enumerate(self.worths) for way in w.ways]
        counts = [len(w.ways) for w in self.worths]
        legs = self.loss.shape[1]
        stock = [self._stock(self.keys[m][0], way.stock) for m, way in rows]
        most = max([len(s) for s in stock], default=0) or 1
        choices = max([len(p) for s in stock for p, _ in s], default=1)
        ready = [self._ready(self.keys[m][0], way.tools, s) for (m, way), s in zip(rows, stock, strict=True)]
        taken_from = {p for s, done in zip(stock, ready, strict=True) if done for places, _ in s for p in places}
        shelf = {p: n for n, p in enumerate(sorted(taken_from))}
        need, amount = np.full((len(rows), most, choices), -1, np.int64), np.zeros((len(rows), most), np.int64)
        for n, entries in enumerate(stock):
            for q, (places, units) in enumerate(entries):
                need[n, q, : len(places)], amount[n, q] = [shelf.get(p, -1) for p in places], units
        leaves = [self.library.procedures[way.procedure].head.leaves for _, way in rows]
        return Ways(
            tuple(way.procedure for _, way in rows),
            np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
            np.array([way.hours for _, way in rows]),
            np.array([way.holds for _, way in rows]),
            np.array([way.left for _, way in rows]).reshape(len(rows), legs),
            np.array([ENDS[x] for x in leaves], np.int64),
            np.array([way.kind == "proper" for _, way in rows], bool),
            np.array(ready, bool),
            np.array(list(shelf), np.int64),
            need,
            amount,
        )

    def _sources(self, item: str, vehicle: str) -> tuple[int, ...]:
        """Positions that can give an item to a vehicle: its own, then what may stand in."""
        at = self.catalogue.index.get((item, vehicle))
        return () if at is None else (at, *self.catalogue.stand_ins.get(at, ()))

    def _stock(self, vehicle: str, stock: Mapping[str, float]) -> list[tuple[tuple[int, ...], int]]:
        return [(self._sources(i, vehicle), max(1, round(n * UNITS))) for i, n in sorted(stock.items())]

    def _ready(self, vehicle: str, tools: Mapping[str, int], stock: Sequence[tuple[tuple[int, ...], int]]) -> bool:
        there = all(sum(int(self.packs[p]) for p in self._sources(i, vehicle)) >= n for i, n in tools.items())
        return there and all(sum(int(self.packs[p]) for p in places) * UNITS >= units for places, units in stock)

    # ------------------------------------------------------------------------- order of repairs
    @cached_property
    def saves(self) -> Floats:
        """What one try of each way saves on each leg (ways, legs) [h]."""
        w = self.ways
        member = np.repeat(np.arange(len(self.keys)), np.diff(w.first))
        loss = self.loss[member]
        return np.asarray(loss - (w.hours[:, None] + w.holds[:, None] * w.left + (1 - w.holds[:, None]) * loss))

    @cached_property
    def by_leg(self) -> Ints:
        """Ways of each member on each leg, most saving first (members, legs, ways); -1 pads those that save nothing or lack tools."""
        most = max(int(np.diff(self.ways.first).max(initial=0)), 1)
        legs = self.loss.shape[1]
        found = np.full((len(self.keys), legs, most), -1, np.int64)
        for m in range(len(self.keys)):
            mine = np.arange(self.ways.first[m], self.ways.first[m + 1])
            mine = mine[self.ways.ready[mine]]
            if len(mine):
                order = np.argsort(-self.saves[mine], axis=0, kind="stable")
                ranked = mine[order].T
                saved = np.take_along_axis(self.saves[mine], order, axis=0).T
                found[m, :, : len(mine)] = np.where(saved > 1e-9, ranked, -1)
        return found

    @cached_property
    def classes(self) -> tuple[Ints, Ints]:
        """Class of each member (members,), and the plan's ways (members, counts, 2); -1: none."""
        place = {k: i for i, k in enumerate(self.keys)}
        groups = {p.members: n for n, p in enumerate({p.members: p for p in self.plan}.values())}
        most = max([p.count for p in self.plan], default=1)
        of, chain = np.full(len(self.keys), -1, np.int64), np.full((len(self.keys), most + 1, 2), -1, np.int64)
        for entry in self.plan:
            for key in entry.members:
                if key in place:
                    m = place[key]
                    of[m] = groups[entry.members]
                    names = {self.ways.names[w]: w for w in range(self.ways.first[m], self.ways.first[m + 1])}
                    chain[m, entry.count, : len(entry.chain)] = [names[n] for n in entry.chain]
        return of, chain

    # ---------------------------------------------------------------------------------- the runs
    def play(self, events: Events, trips: int, seed: int, policy: Policy = "full") -> Outcome:
        """Meet every failure, the n-th of every trip together.

        Parameters
        ----------
        events : Events
            In route order.
        """
        game = _Game(self, events, trips, seed, policy)
        for now in _rounds(events.trip):
            game.meet(now)
        tried = np.concatenate(game.tried) if game.tried else np.zeros((0, 2), np.int64)
        return Outcome(game.hours, game.end, tried)


def _rounds(trip: Ints) -> list[Ints]:
    """Indices of the first event of every trip, of the second, and so on."""
    if not len(trip):
        return []
    start = np.flatnonzero(np.concatenate([[True], trip[1:] != trip[:-1]]))
    number = np.arange(len(trip)) - np.repeat(start, np.diff(np.concatenate([start, [len(trip)]])))
    order = np.argsort(number, kind="stable")
    return np.split(order, np.cumsum(np.bincount(number))[:-1])


def count_in_class(events: Events, of: Ints) -> Ints:
    """The how-many-th failure of its class on its trip each event is, from 1."""
    group = of[events.member]
    order = np.lexsort((np.arange(len(group)), group, events.trip))
    keys = events.trip[order] * (int(of.max(initial=0)) + 2) + group[order]
    start = np.flatnonzero(np.concatenate([[True], keys[1:] != keys[:-1]])) if len(keys) else np.zeros(0, np.int64)
    number = np.arange(len(keys)) - np.repeat(start, np.diff(np.concatenate([start, [len(keys)]])))
    count = np.empty(len(keys), np.int64)
    count[order] = number + 1
    return count


class _Game:
    """One pass over all events."""

    def __init__(self, practice: Practice, events: Events, trips: int, seed: int, policy: Policy) -> None:
        self.practice, self.events, self.policy = practice, events, policy
        self.draw = np.random.default_rng([seed, 2])
        start = (practice.packs[practice.ways.shelves] * UNITS).astype(np.int32)
        self.stock = None if policy == "plan-only" else np.tile(start, (trips, 1))
        self.hours, self.end = np.zeros(len(events.trip)), np.zeros(len(events.trip), np.int64)
        self.tried: list[Ints] = []
        of, self.chain = practice.classes
        self.count = np.minimum(count_in_class(events, of), self.chain.shape[1] - 1)
        self.functions = _Functions(practice, trips) if policy == "full" else None

    def meet(self, now: Ints) -> None:
        """One event of each of some trips."""
        member, leg = self.events.member[now], self.events.leg[now]
        open_ = np.ones(len(now), bool)
        tries = np.zeros(len(now), np.int64)
        done = np.zeros(len(now))
        end = self.practice.own_end[member, leg]
        used = np.full((len(now), 2), -1, np.int64)
        planned = self.chain[member, self.count[now]]
        for step in range(2):
            way = planned[:, step]
            used[:, step] = way
            self._try(now, way, open_ & (way >= 0), tries, done, end, open_, leg)
        if self.policy == "full":
            order = self.practice.by_leg[member, leg]
            for step in range(order.shape[1]):
                way = order[:, step]
                fresh = open_ & (way >= 0) & (way != used[:, 0]) & (way != used[:, 1])
                if fresh.any():
                    self._try(now, way, fresh, tries, done, end, open_, leg)
        done[open_] += self.practice.loss[member[open_], leg[open_]]
        self._without_kit(member, end, open_)
        self.hours[now], self.end[now] = done, end
        if self.functions is not None:
            self.functions.note(now, self.events, self.hours, self.end, ~open_)

    def _without_kit(self, member: Ints, end: Ints, open_: Bools) -> None:
        """What can be done without a kit ends as it says, when it holds (its hours are in L already)."""
        at = np.flatnonzero(open_)
        free = self._free[member[at]]
        holds = self._free_holds[member[at]]
        works = (free >= 0) & (self.draw.random(len(at)) < holds)
        end[at[works]] = np.minimum(end[at[works]], free[works])

    @cached_property
    def _free(self) -> Ints:
        library = self.practice.library
        return np.array([ENDS[library.procedures[w.free].head.leaves] if w.free else -1 for w in self.practice.worths])

    @cached_property
    def _free_holds(self) -> Floats:
        library = self.practice.library
        return np.array([library.procedures[w.free].head.holds if w.free else 0.0 for w in self.practice.worths])

    def _try(
        self, now: Ints, way: Ints, wanted: Bools, tries: Ints, done: Floats, end: Ints, open_: Bools, leg: Ints
    ) -> None:
        """One repair of each event that wants it and has its stock: time, stock, and whether it holds."""
        at = np.flatnonzero(wanted)
        if self.policy != "plan-only" and len(at):
            at = at[self._take(self.events.trip[now[at]], way[at])]
        if not len(at):
            return
        ways, mine = self.practice.ways, way[at]
        done[at] += ways.hours[mine] + np.where(tries[at] > 0, self.practice.second_try_h, 0.0)
        tries[at] += 1
        self.tried.append(np.stack([now[at], mine], axis=1))
        holds = self.draw.random(len(at)) < ways.holds[mine]
        held, mine = at[holds], mine[holds]
        done[held] += ways.left[mine, leg[held]]
        end[held] = ways.end[mine]
        open_[held] = False

    def _take(self, trip: Ints, way: Ints) -> Bools:
        """Take each repair's stock where there is enough, own before stand-ins; which ones had enough."""
        assert self.stock is not None
        ways = self.practice.ways
        enough = ways.ready[way].copy()
        need, amount = ways.need[way], ways.amount[way]
        rows = trip[:, None, None]
        there = np.where(need >= 0, self.stock[rows, np.maximum(need, 0)], 0).sum(axis=2)
        enough &= (there >= amount).all(axis=1)
        at = np.flatnonzero(enough)
        for q in range(need.shape[1]):
            wanted = amount[at, q].copy()
            if not wanted.any():
                continue
            for c in range(need.shape[2]):
                place = need[at, q, c]
                some = (place >= 0) & (wanted > 0)
                taken = np.minimum(wanted[some], self.stock[trip[at[some]], place[some]])
                self.stock[trip[at[some]], place[some]] -= taken
                wanted[some] -= taken
        return enough


class _Functions:
    """Which ways of a function each trip's vehicles have lost: the last one strands."""

    def __init__(self, practice: Practice, trips: int) -> None:
        self.practice, self.trips = practice, trips
        modes = practice.library.failure_modes
        self.ways: dict[tuple[str, str], Bools] = {}
        self.others: list[list[tuple[str, str]]] = []
        self.mine: list[tuple[str, str] | None] = []
        have = {(v, f) for v, m in practice.keys if (f := modes[m].function)}
        for vehicle, mode in practice.keys:
            own = modes[mode].function
            functions = [f for f in practice.library.functions.values() if own in f.ways]
            others = [(vehicle, w) for f in functions for w in f.ways if w != own and (vehicle, w) in have]
            self.others.append(others)
            self.mine.append((vehicle, own) if own and others else None)
        self.parallel = np.array([m is not None for m in self.mine])

    def note(self, now: Ints, events: Events, hours: Floats, end: Ints, mended: Bools) -> None:
        """A way that is not mended is lost until the trip's end, unless a workshop has seen it."""
        at = np.flatnonzero(self.parallel[events.member[now]] & ~mended)
        for member in np.unique(events.member[now[at]]).tolist():
            rows = now[at[events.member[now[at]] == member]]
            trips = events.trip[rows]
            gone = np.logical_and.reduce([self._lost(w)[trips] for w in self.others[member]])
            worth = self.practice.worths[member]
            last = worth.last if worth.last is not None else worth.own
            hours[rows[gone]] = np.maximum(hours[rows[gone]], last[events.leg[rows[gone]]])
            end[rows[gone]] = STRANDED
            mine = self.mine[member]
            assert mine is not None
            self._lost(mine)[trips[end[rows] == GOES_ON]] = True

    def _lost(self, way: tuple[str, str]) -> Bools:
        return self.ways.setdefault(way, np.zeros(self.trips, bool))
