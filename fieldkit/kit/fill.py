"""A good kit in a millisecond or two: from a fractional answer, or any packs, to a whole one that keeps every limit.

Packs are rounded down; then, as long as something fits, the set of missing packs that saves most per price is added. Prices
of the limits come from the relaxation, so that weight, volume and money add up. Never trusted: only a start for the proof.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from copy import copy

import numpy as np
from numpy.typing import NDArray

from fieldkit.kit.matrix import Matrix
from fieldkit.kit.program import Ints, Program
from fieldkit.kit.reduce import Reduced

Floats = NDArray[np.float64]

#: Fractions of a pack that are rounded up, try by try: next to none, and the larger ones.
ROUND_UP = (1e-6, 0.4)
#: Additions made at once, best first.
AT_ONCE = 3


class Filler:
    """Quick whole-number answers of one program without works.

    A shelf is one item's stock in one pool.
    """

    def __init__(self, program: Program, reduced: Reduced, matrix: Matrix) -> None:
        self.program, self.items = program, len(program.items)
        self._value(reduced, matrix)
        self.slot = np.array(reduced.slot, np.int64)
        self.slots = len(reduced.slot_state)
        tool = [(j, i, n) for j, (tools, _) in enumerate(reduced.needs) for i, n in tools]
        self.tool = np.array(tool, np.int64).reshape(-1, 3).T
        shelves: dict[tuple[int, int], int] = {}
        self.stock = [
            [(shelves.setdefault((reduced.slot_pool[slot], i), len(shelves)), n) for i, n in stock]
            for slot, (_, stock) in zip(reduced.slot, reduced.needs, strict=True)
        ]
        for pool, other, _ in matrix.lent:
            shelves.setdefault((pool, other), len(shelves))
        self.shelf_item = np.array([i for _, i in shelves], np.int64)
        used = [(j, shelf, n) for j, stock in enumerate(self.stock) for shelf, n in stock]
        self.used = np.array(used, np.int64).reshape(-1, 3).T
        stand_ins = [(i, o) for i, others in enumerate(program.stand_ins) for o in others]
        self.stood_for, self.standing_in = np.array(stand_ins, np.int64).reshape(-1, 2).T
        self.plain = np.array([not stock for stock in self.stock], bool)
        self.lenders: dict[int, list[int]] = {}
        self.lent_at: dict[tuple[int, int], int] = {}
        for n, (pool, other, item) in enumerate(matrix.lent):
            own, lender = shelves[(pool, item)], shelves[(pool, other)]
            self.lenders.setdefault(own, []).append(lender)
            self.lent_at[(lender, own)] = n
        lending = [(own, lender) for own, lenders in self.lenders.items() for lender in lenders]
        self.borrower, self.lender = np.array(lending, np.int64).reshape(-1, 2).T
        self.marks = np.random.default_rng(1).random(self.items) + 1.0
        parts = [(i, n) for bundle in matrix.bundles for i, n in bundle]
        self.bundle_item, self.bundle_count = np.array(parts, np.int64).reshape(-1, 2).T
        sizes = [len(bundle) for bundle in matrix.bundles]
        self.bundle_start = (
            np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.int64) if sizes else np.zeros(0, np.int64)
        )
        self.weights = program.weights.copy()
        if program.money >= 0:
            self.weights[program.money, program.owned >= program.most] = 0
        columns = np.concatenate([self.tool[0], self.used[0]])
        items = np.concatenate([self.tool[1], self.shelf_item[self.used[1]]])
        self.by_column = np.argsort(columns, kind="stable")
        self.need_column, self.need_item = columns[self.by_column], items[self.by_column]
        self.need_at = np.searchsorted(self.need_column, np.arange(len(self.benefit) + 1))
        self.need_mark, self.need_weight = self.marks[self.need_item], self.weights[:, self.need_item].astype(float)
        self.used_pack = np.maximum(program.pack[self.shelf_item[self.used[1]]], 1)

    def _value(self, reduced: Reduced, matrix: Matrix) -> None:
        self.matrix, self.benefit = matrix, np.array(reduced.benefit, np.int64)
        self.best_first = np.lexsort((np.arange(len(self.benefit)), -self.benefit))

    def worth(self, reduced: Reduced, matrix: Matrix) -> Filler:
        """The same repairs where they save what these, else the same, say."""
        other = copy(self)
        other._value(reduced, matrix)
        return other

    def from_fraction(self, values: Floats, limits: Floats, prices: Floats, most: Floats) -> Floats | None:
        """The best of a few whole answers near a fractional one; None when rounding down breaks a limit already.

        ``most`` (columns,): what the question allows of each column.
        """
        whole, packs = np.asarray(limits, np.int64), most[: self.items].astype(np.int64)
        near = [np.floor(values[: self.items] + up).astype(np.int64) for up in ROUND_UP]
        found = [self.filled(n, whole, prices, packs) for n in near]
        return max((f for f in found if f is not None), key=lambda f: float(self.matrix.objective @ f), default=None)

    def filled(self, packs: Ints, limits: Ints, prices: Floats, most: Ints | None = None) -> Floats | None:
        """Column values of a good answer that has at least these packs, or None when they break a limit.

        Parameters
        ----------
        packs : (items,)
        limits, prices : (resources,)
            What may be taken, and what a unit of each limit is worth.
        most : (items,) or None
            Fewer packs at most than the program allows.
        """
        last = next(iter(deque(self._additions(packs, limits, prices, most), maxlen=1)), None)
        return None if last is None else self._vector(*last)

    def path(self, packs: Ints, limits: Ints, prices: Floats, most: Ints | None = None) -> Iterator[tuple[Ints, int]]:
        """The same, addition by addition: packs and what they save [0.001 h]."""
        for now, chosen, _ in self._additions(packs, limits, prices, most, 1):
            yield now, int(self.benefit[chosen].sum())

    def _additions(
        self, packs: Ints, limits: Ints, prices: Floats, most: Ints | None, at_once: int = AT_ONCE
    ) -> Iterator[tuple[Ints, list[int], dict[int, int]]]:
        """Packs, repairs chosen and stock lent after each addition, the first before any."""
        most = self.program.most if most is None else most
        packs = np.clip(packs, self.program.least, most)
        if (limits < self._taken(packs)).any():
            return
        while True:
            chosen, spare, lent = self._assigned(packs)
            yield packs, chosen, lent
            more = self._best_addition(packs, chosen, spare, limits - self._taken(packs), prices, most, at_once)
            if more is None:
                return
            packs = packs + more

    def value(self, packs: Ints) -> int:
        """What some packs save, whatever the limits [0.001 h]; stock is given to the repairs that save most."""
        chosen, _, _ = self._assigned(packs)
        return int(self.benefit[chosen].sum())

    def _taken(self, packs: Ints) -> Ints:
        taken = self.weights @ packs
        money = self.program.money
        if money >= 0:
            paid = np.maximum(0, packs - self.program.owned)
            taken[money] = self.weights[money] @ paid
        return taken

    def _supply(self, packs: Ints) -> Ints:
        supply = packs.copy()
        np.add.at(supply, self.stood_for, packs[self.standing_in])
        return supply

    def _assigned(self, packs: Ints) -> tuple[list[int], Ints, dict[int, int]]:
        """Repairs chosen (columns), most saving first while stock lasts; stock left (shelves,); units lent by pair."""
        possible = np.ones(len(self.benefit), bool)
        column, item, count = self.tool
        possible[column[self._supply(packs)[item] < count]] = False
        stock = (packs * self.program.pack)[self.shelf_item]
        column, shelf, count = self.used
        possible[column[self._reach(stock)[shelf] < count]] = False  # stock only shrinks: these need not be tried
        order = self.best_first[possible[self.best_first]]
        first = np.full(self.slots, -1)
        first[self.slot[order[::-1]]] = order[::-1]
        # where a slot's best takes no stock, nothing keeps it from being chosen
        sure = first[(first >= 0) & self.plain[first]]
        settled = np.zeros(self.slots, bool)
        settled[self.slot[sure]] = True
        order = order[~settled[self.slot[order]]]
        left, taken, chosen = stock.tolist(), settled.tolist(), sure.tolist()
        lent: dict[int, int] = {}
        for j, slot in zip(order.tolist(), self.slot[order].tolist(), strict=True):
            if not taken[slot] and self._use(self.stock[j], left, lent):
                taken[slot] = True
                chosen.append(j)
        return chosen, np.array(left, np.int64), lent

    def _reach(self, stock: Ints) -> Ints:
        """Stock of each shelf with all that stands in for it, (shelves,)."""
        reach = stock.copy()
        np.add.at(reach, self.borrower, stock[self.lender])
        return reach

    def _use(self, stock: list[tuple[int, int]], left: list[int], lent: dict[int, int]) -> bool:
        """Take a repair's stock, own before lent; nothing is taken where some of it lacks."""
        lacks = False
        for i, n in stock:
            if left[i] < n:
                lacks = True
                if i not in self.lenders or left[i] + sum(left[o] for o in self.lenders[i]) < n:
                    return False
        if not lacks:
            for i, n in stock:
                left[i] -= n
            return True
        for i, n in stock:
            own = min(left[i], n)
            left[i] -= own
            for other in self.lenders.get(i, ()) if own < n else ():
                part = min(left[other], n - own)
                left[other] -= part
                own += part
                if part:
                    pair = self.lent_at[(other, i)]
                    lent[pair] = lent.get(pair, 0) + part
            if own < n:
                return False  # two of its items wanted the same stand-in
        return True

    def _best_addition(
        self, packs: Ints, chosen: list[int], spare: Ints, left: Ints, prices: Floats, most: Ints, at_once: int
    ) -> Ints | None:
        """The packs to add that save most per price, among sets that complete some repair and fit; a few sets at once."""
        now = np.zeros(self.slots, np.int64)
        now[self.slot[chosen]] = self.benefit[chosen]
        gain = self.benefit - now[self.slot]
        _, item, count = self.tool
        _, shelf, units = self.used
        lacking, short = count - self._supply(packs)[item], -(-(units - self._reach(spare)[shelf]) // self.used_pack)
        missing = np.maximum(0, np.concatenate([lacking, short])[self.by_column])
        entries = np.flatnonzero((missing > 0) & (gain > 0)[self.need_column])
        columns, items, miss, size = self.need_column[entries], self.need_item[entries], missing[entries], len(gain)
        sign = np.bincount(columns, miss * self.need_mark[entries], size)
        taken = np.stack([np.bincount(columns, miss * row, size) for row in self.need_weight[:, entries]])
        over = np.bincount(columns, packs[items] + miss > most[items], size)
        fits = (sign > 0) & (over == 0) & (taken <= left[:, None]).all(axis=0)
        open_ = np.flatnonzero(fits)
        if not len(open_):
            return None
        _, group = np.unique(np.round(sign[open_], 9), return_inverse=True)
        order = np.lexsort((-gain[open_], self.slot[open_], group))
        first = np.ones(len(order), bool)
        pairs = np.stack([group[order], self.slot[open_][order]])
        first[1:] = (pairs[:, 1:] != pairs[:, :-1]).any(axis=0)
        total = np.bincount(group[order][first], gain[open_][order][first])
        cost = prices @ taken[:, open_] + 1e-6 * taken[0, open_] + 1e-9
        ratio = total[group] / cost
        more = np.zeros(self.items, np.int64)
        slots: set[int] = set()
        for pick in open_[np.argsort(-ratio, kind="stable")[:at_once]].tolist():
            mine = slice(self.need_at[pick], self.need_at[pick + 1])
            extra = more.copy()
            np.maximum.at(extra, self.need_item[mine], missing[mine])
            if int(self.slot[pick]) not in slots and (self.weights @ extra <= left).all():
                more = extra
                slots.add(int(self.slot[pick]))
        return more

    def _vector(self, packs: Ints, chosen: list[int], lent: dict[int, int]) -> Floats:
        blocks = self.matrix.blocks
        values = np.zeros(blocks.end)
        values[: blocks.owned] = packs
        owned = np.array(self.matrix.part_owned, np.int64)
        values[blocks.owned : blocks.lent] = np.minimum(packs[owned], self.program.owned[owned])
        for pair, units in lent.items():
            values[blocks.lent + pair] = units
        supply = self._supply(packs)
        if len(self.bundle_start):
            there = supply[self.bundle_item] >= self.bundle_count
            values[blocks.bundles : blocks.works] = np.logical_and.reduceat(there, self.bundle_start)
        flag = blocks.flags
        for cut in self.program.cuts:
            for item, count in cut:
                values[flag] = float(packs[item] >= count)
                flag += 1
        values[[blocks.repairs + j for j in chosen]] = 1.0
        return values
